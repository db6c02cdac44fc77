//! Every text a person reads, by a key that says what it means. A language is one file; all have the same keys.

use std::collections::HashMap;
use std::sync::OnceLock;

/// A language of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Language {
    /// English.
    #[default]
    En,
}

impl Language {
    /// All languages.
    pub const ALL: &[Language] = &[Language::En];

    /// BCP 47 tag, for a page's `lang`.
    pub fn tag(self) -> &'static str {
        match self {
            Language::En => "en",
        }
    }

    fn source(self) -> &'static str {
        match self {
            Language::En => include_str!("../words/en.json"),
        }
    }
}

/// The texts of one language.
#[derive(Debug, Clone, Copy)]
pub struct Words {
    language: Language,
    texts: &'static HashMap<String, String>,
}

impl Words {
    /// Texts of a language.
    pub fn of(language: Language) -> Self {
        static EN: OnceLock<HashMap<String, String>> = OnceLock::new();
        let cell = match language {
            Language::En => &EN,
        };
        // A damaged file is caught by a test; the program then shows keys instead of stopping.
        let texts = cell.get_or_init(|| serde_json::from_str(language.source()).unwrap_or_default());
        Self { language, texts }
    }

    /// Which language.
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

    /// All keys.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.texts.keys().map(String::as_str)
    }
}
