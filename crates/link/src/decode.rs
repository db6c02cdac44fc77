//! Registers and messages to numbers.

use message::{Message, message};
use site::points::Form;

/// Longest message that is read, bytes.
pub const LONGEST_MESSAGE: usize = 64 * 1024;

/// A number written in registers; none where there are not as many as its form takes, or it is none.
pub fn number(words: &[u16], form: Form, low_first: bool) -> Option<f64> {
    if words.len() != usize::from(form.length()) {
        return None;
    }
    let mut bits: u64 = 0;
    let mut add = |word: &u16| bits = (bits << 16) | u64::from(*word);
    if low_first {
        words.iter().rev().for_each(&mut add);
    } else {
        words.iter().for_each(&mut add);
    }
    let low = (bits & 0xffff_ffff) as u32;
    let value = match form {
        Form::Bit => f64::from(u8::from(bits != 0)),
        Form::U16 | Form::U32 => f64::from(low),
        Form::I16 => f64::from(low as u16 as i16),
        Form::I32 => f64::from(low as i32),
        Form::F32 => f64::from(f32::from_bits(low)),
        Form::F64 => f64::from_bits(bits),
    };
    value.is_finite().then_some(value)
}

/// The same registers in every form that takes as many, for "does this number look right?".
pub fn every_form(words: &[u16]) -> Vec<(&'static str, bool, f64)> {
    let forms = Form::ALL.iter().filter(|(_, form)| *form != Form::Bit);
    forms
        .filter(|(_, form)| usize::from(form.length()) == words.len())
        .flat_map(|(name, form)| [false, true].map(|low_first| (*name, low_first, *form)))
        .filter(|(_, low_first, _)| 1 < words.len() || !low_first)
        .filter_map(|(name, low_first, form)| Some((name, low_first, number(words, form, low_first)?)))
        .collect()
}

/// The number in a message, at a JSON pointer where one is given.
///
/// # Errors
/// What is wrong with the message, for a person.
pub fn number_in(bytes: &[u8], pointer: Option<&str>) -> Result<f64, Message> {
    if LONGEST_MESSAGE < bytes.len() {
        return Err(message!("link.message.too_long", bytes = bytes.len(), most = LONGEST_MESSAGE));
    }
    let text = std::str::from_utf8(bytes).map_err(|_| message!("link.message.no_text"))?;
    let finite = |value: f64| if value.is_finite() { Ok(value) } else { Err(message!("link.not_finite")) };
    let Some(pointer) = pointer else {
        let number =
            text.trim().parse().map_err(|_| message!("link.message.no_number", text = short(text)))?;
        return finite(number);
    };
    let json: serde_json::Value =
        serde_json::from_str(text).map_err(|_| message!("link.message.no_json", text = short(text)))?;
    let found =
        json.pointer(pointer).ok_or_else(|| message!("link.message.nothing_at", pointer = short(pointer)))?;
    let number = match found {
        serde_json::Value::Number(number) => number.as_f64(),
        serde_json::Value::Bool(is_on) => Some(f64::from(u8::from(*is_on))),
        serde_json::Value::String(text) => text.trim().parse().ok(),
        _ => None,
    };
    finite(number.ok_or_else(|| message!("link.message.no_number_at", pointer = short(pointer)))?)
}

/// The begin of a text, on one line.
pub(crate) fn short(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 123456.0 is 47F12000 in IEEE 754 single precision (a usual example in makers' lists, from memory); -1.5 is
    /// BFF8000000000000 in double.
    #[test]
    fn registers_are_read_in_their_order() {
        let cases: [(&[u16], Form, bool, Option<f64>); 13] = [
            (&[0x47f1, 0x2000], Form::F32, false, Some(123_456.0)),
            (&[0x2000, 0x47f1], Form::F32, true, Some(123_456.0)),
            (&[0xbff8, 0, 0, 0], Form::F64, false, Some(-1.5)),
            (&[0, 0, 0, 0xbff8], Form::F64, true, Some(-1.5)),
            (&[0xffff], Form::U16, false, Some(65_535.0)),
            (&[0xffff], Form::I16, false, Some(-1.0)),
            (&[0x8000], Form::I16, true, Some(-32_768.0)),
            (&[0x0001, 0x0002], Form::U32, false, Some(65_538.0)),
            (&[0xffff, 0xfffe], Form::I32, false, Some(-2.0)),
            (&[0xfffe, 0xffff], Form::I32, true, Some(-2.0)),
            (&[0x7fc0, 0], Form::F32, false, None),
            (&[1], Form::U32, false, None),
            (&[1], Form::Bit, false, Some(1.0)),
        ];
        for (words, form, low_first, expected) in cases {
            assert_eq!(number(words, form, low_first), expected, "{words:04x?} {form:?} {low_first}");
        }
        let forms = every_form(&[0x2000, 0x47f1]);
        assert!(forms.contains(&("f32", true, 123_456.0)), "{forms:?}");
        assert_eq!(forms.len(), 6);
    }

    #[test]
    fn messages_are_read() {
        let cases: [(&[u8], Option<&str>, Option<f64>); 12] = [
            (b"23.4", None, Some(23.4)),
            (b" 23.4\r\n", None, Some(23.4)),
            (b"23,4", None, None),
            (b"NaN", None, None),
            (b"", None, None),
            (b"\xff\xfe", None, None),
            (br#"{"value": 7.5, "unit": "pct"}"#, Some("/value"), Some(7.5)),
            (br#"{"a": [{"b": "8"}]}"#, Some("/a/0/b"), Some(8.0)),
            (br#"{"on": true}"#, Some("/on"), Some(1.0)),
            (br#"{"value": null}"#, Some("/value"), None),
            (br#"{"value": 7.5"#, Some("/value"), None),
            (b"7.5", Some("/value"), None),
        ];
        for (bytes, pointer, expected) in cases {
            assert_eq!(number_in(bytes, pointer).ok(), expected, "{bytes:?}");
        }
        assert_eq!(
            number_in(&vec![b'1'; LONGEST_MESSAGE + 1], None),
            Err(message!("link.message.too_long", bytes = LONGEST_MESSAGE + 1, most = LONGEST_MESSAGE))
        );
        let deep = format!("{}1{}", "[".repeat(9000), "]".repeat(9000));
        let refused = number_in(deep.as_bytes(), Some("/0")).expect_err("too deep");
        assert_eq!(refused.id(), "link.message.no_json");
    }
}
