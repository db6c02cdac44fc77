//! The course of one road through one story of the weather: what its surface does, what lies on it, and what a crew does
//! about it by published rates.
//!
//! Whether a road must be treated is asked of the film: it is looked ahead by one cycle without treatment, and treated
//! where ice would hold to the road by then. A road that still holds is not treated again.

use chemistry::{Brine, recipe};
use jiff::Timestamp;
use quantity::{
    ThermodynamicTemperature, Velocity, celsius, in_celsius, in_kilograms, metres, metres_per_second,
    millimetres,
};

use crate::film::{EUTECTIC, Film, Formed};
use crate::rates::{Condition, EventKind, LiquidClass, Pass, RateRow, RateTable, Trend, Use};
use crate::section::Section;
use crate::spraying::{self, Limits, Outlook, Reason, Verdict};
use crate::story::Story;
use crate::surface::{Forcing, Road};
use crate::{LiquidRate, SolidRate};

/// Step of the balance, s.
const STEP: u32 = 600;
const STEPS_AN_HOUR: usize = 6;
/// Width of a lane, m: 12 ft.
const LANE: f64 = 3.6576;
/// Sodium chloride in rock salt, and what of prewet salt stays on the lane: judgement.
const PURE: f64 = 0.96;
const STAYS: f64 = 0.85;
/// Hours without need after which a treatment is a first one again.
const NEW_EVENT: usize = 12;
/// Ice on a bare road from which it is slippery, mm: hoar that is seen.
const HOAR: f64 = 0.012;
/// What may fall between two passes that the salt of the first takes up, mm.
const LITTLE: f64 = 0.15;
/// Ice that must form anew on a road treated in dry weather, mm, before it is treated again.
const ANEW: f64 = 0.3;
/// Loose snow that a plow is sent for, mm of water.
const PLOWS: f64 = 0.7;
/// Liquid in what lies there, from which snow on a treated road stays loose until the next pass. Ice stops being weak near
/// 0.4; passes are planned before that.
const LOOSE: f64 = 0.5;
/// Salt that counts as a treatment still lying there, g/m².
const LIES: f64 = 3.5;
/// Warmest road that is pretreated, °C: what is sprayed on a warmer one meets rain or melting snow first.
const WARMEST: f64 = 5.0;
/// Rain that washes a pretreatment off when it comes within so many hours after the road turned slippery, mm.
const WASHES: (f64, usize) = (0.5, 6);
/// Water on a road that would thin a pretreatment, mm.
const WET: f64 = 0.12;
/// Hours in which crews pretreat before the policy's lead.
const WORK: usize = 3;
/// Water for one cycle at which a rate is at its low end, and at its high end, mm: light snow, heavy snow.
const DILUTES: [f64; 2] = [0.5, 8.0];
/// Dry snow drifts at this wind and below this air, °C.
const DRIFTS: (f64, f64) = (9.0, -3.0);

/// How a road is served.
#[derive(Debug, Clone, Copy)]
pub struct Service {
    /// Time between passes, h.
    pub cycle: f64,
    /// Whether it is pretreated.
    pub anti_icing: bool,
    /// Latest end of pretreating before an event, h.
    pub lead: f64,
    /// Limits of pretreating.
    pub limits: Limits,
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
    /// When it is done.
    pub at: Timestamp,
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
    /// Why pretreating was not advised, at the first event that could have been met with it; empty where it was.
    pub reasons: Vec<Reason>,
}

/// A road that has come through the past of a story and stands at its forecast, with all that acts on it.
#[derive(Debug, Clone)]
pub struct Start {
    road: Road,
    forcing: Vec<Forcing>,
}

impl Start {
    /// Brings a section through a story's past: every hour of it as it was seen, plowed where snow lay, and with what was
    /// put down by the end of each hour. `lies` gives that: film by hour of the past.
    pub fn new(section: Section, story: &Story, lies: &dyn Fn(usize) -> Option<Film>) -> Self {
        let (top, mean) = story.mean_air();
        let deep = mean + 2.0;
        let mut road = Road::new(section, |depth| top + (deep - top) * depth.min(1.0), Some(deep));
        let forcing = story.forcing(STEP);
        for hour in 0..story.past {
            advance(&mut road, story, hour, &forcing);
            if road.film.snow > PLOWS {
                road.film.plow();
            }
            if let Some(film) = lies(hour) {
                road.film = road.film.plus(film);
            }
        }
        Self { road, forcing: forcing[story.past * STEPS_AN_HOUR..].to_vec() }
    }

    /// Temperature of the road as the forecast begins, °C.
    pub fn surface(&self) -> f64 {
        self.road.surface()
    }

    /// What lies on the road as the forecast begins.
    pub fn film(&self) -> Film {
        self.road.film
    }
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
    /// The road without any treatment but the plow: what must be met.
    pub fn untreated(start: &Start, story: &Story) -> Self {
        Walk::new(start, story).run(None)
    }

    /// The road as a crew serves it by a rate table and a strength of brine.
    ///
    /// # Errors
    /// Chemistry's, when the brine's strength is outside its data.
    pub fn served(
        start: &Start,
        story: &Story,
        service: &Service,
        rates: &RateTable,
        brine: &Brine,
        untreated: &Course,
    ) -> Result<Self, chemistry::Error> {
        let crew = Crew {
            service,
            rates,
            salt_per_m3: in_kilograms(
                recipe::salt_per_volume_of_brine(brine, recipe::reference_temperature())?
                    * quantity::cubic_metres(1.0),
            ),
            brine,
            untreated,
        };
        Ok(Walk::new(start, story).run(Some(&crew)))
    }

    /// First hour from one on in which the road becomes slippery; none where it never does.
    pub fn slippery_from(&self, hour: usize) -> Option<usize> {
        (hour..self.hours.len()).find(|hour| self.hours[*hour].slippery)
    }
}

struct Crew<'a> {
    service: &'a Service,
    rates: &'a RateTable,
    /// Salt in a cubic metre of brine, kg.
    salt_per_m3: f64,
    brine: &'a Brine,
    untreated: &'a Course,
}

struct Walk<'a> {
    road: Road,
    story: &'a Story,
    forcing: &'a [Forcing],
    course: Course,
    /// Hour of the last pass, and whether a plow has been since the last snow.
    last_pass: Option<f64>,
    last_need: Option<usize>,
    pretreated: Option<usize>,
    /// What fell, and what formed, since the last pass, mm.
    fell_since: f64,
    formed_since: f64,
}

impl<'a> Walk<'a> {
    fn new(start: &'a Start, story: &'a Story) -> Self {
        let course = Course { hours: Vec::new(), acts: Vec::new(), reasons: Vec::new() };
        let road = start.road.clone();
        Self { road, story, forcing: &start.forcing, course, last_pass: None, last_need: None, pretreated: None, fell_since: 0.0, formed_since: 0.0 }
    }

    fn count(&self) -> usize {
        self.story.hours.len() - self.story.past
    }

    fn told(&self, hour: usize) -> &crate::story::StoryHour {
        &self.story.hours[self.story.past + hour]
    }

    fn run(mut self, crew: Option<&Crew<'_>>) -> Course {
        let mut snow_since_plow = 0.0;
        for hour in 0..self.count() {
            if let Some(crew) = crew {
                self.serve(crew, hour);
            } else if self.road.film.snow > PLOWS && snow_since_plow > PLOWS {
                self.road.film.plow();
                snow_since_plow = 0.0;
            }
            let (formed, mean) = self.hour(hour);
            let told = *self.told(hour);
            self.fell_since += told.falls();
            self.formed_since += formed.all();
            snow_since_plow += told.weather.snow;
            let (film, surface) = (self.road.film, self.road.surface());
            let loose = told.weather.snow > 0.0 || self.snow_within(hour, 24);
            self.course.hours.push(RoadAt {
                surface,
                mean,
                film,
                formed,
                fell: [told.weather.rain, told.weather.snow],
                drifts: loose && told.weather.wind >= DRIFTS.0 && told.weather.air <= DRIFTS.1,
                slippery: is_slippery(&film, surface),
            });
        }
        self.course
    }

    /// Whether a millimetre of snow fell in so many hours before one.
    fn snow_within(&self, hour: usize, hours: usize) -> bool {
        let end = self.story.past + hour;
        let begin = end.saturating_sub(hours);
        self.story.hours[begin..end].iter().map(|hour| hour.weather.snow).sum::<f64>() >= 1.0
    }

    /// Returns the ice that formed, and the mean of the surface.
    fn hour(&mut self, hour: usize) -> (Formed, f64) {
        // The forcing begins with the forecast, the story with its past.
        let told = self.told(hour);
        let (pavement, error) = (told.pavement, told.road_error);
        let (mut formed, mut sum) = (Formed::default(), 0.0);
        for step in &self.forcing[hour * STEPS_AN_HOUR..(hour + 1) * STEPS_AN_HOUR] {
            let ice = match pavement {
                Some(given) => self.road.follow(given + error, step, f64::from(STEP)),
                None => {
                    self.road.set_bias(error);
                    self.road.step(step, f64::from(STEP))
                }
            };
            formed.hoar += ice.hoar;
            formed.frozen += ice.frozen;
            formed.refrozen += ice.refrozen;
            sum += self.road.surface();
        }
        (formed, sum / STEPS_AN_HOUR as f64)
    }

    /// What a crew does at the beginning of an hour.
    fn serve(&mut self, crew: &Crew<'_>, hour: usize) {
        if crew.service.anti_icing {
            self.pretreat(crew, hour);
        }
        let cycle = crew.service.cycle.max(0.5);
        if self.last_pass.is_some_and(|last| (hour as f64) < last + cycle - 1e-9) {
            return;
        }
        let Some(ahead) = self.ahead(hour, cycle.ceil() as usize) else { return };
        // A road that was treated and on which nothing fell and little froze since is left to the salt.
        let is_treated = self.last_pass.is_some() && self.road.film.salt > LIES;
        if is_treated && self.fell_since < LITTLE && ahead.falls < LITTLE && self.formed_since < ANEW {
            return;
        }
        let is_new = self.last_need.is_none_or(|last| hour - last > NEW_EVENT);
        self.last_need = Some(hour);
        self.pass(crew, hour, &ahead, is_new);
    }

    /// What a cycle brings without a pass; none where the road holds, or where its trouble is not yet due.
    fn ahead(&self, hour: usize, cycle: usize) -> Option<Ahead> {
        let (film, surface) = (self.road.film, self.road.surface());
        let quiet = surface > 6.0 && self.told(hour).weather.air > 3.0 && film.snow < 0.5;
        if quiet {
            return None;
        }
        let mut trial = Walk {
            road: self.road.clone(),
            story: self.story,
            forcing: self.forcing,
            course: Course { hours: Vec::new(), acts: Vec::new(), reasons: Vec::new() },
            last_pass: None,
            last_need: None,
            pretreated: None,
            fell_since: 0.0,
            formed_since: 0.0,
        };
        let end = (hour + cycle).min(self.count());
        let mut ahead = Ahead {
            coldest: surface,
            water: film.all_water(),
            glazes: false,
            ends_dry: true,
            rain: 0.0,
            falls: 0.0,
            warms: false,
        };
        let mut due = is_slippery(&film, surface);
        for next in hour..end {
            trial.hour(next);
            let told = self.told(next);
            ahead.coldest = ahead.coldest.min(trial.road.surface());
            ahead.water += told.falls();
            ahead.rain += told.weather.rain;
            ahead.falls += told.falls();
            ahead.glazes |= told.freezing_rain || (told.weather.rain > 0.0 && trial.road.surface() <= 0.0);
            ahead.ends_dry &= told.falls() <= 0.0;
            // Trouble within the hour, or within two where the last pass was long ago, is met now.
            if next <= hour && is_slippery(&trial.road.film, trial.road.surface()) {
                due = true;
            }
        }
        ahead.warms = trial.road.surface() > 0.5 && !is_slippery(&trial.road.film, trial.road.surface());
        let now_clears = ahead.warms && film.ice < 0.3 && film.snow < 1.0 && hour + 1 < end;
        (due && !now_clears).then_some(ahead)
    }

    fn trend(&self, hour: usize) -> Trend {
        let now = self.road.surface();
        let then = self.course.hours.len().checked_sub(4).map(|before| self.course.hours[before].surface);
        let air = |hour: usize| self.told(hour.min(self.count() - 1)).weather.air;
        let change = air(hour + 3) - air(hour);
        match (change, then) {
            (change, _) if change < -0.5 => Trend::Falling,
            (change, Some(before)) if change > 0.5 || now > before + 1.0 => Trend::Rising,
            (change, None) if change > 0.5 => Trend::Rising,
            _ => Trend::Steady,
        }
    }

    fn pass(&mut self, crew: &Crew<'_>, hour: usize, ahead: &Ahead, is_new: bool) {
        let film = self.road.film;
        let pavement = celsius(ahead.coldest.max(self.road.surface() - 3.0).min(0.5));
        let plows = film.snow > PLOWS;
        let event = if ahead.glazes {
            EventKind::FreezingRain
        } else if ahead.rain > 0.0 {
            EventKind::Mixed
        } else {
            EventKind::Snow
        };
        let trend = self.trend(hour);
        let number = if is_new && self.pretreated.is_none_or(|at| hour - at > NEW_EVENT) {
            Pass::First
        } else {
            Pass::Later
        };
        let condition = Condition { use_for: Use::PrewetSalt, event, pass: number, pavement, trend };
        let too_cold = in_celsius(pavement) < in_celsius(crew.service.limits.block_below)
            || in_celsius(pavement) < EUTECTIC + 0.5;
        let rate = crew.rates.find(&condition).filter(|rate| rate.use_for != Use::NoChemical && !too_cold);
        let purpose = match (rate.is_some(), is_new, ahead.ends_dry && film.snow + film.ice > 0.0) {
            (false, _, _) => Purpose::PlowOnly,
            (true, true, _) => Purpose::First,
            (true, false, true) => Purpose::CleanUp,
            (true, false, false) => Purpose::Repeat,
        };
        if plows || rate.is_none() {
            self.road.film.plow();
        }
        let [low, high] = DILUTES;
        // Rain that freezes thins more than as much snow that is plowed off.
        let least = if ahead.glazes { 0.5 } else { 0.0 };
        let within = ((ahead.water - low) / (high - low)).clamp(least, 1.0);
        let act = Act {
            at: self.story.at(self.story.past + hour),
            purpose,
            form: if rate.is_some() { Form::PrewetSalt } else { Form::Plow },
            pavement,
            rate: rate.cloned(),
            within,
        };
        if rate.is_none() && film.snow < 0.3 {
            // Nothing to plow, and salt does not work.
            return;
        }
        self.put_down(crew, &act);
        self.course.acts.push(act);
        (self.fell_since, self.formed_since) = (0.0, 0.0);
        self.last_pass = Some(hour as f64);
    }

    /// Adds to the road what a treatment puts there.
    fn put_down(&mut self, crew: &Crew<'_>, act: &Act) {
        let [_, salt, _] = act.salt();
        let solid = 1000.0 * in_kilograms(salt.on(metres(1.0))) / LANE * PURE * STAYS;
        let liquid = act.liquid(crew.brine).map_or(0.0, |[_, mid, _]| {
            quantity::in_cubic_metres(mid.on(metres(1.0))) / LANE
        });
        let dissolved = if act.liquid_class().is_some() { 1000.0 * liquid * crew.salt_per_m3 } else { 0.0 };
        let strength = crew.brine.strength().fraction();
        let water = if dissolved > 0.0 { dissolved / 1000.0 * (1.0 / strength - 1.0) } else { 0.0 };
        self.road.film = self.road.film.plus(Film { salt: solid + dissolved, water, ..Film::default() });
    }

    /// Pretreats where an event comes within the lead, on a dry road that nothing lies on.
    fn pretreat(&mut self, crew: &Crew<'_>, hour: usize) {
        let service = crew.service;
        let lead = service.lead.ceil() as usize;
        if self.road.surface() > WARMEST || self.road.film.salt > LIES || self.pretreated.is_some_and(|at| hour - at <= NEW_EVENT) {
            return;
        }
        let Some(event) = crew.untreated.slippery_from(hour) else { return };
        let before_event = event - hour;
        let is_time = before_event <= lead + WORK && before_event >= 1;
        if !is_time || self.last_need.is_some_and(|last| hour - last <= NEW_EVENT) {
            return;
        }
        let before = &crew.untreated.hours[hour..=event];
        let onset = crew.untreated.hours[event];
        let wet = event.checked_sub(1).map_or(self.road.film.water, |at| {
            if at < hour { self.road.film.water } else { crew.untreated.hours[at].film.water }
        });
        // Snow that melts as it falls thins what was sprayed as rain does.
        let thins = |hour: &RoadAt| hour.fell[0] + if hour.surface > 0.3 { hour.fell[1] } else { 0.0 };
        let soon = crew.untreated.hours[event..(event + WASHES.1).min(self.count())].iter().map(|hour| hour.fell[0]);
        let soon: f64 = soon.sum();
        let rain = before.iter().map(thins).sum::<f64>() + if soon >= WASHES.0 { soon } else { 0.0 };
        let coldest = before.iter().map(|hour| hour.surface).fold(self.road.surface(), f64::min);
        let first = self.told(event);
        let until = (event + 3).min(self.count());
        let freezing_rain = (hour..until).any(|hour| self.told(hour).freezing_rain)
            || (event..until).any(|at| self.told(at).weather.rain > 0.05 && crew.untreated.hours[at].surface <= 0.2);
        let outlook = Outlook {
            pavement: celsius(coldest),
            stays_above_freezing: false,
            rain_first: millimetres(if wet > WET { rain.max(0.3) } else { rain }),
            freezing_rain,
            wind: Some(wind_of(first.weather.wind)),
            dry_snow: onset.fell[1] > 0.0 && first.weather.air < -1.0,
        };
        let mut reasons = spraying::reasons(&outlook, &service.limits);
        // In wind that drifts snow nothing wet is put down.
        let drifts = crew.untreated.hours[event..until].iter().any(|hour| hour.drifts);
        let verdict = spraying::verdict(&reasons);
        if verdict == Verdict::DoNot || drifts {
            if self.course.reasons.is_empty() {
                if drifts && reasons.is_empty() {
                    reasons.push(Reason::Windy { wind: wind_of(first.weather.wind) });
                }
                self.course.reasons = reasons;
            }
            return;
        }
        let snows = (event..until).any(|at| crew.untreated.hours[at].fell[1] > 0.0);
        let condition = Condition {
            use_for: Use::AntiIcing,
            event: if snows { EventKind::Snow } else { EventKind::Frost },
            pass: Pass::First,
            pavement: celsius(coldest),
            trend: self.trend(hour),
        };
        let Some(rate) = crew.rates.find(&condition) else { return };
        let act = Act {
            at: self.story.at(self.story.past + hour),
            purpose: Purpose::Pretreat,
            form: Form::Brine,
            pavement: celsius(self.road.surface()),
            rate: Some(rate.clone()),
            within: 0.5,
        };
        self.put_down(crew, &act);
        self.course.acts.push(act);
        self.pretreated = Some(hour);
    }
}

/// What a cycle without a pass brings.
struct Ahead {
    /// Coldest surface in it, °C.
    coldest: f64,
    /// Water that lies there and comes, mm.
    water: f64,
    /// Whether rain freezes.
    glazes: bool,
    /// Whether nothing falls in it.
    ends_dry: bool,
    /// Rain in it, and all that falls, mm.
    rain: f64,
    falls: f64,
    /// Whether the road clears by itself in it.
    warms: bool,
}

fn wind_of(metres_a_second: f64) -> Velocity {
    metres_per_second(metres_a_second)
}
