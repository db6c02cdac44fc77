//! Rules for the console's templates: nothing from outside the yard, no fixed place on the server, and nothing that a
//! strict content policy would refuse.

use super::{Source, hold, shown, sources};

/// Attributes whose address must come from the one function that knows the console's base.
const ADDRESSES: [&str; 4] = ["href", "src", "action", "formaction"];

fn templates_are_clean(source: &Source) -> Vec<String> {
    if !source.is_template() {
        return Vec::new();
    }
    let mut faults = source.lines_that(|line| {
        let outside = ["http://", "https://"].into_iter().find(|scheme| line.contains(scheme))?;
        Some(format!("an address outside the yard, {outside}"))
    });
    for (line, tag) in tags(&source.text) {
        faults.extend(tag_faults(&tag).into_iter().map(|what| source.fault(line, &what)));
    }
    faults
}

/// Opening tags, from `<` to `>`, each with the index of its line. A `>` in quotes does not end a tag.
fn tags(text: &str) -> Vec<(usize, String)> {
    let mut tags = Vec::new();
    let mut rest = text;
    let mut line = 0;
    while let Some(start) = rest.find('<') {
        line += rest[..start].matches('\n').count();
        rest = &rest[start..];
        let is_tag = rest[1..].starts_with(|c: char| c.is_ascii_alphabetic());
        let length = if is_tag { tag_length(rest) } else { 1 };
        if is_tag {
            tags.push((line, rest[..length].to_string()));
        }
        line += rest[..length].matches('\n').count();
        rest = &rest[length..];
    }
    tags
}

fn tag_length(text: &str) -> usize {
    let mut quote = None;
    for (at, c) in text.char_indices() {
        match (quote, c) {
            (None, '>') => return at + 1,
            (None, '"' | '\'') => quote = Some(c),
            (Some(open), _) if open == c => quote = None,
            _ => {}
        }
    }
    text.len()
}

fn tag_faults(tag: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let names = attribute_names(tag);
    for (name, value) in &names {
        if name == "style" {
            faults.push("a style attribute".to_string());
        }
        if name.len() > 2 && name.starts_with("on") {
            faults.push(format!("a handler in the markup, {name}"));
        }
        if ADDRESSES.contains(&name.as_str()) && value.starts_with('/') {
            faults.push(format!("a fixed place on the server, {name}=\"{value}\""));
        }
    }
    let is_script = tag[1..].to_ascii_lowercase().starts_with("script");
    if is_script && !names.iter().any(|(name, _)| name == "src") {
        faults.push("a script in the markup".to_string());
    }
    faults
}

/// Attributes with a value, names in small letters. Good enough for templates: what stands before each `=`.
fn attribute_names(tag: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut rest = tag;
    while let Some(at) = rest.find('=') {
        let name = rest[..at].trim_end().rsplit(|c: char| c.is_whitespace() || c == '"' || c == '\'').next();
        let name = name.unwrap_or_default().to_ascii_lowercase();
        let after = rest[at + 1..].trim_start();
        let (value, next) = match after.chars().next() {
            Some(quote @ ('"' | '\'')) => after[1..].split_once(quote).unwrap_or((&after[1..], "")),
            _ => {
                let end = after.find(|c: char| c.is_whitespace() || c == '>').unwrap_or(after.len());
                after.split_at(end)
            }
        };
        found.push((name, value.to_string()));
        rest = next;
    }
    found
}

#[test]
fn the_consoles_templates_are_clean() {
    hold(templates_are_clean);
    assert!(sources().iter().any(Source::is_template), "there are no templates where the rule looks");
}

#[test]
fn breaches_in_a_template_are_found_out() {
    let path = "crates/console/templates/a.html";
    let wrong = "<p>fine</p>\n<a href=\"/x\">x</a>\n<img src='/y'>\n<form method=post action=/z>\n<p style=\"color: red\">\n\
                 <script>1</script>\n<button class=\"a\"\n  onclick='go()'>\n<link href=\"https://x.org\">\n<script type=module>";
    shown(templates_are_clean, path, wrong, &[9, 2, 3, 4, 5, 6, 7, 10]);
    let fine = "<a href=\"{{ base }}x\" data-on=1 title=\"a > b on=/ style\">a = b, on = c</a>\n<script src=\"x.js\"></script>\n\
                <!-- style=\"\" -->\n{% if a < b %}<option value=\"/\">";
    shown(templates_are_clean, path, fine, &[]);
    shown(templates_are_clean, "docs/a.html", wrong, &[]);
}

/// Letters and space come in the steps that the style sheet names (docs/look.md). Paper has its own measures.
fn sizes_outside_the_scale(css: &str) -> Vec<String> {
    let screen = css.split("@media print").next().unwrap_or(css);
    let kinds = ["font-size", "padding", "margin", "gap", "column-gap", "row-gap"];
    let mut faults = Vec::new();
    for (line, text) in screen.lines().enumerate() {
        for declaration in text.split(['{', ';', '}']) {
            let Some((name, value)) = declaration.trim().split_once(':') else { continue };
            let is_kind = kinds.iter().any(|kind| name == *kind || name.starts_with(&format!("{kind}-")));
            // Headings grow with the window, and a code is typed off from afar.
            let is_own = value.contains("clamp(") || value.trim() == "2.2rem" || value.trim() == "3rem";
            let is_measure = value
                .split_whitespace()
                .any(|part| part.strip_suffix("rem").is_some_and(|number| number.parse::<f64>().is_ok()));
            if is_kind && is_measure && !is_own {
                faults.push(format!("line {}: {declaration}", line + 1));
            }
        }
    }
    faults
}

#[test]
fn letters_and_space_keep_to_the_scale() {
    let all = sources();
    let css =
        all.iter().find(|source| source.path.ends_with("console.css")).expect("there is one style sheet");
    let faults = sizes_outside_the_scale(&css.text);
    assert!(faults.is_empty(), "outside the scale: {faults:#?}");
    let made_up = "p { margin: 0 .7rem; } h1 { font-size: clamp(1rem, 2vw, 3rem); } @media print { p { margin: .7rem; } }";
    assert_eq!(sizes_outside_the_scale(made_up).len(), 1);
}
