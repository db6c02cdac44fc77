//! Amounts that do not fit each other: salt and gallons of a batch, a load and its truck, a temperature and a liquid.

use chemistry::{Brine, freezing};
use quantity::units::FAHRENHEIT;
use quantity::{
    Mass, celsius, cubic_metres, gallons, in_celsius, in_cubic_metres, in_fahrenheit, in_kilograms,
    in_pounds, in_short_tons, kilograms,
};

use super::{EntryProblem, Look, over, volume_text};
use yard::event::{Application, Body, Correction, LoadOut, MakingRun, PileSurvey};

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
    (in_short_tons(mass) > MOST_TONS_DELIVERED).then(|| EntryProblem {
        field: "mass".into(),
        value: format!("{:.0} tons", in_short_tons(mass)),
        problem: format!("more than {MOST_TONS_DELIVERED:.0} tons in one delivery"),
        accepted: "the mass of one ticket; or confirm it if it is the sum of several".into(),
    })
}

fn pounds(kg: f64) -> String {
    format!("{:.0} lb", in_pounds(kilograms(kg)))
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
        let of_salt = run.salt_kg.filter(|used| is_off(*used, salt)).map(|used| EntryProblem {
            field: "salt".into(),
            value: pounds(used),
            problem: format!(
                "does not fit {} at {:.1} %, which take {} of this salt by mass",
                volume_text(run.volume_m3),
                run.strength_pct,
                pounds(salt)
            ),
            accepted: "the salt of this batch alone; or confirm it if it is right".into(),
        });
        let reference = chemistry::recipe::reference_temperature();
        let density = chemistry::density::water_density(reference).ok();
        let water = density.map_or(0.0, |density| in_cubic_metres(by_mass.water / density));
        let of_water = run.water_m3.filter(|used| is_off(*used, water)).map(|used| EntryProblem {
            field: "water".into(),
            value: volume_text(used),
            problem: format!(
                "does not fit {} at {:.1} %, which take {} of water by mass",
                volume_text(run.volume_m3),
                run.strength_pct,
                volume_text(water)
            ),
            accepted: "the water of this batch alone; or confirm it if it is right".into(),
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
        (mass > 0.0 && !held.has_declared() && pct > Brine::STRONGEST_PERCENT).then(|| EntryProblem {
            field: "salt".into(),
            value: pounds(salt),
            problem: format!(
                "would make {pct:.1} % of what is thought to be in the tank: it cannot dissolve"
            ),
            accepted: "confirm it if it is right".into(),
        })
    }

    /// A load that goes over the truck's tank with what it still carries.
    pub(super) fn with_aboard(&self, load: &LoadOut) -> Option<EntryProblem> {
        let truck = self.yard.truck(&load.truck)?;
        let product = &self.site(&load.tank)?.1.id;
        let held = self.books.trucks.get(&load.truck).filter(|held| held.product == *product)?;
        let aboard = held.volume(self.yard);
        let all = aboard + cubic_metres(load.volume_m3);
        (all > truck.tank * 1.001).then(|| EntryProblem {
            field: "volume".into(),
            value: volume_text(load.volume_m3),
            problem: format!(
                "goes over the truck's tank of {} with the {} it still carries by the ledger",
                volume_text(in_cubic_metres(truck.tank)),
                volume_text(in_cubic_metres(aboard))
            ),
            accepted: "enter first what was sprayed or brought back; or confirm it, and what does not fit counts as \
                       put down"
                .into(),
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
        over(volume, most, "what the truck carries by the ledger")
    }

    /// A survey of the pile far from its book.
    pub(super) fn survey(&self, survey: &PileSurvey) -> Option<EntryProblem> {
        let book = in_kilograms(self.books.rock_salt);
        let ratio = survey.mass_kg / book;
        (book > 1000.0 && !(1.0 / SURVEY_FACTOR..=SURVEY_FACTOR).contains(&ratio)).then(|| EntryProblem {
            field: "mass".into(),
            value: format!("{:.0} tons", in_short_tons(kilograms(survey.mass_kg))),
            problem: format!("the book of the pile says {:.0} tons", in_short_tons(kilograms(book))),
            accepted: "confirm it if it is right".into(),
        })
    }

    /// A temperature that no liquid of the yard has: likely of the other scale.
    pub(super) fn temperature(&self, body: &Body) -> Option<EntryProblem> {
        let t = temperature_of(body)?;
        let (as_f, back) = (in_fahrenheit(celsius(t)), FAHRENHEIT.to_base(t));
        let value = format!("{t:.1} °C ({as_f:.0} °F)");
        let accepted = || "the temperature in the unit of the field; or confirm it if it is right".to_owned();
        if t > WARMEST_LIQUID {
            let problem = format!(
                "is warmer than liquids in a yard are (looks like {t:.0} °F, {back:.1} °C, entered as Celsius)"
            );
            return Some(EntryProblem { field: "temp".into(), value, problem, accepted: accepted() });
        }
        let freezes = self.freezes_at(body)?;
        (t < freezes - BELOW_FREEZING).then(|| EntryProblem {
            field: "temp".into(),
            value,
            problem: format!(
                "is below {freezes:.1} °C, where this liquid freezes (looks like {as_f:.0} °C entered as Fahrenheit)"
            ),
            accepted: accepted(),
        })
    }

    /// Where the liquid that an entry gives a temperature of begins to freeze, °C; none where nobody knows.
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
        freezing::first_solid(&brine).ok()?.ice.map(in_celsius)
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
