//! What the program has to say to a person, as data: which sentence it is, and what stands in its blanks.
//!
//! A refusal, a doubt or a notice is a [`Message`] wherever it arises; the sentence itself is written in the reader's
//! language and units by `report` alone, from the words files that hold one text for every id. So a crate that refuses
//! knows no language, what is kept on disk is no prose, and a test compares values rather than sentences.
//!
//! ```
//! use message::{Arg, Message, message};
//! let refusal = message!("no.such.text", most = 60_000);
//! assert_eq!(refusal.id(), "no.such.text");
//! assert_eq!(refusal.arg("most"), Some(&Arg::Number(60_000.0)));
//! // For a log or a failed test; a person reads the sentence that `report` makes of it.
//! assert_eq!(refusal.to_string(), "no.such.text (most = 60000)");
//! ```

use std::borrow::Cow;
use std::fmt;

use jiff::Timestamp;
use quantity::{
    Length, Mass, TemperatureInterval, ThermodynamicTemperature, Volume, in_celsius, in_cubic_metres,
    in_kelvins, in_kilograms, in_metres,
};
use serde::{Deserialize, Serialize};

/// A sentence, or a part of one, by its id.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Message {
    id: Cow<'static, str>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    args: Vec<(Cow<'static, str>, Arg)>,
}

/// What stands in a blank.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Arg {
    /// A name, or what a person typed: shown as it is, in every language.
    Text(String),
    /// A number, shown with the digits that it has.
    Number(f64),
    /// A number with so many decimals.
    Rounded(f64, u8),
    /// A volume, m³: shown in the reader's units.
    VolumeM3(f64),
    /// A mass, kg.
    MassKg(f64),
    /// A length or a depth, m.
    LengthM(f64),
    /// A temperature, °C.
    Celsius(f64),
    /// A difference of temperatures, K.
    Kelvins(f64),
    /// A moment, shown in the yard's time.
    Time(Timestamp),
    /// Another message: a word or a sentence of its own.
    Message(Box<Message>),
    /// Several, one after the other, with commas and the language's "and".
    List(Vec<Arg>),
}

/// What can be told to a person. Every error of a library of ours is.
pub trait Tell {
    /// What is to be told.
    fn message(&self) -> Message;
}

/// A message: `message!("no.such.text", most = 60_000)`.
#[macro_export]
macro_rules! message {
    ($id:expr $(, $name:ident = $value:expr)* $(,)?) => {
        $crate::Message::new($id)$(.with(stringify!($name), $value))*
    };
}

/// A text that is a sentence already, of a row of before or of a library outside: shown as it is.
pub fn said(text: impl Into<String>) -> Message {
    Message::new("message.said").with("text", text.into())
}

impl Message {
    /// A message without blanks.
    pub fn new(id: impl Into<Cow<'static, str>>) -> Self {
        Self { id: id.into(), args: Vec::new() }
    }

    /// With what stands in a blank.
    #[must_use]
    pub fn with(mut self, name: impl Into<Cow<'static, str>>, arg: impl Into<Arg>) -> Self {
        self.args.push((name.into(), arg.into()));
        self
    }

    /// Which message: the key of its text in the words files.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// What stands in its blanks, by name.
    pub fn args(&self) -> impl Iterator<Item = (&str, &Arg)> {
        self.args.iter().map(|(name, arg)| (name.as_ref(), arg))
    }

    /// What stands in one blank.
    pub fn arg(&self, name: &str) -> Option<&Arg> {
        self.args().find_map(|(known, arg)| (known == name).then_some(arg))
    }
}

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.id)?;
        for (place, (name, arg)) in self.args().enumerate() {
            write!(f, "{}{name} = {arg}", if place == 0 { " (" } else { ", " })?;
        }
        f.write_str(if self.args.is_empty() { "" } else { ")" })
    }
}

impl fmt::Display for Arg {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Arg::Text(text) => f.write_str(text),
            Arg::Number(value) => write!(f, "{value}"),
            Arg::Rounded(value, decimals) => write!(f, "{value:.*}", usize::from(*decimals)),
            Arg::VolumeM3(value) => write!(f, "{value} m3"),
            Arg::MassKg(value) => write!(f, "{value} kg"),
            Arg::LengthM(value) => write!(f, "{value} m"),
            Arg::Celsius(value) => write!(f, "{value} C"),
            Arg::Kelvins(value) => write!(f, "{value} K"),
            Arg::Time(at) => write!(f, "{at}"),
            Arg::Message(message) => write!(f, "{message}"),
            Arg::List(list) => {
                for (place, one) in list.iter().enumerate() {
                    write!(f, "{}{one}", if place == 0 { "" } else { "; " })?;
                }
                Ok(())
            }
        }
    }
}

impl From<&str> for Message {
    /// A message without blanks, by its id.
    fn from(id: &str) -> Self {
        Self::new(id.to_owned())
    }
}

macro_rules! arg_from {
    ($($from:ty, $value:ident => $arg:expr;)*) => {
        $(impl From<$from> for Arg {
            fn from($value: $from) -> Self {
                $arg
            }
        })*
    };
}

arg_from! {
    &str, text => Arg::Text(text.to_owned());
    &String, text => Arg::Text(text.clone());
    String, text => Arg::Text(text);
    f64, value => Arg::Number(value);
    i32, value => Arg::Number(f64::from(value));
    u32, value => Arg::Number(f64::from(value));
    u16, value => Arg::Number(f64::from(value));
    usize, value => Arg::Number(value as f64);
    i64, value => Arg::Number(value as f64);
    u64, value => Arg::Number(value as f64);
    (f64, u8), value => Arg::Rounded(value.0, value.1);
    Volume, volume => Arg::VolumeM3(in_cubic_metres(volume));
    Mass, mass => Arg::MassKg(in_kilograms(mass));
    Length, length => Arg::LengthM(in_metres(length));
    ThermodynamicTemperature, temperature => Arg::Celsius(in_celsius(temperature));
    TemperatureInterval, interval => Arg::Kelvins(in_kelvins(interval));
    Timestamp, at => Arg::Time(at);
    Message, message => Arg::Message(Box::new(message));
    Vec<Arg>, list => Arg::List(list);
}

impl<T: Tell> From<&T> for Arg {
    fn from(told: &T) -> Self {
        told.message().into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_is_kept_and_read_again_as_it_was() {
        let inner = message!("no.such.reason", low = (0.0, 1));
        let one = message!("no.such.one", what = "strength", percent = 31.5, reason = inner);
        let kept = serde_json::to_string(&one).unwrap();
        assert_eq!(serde_json::from_str::<Message>(&kept).unwrap(), one);
        assert_eq!(
            one.to_string(),
            "no.such.one (what = strength, percent = 31.5, reason = no.such.reason (low = 0.0))"
        );
        assert_eq!(serde_json::to_string(&message!("no.such")).unwrap(), r#"{"id":"no.such"}"#);
    }
}
