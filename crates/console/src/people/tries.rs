//! Wrong tries: counted, kept over a restart, and made to wait.

use std::collections::HashMap;
use std::sync::PoisonError;

use jiff::{SignedDuration, Timestamp};
use site::people::Tries;
use store::StoreError;
use uuid::Uuid;

use crate::people::Refused;
use crate::people::{People, Place, unless_full};

/// Who and where of wrong tries are remembered for so many at once.
const TRIES_KEPT: usize = 4096;

/// So many wrong tries from one address, or for one name, make the next ones wait, whatever they are for.
const MANY_WRONG: u32 = 20;

impl People {
    /// How many wrong PINs stand against a device's people, for the supervisor's eye.
    pub(crate) fn wrong_at(&self, device: Uuid) -> u32 {
        let at = format!("device {device}");
        let tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        tries.iter().filter(|((place, _), _)| *place == at).map(|(_, tries)| tries.count()).sum()
    }

    /// Counts a try as wrong before its secret is looked at; the right one takes it back.
    pub(super) fn count(&self, place: &Place, now: Timestamp) -> Result<(), Refused> {
        let mut tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        match tries.get(place).map_or(SignedDuration::ZERO, |tries| tries.wait(now)) {
            SignedDuration::ZERO => {
                Self::make_room(&mut tries, now);
                let tries = tries.entry(place.clone()).or_default();
                tries.wrong(now);
                unless_full(self.file.put_tries(&place.0, &place.1, tries.count(), now))?;
                Ok(())
            }
            wait => Err(Refused::Wait(wait)),
        }
    }

    /// Many wrong tries from one address, whoever they were for, or for one name, wherever they came from, make others
    /// wait: not at the machine itself, and not from where this name came in before.
    pub(super) fn await_many(
        &self,
        alone: &[Place; 2],
        from: &str,
        place: &Place,
        now: Timestamp,
    ) -> Result<(), Refused> {
        let is_here = from.parse::<std::net::IpAddr>().is_ok_and(|from| from.to_canonical().is_loopback());
        let is_known = self.known_from.lock().unwrap_or_else(PoisonError::into_inner).contains(place);
        if is_here || is_known {
            return Ok(());
        }
        let tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        let many = alone.iter().filter_map(|one| tries.get(one)).filter(|tries| tries.count() >= MANY_WRONG);
        match many.map(|tries| tries.wait(now)).max() {
            Some(wait) if wait > SignedDuration::ZERO => Err(Refused::Wait(wait)),
            _ => Ok(()),
        }
    }

    pub(super) fn await_turn(&self, place: &Place, now: Timestamp) -> Result<(), Refused> {
        let tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        match tries.get(place).map_or(SignedDuration::ZERO, |tries| tries.wait(now)) {
            SignedDuration::ZERO => Ok(()),
            wait => Err(Refused::Wait(wait)),
        }
    }

    pub(super) fn wrong(&self, place: Place, now: Timestamp) -> Result<(), StoreError> {
        let mut tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        Self::make_room(&mut tries, now);
        let counted = tries.entry(place.clone()).or_default();
        counted.wrong(now);
        unless_full(self.file.put_tries(&place.0, &place.1, counted.count(), now))
    }

    pub(super) fn make_room(tries: &mut HashMap<Place, Tries>, now: Timestamp) {
        if tries.len() >= TRIES_KEPT {
            tries.retain(|_, tries| tries.wait(now) > SignedDuration::ZERO);
        }
        if tries.len() >= TRIES_KEPT {
            tries.clear();
        }
    }

    pub(super) fn right(&self, place: &Place) {
        self.tries.lock().unwrap_or_else(PoisonError::into_inner).remove(place);
        // What cannot be taken off the file costs a wait after a restart, no more.
        let _ = self.file.drop_tries(&place.0, &place.1);
    }
}
