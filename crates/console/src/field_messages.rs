//! What is wrong with a field, put where the field is: the page's box names the field and leads to it.

use report::Words;

/// A field that was refused, or asked about, while a form was read.
#[derive(Debug, Clone, Default)]
pub(crate) struct Wrong {
    /// Its name, with or without a unit.
    pub(crate) field: String,
    /// What its form calls it.
    pub(crate) label: String,
    /// The sentence that stands in the page's box.
    pub(crate) says: String,
    /// What stands under the field, where its name and value need not be said.
    pub(crate) at_field: String,
    /// What was likely meant, as it would be typed.
    pub(crate) offers: Vec<String>,
    /// It is asked about, and not wrong yet.
    pub(crate) is_asked: bool,
}

impl Wrong {
    /// A refused field without anything to offer.
    pub(crate) fn of(field: &str, label: &str, says: &str) -> Self {
        let (field, label, says) = (field.to_owned(), label.to_owned(), says.to_owned());
        Self { field, label, at_field: says.clone(), says, ..Self::default() }
    }
}

/// Units that end the name of a field.
const UNITS: [&str; 24] = [
    "gal", "l", "m3", "lb", "kg", "tons", "t", "ft", "in", "m", "mm", "f", "c", "mi", "km", "psi", "kpa",
    "floz", "ml", "pct", "h", "min", "number", "usd",
];

/// A field's name without its unit; the scale of an instrument is its reading.
fn stem(name: &str) -> &str {
    match name.rsplit_once('_').filter(|(_, unit)| UNITS.contains(unit)).map_or(name, |(stem, _)| stem) {
        "shown" => "reading",
        stem => stem,
    }
}

/// A page with each message at its field, for eyes and for screen readers: the field is marked, the sentence stands
/// under it with what was likely meant as a button, and the box on top leads there. A field that is only asked about
/// gets the name by which its question leads to it. What stands on no field stays in the box.
pub(crate) fn placed(html: String, wrong: &[Wrong], words: &Words) -> String {
    if wrong.is_empty() {
        return html;
    }
    let mut is_placed = vec![false; wrong.len()];
    let mut out = String::with_capacity(html.len() + 1024);
    // A page may hold the same form several times: the one meant follows the box.
    let (before, mut rest) = html.split_at(html.find("id=\"refused\"").unwrap_or(0));
    out.push_str(before);
    while let Some(at) = rest.find(" name=\"") {
        let from = at + " name=\"".len();
        let Some(length) = rest[from..].find('"') else { break };
        let end = from + length + 1;
        let name = &rest[from..end - 1];
        out.push_str(&rest[..at]);
        let tag = out.rfind('<').map_or("", |start| &out[start..]);
        let is_radio = tag.contains("type=\"radio\"");
        let is_plain =
            !["type=\"hidden\"", "type=\"checkbox\"", "<button", "<meta"].iter().any(|no| tag.contains(no));
        let found =
            (0..wrong.len()).find(|place| !is_placed[*place] && stem(&wrong[*place].field) == stem(name));
        let Some(place) = found.filter(|_| is_plain) else {
            out.push_str(&rest[at..end]);
            rest = &rest[end..];
            continue;
        };
        is_placed[place] = true;
        let one = &wrong[place];
        let id = if one.is_asked { "asked".to_owned() } else { format!("field-{place}") };
        let has_id = tag.contains(" id=\"") || out.contains(&format!(" id=\"{id}\""));
        if is_radio && !one.is_asked {
            const FRAME: &str = "<fieldset class=\"choice";
            if let Some(start) = out.rfind(FRAME).filter(|start| !out[*start..].contains("</fieldset")) {
                out.replace_range(start..start + FRAME.len(), "<fieldset class=\"wrong choice");
            }
        }
        if !has_id {
            out.push_str(&format!(" id=\"{id}\""));
        }
        out.push_str(&rest[at..end]);
        if !one.is_asked && !is_radio {
            out.push_str(&format!(" aria-invalid=\"true\" aria-describedby=\"says-{place}\""));
        }
        rest = &rest[end..];
        let close = if is_radio { "</fieldset>" } else { "</label>" };
        if let Some(after) = rest.find(close).filter(|_| !one.is_asked) {
            let after = after + close.len();
            out.push_str(&rest[..after]);
            out.push_str(&message(one, place, words));
            rest = &rest[after..];
        }
    }
    out.push_str(rest);
    for (place, one) in wrong.iter().enumerate().filter(|(place, one)| is_placed[*place] && !one.is_asked) {
        let listed = format!("<li>{}</li>", escaped(&one.says));
        let link = format!("<li><a href=\"#field-{place}\">{}</a></li>", escaped(&one.label));
        out = out.replacen(&listed, &link, 1);
    }
    for one in wrong.iter().filter(|one| one.is_asked) {
        let listed = format!("<li>{}</li>", escaped(&one.says));
        let short = format!("<li data-says=\"{}\">{}</li>", escaped(&one.says), escaped(&one.at_field));
        out = out.replacen(&listed, &short, 1);
    }
    let has_asked = wrong.iter().zip(&is_placed).any(|(one, is_placed)| one.is_asked && *is_placed);
    if !has_asked && let Some((before, rest)) = out.split_once("<a class=\"go alt\" href=\"#asked\">") {
        // Nothing of it stands in a field: there is nothing to lead to.
        if let Some((_, after)) = rest.split_once("</a>") {
            out = format!("{before}{after}");
        }
    }
    out
}

fn message(one: &Wrong, place: usize, words: &Words) -> String {
    let button = |value: &String| {
        let value = escaped(value);
        let label = words.fill("form.use", &[("value", &value)]);
        format!(
            "<button class=\"go alt\" type=\"button\" data-use=\"{value}\" data-for=\"field-{place}\" hidden>{label}\
             </button> "
        )
    };
    let buttons: String = one.offers.iter().map(button).collect();
    let offer = if buttons.is_empty() { String::new() } else { format!("<p class=\"acts\">{buttons}</p>") };
    format!(
        "<div class=\"bad-says\"><p class=\"fault\" id=\"says-{place}\" data-says=\"{}\">{}</p>{offer}</div>",
        escaped(&one.says),
        escaped(&one.at_field)
    )
}

/// Text inside our markup, as the templates write it.
fn escaped(text: &str) -> String {
    text.replace('&', "&#38;")
        .replace('<', "&#60;")
        .replace('>', "&#62;")
        .replace('"', "&#34;")
        .replace('\'', "&#39;")
}

#[cfg(test)]
mod tests {
    use super::{Wrong, placed, stem};
    use report::{Language, Words};

    #[test]
    fn a_message_stands_at_its_field_whatever_its_unit() {
        let html = r#"<ul><li>a &#60; b</li><li>how?</li><li>tank!</li></ul><input type="hidden" name="tank">
            <label>D<input name="depth_ft" value="x"></label><label>T<input name="temp_f"></label>
            <fieldset class="choice"><legend>a</legend><label><input type="radio" name="how" value="meter"></label>
            <label><input type="radio" name="how" value="dip"></label></fieldset>"#;
        let depth = Wrong { offers: vec!["4.1".into()], ..Wrong::of("depth_m", "Depth", "a < b") };
        let wrong = [depth, Wrong::of("how", "How", "how?"), Wrong::of("tank", "Tank", "tank!")];
        let shown = placed(html.to_owned(), &wrong, &Words::of(Language::En));
        assert!(shown.contains(r#" id="field-0" name="depth_ft" aria-invalid="true""#), "{shown}");
        assert!(
            shown.contains(r#"</label><div class="bad-says"><p class="fault" id="says-0" data-says="a &#60; b">a &#60; b</p>"#),
            "{shown}"
        );
        assert!(shown.contains(r#"data-use="4.1" data-for="field-0""#), "{shown}");
        assert!(shown.contains(r#"<fieldset class="wrong choice""#), "{shown}");
        // The box leads to what has a field; what has none is told there.
        assert!(shown.contains(r##"<li><a href="#field-0">Depth</a></li>"##), "{shown}");
        assert!(shown.contains("<li>tank!</li>"), "{shown}");
        assert_eq!(shown.matches("aria-invalid").count(), 1, "{shown}");
        assert_eq!(placed(html.to_owned(), &[], &Words::of(Language::En)), html);
        assert_eq!(
            (stem("volume_gal"), stem("override_reason"), stem("at")),
            ("volume", "override_reason", "at")
        );
    }

    /// What is only asked about is not marked as wrong; where it stands in no field, nothing leads to it.
    #[test]
    fn a_doubt_leads_to_its_field() {
        let html =
            r##"<a class="go alt" href="#asked">Change it</a><label>V<input name="volume_gal"></label>"##;
        let asked = Wrong { is_asked: true, ..Wrong::of("volume", "Volume", "much") };
        let words = Words::of(Language::En);
        let shown = placed(html.to_owned(), &[asked], &words);
        assert!(
            shown.contains("id=\"asked\" name=\"volume_gal\">") && !shown.contains("aria-invalid"),
            "{shown}"
        );
        let elsewhere = Wrong { is_asked: true, ..Wrong::of("clock", "Clock", "late") };
        let shown = placed(html.to_owned(), &[elsewhere], &words);
        assert!(!shown.contains("#asked"), "{shown}");
    }
}
