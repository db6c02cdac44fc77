//! A message as a sentence, in the reader's language and units: the only place that makes one.

use message::{Arg, Message};
use quantity::{celsius, cubic_metres, kelvins, kilograms, metres};
use site::UnitSystem;

use crate::Display;
use crate::display::number;

/// From here on a number is grouped: years and rows stay as they are.
const GROUPED_FROM: f64 = 10_000.0;

/// The id of a text that is a sentence already: of a row of before, or of a library outside.
const SAID: &str = "message.said";

impl Display {
    /// The sentence of a message. One whose id has no text is shown as it would be in a log; a test finds such an id.
    pub fn tell(&self, message: &Message) -> String {
        if let (SAID, Some(Arg::Text(text))) = (message.id(), message.arg("text")) {
            return text.clone();
        }
        // A guess at the wrong unit is told to those who type the unit that it is about.
        let id = match (self.units, message.id()) {
            (UnitSystem::Si, "entry.below-freezing") => "entry.below-freezing-c",
            (UnitSystem::Us, "entry.too-warm") => "entry.too-warm-f",
            (_, id) => id,
        };
        if !self.words.knows(id) {
            return message.to_string();
        }
        let values: Vec<(&str, String)> = message.args().map(|(name, arg)| (name, self.shown(arg))).collect();
        self.words.fill_with(id, &values)
    }

    fn shown(&self, arg: &Arg) -> String {
        match arg {
            Arg::Text(text) => text.clone(),
            Arg::Number(value) => plain(*value),
            Arg::Rounded(value, decimals) => number(*value, usize::from(*decimals)),
            Arg::VolumeM3(value) => self.volume(cubic_metres(*value)),
            Arg::MassKg(value) => self.mass(kilograms(*value)),
            Arg::LengthM(value) => self.depth(metres(*value)),
            Arg::Celsius(value) => self.temperature(celsius(*value)),
            Arg::Kelvins(value) => self.degrees(kelvins(*value)),
            Arg::Time(at) => self.time(*at),
            Arg::Message(message) => self.tell(message),
            Arg::List(list) => self.list(list),
        }
    }

    fn list(&self, list: &[Arg]) -> String {
        let mut text = String::new();
        for (place, one) in list.iter().enumerate() {
            if place > 0 {
                let is_last = place + 1 == list.len();
                text += self.words.say(if is_last { "message.and" } else { "message.comma" });
            }
            text += &self.shown(one);
        }
        text
    }
}

/// A number with the digits that it has, without those that a conversion between units adds behind them.
fn plain(value: f64) -> String {
    if 1e9 <= value.abs() {
        return format!("{value:e}");
    }
    let tidy = format!("{value:.9}").parse::<f64>().unwrap_or(value);
    if GROUPED_FROM <= tidy.abs() {
        let decimals = format!("{tidy}").split_once('.').map_or(0, |(_, fraction)| fraction.len());
        return number(tidy, decimals);
    }
    format!("{tidy}").replacen('-', "−", 1)
}

#[cfg(test)]
mod tests {
    use jiff::tz::TimeZone;
    use message::message;
    use quantity::gallons;

    use super::*;
    use crate::words::{Language, Words};

    #[test]
    fn what_stands_in_a_blank_is_shown_as_the_reader_reads_it() {
        let us = Display::new(UnitSystem::Us, TimeZone::UTC);
        let fr = Display::new(UnitSystem::Si, TimeZone::UTC).in_words(Words::of(Language::Fr));
        let volume = Arg::from(gallons(2000.0));
        assert_eq!((us.shown(&volume), fr.shown(&volume)), ("2,000 gal".into(), "7,570 L".into()));
        let list = Arg::List(vec!["a".into(), "b".into(), "c".into()]);
        assert_eq!((us.shown(&list), fr.shown(&list)), ("a, b and c".into(), "a, b et c".into()));
        let numbers = [0.1 + 0.2, -20.0, 60_000.0, 2026.0, 1e12].map(plain);
        assert_eq!(numbers, ["0.3", "−20", "60,000", "2026", "1e12"]);
        assert_eq!(us.tell(&message!("no.such.text", a = 1)), "no.such.text (a = 1)");
        // Who types °F is asked about °C entered as Fahrenheit, who types °C about the other.
        let cold = message!("entry.below-freezing", freezes = celsius(-10.0), typed = (-15.0, 0));
        assert!(us.tell(&cold).contains("−15 °C entered as Fahrenheit"));
        assert!(!fr.tell(&cold).contains('F'), "{}", fr.tell(&cold));
        let warm = message!("entry.too-warm", typed = (60.0, 0));
        assert!(!us.tell(&warm).contains("Celsius") && fr.tell(&warm).contains("60 °F"));
    }
}
