//! Secrets: random tokens and codes, and what is kept of them.

use std::sync::OnceLock;

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use sha2::{Digest, Sha256};
use store::people::TokenHash;

/// Letters of a code that is read aloud and typed with gloves: none that look alike.
const CODE_LETTERS: &[u8] = b"ABCDEFGHJKMNPQRSTUVWXYZ23456789";

/// SHA-256 of a token of full strength: it needs no salt.
pub(super) fn hash_of(token: &str) -> TokenHash {
    Sha256::digest(token.as_bytes()).into()
}

/// 32 random bytes as text.
pub(super) fn token() -> String {
    URL_SAFE_NO_PAD.encode(random::<32>())
}

/// Eight letters, about 39 bits; good once, for minutes, and with a wait after some wrong ones.
pub(super) fn code() -> String {
    let bytes = random::<64>();
    // 248 is the last multiple of 31 in a byte: none is likelier than another.
    let fair = bytes.iter().filter(|byte| **byte < 248).map(|byte| CODE_LETTERS[usize::from(*byte) % 31]);
    fair.take(8).map(char::from).collect()
}

/// Random bytes of the system; waits while it has none.
fn random<const N: usize>() -> [u8; N] {
    let system = ring::rand::SystemRandom::new();
    loop {
        if let Ok(bytes) = ring::rand::generate::<[u8; N]>(&system) {
            return bytes.expose();
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
}

/// A code as it was given out, however it was typed.
pub(super) fn plain_code(typed: &str) -> String {
    typed.chars().filter(|letter| letter.is_ascii_alphanumeric()).collect::<String>().to_ascii_uppercase()
}

/// argon2id with the library's parameters (19 MiB, two passes: OWASP's first choice).
pub(super) fn hashed(secret: &str) -> String {
    Argon2::default().hash_password(secret.as_bytes()).map(|hash| hash.to_string()).unwrap_or_default()
}

/// Whether a secret fits its hash; without one the same work is done, so that time tells nothing.
pub(super) fn fits(secret: &str, hash: Option<&str>) -> bool {
    static NONE: OnceLock<String> = OnceLock::new();
    let is_there = hash.is_some();
    let hash = hash.unwrap_or_else(|| NONE.get_or_init(|| hashed("nobody has this")));
    let fits = PasswordHash::new(hash)
        .is_ok_and(|parsed| Argon2::default().verify_password(secret.as_bytes(), &parsed).is_ok());
    is_there && fits
}
