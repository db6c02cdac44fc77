//! People of a yard and the devices they share: roles, and what a PIN and a password must be.

use jiff::{SignedDuration, Timestamp};
use message::{Message, Tell, message};
use unicode_normalization::UnicodeNormalization;
use unicode_security::skeleton;
use uuid::Uuid;
use zxcvbn::{Score, zxcvbn};

/// What a person may do; each may do what those before may, except that only a trainer and a supervisor train.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// May see every page and change nothing.
    Viewer,
    /// May make entries.
    Operator,
    /// May drive the practice plant as well.
    Trainer,
    /// May close books, settle what is open, and say who may what.
    Supervisor,
}

impl Role {
    /// All roles, from the one that may do least.
    pub const ALL: [Role; 4] = [Role::Viewer, Role::Operator, Role::Trainer, Role::Supervisor];

    /// Its name in files and forms.
    pub fn name(self) -> &'static str {
        match self {
            Role::Viewer => "viewer",
            Role::Operator => "operator",
            Role::Trainer => "trainer",
            Role::Supervisor => "supervisor",
        }
    }

    /// A role by its name.
    pub fn named(name: &str) -> Option<Self> {
        Role::ALL.into_iter().find(|role| role.name() == name)
    }
}

/// A person who may sign in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Never used for another person.
    pub id: Uuid,
    /// What the ledger calls the person.
    pub name: String,
    /// What the person may do.
    pub role: Role,
    /// Hash of the password (PHC string); none for who has none.
    pub password: Option<String>,
    /// Hash of the PIN (PHC string); none for who has none.
    pub pin: Option<String>,
    /// Who left the yard is kept, and may do nothing.
    pub is_active: bool,
    /// When the person was added.
    pub made_at: Timestamp,
}

/// A shared tablet or phone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    /// Never used for another device.
    pub id: Uuid,
    /// What the ledger calls it.
    pub name: String,
    /// When it was enrolled.
    pub enrolled_at: Timestamp,
    /// Who enrolled it.
    pub enrolled_by: String,
    /// Since when it is no longer trusted.
    pub revoked_at: Option<Timestamp>,
}

/// Fewest and most digits of a PIN.
const PIN_DIGITS: std::ops::RangeInclusive<usize> = 4..=8;
/// Fewest and most letters of a password; the upper bound keeps hashing cheap.
const PASSWORD_LETTERS: std::ops::RangeInclusive<usize> = 10..=200;
/// How many letters of a password are weighed: what is longer is not weaker.
const LETTERS_WEIGHED: usize = 60;
/// Most letters of a name.
const NAME_LETTERS: usize = 80;

/// Why a name, a PIN or a password is not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.message())]
pub enum Unfit {
    /// A name of no letters, or too many, or with signs that do not print.
    Name,
    /// Another has it.
    NameTaken,
    /// Too few, too many, or no digits.
    PinDigits,
    /// The first that anybody tries.
    PinPlain,
    /// Too short or too long.
    PasswordLetters,
    /// It says the person's name.
    PasswordName,
    /// It is the one that was.
    PasswordSame,
    /// Among the first that a program tries.
    PasswordCommon,
}

/// A name as kept: each letter in one writing (Unicode's NFKC), one blank between words, and nothing that is not seen.
///
/// ```
/// use site::people::{Unfit, fit_name};
/// assert_eq!(fit_name("  Lee   Ortiz "), Ok("Lee Ortiz".into()));
/// assert_eq!(fit_name("L\u{200B}ee"), Err(Unfit::Name));
/// assert_eq!(fit_name("\u{B4}Lee"), Ok("\u{301}Lee".into()), "an accent that stands alone brings no blank");
/// ```
///
/// # Errors
/// [`Unfit::Name`].
pub fn fit_name(name: &str) -> Result<String, Unfit> {
    if name.chars().any(|letter| letter.is_control() || is_unseen(letter)) {
        return Err(Unfit::Name);
    }
    // In one writing first: there are letters that are written with a blank in them.
    let name: String = name.nfkc().collect();
    let name = name.split_whitespace().collect::<Vec<_>>().join(" ");
    let is_fit = (1..=NAME_LETTERS).contains(&name.chars().count());
    if is_fit { Ok(name) } else { Err(Unfit::Name) }
}

/// Whether a sign leaves no ink or turns the order of the letters: Unicode's "default ignorable" code points.
fn is_unseen(letter: char) -> bool {
    matches!(u32::from(letter),
        0xAD | 0x34F | 0x61C | 0x115F..=0x1160 | 0x17B4..=0x17B5 | 0x180B..=0x180F | 0x200B..=0x200F
        | 0x202A..=0x202E
        | 0x2060..=0x206F | 0x3164 | 0xFE00..=0xFE0F | 0xFEFF | 0xFFA0 | 0xFFF0..=0xFFF8 | 0xE0000..=0xE0FFF)
}

/// Whether people would take two names for the same: alike but for capitals, or in letters that look alike (skeletons
/// of Unicode Technical Standard 39).
///
/// ```
/// use site::people::is_alike;
/// assert!(is_alike("Pat", "PAT"));
/// assert!(is_alike("Pat", "P\u{0430}t"), "with a Cyrillic letter");
/// assert!(!is_alike("Pat", "Sam"));
/// ```
pub fn is_alike(one: &str, other: &str) -> bool {
    let plain = |name: &str| {
        let small: String = skeleton(&name.to_lowercase()).collect();
        skeleton(&small.to_lowercase()).collect::<String>()
    };
    plain(one) == plain(other)
}

/// Whether a PIN may be used.
///
/// ```
/// use site::people::{Unfit, fit_pin};
/// assert_eq!(fit_pin("4071"), Ok(()));
/// assert_eq!(fit_pin("123"), Err(Unfit::PinDigits));
/// for plain in ["3456", "1212", "121212", "4321", "1111", "1987"] {
///     assert_eq!(fit_pin(plain), Err(Unfit::PinPlain), "{plain}");
/// }
/// assert_eq!(fit_pin("19871"), Ok(()));
/// ```
///
/// # Errors
/// [`Unfit::PinDigits`], [`Unfit::PinPlain`].
pub fn fit_pin(pin: &str) -> Result<(), Unfit> {
    let digits = pin.as_bytes();
    if !PIN_DIGITS.contains(&digits.len()) || !digits.iter().all(u8::is_ascii_digit) {
        return Err(Unfit::PinDigits);
    }
    let steps: Vec<i16> = digits.windows(2).map(|two| i16::from(two[1]) - i16::from(two[0])).collect();
    let is_run = [0, 1, -1].iter().any(|step| steps.iter().all(|found| found == step));
    let is_year = digits.len() == 4 && (pin.starts_with("19") || pin.starts_with("20"));
    let is_halves = digits.len().is_multiple_of(2) && {
        let (first, second) = digits.split_at(2);
        second.chunks(2).all(|two| two == first)
    };
    if is_run || is_year || is_halves { Err(Unfit::PinPlain) } else { Ok(()) }
}

/// Whether a password may be used.
///
/// ```
/// use site::people::{Unfit, fit_password};
/// // Characters, not letters: digits and signs count as well.
/// assert_ne!(fit_password("7193 7193!", "Ines"), Err(Unfit::PasswordLetters));
/// assert_eq!(fit_password("7193 719!", "Ines"), Err(Unfit::PasswordLetters));
/// assert_eq!(fit_password(&"x".repeat(201), "Ines"), Err(Unfit::PasswordLetters));
/// assert_ne!(fit_password(&"x".repeat(200), "Ines"), Err(Unfit::PasswordLetters));
/// ```
///
/// # Errors
/// [`Unfit::PasswordLetters`], [`Unfit::PasswordName`], [`Unfit::PasswordCommon`]: fewer than some hundred million
/// tries by the estimate of zxcvbn (D. L. Wheeler, USENIX Security 2016), which knows common passwords, names, runs and
/// repeats.
pub fn fit_password(password: &str, name: &str) -> Result<(), Unfit> {
    if !PASSWORD_LETTERS.contains(&password.chars().count()) {
        return Err(Unfit::PasswordLetters);
    }
    let holds_name = name
        .split_whitespace()
        .any(|part| part.chars().count() > 3 && password.to_lowercase().contains(&part.to_lowercase()));
    if holds_name {
        return Err(Unfit::PasswordName);
    }
    let begin: String = password.chars().take(LETTERS_WEIGHED).collect();
    if zxcvbn(&begin, &[name]).score() < Score::Three { Err(Unfit::PasswordCommon) } else { Ok(()) }
}

/// Wrong tries of one person at one device, or of one name from one address: after some, each next one must wait
/// longer. Nobody else waits, and a wait ends by itself: a shift is never locked out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tries {
    wrong: u32,
    last: Option<Timestamp>,
}

impl Tries {
    /// Wrong tries that cost no wait: cold fingers.
    pub const FREE: u32 = 4;
    /// The longest wait.
    pub const LONGEST: SignedDuration = SignedDuration::from_mins(5);
    /// After so long without a wrong try all is forgotten.
    pub const FORGOTTEN: SignedDuration = SignedDuration::from_hours(12);

    /// How long the next try must still wait; zero when it need not.
    pub fn wait(&self, now: Timestamp) -> SignedDuration {
        let (Some(last), true) = (self.last, self.wrong >= Self::FREE) else { return SignedDuration::ZERO };
        let doubled = 1i64 << (self.wrong - Self::FREE).min(16);
        let pause = SignedDuration::from_secs(5 * doubled).min(Self::LONGEST);
        // A clock that was set back does not lengthen it.
        let gone = now.duration_since(last).max(SignedDuration::ZERO);
        (pause - gone).max(SignedDuration::ZERO)
    }

    /// A wrong try.
    pub fn wrong(&mut self, now: Timestamp) {
        if self.last.is_some_and(|last| now.duration_since(last) > Self::FORGOTTEN) {
            self.wrong = 0;
        }
        self.wrong = self.wrong.saturating_add(1);
        self.last = Some(now);
    }

    /// As they were kept.
    pub fn kept(wrong: u32, last: Timestamp) -> Self {
        Self { wrong, last: Some(last) }
    }

    /// How many stand.
    pub fn count(&self) -> u32 {
        self.wrong
    }
}

impl Tell for Unfit {
    fn message(&self) -> Message {
        let range = |id: &'static str, letters: std::ops::RangeInclusive<usize>| {
            message!(id, fewest = *letters.start(), most = *letters.end())
        };
        match self {
            Unfit::Name => range("site.person.name", 1..=NAME_LETTERS),
            Unfit::NameTaken => Message::new("site.person.name_taken"),
            Unfit::PinDigits => range("site.person.pin_digits", PIN_DIGITS),
            Unfit::PinPlain => Message::new("site.person.pin_plain"),
            Unfit::PasswordLetters => range("site.person.password_letters", PASSWORD_LETTERS),
            Unfit::PasswordName => Message::new("site.person.password_name"),
            Unfit::PasswordSame => Message::new("site.person.password_same"),
            Unfit::PasswordCommon => Message::new("site.person.password_common"),
        }
    }
}
