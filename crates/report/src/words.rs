//! Every text a person reads, by a key that says what it means. A language is one folder; all have the same keys.
//!
//! Templates of our own rather than Fluent: fluent-bundle would cost 0.26 MB and 14 s of build, but has no dates, its
//! move to ICU4X has been open since 2023, and its ids take no dots. Plurals and numbers by language, when they are
//! wanted, are icu_plurals and icu_decimal behind [`crate::display`].

use std::collections::HashMap;
use std::sync::OnceLock;

/// A language of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Language {
    /// English.
    #[default]
    En,
    /// Spanish.
    Es,
    /// French.
    Fr,
}

impl Language {
    /// Languages that the program has texts in, English first.
    pub const ALL: &[Language] = &[Language::En, Language::Es, Language::Fr];

    /// BCP 47 tag, for a page's `lang`.
    pub fn tag(self) -> &'static str {
        match self {
            Language::En => "en",
            Language::Es => "es",
            Language::Fr => "fr",
        }
    }

    /// What those who speak it call it.
    pub fn name(self) -> &'static str {
        match self {
            Language::En => "English",
            Language::Es => "Español",
            Language::Fr => "Français",
        }
    }

    /// A language by its tag, whatever region it names.
    pub fn tagged(tag: &str) -> Option<Self> {
        let plain = tag.trim().split(['-', '_']).next()?.to_ascii_lowercase();
        Self::ALL.iter().copied().find(|language| language.tag() == plain)
    }

    /// The first of a browser's wishes (`Accept-Language`) that there is.
    pub fn wished(header: &str) -> Option<Self> {
        let quality = |wish: &str| {
            let weight = wish.split_once("q=").and_then(|(_, text)| text.trim().parse::<f64>().ok());
            (weight.unwrap_or(1.0) * 1000.0) as i64
        };
        let mut wishes: Vec<&str> = header.split(',').collect();
        wishes.sort_by_key(|wish| std::cmp::Reverse(quality(wish)));
        wishes.iter().find_map(|wish| Self::tagged(wish.split(';').next()?))
    }

    /// What its words files hold: one file a room of the house.
    fn sources(self) -> &'static [&'static str] {
        match self {
            Language::En => rooms!("en"),
            Language::Es => rooms!("es"),
            Language::Fr => rooms!("fr"),
        }
    }
}

/// The words files of a language. A message's id begins with the name of the crate that says it; its text stands in the
/// file of that name.
macro_rules! rooms {
    ($language:literal) => {
        rooms!($language: "pages" "message" "chemistry" "bench" "plant" "road" "weather" "planner" "store" "link" "site" "event"
            "yard" "accounts" "entry" "console" "cli")
    };
    ($language:literal: $($room:literal)+) => {
        &[$(include_str!(concat!("../words/", $language, "/", $room, ".json"))),+]
    };
}
use rooms;

/// The texts of one language.
#[derive(Debug, Clone, Copy)]
pub struct Words {
    language: Language,
    texts: &'static HashMap<String, String>,
}

impl Words {
    /// Texts of a language.
    pub fn of(language: Language) -> Self {
        static ALL: [OnceLock<HashMap<String, String>>; 3] = [const { OnceLock::new() }; 3];
        let cell = match language {
            Language::En => &ALL[0],
            Language::Es => &ALL[1],
            Language::Fr => &ALL[2],
        };
        // A damaged file is caught by a test; the program then shows keys instead of stopping.
        let read =
            |source: &&str| serde_json::from_str::<HashMap<String, String>>(source).unwrap_or_default();
        let texts = cell.get_or_init(|| language.sources().iter().flat_map(read).collect());
        Self { language, texts }
    }

    /// The language that these texts are in.
    pub fn language(&self) -> Language {
        self.language
    }

    /// As [`Words::fill`], with texts that were just made.
    pub fn fill_with(&self, key: &str, values: &[(&str, String)]) -> String {
        let values: Vec<(&str, &str)> = values.iter().map(|(name, text)| (*name, text.as_str())).collect();
        self.fill(key, &values)
    }

    /// The text of a key. A missing one shows as its key, and fails a test.
    pub fn say<'k>(&self, key: &'k str) -> &'k str
    where
        'static: 'k,
    {
        self.texts.get(key).map_or(key, String::as_str)
    }

    /// The text of a key with its blanks filled: `{name}` by the value of that name.
    pub fn fill(&self, key: &str, values: &[(&str, &str)]) -> String {
        let mut text = self.say(key).to_string();
        for (name, value) in values {
            text = text.replace(&format!("{{{name}}}"), value);
        }
        text
    }

    /// Whether there is such a key.
    pub fn knows(&self, key: &str) -> bool {
        self.texts.contains_key(key)
    }

    /// Keys of all texts, in no order.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.texts.keys().map(String::as_str)
    }
}
