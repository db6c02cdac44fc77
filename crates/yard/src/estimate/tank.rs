//! The estimate of one tank, with the evidence that it doubts or believed.

use chemistry::{Estimate, MassFraction};
use jiff::Timestamp;
use quantity::{Mass, ThermodynamicTemperature, Volume};

use super::seen::{Seen, SeenVolume};
use super::state::State;
use crate::stock::Content;
use crate::uncertain::{DENSITY_NO_TEMPERATURE, LEVEL_SENSOR};
use event::EventId;
use site::{Product, Tank, Yard};

/// Evidence further from what is expected than this many of its standard deviations asks for a second look: an honest
/// one in a hundred does.
pub const GATE: f64 = 2.576;

/// What one tank holds.
#[derive(Debug, Clone)]
pub struct TankEstimate {
    /// Id of the tank.
    pub tank: String,
    pub(super) state: State,
    pub(super) doubted: Option<Doubted>,
    pub(super) believed: Option<Mismatch>,
    pub(super) counted_at: Option<Timestamp>,
    pub(super) seen_at: Option<Timestamp>,
    pub(super) strength_seen_at: Option<Timestamp>,
    pub(super) corrected_at: Option<Timestamp>,
    pub(super) verdict: Option<SampleVerdict>,
    pub(super) sample: Option<Box<Sample>>,
}

/// What all instruments that were read in one sample say together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SampleVerdict {
    /// The sample, by the id of its first reading.
    pub sample: EventId,
    /// When the last of them was read.
    pub at: Timestamp,
    /// Strength with half of its 95 % interval (k = 1.96).
    pub strength: Estimate<MassFraction>,
    /// How many readings.
    pub readings: usize,
    /// Whether they agree as well as their intervals say; the strength's interval is wider where they do not.
    pub agree: bool,
}

/// Evidence that does not fit, waiting for a second look.
#[derive(Debug, Clone)]
pub struct Doubted {
    /// What was seen and what was expected.
    pub mismatch: Mismatch,
    /// What the tank would hold if it were right.
    pub(super) state: State,
}

/// Evidence beside what was expected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mismatch {
    /// When it was seen.
    pub at: Timestamp,
    /// What lies apart: strength or volume.
    pub of: Apart,
}

/// What lies apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Apart {
    /// Strengths, as seen and as expected.
    Strength {
        /// Strength as it was measured.
        seen: MassFraction,
        /// Strength that the estimate expected.
        expected: MassFraction,
    },
    /// Volume, at the temperature of the content.
    Volume {
        /// Volume as it was measured.
        seen: Volume,
        /// Volume that the estimate expected.
        expected: Volume,
    },
}

/// A sample that several instruments may be read in: together they count once.
#[derive(Debug, Clone)]
pub(super) struct Sample {
    pub(super) id: EventId,
    pub(super) before: TankEstimate,
    /// Strength and standard deviation of each, as fractions.
    pub(super) read: Vec<(f64, f64)>,
}

impl TankEstimate {
    pub(super) fn uncounted(yard: &Yard, tank: &Tank) -> Self {
        Self {
            tank: tank.id.clone(),
            state: State::uncounted(yard, tank),
            doubted: None,
            believed: None,
            counted_at: None,
            seen_at: None,
            strength_seen_at: None,
            corrected_at: None,
            verdict: None,
            sample: None,
        }
    }

    /// All of it, by what is in it.
    pub fn content(&self) -> Content {
        self.state.content()
    }

    /// Volume at 60 °F with half of its 95 % interval (k = 1.96, normal).
    ///
    /// # Equation
    /// Salt and water of the state, as a volume at 60 °F by [`chemistry::density`]; interval 1.96·σ of the state's
    /// covariance.
    ///
    /// # Range
    /// Tanks of the yard file.
    ///
    /// # Error
    /// As the interval says, if the figures of [`crate::uncertain`] hold; tried on simulated seasons in
    /// VALIDATION.md.
    ///
    /// # Source
    /// Kalman's filter ([`super::kalman`]); the uncertainties are program defaults.
    pub fn volume(&self, yard: &Yard) -> Estimate<Volume> {
        self.state.volume(yard)
    }

    /// Strength with half of its 95 % interval; none of an empty tank and of what holds a declared liquid.
    ///
    /// # Equation
    /// Salt over salt and water of the state; interval 1.96·σ of the state's covariance.
    ///
    /// # Range
    /// Brine alone, more than nothing.
    ///
    /// # Error
    /// As the interval says, if the figures of [`crate::uncertain`] hold; tried on simulated seasons in
    /// VALIDATION.md.
    ///
    /// # Source
    /// Kalman's filter ([`super::kalman`]); the uncertainties are program defaults.
    pub fn strength(&self) -> Option<Estimate<MassFraction>> {
        self.state.strength()
    }

    /// Strength, or what it last was where the tank is empty.
    pub fn last_strength(&self) -> Option<MassFraction> {
        self.state.last_strength()
    }

    /// Sodium chloride in it with half of its 95 % interval.
    ///
    /// # Equation
    /// Salt of the state; interval 1.96·σ of the state's covariance.
    ///
    /// # Range
    /// Tanks of the yard file.
    ///
    /// # Error
    /// As the interval says, if the figures of [`crate::uncertain`] hold; tried on simulated seasons in
    /// VALIDATION.md.
    ///
    /// # Source
    /// Kalman's filter ([`super::kalman`]); the uncertainties are program defaults.
    pub fn sodium_chloride(&self) -> Estimate<Mass> {
        self.state.sodium_chloride()
    }

    /// Evidence that does not fit and waits for a second look.
    pub fn doubted(&self) -> Option<&Doubted> {
        self.doubted.as_ref()
    }

    /// The last evidence that did not fit and was believed, until the book is set.
    pub fn believed(&self) -> Option<Mismatch> {
        self.believed
    }

    /// When it was first counted: dipped, or agreed on. None: what stood in it before the ledger began is unknown.
    pub fn counted_at(&self) -> Option<Timestamp> {
        self.counted_at
    }

    /// When evidence was last taken in.
    pub fn seen_at(&self) -> Option<Timestamp> {
        self.seen_at
    }

    /// When a strength was last taken in.
    pub fn strength_seen_at(&self) -> Option<Timestamp> {
        self.strength_seen_at
    }

    /// The newest sample, where nothing went in or out since.
    pub fn verdict(&self) -> Option<SampleVerdict> {
        self.verdict
    }

    /// When salt or water was last put in to change the strength, where no sample was taken since: what it comes to is
    /// expected, not known.
    pub fn corrected_at(&self) -> Option<Timestamp> {
        self.corrected_at
    }

    pub(super) fn each(&mut self, mut act: impl FnMut(&mut State)) {
        (self.sample, self.verdict) = (None, None);
        act(&mut self.state);
        if let Some(doubted) = &mut self.doubted {
            act(&mut doubted.state);
        }
    }

    /// Takes evidence in, keeps it in doubt, or believes what was doubted.
    pub(super) fn see(&mut self, yard: &Yard, product: &Product, seen: &Seen, at: Timestamp) {
        let fits = |state: &State| state.far(yard, product, seen) <= GATE;
        let is_strength = matches!(seen, Seen::Strength(_));
        if fits(&self.state) {
            self.state.see(yard, product, seen);
            match self.doubted.take() {
                // Another kind of look says nothing of this doubt.
                Some(mut doubted) if doubted.mismatch.is_of_strength() != is_strength => {
                    if fits(&doubted.state) {
                        doubted.state.see(yard, product, seen);
                    }
                    self.doubted = Some(doubted);
                }
                Some(_) | None => {}
            }
        } else if let Some(mut doubted) = self
            .doubted
            .take_if(|doubted| doubted.mismatch.is_of_strength() == is_strength && fits(&doubted.state))
        {
            doubted.state.see(yard, product, seen);
            self.state = doubted.state;
            self.believed = Some(doubted.mismatch);
        } else {
            let of = self.mismatch(yard, seen);
            let state = self.state.believing(yard, product, seen);
            self.doubted = Some(Doubted { mismatch: Mismatch { at, of }, state });
            return;
        }
        self.seen_at = Some(at);
        if is_strength {
            self.strength_seen_at = Some(at);
        } else {
            self.counted_at = self.counted_at.or(Some(at));
        }
    }

    fn mismatch(&self, yard: &Yard, seen: &Seen) -> Apart {
        match seen {
            Seen::Strength(strength) => Apart::Strength {
                seen: strength.strength,
                expected: self.state.last_strength().unwrap_or(MassFraction::ZERO),
            },
            Seen::Volume(volume) => {
                Apart::Volume { seen: volume.volume, expected: self.state.volume(yard).value }
            }
        }
    }

    /// A person acts on a sample that was doubted: it is what is expected from here on, and the other is kept in doubt.
    pub(super) fn take_word(&mut self, at: Timestamp) {
        let Some(doubted) = self.doubted.take_if(|doubted| doubted.mismatch.is_of_strength()) else { return };
        let before = std::mem::replace(&mut self.state, doubted.state);
        let (Some(seen), Some(expected)) = (before.last_strength(), self.state.last_strength()) else {
            return;
        };
        self.believed = Some(doubted.mismatch);
        let mismatch = Mismatch { at, of: Apart::Strength { seen, expected } };
        self.doubted = Some(Doubted { mismatch, state: before });
    }

    /// Looked at by a level sensor: as it would be, without changing what the ledger says.
    pub fn with_level(&self, yard: &Yard, level: &Level) -> Self {
        let mut other = self.clone();
        let (Some(site), Some(product)) = (yard.tank(&self.tank), product_of(yard, &self.tank)) else {
            return other;
        };
        let deviation = site.shape.full_volume() * LEVEL_SENSOR;
        let seen = Seen::Volume(SeenVolume {
            volume: level.volume,
            temperature: level.temperature,
            deviation,
            density: DENSITY_NO_TEMPERATURE,
        });
        other.see(yard, product, &seen, level.at);
        other
    }
}

/// What a level sensor shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// When the sensor showed it.
    pub at: Timestamp,
    /// Volume by the tank's shape, at the temperature of the content.
    pub volume: Volume,
    /// That temperature, where known.
    pub temperature: Option<ThermodynamicTemperature>,
}

impl Mismatch {
    /// Whether it is of a strength; else of a volume.
    pub fn is_of_strength(&self) -> bool {
        matches!(self.of, Apart::Strength { .. })
    }
}

impl Doubted {
    /// Strength if the evidence is right, with half of its 95 % interval.
    pub fn strength(&self) -> Option<Estimate<MassFraction>> {
        self.state.strength()
    }

    /// Volume at 60 °F if the evidence is right, with half of its 95 % interval.
    pub fn volume(&self, yard: &Yard) -> Estimate<Volume> {
        self.state.volume(yard)
    }

    /// All of it, by what is in it, if the evidence is right.
    pub fn content(&self) -> Content {
        self.state.content()
    }
}

pub(super) fn product_of<'y>(yard: &'y Yard, tank: &str) -> Option<&'y Product> {
    yard.product(&yard.tank(tank)?.product)
}
