//! Codes that are good once: for a device, and for the first supervisor.

use jiff::Timestamp;
use store::StoreError;
use store::people::Code;

use super::secrets::{code, hash_of, plain_code};
use crate::people::Refused;
use crate::people::{CODE_GOOD, FIRST_GOOD, People};

impl People {
    /// Gives out a code that is good once, for a device or for the first supervisor.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn give_code(&self, kind: &str, by: &str, now: Timestamp) -> Result<String, StoreError> {
        let code = code();
        let good = if kind == "first" { FIRST_GOOD } else { CODE_GOOD };
        let kept = Code { kind: kind.to_owned(), by: by.to_owned(), until: now + good };
        self.file.put_code(&hash_of(&code), &kept)?;
        self.again()?;
        Ok(code)
    }

    /// Takes a code, which is good once.
    ///
    /// # Errors
    /// [`Refused::Code`], [`Refused::Wait`].
    pub(crate) fn take_code(
        &self,
        code: &str,
        kind: &str,
        from: &str,
        now: Timestamp,
    ) -> Result<Code, Refused> {
        let place = (format!("from {from}"), format!("code {kind}"));
        self.await_turn(&place, now)?;
        let found = self.file.take_code(&hash_of(&plain_code(code)), kind, now)?;
        self.again()?;
        match found {
            Some(code) => {
                self.right(&place);
                Ok(code)
            }
            None => {
                self.wrong(place, now)?;
                Err(Refused::Code)
            }
        }
    }
}
