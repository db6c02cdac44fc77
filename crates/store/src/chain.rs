//! Each row carries a hash over its own text and the hash of the row before: changing, removing or inserting a row in
//! the middle breaks every hash after it. SHA-256 (FIPS 180-4), from a well-kept library.

use sha2::{Digest, Sha256};

use message::{Message, message};

use crate::Row;

/// A SHA-256 hash.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hash(pub [u8; 32]);

impl Hash {
    /// The hash that stands in for the row before the first.
    pub const ORIGIN: Hash = Hash([0; 32]);
}

impl Hash {
    /// Reads a hash from its 64 hexadecimal digits; none for anything else.
    pub fn read(text: &str) -> Option<Hash> {
        let digits = text.as_bytes();
        if digits.len() != 64 || !digits.is_ascii() {
            return None;
        }
        let mut bytes = [0; 32];
        for (place, byte) in bytes.iter_mut().enumerate() {
            *byte = u8::from_str_radix(text.get(2 * place..2 * place + 2)?, 16).ok()?;
        }
        Some(Hash(bytes))
    }
}

impl std::fmt::Display for Hash {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

/// The hash a row must carry. Every text goes in with its length, so that no two rows share an input.
pub fn hash_of(row: &Row) -> Hash {
    let mut hasher = Sha256::new();
    hasher.update(row.previous.0);
    hasher.update(row.seq.to_le_bytes());
    hasher.update(row.version.to_le_bytes());
    for text in [&row.id, &row.kind, &row.occurred_at, &row.recorded_at, &row.author, &row.device, &row.body]
    {
        hasher.update((text.len() as u64).to_le_bytes());
        hasher.update(text.as_bytes());
    }
    Hash(hasher.finalize().into())
}

/// What is wrong with a row that should follow another, if anything.
pub fn fault(row: &Row, expected_seq: u64, previous: Hash) -> Option<Message> {
    if row.seq != expected_seq {
        Some(message!("store.fault.missing_before"))
    } else if row.previous != previous {
        Some(message!("store.fault.other_before"))
    } else if hash_of(row) != row.hash {
        Some(message!("store.fault.changed"))
    } else {
        None
    }
}
