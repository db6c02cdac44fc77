//! PINs that hold for a shift at a shared device, and keys for entries without network.

use std::sync::PoisonError;

use jiff::Timestamp;
use site::people::{Device, Person};
use store::StoreError;
use store::people::OfflineKey;
use uuid::Uuid;

use crate::people::Refused;
use crate::people::{KEY_GOOD, People, fits, hash_of, token};

/// A person whose PIN is valid at a device for a shift.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct OnShift {
    pub(crate) person: Person,
    pub(crate) since: Timestamp,
    pub(crate) until: Timestamp,
}

/// A PIN that holds: where, whose, since and until when. In memory alone: a restart asks anew.
#[derive(Debug, Clone, Copy)]
pub(super) struct Held {
    pub(super) device: Uuid,
    pub(super) person: Uuid,
    pub(super) since: Timestamp,
    pub(super) until: Timestamp,
}

impl People {
    /// Returns whose PIN was typed at a device.
    ///
    /// # Errors
    /// [`Refused`].
    pub(crate) fn sign(
        &self,
        device: &Device,
        person: Uuid,
        pin: &str,
        now: Timestamp,
    ) -> Result<Person, Refused> {
        let place = (format!("device {}", device.id), person.to_string());
        let _turn = self.turns.take(&place.0).ok_or(Refused::Busy)?;
        // Counted before it is looked at: many at once are as many tries.
        self.count(&place, now)?;
        let found = self.signers()?.into_iter().find(|one| one.id == person);
        if !fits(pin.trim(), found.as_ref().and_then(|one| one.pin.as_deref())) {
            return Err(Refused::Wrong);
        }
        self.right(&place);
        found.ok_or(Refused::Wrong)
    }

    /// Makes a PIN valid at a device for a shift, in place of any other there. Returns the token for its cookie.
    pub(crate) fn hold(&self, device: Uuid, person: Uuid, now: Timestamp, until: Timestamp) -> String {
        let token = token();
        let mut holding = self.holding.lock().unwrap_or_else(PoisonError::into_inner);
        holding.retain(|_, held| held.device != device && now < held.until);
        holding.insert(hash_of(&token), Held { device, person, since: now, until });
        token
    }

    /// Person whose PIN is valid at a device, by the token; none for one who may no longer sign.
    pub(crate) fn held(&self, token: &str, device: Uuid, now: Timestamp) -> Option<OnShift> {
        let holding = self.holding.lock().unwrap_or_else(PoisonError::into_inner);
        let held = holding.get(&hash_of(token)).filter(|held| held.device == device && now < held.until)?;
        let person = self.signers().ok()?.into_iter().find(|one| one.id == held.person)?;
        Some(OnShift { person, since: held.since, until: held.until })
    }

    /// Ends the shift that a token stands for: the next act needs a PIN again.
    pub(crate) fn let_go(&self, token: &str) {
        self.holding.lock().unwrap_or_else(PoisonError::into_inner).remove(&hash_of(token));
    }

    /// Gives a person's key on a device a shift of validity.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub(crate) fn begin_shift(
        &self,
        (person, device): (Uuid, Uuid),
        public: Vec<u8>,
        now: Timestamp,
    ) -> Result<OfflineKey, StoreError> {
        let key =
            OfflineKey { id: Uuid::now_v7(), person, device, public, made_at: now, until: now + KEY_GOOD };
        self.file.put_key(&key)?;
        self.again()?;
        Ok(key)
    }
}
