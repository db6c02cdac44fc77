//! Base 64 as the browser sends pictures in it.

/// The bytes of a base 64 text with padding.
pub fn decode(text: &str) -> Result<Vec<u8>, String> {
    let digits = text.trim_end_matches('=').as_bytes();
    let mut bytes = Vec::with_capacity(digits.len() * 3 / 4);
    for group in digits.chunks(4) {
        if group.len() == 1 {
            return Err("base 64 text ends in the middle of a byte".to_string());
        }
        let mut bits = 0_u32;
        for &digit in group {
            bits = (bits << 6) | value(digit)?;
        }
        bits <<= 6 * (4 - group.len());
        let [_, whole @ ..] = bits.to_be_bytes();
        bytes.extend_from_slice(&whole[..group.len() - 1]);
    }
    Ok(bytes)
}

fn value(digit: u8) -> Result<u32, String> {
    let value = match digit {
        b'A'..=b'Z' => digit - b'A',
        b'a'..=b'z' => digit - b'a' + 26,
        b'0'..=b'9' => digit - b'0' + 52,
        b'+' => 62,
        b'/' => 63,
        _ => return Err(format!("{:?} in base 64 text", char::from(digit))),
    };
    Ok(u32::from(value))
}

#[cfg(test)]
mod tests {
    use super::decode;

    /// The test vectors of RFC 4648, section 10, and one with the last two digits.
    #[test]
    fn decodes_the_published_examples() {
        let examples = [
            ("", ""),
            ("Zg==", "f"),
            ("Zm8=", "fo"),
            ("Zm9v", "foo"),
            ("Zm9vYg==", "foob"),
            ("Zm9vYmE=", "fooba"),
            ("Zm9vYmFy", "foobar"),
        ];
        for (text, expected) in examples {
            assert_eq!(decode(text).unwrap(), expected.as_bytes(), "{text}");
        }
        assert_eq!(decode("+/+/").unwrap(), [0xfb, 0xff, 0xbf]);
    }

    #[test]
    fn refuses_what_is_not_base_64() {
        assert!(decode("Zm9*").is_err());
        assert!(decode("Zm9vY").is_err());
    }
}
