//! Amounts that do not fit each other: salt and gallons of a batch, a load and its truck, a temperature and a liquid.

use chemistry::{Brine, freezing};
use message::message;
use quantity::{
    Mass, celsius, cubic_metres, gallons, in_celsius, in_cubic_metres, in_fahrenheit, in_kilograms,
    in_short_tons, kilograms, short_tons,
};

use super::{EntryProblem, Look, over, shown};
use crate::sample::Shown;
use event::{Application, Body, Correction, LoadOut, MakingRun, PileSurvey, Reading};
use site::Yard;
use yard::stock::Books;

/// More rock salt than a yard is brought in a day, short tons: road trucks bring 20 to 30 each. Common practice, no
/// source.
const MOST_TONS_DELIVERED: f64 = 150.0;
/// Salt or water of a batch may differ from what it holds by mass by this share: buckets are heaped or not, and some
/// stays in the plant. Our own figure.
const OUT_OF_PROPORTION: f64 = 0.15;
/// A survey of the pile by tape may differ from its book by this factor either way. Our own figure.
const SURVEY_FACTOR: f64 = 4.0;
/// Brine and water of a yard in the season are colder than this, °C (86 °F). Our own figure.
const WARMEST_LIQUID: f64 = 30.0;
/// A liquid this much colder than where it freezes would not be liquid, K. Our own figure.
const BELOW_FREEZING: f64 = 1.0;
/// A treatment may take this share more than its truck was loaded with: two meters, each within a few per cent. Our own
/// figure.
const SPRAYED_OVER: f64 = 1.05;
/// What a treatment may take beyond that share, gal. Our own figure.
const SPRAYED_OVER_GALLONS: f64 = 10.0;

/// More salt than is brought at once.
pub(super) fn truckload(mass: Mass) -> Option<EntryProblem> {
    (in_short_tons(mass) > MOST_TONS_DELIVERED).then(|| {
        let problem = message!("entry.over-delivery", most = short_tons(MOST_TONS_DELIVERED));
        EntryProblem::new("mass", mass, problem, message!("entry.accept-one-ticket"))
    })
}

/// A reading that makes no sense as it was typed, and would on another scale.
pub(super) fn meant_otherwise(reading: &Reading, about: (&Yard, &Books)) -> Option<EntryProblem> {
    let shown = Shown::logged(reading, about).filter(|shown| shown.is_plain)?;
    shown.measured().ok().filter(|found| shown.is_senseless(found))?;
    let (meant, typed) = (shown.meant(false)?, reading.shown.clone().unwrap_or_default());
    let problem = shown.problem(&meant, &typed);
    Some(EntryProblem::new("shown", typed, problem, message!("entry.accept-read-so")))
}

impl Look<'_> {
    /// Salt or water that does not fit the gallons of a batch by mass.
    pub(super) fn out_of_proportion(&self, run: &MakingRun) -> Vec<EntryProblem> {
        let strength = chemistry::MassFraction::from_percent(run.strength_pct).ok();
        let by_mass = strength
            .filter(|_| run.volume_m3 > 0.0)
            .and_then(|w| yard::batch::by_mass(self.yard, cubic_metres(run.volume_m3), w).ok());
        let Some(by_mass) = by_mass else { return Vec::new() };
        let is_off = |used: f64, held: f64| held > 0.0 && (used / held - 1.0).abs() > OUT_OF_PROPORTION;
        let salt = in_kilograms(by_mass.rock_salt);
        let (made, percent) = (cubic_metres(run.volume_m3), (run.strength_pct, 1));
        let of_salt = run.salt_kg.filter(|used| is_off(*used, salt)).map(|used| {
            let takes = kilograms(salt);
            let problem = message!("entry.salt-does-not-fit", made = made, percent = percent, takes = takes);
            EntryProblem::new("salt", kilograms(used), problem, message!("entry.accept-salt-of-batch"))
        });
        let reference = chemistry::recipe::reference_temperature();
        let density = chemistry::density::water_density(reference).ok();
        let water = density.map_or(0.0, |density| in_cubic_metres(by_mass.water / density));
        let of_water = run.water_m3.filter(|used| is_off(*used, water)).map(|used| {
            let takes = cubic_metres(water);
            let problem = message!("entry.water-does-not-fit", made = made, percent = percent, takes = takes);
            EntryProblem::new("water", cubic_metres(used), problem, message!("entry.accept-water-of-batch"))
        });
        of_salt.into_iter().chain(of_water).collect()
    }

    /// Salt beyond what the tank's content can dissolve.
    pub(super) fn beyond_saturation(&self, correction: &Correction) -> Option<EntryProblem> {
        let salt = correction.salt_kg.filter(|kg| *kg > 0.0)?;
        let held = self.books.standing(self.yard, &correction.tank)?.content;
        let put = yard::stock::put_in(self.yard, correction).ok()?;
        let (mass, sodium_chloride) =
            (in_kilograms(held.mass + put.mass), in_kilograms(held.sodium_chloride + put.sodium_chloride));
        let pct = 100.0 * sodium_chloride / mass;
        (mass > 0.0 && !held.has_declared() && pct > Brine::STRONGEST_PERCENT).then(|| {
            let problem = message!("entry.cannot-dissolve", percent = (pct, 1));
            EntryProblem::new("salt", kilograms(salt), problem, message!("entry.accept-if-right"))
        })
    }

    /// A load that goes over the truck's tank with what it still carries.
    pub(super) fn with_aboard(&self, load: &LoadOut) -> Option<EntryProblem> {
        let truck = self.yard.truck(&load.truck)?;
        let product = &self.site(&load.tank)?.1.id;
        let held = self.books.trucks.get(&load.truck).filter(|held| held.product == *product)?;
        let aboard = held.volume(self.yard);
        let given = cubic_metres(load.volume_m3);
        (aboard + given > truck.tank * 1.001).then(|| {
            let problem = message!("entry.over-with-aboard", limit = truck.tank, aboard = aboard);
            EntryProblem::new("volume", given, problem, message!("entry.accept-sprayed-first"))
        })
    }

    /// A treatment of more than its truck carries, where the ledger knows its load.
    pub(super) fn sprayed(&self, done: &Application) -> Option<EntryProblem> {
        let (truck, volume) = (done.truck.as_ref()?, done.volume_m3.filter(|m3| *m3 > 0.0)?);
        let of_it = |ticket: &&yard::stock::Ticketed| match &ticket.recorded.event.body {
            Body::LoadOut(load) => load.truck == *truck,
            _ => false,
        };
        // A truck that was never loaded by this ledger is loaded elsewhere.
        let last = self.books.tickets.iter().rev().find(of_it)?;
        // Come home empty, it may be booked late: what bounds it is the load it was taken from.
        let carries = self
            .books
            .trucks
            .get(truck)
            .map_or_else(|| last.liquid.volume(self.yard, None), |load| load.volume(self.yard));
        let most = carries * SPRAYED_OVER + gallons(SPRAYED_OVER_GALLONS);
        over(volume, most, message!("entry.over-carried", limit = shown(most)))
    }

    /// A survey of the pile far from its book.
    pub(super) fn survey(&self, survey: &PileSurvey) -> Option<EntryProblem> {
        let book = in_kilograms(self.books.rock_salt);
        let ratio = survey.mass_kg / book;
        (book > 1000.0 && !(1.0 / SURVEY_FACTOR..=SURVEY_FACTOR).contains(&ratio)).then(|| {
            let problem = message!("entry.far-from-pile", book = self.books.rock_salt);
            EntryProblem::new("mass", kilograms(survey.mass_kg), problem, message!("entry.accept-if-right"))
        })
    }

    /// A temperature that no liquid of the yard has: likely of the other scale.
    pub(super) fn temperature(&self, body: &Body) -> Option<EntryProblem> {
        let t = temperature_of(body)?;
        let doubt = |problem| {
            Some(EntryProblem::new("temp", celsius(t), problem, message!("entry.accept-temperature")))
        };
        if t > WARMEST_LIQUID {
            return doubt(message!("entry.too-warm", typed = (t, 0)));
        }
        let freezes = self.freezes_at(body)?;
        if t < freezes - BELOW_FREEZING {
            let typed = (in_fahrenheit(celsius(t)), 0);
            return doubt(message!("entry.below-freezing", freezes = celsius(freezes), typed = typed));
        }
        None
    }

    /// Temperature at which the liquid of an entry begins to freeze, °C, salt gone from it before or not; none where
    /// its strength is not known.
    fn freezes_at(&self, body: &Body) -> Option<f64> {
        let stated = match body {
            Body::MakingRun(b) => Some(b.strength_pct),
            Body::Reading(b) => Some(b.strength_pct),
            Body::MeterCheck(b) => Some(b.strength_pct),
            Body::LiquidDelivery(b) => b.strength_pct,
            _ => None,
        };
        let strength = match stated {
            Some(pct) => chemistry::MassFraction::from_percent(pct).ok()?,
            None => {
                let tank = body.tanks().first().copied()?;
                self.books.standing(self.yard, tank)?.strength?.value
            }
        };
        let brine = Brine::sodium_chloride(strength).ok()?;
        freezing::on_cooling(&brine).ok()?.ice.map(in_celsius)
    }
}

/// Temperature of a liquid of the yard that an entry gives, °C.
fn temperature_of(body: &Body) -> Option<f64> {
    match body {
        Body::MakingRun(b) => b.temp_c,
        Body::Reading(b) => b.temp_c,
        Body::InstrumentCheck(b) => b.temp_c,
        Body::MeterCheck(b) => b.temp_c,
        Body::LiquidDelivery(b) => b.temp_c,
        Body::Dip(b) => b.temp_c,
        Body::LoadOut(b) => b.temp_c,
        Body::Transfer(b) => b.temp_c,
        Body::ReturnToTank(b) => b.temp_c,
        Body::IssueOut(b) => b.temp_c,
        _ => None,
    }
}
