//! Texts within addresses.

use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};

/// What stands for itself in a value of a query (RFC 3986, unreserved).
const UNRESERVED: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'_').remove(b'.').remove(b'~');

/// A text as a value in an address.
pub(crate) fn form_encoded(text: &str) -> String {
    utf8_percent_encode(text, UNRESERVED).to_string()
}
