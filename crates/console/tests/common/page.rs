//! A page as its reader has it: elements and their values, not letters of markup.
//!
//! A question names its element by a CSS selector. Where that must be one element, none or two fail the test, which
//! then prints the page as an outline: every piece of text with its place, every field with its value.
//!
//! Text is what is read out: blanks joined, marks that are hidden from screen readers left out, and what is in a field:
//! that is its value.

use std::fmt;

use scraper::{ElementRef, Html, Node, Selector};

/// A page, or a part of one.
pub struct Page {
    html: Html,
}

/// What stands in a line with the text around it.
const INLINE: [&str; 10] = ["a", "b", "button", "code", "em", "i", "small", "span", "strong", "sub"];

impl Page {
    #[track_caller]
    pub fn of(body: &str) -> Self {
        let html = Html::parse_document(body);
        // A person reads sentences, never the id that a text has in the words files.
        let words = report::Words::of(report::Language::En);
        for text in html.tree.nodes().filter_map(|node| node.value().as_text()) {
            let bare = |word: &'_ str| word.trim_matches(|c: char| !c.is_alphanumeric()).to_owned();
            let id = text.split_whitespace().map(bare).find(|word| word.contains('.') && words.knows(word));
            assert!(id.is_none(), "the id of a text is shown: {id:?} in {:?}", text.trim());
        }
        Self { html }
    }

    /// The one such element as a page of its own. Rows and cells have no page: see [`Self::rows`].
    #[track_caller]
    pub fn part(&self, selector: &str) -> Self {
        Self::of(&self.one(selector).html())
    }

    /// Every such element as a page of its own.
    pub fn parts(&self, selector: &str) -> Vec<Self> {
        self.all(selector).into_iter().map(|one| Self::of(&one.html())).collect()
    }

    /// The form of a name.
    #[track_caller]
    pub fn form(&self, key: &str) -> Self {
        self.part(&format!("form[data-form=\"{key}\"]"))
    }

    pub fn has_form(&self, key: &str) -> bool {
        self.has(&format!("form[data-form=\"{key}\"]"))
    }

    /// What a parser of HTML minds.
    pub fn faults(&self) -> Vec<String> {
        self.html.errors.iter().map(ToString::to_string).collect()
    }

    pub fn has(&self, selector: &str) -> bool {
        self.count(selector) > 0
    }

    pub fn count(&self, selector: &str) -> usize {
        self.all(selector).len()
    }

    /// The text of the one such element.
    #[track_caller]
    pub fn text(&self, selector: &str) -> String {
        read_out(self.one(selector))
    }

    /// The text of every such element.
    pub fn texts(&self, selector: &str) -> Vec<String> {
        self.all(selector).into_iter().map(read_out).collect()
    }

    /// That one such element says just this.
    #[track_caller]
    pub fn shows(&self, selector: &str, text: &str) {
        let found = self.texts(selector);
        assert!(found.iter().any(|one| one == text), "no {selector} says {text:?}:\n{found:#?}\n{self}");
    }

    /// An attribute of the one such element.
    #[track_caller]
    pub fn attr(&self, selector: &str, name: &str) -> String {
        let Some(value) = self.one(selector).attr(name) else { panic!("{selector} has no {name}:\n{self}") };
        value.to_owned()
    }

    /// An attribute of every element that is such and has it.
    pub fn attrs(&self, selector: &str, name: &str) -> Vec<String> {
        self.all(selector).into_iter().filter_map(|one| one.attr(name)).map(str::to_owned).collect()
    }

    /// The heading of the page.
    #[track_caller]
    pub fn heading(&self) -> String {
        self.text("h1")
    }

    /// What the page says that it was recorded.
    pub fn saved(&self) -> Option<String> {
        self.has(".saved").then(|| self.text(".saved > p"))
    }

    /// What stands across the top of the page.
    pub fn banners(&self) -> Vec<String> {
        self.texts(".banner:not([hidden])")
    }

    /// The first alarm: what is wrong now.
    pub fn alarm(&self) -> String {
        self.texts("a.alarm > span").into_iter().next().unwrap_or_default()
    }

    /// What is wrong with what was sent.
    pub fn problems(&self) -> Vec<String> {
        let at_field = |item: ElementRef| {
            if let Some(says) = item.attr("data-says") {
                return Some(says.to_owned());
            }
            let link = select(item, "a").first()?.attr("href")?.replace("#field-", "#says-");
            Some(self.attr(&link, "data-says"))
        };
        self.all("#refused li")
            .into_iter()
            .map(|item| at_field(item).unwrap_or_else(|| read_out(item)))
            .collect()
    }

    /// What would be sent of a field: typed, ticked or chosen; nothing if nothing is.
    #[track_caller]
    pub fn field(&self, name: &str) -> String {
        let fields = self.all(&format!("[name=\"{name}\"]"));
        let is_choice = |one: &ElementRef| matches!(one.attr("type"), Some("radio" | "checkbox"));
        if !fields.is_empty() && fields.iter().all(is_choice) {
            let chosen: Vec<_> = fields.iter().filter(|one| one.attr("checked").is_some()).collect();
            assert!(chosen.len() <= 1, "{name} is chosen {} times:\n{self}", chosen.len());
            return chosen.first().and_then(|one| one.attr("value")).unwrap_or_default().to_owned();
        }
        let [field] = fields[..] else { panic!("{} fields are called {name}:\n{self}", fields.len()) };
        match field.value().name() {
            "select" => {
                let options: Vec<_> = select(field, "option");
                let chosen = options.iter().find(|one| one.attr("selected").is_some()).or(options.first());
                chosen.and_then(|one| one.attr("value")).unwrap_or_default().to_owned()
            }
            "textarea" => field.text().collect(),
            _ => field.attr("value").unwrap_or_default().to_owned(),
        }
    }

    pub fn has_field(&self, name: &str) -> bool {
        self.has(&format!("[name=\"{name}\"]"))
    }

    /// What stands beside a field.
    #[track_caller]
    pub fn label(&self, name: &str) -> String {
        let field = self.one(&format!("[name=\"{name}\"]"));
        let label = field.ancestors().filter_map(ElementRef::wrap).find(|up| up.value().name() == "label");
        read_out(label.expect("a field has a label"))
    }

    /// What a field offers: what would be sent, and what its reader sees.
    pub fn options(&self, name: &str) -> Vec<(String, String)> {
        let ticks = format!("[type=radio][name=\"{name}\"], [type=checkbox][name=\"{name}\"]");
        let radios = self.all(&ticks).into_iter().map(|one| {
            let label = one.ancestors().filter_map(ElementRef::wrap).find(|up| up.value().name() == "label");
            (one, label.map(read_out).unwrap_or_default())
        });
        let options = self.all(&format!("select[name=\"{name}\"] option"));
        let options = options.into_iter().map(|one| (one, read_out(one)));
        radios
            .chain(options)
            .map(|(one, label)| (one.attr("value").unwrap_or_default().into(), label))
            .collect()
    }

    /// The answer that a doubt offers, as it is sent.
    #[track_caller]
    pub fn tick(&self) -> String {
        format!("&confirm={}", self.attr("button[name=\"confirm\"]", "value"))
    }

    /// Rows of the one such table's body, cell by cell.
    #[track_caller]
    pub fn rows(&self, table: &str) -> Vec<Vec<String>> {
        let rows = select(self.one(table), "tbody tr");
        rows.into_iter()
            .map(|row| {
                select(row, "th:not([aria-hidden]), td:not([aria-hidden])")
                    .into_iter()
                    .map(read_out)
                    .collect()
            })
            .collect()
    }

    /// The row that begins with this cell.
    #[track_caller]
    pub fn row(&self, table: &str, first: &str) -> Vec<String> {
        let mut rows = self.rows(table);
        rows.retain(|row| row.first().is_some_and(|cell| cell == first));
        assert_eq!(rows.len(), 1, "rows of {first} in {table}:\n{self}");
        rows.remove(0)
    }

    /// What a list of facts says of one.
    #[track_caller]
    pub fn fact(&self, name: &str) -> String {
        let names = self.all("dt");
        let mut found = names.into_iter().filter(|one| read_out(*one) == name);
        let (Some(fact), None) = (found.next(), found.next()) else { panic!("{name} is no fact:\n{self}") };
        let value = fact.next_siblings().find_map(ElementRef::wrap).expect("a fact has a value");
        read_out(value)
    }

    /// Addresses and texts of the links.
    pub fn links(&self) -> Vec<(String, String)> {
        let links = self.all("a[href]").into_iter();
        links.map(|one| (one.attr("href").unwrap_or_default().to_owned(), read_out(one))).collect()
    }

    /// Where the one link with this text leads.
    #[track_caller]
    pub fn link(&self, text: &str) -> String {
        let mut links = self.links();
        links.retain(|(_, says)| says == text);
        assert_eq!(links.len(), 1, "links that say {text}:\n{self}");
        links.remove(0).0
    }

    pub fn has_link_to(&self, address: &str) -> bool {
        self.links().iter().any(|(to, _)| to == address)
    }

    fn all(&self, selector: &str) -> Vec<ElementRef<'_>> {
        self.html.select(&parsed(selector)).collect()
    }

    #[track_caller]
    fn one(&self, selector: &str) -> ElementRef<'_> {
        let found = self.all(selector);
        let [one] = found[..] else { panic!("{} elements are {selector}:\n{self}", found.len()) };
        one
    }
}

/// The first number of a text: `1,234.5 gal` is 1234.5, `−12 °F` is -12.
#[track_caller]
pub fn number(text: &str) -> f64 {
    let plain = text.replace(',', "").replace('−', "-");
    let start =
        plain.find(|letter: char| letter.is_ascii_digit()).unwrap_or_else(|| panic!("no number: {text}"));
    let (before, rest) = plain.split_at(start);
    let length = rest.find(|letter: char| !letter.is_ascii_digit() && letter != '.').unwrap_or(rest.len());
    let size: f64 = rest[..length].trim_end_matches('.').parse().expect("a number");
    if before.ends_with('-') { -size } else { size }
}

#[track_caller]
fn select<'a>(root: ElementRef<'a>, selector: &str) -> Vec<ElementRef<'a>> {
    root.select(&parsed(selector)).collect()
}

#[track_caller]
fn parsed(selector: &str) -> Selector {
    Selector::parse(selector).unwrap_or_else(|error| panic!("{selector}: {error}"))
}

/// The text of an element as it is read out.
fn read_out(element: ElementRef) -> String {
    let mut raw = String::new();
    gather(element, &mut raw);
    raw.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn gather(element: ElementRef, into: &mut String) {
    for child in element.children() {
        if let Node::Text(text) = child.value() {
            into.push_str(text);
        } else if let Some(inner) = ElementRef::wrap(child) {
            let name = inner.value().name();
            if inner.attr("aria-hidden") == Some("true") || matches!(name, "select" | "textarea") {
                continue;
            }
            let is_inline = INLINE.contains(&name);
            let edge = if is_inline { "" } else { " " };
            into.push_str(edge);
            gather(inner, into);
            into.push_str(edge);
        }
    }
}

impl fmt::Display for Page {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        for element in self.all("body *") {
            let value = element.value();
            let mut children = element.children();
            let has_text =
                children.any(|child| matches!(child.value(), Node::Text(text) if !text.trim().is_empty()));
            let is_field = value.attr("name").is_some();
            if !has_text && !is_field {
                continue;
            }
            let ups = element.ancestors().filter_map(ElementRef::wrap);
            let mut path: Vec<_> = ups.take_while(|up| up.value().name() != "body").map(place).collect();
            path.reverse();
            path.push(place(element));
            let said: String = read_out(element).chars().take(400).collect();
            writeln!(f, "{} | {said}", path.join(" > "))?;
        }
        Ok(())
    }
}

/// An element as a selector would name it.
fn place(element: ElementRef) -> String {
    let mut out = element.value().name().to_owned();
    for (name, value) in element.value().attrs() {
        match name {
            "class" => value.split_whitespace().for_each(|one| out.push_str(&format!(".{one}"))),
            "id" => out.push_str(&format!("#{value}")),
            "name" | "value" | "checked" | "selected" | "href" | "data-form" | "aria-invalid" | "hidden" => {
                out.push_str(&format!("[{name}={value}]"));
            }
            _ => {}
        }
    }
    out
}
