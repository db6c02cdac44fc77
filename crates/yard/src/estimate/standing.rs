//! What people act on: estimates of tanks asked of the books, and how the book stands apart from them.

use bench::Conformity;
use chemistry::{Estimate, MassFraction};
use quantity::{Volume, in_cubic_metres, in_kilograms};

use super::sample::{strength_of, verdict};
use super::state::{State, is_brine};
use super::tank::{Mismatch, SampleVerdict, TankEstimate, product_of};
use crate::stock::{Books, Content};
use event::{EventId, Settlement};
use site::Yard;

/// Book and estimate nearer than this share of a full tank are one, whatever the interval: rounding of dips and papers.
/// Our own figure.
const SAME: f64 = 0.005;

/// Book and estimate nearer than this are of one strength, per cent by mass. Our own figure.
const SAME_PCT: f64 = 0.2;

/// What people act on: the estimate, and while evidence waits for a second look, the worse of the two.
#[derive(Debug, Clone)]
pub struct Standing {
    /// All of it, by what is in it.
    pub content: Content,
    /// Volume at 60 °F, with half of its 95 % interval.
    pub volume: Estimate<Volume>,
    /// The least it may be, when something is drawn: smaller while a look at the volume waits.
    pub least: Volume,
    /// The most it may be, when something is put in.
    pub most: Volume,
    /// Strength, with half of its 95 % interval.
    pub strength: Option<Estimate<MassFraction>>,
    /// Strength against the tank's band; none of what is not brine, and of an empty tank.
    pub conformity: Option<Conformity>,
    /// Evidence that waits for a second look.
    pub doubted: Option<Mismatch>,
}

/// How a book stands apart from the estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BookApart {
    /// The estimate's volume less the book's.
    pub volume: Volume,
    /// Half of the 95 % interval of the estimate's volume.
    pub within: Volume,
    /// The estimate's strength and the book's, where they differ.
    pub strength: Option<(MassFraction, MassFraction)>,
    /// The tank was never counted: the book says nothing but what was entered since.
    pub is_first_count: bool,
}

impl Books {
    /// The newest sample from the plant's tap: what all instruments that were read in it say together. None where none
    /// was logged that can be trusted.
    pub fn tap_verdict(&self) -> Option<SampleVerdict> {
        let sound = self.tap.iter().filter(|one| one.reading.doubt.is_none());
        self.tap_sample(sound.max_by_key(|one| one.at)?.sample())
    }

    /// The same of one sample from the plant's tap, while its readings are at hand.
    pub fn tap_sample(&self, sample: EventId) -> Option<SampleVerdict> {
        let of_it = self.tap.iter().filter(|one| one.reading.doubt.is_none() && one.sample() == sample);
        let at = of_it.clone().map(|one| one.at).max()?;
        let read: Vec<(f64, f64)> = of_it.filter_map(|one| strength_of(&one.reading)).collect();
        verdict(sample, at, &read)
    }

    /// What a tank is thought to hold.
    pub fn estimate(&self, tank: &str) -> Option<&TankEstimate> {
        self.estimates.tank(tank)
    }

    /// What people act on in a tank; none for a tank that the yard file does not name.
    pub fn standing(&self, yard: &Yard, tank: &str) -> Option<Standing> {
        let (one, product) = (self.estimate(tank)?, product_of(yard, tank)?);
        let band = yard.spec(tank).band();
        let is_own = |content: &Content| content.unlike(product).is_empty();
        let judge = |state: &State| {
            let strength = state.strength().filter(|_| is_brine(product) && is_own(&state.content()))?;
            Some(band.judge(strength.value, MassFraction::ZERO))
        };
        let (own, other) =
            (judge(&one.state), one.doubted.as_ref().and_then(|doubted| judge(&doubted.state)));
        // While a sample waits that says out of spec, nobody loads on the strength of what was thought before.
        let worse = one.doubted.as_ref().filter(|doubted| {
            doubted.mismatch.is_of_strength() && other.is_some_and(|other| other != Conformity::InSpec)
        });
        let (state, conformity) = worse.map_or((&one.state, own), |doubted| (&doubted.state, other));
        let volume = one.state.volume(yard);
        let by_other = one.doubted.as_ref().map_or(volume.value, |doubted| doubted.state.volume(yard).value);
        Some(Standing {
            content: state.content(),
            volume,
            least: if by_other < volume.value { by_other } else { volume.value },
            most: if by_other > volume.value { by_other } else { volume.value },
            strength: state.strength().filter(|_| is_own(&state.content())),
            conformity,
            doubted: one.doubted.as_ref().map(|doubted| doubted.mismatch),
        })
    }

    /// How the book of a tank stands apart from what is thought to be there, by more than the interval of that; none
    /// where they are one, and where nobody has looked.
    pub fn book_apart(&self, yard: &Yard, tank: &str) -> Option<BookApart> {
        let (one, book, site) = (self.estimate(tank)?, self.tank(tank)?, yard.tank(tank)?);
        one.seen_at?;
        let volume = one.volume(yard);
        let apart = volume.value - book.volume(yard);
        let least = in_cubic_metres(site.shape.full_volume()) * SAME;
        let is_apart = in_cubic_metres(apart).abs() > in_cubic_metres(volume.uncertainty).max(least);
        let strength = one.strength().zip(book.strength()).and_then(|(thought, booked)| {
            let apart = (thought.value.percent() - booked.percent()).abs();
            let is_apart = apart > thought.uncertainty.percent().max(SAME_PCT);
            is_apart.then_some((thought.value, booked))
        });
        let is_first_count = book.settled_at.is_none() && in_kilograms(book.content.mass) <= 1.0;
        (is_apart || strength.is_some()).then_some(BookApart {
            volume: apart,
            within: volume.uncertainty,
            strength,
            is_first_count,
        })
    }

    /// The settlement that sets the book of a tank to what is thought to be there; none where that is nothing that can
    /// be agreed on: a mix, or a strength nobody knows.
    pub fn set_to_estimate(&self, yard: &Yard, tank: &str, reason: &str) -> Option<Settlement> {
        let (one, product) = (self.estimate(tank)?, product_of(yard, tank)?);
        if !one.content().unlike(product).is_empty() {
            return None;
        }
        let strength_pct = one.last_strength().filter(|_| is_brine(product)).map(MassFraction::percent);
        if is_brine(product) && strength_pct.is_none() {
            return None;
        }
        Some(Settlement {
            tank: Some(tank.to_owned()),
            volume_m3: Some(in_cubic_metres(one.volume(yard).value).max(0.0)),
            strength_pct,
            salt_kg: None,
            reason: reason.to_owned(),
        })
    }
}
