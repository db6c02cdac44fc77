//! Refusals of a form that is sent on somebody's behalf, as data beside the page that tells them: what is kept of them
//! is no sentence of one language.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use message::Message;

/// What was refused while a request was answered, each with the sentence that its page shows.
#[derive(Debug, Clone, Default)]
pub(crate) struct Refusals(Arc<Mutex<Vec<(String, Message)>>>);

impl Refusals {
    /// Notes of which refusal a sentence is.
    pub(crate) fn note(&self, sentence: &str, refusal: Message) {
        self.noted().push((sentence.to_owned(), refusal));
    }

    /// The refusals that a page's sentences tell; a sentence that was not noted is kept as it is.
    pub(crate) fn told_by(&self, sentences: &[String]) -> Vec<Message> {
        let noted = self.noted();
        let of = |sentence: &String| {
            let found = noted.iter().find(|(said, _)| said.trim() == sentence.trim());
            found.map_or_else(|| message::said(sentence), |(_, refusal)| refusal.clone())
        };
        sentences.iter().map(of).collect()
    }

    fn noted(&self) -> MutexGuard<'_, Vec<(String, Message)>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Refusals as they are kept in a row.
pub(crate) fn kept(refusals: &[Message]) -> String {
    serde_json::to_string(refusals).unwrap_or_default()
}

/// Refusals as a row keeps them; one of before they were data holds sentences, one a line.
pub(crate) fn read_kept(text: &str) -> Vec<Message> {
    serde_json::from_str(text).unwrap_or_else(|_| text.lines().map(message::said).collect())
}

/// One message as a row keeps it.
pub(crate) fn kept_one(one: &Message) -> String {
    serde_json::to_string(one).unwrap_or_default()
}

/// One message as a row keeps it; a row of before it was data holds a sentence.
pub(crate) fn read_one(text: &str) -> Message {
    serde_json::from_str(text).unwrap_or_else(|_| message::said(text))
}

#[cfg(test)]
mod tests {
    use message::message;

    use super::*;

    #[test]
    fn rows_are_read_as_they_were_kept_and_those_of_before_as_sentences() {
        let all = [message!("console.time.to-come"), message::said("Ask Pat.")];
        assert_eq!(read_kept(&kept(&all)), all);
        assert_eq!(read_kept("Too much.\nToo late."), ["Too much.", "Too late."].map(message::said));
        assert_eq!(read_kept(""), Vec::new());
        assert_eq!(read_one(&kept_one(&all[0])), all[0]);
        assert_eq!(read_one("row 12"), message::said("row 12"));
    }

    #[test]
    fn a_sentence_is_the_refusal_it_was_told_for() {
        let refusals = Refusals::default();
        refusals.note("is still to come ", message!("console.time.to-come"));
        let told = refusals.told_by(&["is still to come".to_owned(), "Something else".to_owned()]);
        assert_eq!(told, [message!("console.time.to-come"), message::said("Something else")]);
    }
}
