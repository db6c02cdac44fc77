//! Who is who: passwords, PINs, sessions, enrolled devices, over the file that keeps them.
//!
//! Secrets leave as hashes: argon2id for what people choose, SHA-256 for the random tokens of cookies and codes. All
//! that a request asks is held in memory, and read anew when another program changed the file.

mod codes;
mod refused;
mod secrets;
mod shifts;
mod tries;

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};
use site::people::{Device, Person, Role, Tries, Unfit, fit_name, fit_password, fit_pin, is_alike};
use store::StoreError;
use store::people::{Act, Changed, Code, PeopleFile, Roster, Session, TokenHash};
use uuid::Uuid;

pub use self::refused::Refused;
use self::secrets::{fits, hash_of, hashed, plain_code, token};
use self::shifts::Held;
pub(crate) use self::shifts::OnShift;
use crate::turns::Turns;

/// A session that is not used ends after this.
pub const SESSION_IDLE: SignedDuration = SignedDuration::from_hours(12);
/// A session ends after this in any case.
pub const SESSION_LONGEST: SignedDuration = SignedDuration::from_hours(24 * 7);
/// A code to enrol a device is good for this long.
pub const CODE_GOOD: SignedDuration = SignedDuration::from_mins(15);
/// A code to make the first supervisor is good for this long.
pub const FIRST_GOOD: SignedDuration = SignedDuration::from_hours(24);
/// A key for entries without network is good for one shift and a little more.
pub const KEY_GOOD: SignedDuration = SignedDuration::from_hours(14);
/// A session's last look is written down at most this often.
const SEEN_EVERY: SignedDuration = SignedDuration::from_mins(5);

/// Who a request comes from, as far as its cookies show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Who {
    /// Someone without a session, and not at an enrolled device.
    Nobody,
    /// A person signed in with a password.
    Person(Person),
    /// A shared device; single acts are signed with a PIN.
    Device(Device),
}

/// A change of a person's record; a field that is none stays as it is.
#[derive(Debug, Clone, Default)]
pub struct Change {
    /// New name, as the ledger shows it.
    pub name: Option<String>,
    /// New role, and with it what the person may do.
    pub role: Option<Role>,
    /// New password in clear text; only its hash is saved.
    pub password: Option<String>,
    /// New PIN in clear text; only its hash is saved.
    pub pin: Option<String>,
    /// False when the person leaves, true when they come back.
    pub is_active: Option<bool>,
}

/// Why a person is written to the file.
#[derive(Debug, Clone, Copy)]
enum Kept {
    Added,
    Changed,
    ChosePassword,
}

/// Where a wrong try was made.
type Place = (String, String);

/// All people and devices of a yard.
pub struct People {
    file: PeopleFile,
    held: Mutex<(i64, Arc<Roster>)>,
    tries: Mutex<HashMap<Place, Tries>>,
    holding: Mutex<HashMap<TokenHash, Held>>,
    turns: Turns,
    /// Places that a name has signed in from before.
    known_from: Mutex<HashSet<Place>>,
    /// Who came in while the disk was full: known until a restart.
    unsaved: Mutex<HashMap<TokenHash, Session>>,
}

/// What a full disk takes no note of is done all the same: nobody is kept from reading by it.
fn unless_full(written: Result<(), StoreError>) -> Result<(), StoreError> {
    match written {
        Err(StoreError::DiskFull) => Ok(()),
        other => other,
    }
}

impl People {
    /// Reads the people of a file.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn new(file: PeopleFile, now: Timestamp) -> Result<Self, StoreError> {
        file.tidy(now, now - SESSION_LONGEST)?;
        let roster = Arc::new(file.roster()?);
        let version = file.version()?;
        let kept = file.tries()?.into_iter();
        let tries = kept.map(|(place, who, wrong, last)| ((place, who), Tries::kept(wrong, last))).collect();
        Ok(Self {
            file,
            held: Mutex::new((version, roster)),
            tries: Mutex::new(tries),
            holding: Mutex::default(),
            turns: Turns::default(),
            known_from: Mutex::default(),
            unsaved: Mutex::default(),
        })
    }

    /// The file, for what is held for a decision and for what was done.
    pub(crate) fn file(&self) -> &PeopleFile {
        &self.file
    }

    /// Everything the file holds, read anew when it changed.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn roster(&self) -> Result<Arc<Roster>, StoreError> {
        let version = self.file.version()?;
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        if held.0 != version {
            *held = (version, Arc::new(self.file.roster()?));
        }
        Ok(Arc::clone(&held.1))
    }

    /// Reads the file again after this program changed it, which the file's version does not show.
    fn again(&self) -> Result<(), StoreError> {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        held.1 = Arc::new(self.file.roster()?);
        Ok(())
    }

    /// Whether there is a supervisor who can come in: before that, the console is not set up.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn is_set_up(&self) -> Result<bool, StoreError> {
        Ok(self.roster()?.people.iter().any(is_key_holder))
    }

    /// Returns who holds these tokens.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub(crate) fn who(
        &self,
        session: Option<&str>,
        device: Option<&str>,
        now: Timestamp,
    ) -> Result<Who, StoreError> {
        let roster = self.roster()?;
        let kept = |token: &TokenHash| {
            let unsaved = self.unsaved.lock().unwrap_or_else(PoisonError::into_inner);
            let found = roster.sessions.iter().find(|(known, _)| known == token);
            found.map(|(_, found)| found.clone()).or_else(|| unsaved.get(token).cloned())
        };
        if let Some(token) = session.map(hash_of)
            && let Some(found) = kept(&token)
            && now.duration_since(found.seen_at) < SESSION_IDLE
            && now.duration_since(found.begun_at) < SESSION_LONGEST
            && let Some(person) = roster.people.iter().find(|one| one.id == found.person && one.is_active)
        {
            if now.duration_since(found.seen_at) > SEEN_EVERY {
                unless_full(self.file.put_session(&token, &Session { seen_at: now, ..found }))?;
                self.again()?;
            }
            return Ok(Who::Person(person.clone()));
        }
        Ok(match self.device_of(device)? {
            Some(device) if device.revoked_at.is_none() => Who::Device(device),
            _ => Who::Nobody,
        })
    }

    /// The device that holds a token, revoked or not.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub(crate) fn device_of(&self, token: Option<&str>) -> Result<Option<Device>, StoreError> {
        let Some(token) = token.map(hash_of) else { return Ok(None) };
        let roster = self.roster()?;
        Ok(roster.devices.iter().find(|(known, _)| *known == token).map(|(_, device)| device.clone()))
    }

    /// Those who may sign with a PIN, by name.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub(crate) fn signers(&self) -> Result<Vec<Person>, StoreError> {
        let roster = self.roster()?;
        let may = |one: &&Person| one.is_active && one.pin.is_some() && one.role >= Role::Operator;
        Ok(roster.people.iter().filter(may).cloned().collect())
    }

    /// Makes the first supervisor.
    ///
    /// # Errors
    /// [`Refused`]: unfit, or there is one already.
    pub fn first(
        &self,
        name: &str,
        password: &str,
        pin: Option<&str>,
        now: Timestamp,
    ) -> Result<Person, Refused> {
        let name = fit_name(name)?;
        fit_password(password, &name)?;
        if let Some(pin) = pin {
            fit_pin(pin)?;
        }
        let person = Person {
            id: Uuid::now_v7(),
            role: Role::Supervisor,
            password: Some(hashed(password)),
            pin: pin.map(hashed),
            is_active: true,
            made_at: now,
            name,
        };
        self.file.put_first(&person)?;
        self.again()?;
        self.file.note(now, &person.name, &Act::FirstSupervisor)?;
        Ok(person)
    }

    /// Adds a person.
    ///
    /// # Errors
    /// [`Refused`].
    pub fn add(&self, change: &Change, by: &str, now: Timestamp) -> Result<Person, Refused> {
        let name = fit_name(change.name.as_deref().unwrap_or_default())?;
        let person = Person {
            id: Uuid::now_v7(),
            name,
            role: change.role.unwrap_or(Role::Viewer),
            password: None,
            pin: None,
            is_active: true,
            made_at: now,
        };
        self.keep(&person, &Change { name: None, ..change.clone() }, by, now, Kept::Added)
    }

    /// Changes a person. Another password, or leaving, ends all sessions.
    ///
    /// # Errors
    /// [`Refused`].
    pub fn change(&self, id: Uuid, change: &Change, by: &str, now: Timestamp) -> Result<Person, Refused> {
        let roster = self.roster()?;
        let person = roster.people.iter().find(|one| one.id == id).ok_or(Refused::Wrong)?;
        self.keep(person, change, by, now, Kept::Changed)
    }

    /// Lets a person choose another password, by the old one. All sessions of the person end.
    ///
    /// # Errors
    /// [`Refused`].
    pub(crate) fn choose_password(
        &self,
        person: &Person,
        old: &str,
        new: &str,
        from: &str,
        now: Timestamp,
    ) -> Result<(), Refused> {
        let place = (format!("from {from}"), format!("own {}", person.id));
        let _turn = self.turns.take(&place.0).ok_or(Refused::Busy)?;
        // Counted before it is looked at: many at once are as many tries.
        self.count(&place, now)?;
        if !fits(old, person.password.as_deref()) {
            self.file.note(now, &person.name, &Act::WrongOldPassword)?;
            return Err(Refused::Wrong);
        }
        self.right(&place);
        if old == new {
            return Err(Unfit::PasswordSame.into());
        }
        let change = Change { password: Some(new.to_owned()), ..Change::default() };
        self.keep(person, &change, &person.name, now, Kept::ChosePassword).map(|_| ())
    }

    fn keep(
        &self,
        person: &Person,
        change: &Change,
        by: &str,
        now: Timestamp,
        kept: Kept,
    ) -> Result<Person, Refused> {
        let name = change.name.as_deref().map_or_else(|| Ok(person.name.clone()), fit_name)?;
        let roster = self.roster()?;
        let is_same = |other: &Person| other.id != person.id && is_alike(&other.name, &name);
        if roster.people.iter().any(is_same) {
            return Err(Unfit::NameTaken.into());
        }
        if let Some(password) = &change.password {
            fit_password(password, &name)?;
        }
        if let Some(pin) = &change.pin {
            fit_pin(pin)?;
        }
        let after = Person {
            role: change.role.unwrap_or(person.role),
            password: change.password.as_deref().map(hashed).or_else(|| person.password.clone()),
            pin: change.pin.as_deref().map(hashed).or_else(|| person.pin.clone()),
            is_active: change.is_active.unwrap_or(person.is_active),
            name,
            ..person.clone()
        };
        let others = roster.people.iter().any(|one| one.id != person.id && is_key_holder(one));
        if is_key_holder(person) && !is_key_holder(&after) && !others {
            return Err(Refused::Last);
        }
        self.file.put_person(&after)?;
        if change.password.is_some() || !after.is_active {
            self.file.end_all_of(after.id)?;
            self.unsaved
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .retain(|_, one| one.person != after.id);
        }
        if change.pin.is_some() || !after.is_active {
            // Whoever has a key can sign for any time: what comes from now on goes to a person.
            self.file.end_keys_of(after.id)?;
        }
        if change.pin.is_some() || change.role.is_some() {
            let mut holding = self.holding.lock().unwrap_or_else(PoisonError::into_inner);
            holding.retain(|_, held| held.person != after.id);
        }
        self.again()?;
        let what = [
            change.role.map(Changed::Role),
            change.password.as_ref().map(|_| Changed::Password),
            change.pin.as_ref().map(|_| Changed::Pin),
            change.is_active.map(Changed::Active),
            change.name.as_ref().map(|_| Changed::NameBefore(person.name.clone())),
        ];
        let (name, what) = (after.name.clone(), what.into_iter().flatten().collect());
        let act = match kept {
            Kept::Added => Act::Added { name, what },
            Kept::Changed => Act::Changed { name, what },
            Kept::ChosePassword => Act::ChosePassword { name },
        };
        self.file.note(now, by, &act)?;
        Ok(after)
    }

    /// Signs a person in with a password. Returns the session's token.
    ///
    /// # Errors
    /// [`Refused`].
    pub(crate) fn enter(
        &self,
        name: &str,
        password: &str,
        from: &str,
        now: Timestamp,
    ) -> Result<String, Refused> {
        let name = fit_name(name).unwrap_or_else(|_| name.trim().to_owned()).to_lowercase();
        let place = (format!("from {from}"), name.clone());
        let alone = [(place.0.clone(), String::new()), (String::new(), name.clone())];
        self.await_many(&alone, from, &place, now)?;
        let _turn = self.turns.take(&place.0).ok_or(Refused::Busy)?;
        // Counted before it is looked at: many at once are as many tries.
        self.count(&place, now)?;
        let roster = self.roster()?;
        let person = roster.people.iter().find(|one| one.is_active && one.name.to_lowercase() == name);
        if !fits(password, person.and_then(|one| one.password.as_deref())) {
            for one in alone {
                self.wrong(one, now)?;
            }
            let tried: String = name.chars().take(80).collect();
            unless_full(self.file.note(now, from, &Act::WrongPassword { name: tried }))?;
            return Err(Refused::Wrong);
        }
        let person = person.ok_or(Refused::Wrong)?;
        self.right(&place);
        self.known_from.lock().unwrap_or_else(PoisonError::into_inner).insert(place);
        let token = token();
        let session = Session { person: person.id, begun_at: now, seen_at: now };
        match self.file.put_session(&hash_of(&token), &session) {
            Err(StoreError::DiskFull) => {
                let mut unsaved = self.unsaved.lock().unwrap_or_else(PoisonError::into_inner);
                unsaved.insert(hash_of(&token), session);
            }
            written => written?,
        }
        self.again()?;
        Ok(token)
    }

    /// Ends a session.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub(crate) fn leave(&self, token: &str) -> Result<(), StoreError> {
        self.unsaved.lock().unwrap_or_else(PoisonError::into_inner).remove(&hash_of(token));
        self.file.end_session(&hash_of(token))?;
        self.again()
    }

    /// Enrols a device by a code; the answer is its token.
    ///
    /// # Errors
    /// [`Refused`].
    pub(crate) fn enrol(
        &self,
        name: &str,
        code: &str,
        from: &str,
        now: Timestamp,
    ) -> Result<String, Refused> {
        // What names there are is told only to who has a code; a name that is taken does not use it up.
        let place = (format!("from {from}"), "code device".to_owned());
        self.await_turn(&place, now)?;
        let roster = self.roster()?;
        let wanted = hash_of(&plain_code(code));
        let is_good = |(hash, known): &(TokenHash, Code)| {
            *hash == wanted && known.kind == "device" && now < known.until
        };
        if !roster.codes.iter().any(is_good) {
            self.wrong(place, now)?;
            return Err(Refused::Code);
        }
        let name = fit_name(name)?;
        if roster.devices.iter().any(|(_, known)| is_alike(&known.name, &name)) {
            return Err(Unfit::NameTaken.into());
        }
        let code = self.take_code(code, "device", from, now)?;
        let token = token();
        let device =
            Device { id: Uuid::now_v7(), name, enrolled_at: now, enrolled_by: code.by, revoked_at: None };
        self.file.put_device(&hash_of(&token), &device)?;
        self.again()?;
        self.file.note(now, &device.enrolled_by, &Act::Enrolled { device: device.name })?;
        Ok(token)
    }

    /// Removes a device. What it still sends is received, and marked.
    ///
    /// # Errors
    /// [`Refused`].
    pub(crate) fn revoke(&self, id: Uuid, by: &str, now: Timestamp) -> Result<(), Refused> {
        let roster = self.roster()?;
        let (token, device) = roster.devices.iter().find(|(_, one)| one.id == id).ok_or(Refused::Wrong)?;
        if device.revoked_at.is_none() {
            self.file.put_device(token, &Device { revoked_at: Some(now), ..device.clone() })?;
            self.again()?;
            self.file.note(now, by, &Act::Removed { device: device.name.clone() })?;
        }
        Ok(())
    }
}

fn is_key_holder(person: &Person) -> bool {
    person.is_active && person.role == Role::Supervisor && person.password.is_some()
}
