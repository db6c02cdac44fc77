//! The course of one road through one story of the weather: what its surface does, what lies on it, and what a crew
//! does about it by published rates.
//!
//! Whether a road must be treated is asked of the film: it is looked ahead by one cycle without treatment, and treated
//! where ice would hold to the road by then. A road that still holds is not treated again.

use chemistry::{Brine, recipe};
use jiff::{SignedDuration, Timestamp};
use quantity::{
    Length, Mass, ThermodynamicTemperature, Volume, in_cubic_metres, in_kilograms, in_metres, metres,
};

use crate::film::{Film, Formed};
use crate::rates::{LiquidClass, RateRow, RateTable};
use crate::section::Section;
use crate::spraying::{Limits, Reason};
use crate::story::Story;
use crate::surface::{Forcing, Road};
use crate::{LiquidRate, SolidRate};
use walk::Walk;

pub mod given;
mod walk;

/// Step of the balance, s.
pub const STEP: u32 = 600;
const STEPS_AN_HOUR: usize = 6;
/// Ice on a bare road from which it is slippery, mm: hoar that is seen.
const HOAR: f64 = 0.012;
/// Loose snow that a plow is sent for, mm of water.
const PLOWS: f64 = 0.7;
/// Liquid in what lies there, from which snow on a treated road stays loose until the next pass. Ice stops being weak
/// near 0.4; passes are planned before that.
const LOOSE: f64 = 0.5;
/// Salt that counts as a treatment still lying there, g/m².
const LIES: f64 = 3.5;
/// Where less than so many hours of the weather are known, what was put down in as many before the forecast lies
/// there: judgement.
const LIES_BEFORE: i64 = 24;
/// Width of a lane, m: 12 ft.
pub const LANE: f64 = 3.6576;
/// Sodium chloride in rock salt, and what of prewet salt stays on the lane: judgement.
const PURE: f64 = 0.96;
const STAYS: f64 = 0.85;
/// The same of rock salt without liquid: a quarter is left after a day of traffic (TRL, a motorway, dry).
pub const DRY_STAYS: f64 = 0.27;

/// How a road is served.
#[derive(Debug, Clone, Copy)]
pub struct Service {
    /// Time between passes, h.
    pub cycle: f64,
    /// Whether it is pretreated.
    pub anti_icing: bool,
    /// Latest end of pretreating before an event, h, and how long the trucks take for all of it.
    pub lead: f64,
    /// Hours that pretreating takes.
    pub work: f64,
    /// Limits of pretreating.
    pub limits: Limits,
}

/// A crew and what it goes by.
#[derive(Debug, Clone)]
pub struct Crew<'a> {
    service: Service,
    rates: &'a RateTable,
    brine: &'a Brine,
    /// What a cubic meter of the brine leaves on a square meter.
    per_cubic_metre: Film,
    keeps_roads: bool,
}

impl<'a> Crew<'a> {
    /// A crew by its service, a rate table and a strength of brine.
    ///
    /// # Errors
    /// Chemistry's, when the brine's strength is outside its data.
    pub fn new(service: Service, rates: &'a RateTable, brine: &'a Brine) -> Result<Self, chemistry::Error> {
        let per_cubic_metre =
            film_of(metres(1.0 / LANE), quantity::cubic_metres(1.0), quantity::kilograms(0.0), brine)?;
        Ok(Self { service, rates, brine, per_cubic_metre, keeps_roads: false })
    }

    /// The same, keeping the road after each treatment, to be asked how long that works.
    #[must_use]
    pub fn keeping_roads(self) -> Self {
        Self { keeps_roads: true, ..self }
    }
}

/// What is put down, or done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Salt brine sprayed on the road.
    Brine,
    /// Salt with liquid.
    PrewetSalt,
    /// Plowing without salt.
    Plow,
}

/// What a treatment is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Before an event.
    Pretreat,
    /// The first in an event.
    First,
    /// A later one in it.
    Repeat,
    /// After nothing falls any more.
    CleanUp,
    /// Plowing where salt does not work.
    PlowOnly,
}

/// Which of the three ways a road becomes slippery without snow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hazard {
    /// Vapor settles as ice.
    Frost,
    /// Water that was never frozen here freezes.
    WetFreeze,
    /// What had melted freezes again.
    Refreeze,
}

/// One treatment of one road.
#[derive(Debug, Clone)]
pub struct Act {
    /// When it is begun.
    pub at: Timestamp,
    /// When it must be done, of pretreating.
    pub until: Option<Timestamp>,
    /// What it is for.
    pub purpose: Purpose,
    /// What is put down.
    pub form: Form,
    /// Road temperature then.
    pub pavement: ThermodynamicTemperature,
    /// Published rate; none for plowing.
    pub rate: Option<RateRow>,
    /// Where between the low and the high end of the rate it is, 0…1, by the water to come.
    pub within: f64,
}

impl Act {
    /// Liquid at the low end, as advised, and at the high end of the rate.
    ///
    /// # Errors
    /// As [`RateRow::liquid`].
    pub fn liquid(&self, brine: &Brine) -> Result<[LiquidRate; 3], chemistry::Error> {
        let Some(rate) = &self.rate else { return Ok([LiquidRate::ZERO; 3]) };
        let [low, _, high] = rate.liquid(brine)?;
        let between = low.on(metres(1.0)) + (high.on(metres(1.0)) - low.on(metres(1.0))) * self.within;
        Ok([low, LiquidRate::of(between, metres(1.0)), high])
    }

    /// Salt at the low end, as advised, and at the high end of the rate.
    pub fn salt(&self) -> [SolidRate; 3] {
        let Some(rate) = &self.rate else { return [SolidRate::ZERO; 3] };
        let [low, _, high] = rate.salt();
        let between = low.on(metres(1.0)) + (high.on(metres(1.0)) - low.on(metres(1.0))) * self.within;
        [low, SolidRate::of(between, metres(1.0)), high]
    }

    /// The liquid's kind; none for plowing and dry salt.
    pub fn liquid_class(&self) -> Option<LiquidClass> {
        self.rate.as_ref().and_then(|rate| rate.liquids.first().copied())
    }
}

/// A road at the end of an hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoadAt {
    /// Surface temperature at the end of the hour, °C.
    pub surface: f64,
    /// Mean of the surface over the hour, °C.
    pub mean: f64,
    /// What lies on it.
    pub film: Film,
    /// Ice that formed in the hour, kg/m².
    pub formed: Formed,
    /// What fell in the hour, mm as water: rain, snow.
    pub fell: [f64; 2],
    /// Whether dry snow drifts.
    pub drifts: bool,
    /// Whether a treatment would be needed at the end of the hour.
    pub slippery: bool,
}

/// A road through the hours of a forecast.
#[derive(Debug, Clone)]
pub struct Course {
    /// Each hour of the forecast.
    pub hours: Vec<RoadAt>,
    /// What was done.
    pub acts: Vec<Act>,
    /// Events that could have been met by pretreating and were not.
    pub refused: Vec<Refused>,
    /// The road right after each treatment, where the crew keeps that: hour from the forecast's beginning, and road.
    pub after: Vec<(f64, Road)>,
}

/// An event that is not met by pretreating.
#[derive(Debug, Clone)]
pub struct Refused {
    /// Hour in which the road becomes slippery.
    pub event: usize,
    /// Why not, worst first; empty where it is too late for the trucks alone.
    pub reasons: Vec<Reason>,
}

/// A road that has come through the past of a story and stands at its forecast.
#[derive(Debug, Clone)]
pub struct Start {
    road: Road,
    /// Temperature at the end of every hour of the past, °C.
    past: Vec<f64>,
    served: Option<ServedBefore>,
}

/// The last treatment before a forecast begins.
#[derive(Debug, Clone, Copy, PartialEq)]
struct ServedBefore {
    /// Hours before.
    hours: f64,
    /// What fell since, mm.
    fell: f64,
}

/// What was put on a road at a moment before the forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PutDown {
    /// When.
    pub at: Timestamp,
    /// What lay there of it.
    pub film: Film,
}

impl Start {
    /// Brings a section through a story's past: every hour of it as it was seen, plowed where snow lay, and with what
    /// was put down in it, in order of time. Where less than a day of it is known, what was put down in the last day
    /// lies there as it begins.
    pub fn new(section: Section, story: &Story, forcing: &[Forcing], put_down: &[PutDown]) -> Self {
        let (profile, deep) = story.ground();
        let mut road = Road::new(section, profile, Some(deep));
        let begins = story.at(0).min(story.at(story.past) - SignedDuration::from_hours(LIES_BEFORE));
        let mut put_down = put_down.iter().filter(|one| one.at >= begins).peekable();
        let mut served: Option<ServedBefore> = None;
        let mut past = Vec::with_capacity(story.past);
        let forecast = story.at(story.past);
        for hour in 0..=story.past {
            while let Some(one) = put_down.next_if(|one| one.at <= story.at(hour)) {
                road.film = road.film.plus(one.film);
                let hours = forecast.duration_since(one.at).as_secs_f64() / 3600.0;
                served = Some(ServedBefore { hours, fell: 0.0 });
            }
            if hour == story.past {
                break;
            }
            advance(&mut road, story, hour, forcing);
            if road.film.snow > PLOWS {
                road.film.plow();
            }
            if let Some(served) = &mut served {
                served.fell += story.hours[hour].falls();
            }
            past.push(road.surface());
        }
        Self { road, past, served }
    }

    /// The same with what lies there besides, which is no treatment.
    #[must_use]
    pub fn with_film(mut self, film: Film) -> Self {
        self.road.film = self.road.film.plus(film);
        self
    }

    /// Temperature of the road as the forecast begins, °C.
    pub fn surface(&self) -> f64 {
        self.road.surface()
    }

    /// Temperature at the end of every hour of the past, °C.
    pub fn past(&self) -> &[f64] {
        &self.past
    }

    /// The road as the forecast begins.
    pub fn road(&self) -> &Road {
        &self.road
    }

    /// What lies on the road as the forecast begins.
    pub fn film(&self) -> Film {
        self.road.film
    }
}

/// What lies on each square meter of so many lanes after a treatment: of rock salt what stays there, more of it where
/// it was wetted; of brine all.
///
/// # Errors
/// Chemistry's, when the brine's strength is outside its data.
pub fn film_of(lanes: Length, liquid: Volume, salt: Mass, brine: &Brine) -> Result<Film, chemistry::Error> {
    let area = in_metres(lanes) * LANE;
    let stays = if in_cubic_metres(liquid) > 0.0 { STAYS } else { DRY_STAYS };
    let solid = 1000.0 * in_kilograms(salt) / area * PURE * stays;
    let salt_per_volume = recipe::salt_per_volume_of_brine(brine, recipe::reference_temperature())?
        * quantity::cubic_metres(1.0);
    let dissolved = 1000.0 * in_kilograms(salt_per_volume) * in_cubic_metres(liquid) / area;
    let water = dissolved / 1000.0 * (1.0 / brine.strength().fraction() - 1.0);
    Ok(Film { salt: solid + dissolved, water: if dissolved > 0.0 { water } else { 0.0 }, ..Film::default() })
}

/// One hour of a road. Returns the ice that formed.
fn advance(road: &mut Road, story: &Story, hour: usize, forcing: &[Forcing]) -> Formed {
    let told = &story.hours[hour];
    let mut formed = Formed::default();
    for step in &forcing[hour * STEPS_AN_HOUR..(hour + 1) * STEPS_AN_HOUR] {
        let ice = match told.pavement {
            Some(given) => road.follow(given + told.road_error, step, f64::from(STEP)),
            None => {
                road.set_bias(told.road_error);
                road.step(step, f64::from(STEP))
            }
        };
        formed.hoar += ice.hoar;
        formed.frozen += ice.frozen;
        formed.refrozen += ice.refrozen;
    }
    formed
}

/// Whether what lies on a road makes it slippery. On a treated road slush stays loose for a while; water and vapor that
/// freeze on a bare one do not.
fn is_slippery(film: &Film, surface: f64) -> bool {
    if surface > 0.2 {
        // Snow on a warm road melts; a closed cover of it does not at once.
        return film.snow > 1.5;
    }
    let share = film.brine_share(surface.min(-1e-3));
    if film.snow > 0.05 || film.salt > LIES {
        return share < LOOSE && film.snow + film.ice > 0.05;
    }
    film.ice > HOAR && share < 0.98
}

impl Course {
    /// The road without any treatment but the plow: what must be met. `forcing` begins with the forecast.
    pub fn untreated(start: &Start, story: &Story, forcing: &[Forcing]) -> Self {
        Walk::new(start, story, forcing).run(None)
    }

    /// The road as a crew serves it. `forcing` begins with the forecast.
    pub fn served(
        start: &Start,
        story: &Story,
        forcing: &[Forcing],
        crew: &Crew<'_>,
        untreated: &Course,
    ) -> Self {
        Walk::new(start, story, forcing).run(Some((crew, untreated)))
    }

    /// First hour from one on in which the road becomes slippery; none where it never does.
    pub fn slippery_from(&self, hour: usize) -> Option<usize> {
        (hour..self.hours.len()).find(|hour| self.hours[*hour].slippery)
    }
}
