//! One road hour by hour: what the weather does to it, and what its crew decides each half hour.

use jiff::SignedDuration;
use quantity::{Velocity, celsius, in_celsius, in_kilograms, metres, metres_per_second, millimetres};

use super::{
    Act, Course, Crew, Form, LANE, LIES, PLOWS, PURE, Purpose, Refused, RoadAt, STAYS, STEP, STEPS_AN_HOUR,
    Start, is_slippery,
};
use crate::film::{EUTECTIC, Film, Formed};
use crate::rates::{Condition, EventKind, Pass, Trend, Use};
use crate::spraying::{self, Outlook, Reason, Verdict};
use crate::story::{Story, StoryHour};
use crate::surface::{Forcing, Road};

/// Crews decide each half hour.
const SLOTS: usize = 2;
const STEPS_A_SLOT: usize = STEPS_AN_HOUR / SLOTS;
/// Hours without need after which a treatment is a first one again.
const NEW_EVENT: usize = 12;
/// Hours in which salt is given time in dry weather.
const WORKS: usize = 4;
/// What may fall between two passes that the salt of the first takes up, mm.
const LITTLE: f64 = 0.15;
/// Ice that must form anew on a road treated in dry weather, mm, before it is treated again.
const ANEW: f64 = 0.3;
/// The least that a plow is sent for where salt does not work, mm.
const LEAST_PLOWED: f64 = 0.3;
/// Snow of a squall that is waited out, mm.
const SQUALL: f64 = 1.5;
/// Air that thaws by itself, and the road on which it does, °C.
const THAWS: (f64, f64) = (2.0, -0.5);
/// Warmest road, °C, on which what begins to fall does not melt first and thin what was sprayed.
const WARMEST: f64 = 1.5;
/// Rain that washes a pretreatment off when it comes within so many hours after the road turned slippery, mm.
const WASHES: (f64, usize) = (0.5, 6);
/// Water on a road that would thin a pretreatment, mm.
const WET: f64 = 0.12;
/// Hours in which crews pretreat before the policy's lead.
const WORK: usize = 3;
/// Water for one cycle at which a rate is at its low end, and at its high end, mm: light snow, heavy snow.
const DILUTES: [f64; 2] = [0.5, 11.0];
/// Dry snow drifts at this wind and below this air, °C.
const DRIFTS: (f64, f64) = (9.0, -3.0);
/// Warmest air in which snow falls dry enough to drift later, °C.
const DRY_SNOW: f64 = -1.5;

/// A road on its way through a story.
pub(super) struct Walk<'a> {
    road: Road,
    story: &'a Story,
    forcing: &'a [Forcing],
    course: Course,
    /// Half hour of the last pass, hours of the last need and of pretreating.
    last_pass: Option<i64>,
    last_need: Option<i64>,
    pretreated: Option<usize>,
    /// What fell, and what formed, since the last pass, mm.
    fell_since: f64,
    formed_since: f64,
}

impl<'a> Walk<'a> {
    pub(super) fn new(start: &Start, story: &'a Story, forcing: &'a [Forcing]) -> Self {
        let course = Course { hours: Vec::new(), acts: Vec::new(), refused: Vec::new(), after: Vec::new() };
        let road = start.road.clone();
        let slots = |hours: f64| -(hours * SLOTS as f64).round() as i64;
        let served = start.served.filter(|served| served.hours <= NEW_EVENT as f64);
        Self {
            road,
            story,
            forcing,
            course,
            last_pass: served.map(|served| slots(served.hours)),
            last_need: served.map(|served| -served.hours.floor() as i64),
            pretreated: None,
            fell_since: served.map_or(0.0, |served| served.fell),
            formed_since: 0.0,
        }
    }

    fn count(&self) -> usize {
        self.story.hours.len() - self.story.past
    }

    fn told(&self, hour: usize) -> &StoryHour {
        &self.story.hours[self.story.past + hour]
    }

    pub(super) fn run(mut self, crew: Option<(&Crew<'_>, &Course)>) -> Course {
        let mut snow_since_plow = 0.0;
        for hour in 0..self.count() {
            let told = *self.told(hour);
            let (mut formed, mut mean) = (Formed::default(), 0.0);
            for half in 0..2 {
                if let Some((crew, untreated)) = crew {
                    self.serve(crew, untreated, 2 * hour + half);
                } else if half == 0 && self.road.film.snow > PLOWS && snow_since_plow > PLOWS {
                    self.road.film.plow();
                    snow_since_plow = 0.0;
                }
                let (ice, warmth) = self.slot(2 * hour + half);
                formed.hoar += ice.hoar;
                formed.frozen += ice.frozen;
                formed.refrozen += ice.refrozen;
                mean += 0.5 * warmth;
                self.fell_since += 0.5 * told.falls();
                self.formed_since += ice.all();
            }
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

    /// Whether a millimetre of dry snow fell in so many hours before one: in air as cold as that in which it drifts.
    fn snow_within(&self, hour: usize, hours: usize) -> bool {
        let end = self.story.past + hour;
        let begin = end.saturating_sub(hours);
        let dry = self.story.hours[begin..end].iter().filter(|hour| hour.weather.air <= DRY_SNOW);
        dry.map(|hour| hour.weather.snow).sum::<f64>() >= 1.0
    }

    /// One half hour. Returns the ice that formed, and the mean of the surface.
    fn slot(&mut self, slot: usize) -> (Formed, f64) {
        // The forcing begins with the forecast, the story with its past.
        let told = self.told(slot / SLOTS);
        let (pavement, error) = (told.pavement, told.road_error);
        let (mut formed, mut sum) = (Formed::default(), 0.0);
        for step in &self.forcing[slot * STEPS_A_SLOT..(slot + 1) * STEPS_A_SLOT] {
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
        (formed, sum / STEPS_A_SLOT as f64)
    }

    /// What a crew does at the beginning of a half hour.
    fn serve(&mut self, crew: &Crew<'_>, untreated: &Course, slot: usize) {
        let hour = slot / SLOTS;
        if crew.service.anti_icing && slot.is_multiple_of(SLOTS) {
            self.pretreat(crew, untreated, hour);
        }
        let cycle = (crew.service.cycle * SLOTS as f64).round().max(1.0) as usize;
        if self.last_pass.is_some_and(|last| (slot as i64) < last + cycle as i64) {
            return;
        }
        let Some(ahead) = self.ahead(slot, cycle) else { return };
        // A road that was treated and on which nothing fell and little froze since is left to the salt.
        let is_treated = self.last_pass.is_some() && self.road.film.salt > LIES;
        let is_quiet = self.fell_since < LITTLE && ahead.falls < LITTLE;
        let works = self.last_pass.is_some_and(|last| (slot as i64) < last + (SLOTS * WORKS) as i64);
        if is_treated && is_quiet && (self.formed_since < ANEW || works) {
            return;
        }
        let is_new = self.last_need.is_none_or(|last| hour as i64 - last > NEW_EVENT as i64);
        self.last_need = Some(hour as i64);
        self.pass(crew, slot, &ahead, is_new);
    }

    /// What a cycle brings without a pass; none where the road holds, or where its trouble is not yet due.
    fn ahead(&self, slot: usize, cycle: usize) -> Option<Ahead> {
        let hour = slot / SLOTS;
        let (film, surface) = (self.road.film, self.road.surface());
        let quiet = surface > 6.0 && self.told(hour).weather.air > 3.0 && film.snow < 0.5;
        if quiet {
            return None;
        }
        let mut trial = Walk {
            road: self.road.clone(),
            story: self.story,
            forcing: self.forcing,
            course: Course { hours: Vec::new(), acts: Vec::new(), refused: Vec::new(), after: Vec::new() },
            last_pass: None,
            last_need: None,
            pretreated: None,
            fell_since: 0.0,
            formed_since: 0.0,
        };
        let end = (slot + cycle.max(SLOTS)).min(SLOTS * self.count());
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
        let mut thaws = surface >= THAWS.1;
        for next in slot..end {
            trial.slot(next);
            let told = self.told(next / SLOTS);
            let falls = told.falls() / SLOTS as f64;
            ahead.coldest = ahead.coldest.min(trial.road.surface());
            ahead.water += falls;
            ahead.falls += falls;
            ahead.rain += told.weather.rain / SLOTS as f64;
            ahead.glazes |= told.freezing_rain || (told.weather.rain > 0.0 && trial.road.surface() <= 0.0);
            ahead.ends_dry &= told.falls() <= 0.0;
            // Water that freezes within the hour is met now; snow once it lies there.
            let within = if told.weather.snow > 0.0 { 1 } else { SLOTS };
            due |= next < slot + within && is_slippery(&trial.road.film, trial.road.surface());
            thaws &= told.weather.air >= THAWS.0 && told.weather.snow <= 0.0 && !told.freezing_rain;
        }
        ahead.warms = trial.road.surface() > 0.5 && !is_slippery(&trial.road.film, trial.road.surface());
        let now_clears = ahead.warms && film.ice < 0.3 && film.snow < 1.0 && slot + SLOTS < end;
        // A squall that stops within the hour is met once it is over: one pass instead of two.
        let dry_at = |next: usize| next >= SLOTS * self.count() || self.told(next / SLOTS).falls() <= 0.0;
        let stops =
            self.told(hour).weather.snow > 0.0 && film.snow < SQUALL && (slot + 1..=slot + SLOTS).any(dry_at);
        (due && !now_clears && !thaws && !stops).then_some(ahead)
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

    fn pass(&mut self, crew: &Crew<'_>, slot: usize, ahead: &Ahead, is_new: bool) {
        let hour = slot / SLOTS;
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
        if rate.is_none() && film.snow < LEAST_PLOWED {
            // Nothing to plow, and salt does not work.
            return;
        }
        if plows || rate.is_none() {
            self.road.film.plow();
        }
        let [low, high] = DILUTES;
        // Rain that freezes thins more than as much snow that is plowed off.
        let least = if ahead.glazes { 0.5 } else { 0.0 };
        let within = ((ahead.water - low) / (high - low)).clamp(least, 1.0);
        let half = SignedDuration::from_mins(60 / SLOTS as i64 * (slot % SLOTS) as i64);
        let act = Act {
            at: self.story.at(self.story.past + hour) + half,
            until: None,
            purpose,
            form: if rate.is_some() { Form::PrewetSalt } else { Form::Plow },
            pavement,
            rate: rate.cloned(),
            within,
        };
        self.put_down(crew, &act);
        self.course.acts.push(act);
        if crew.keeps_roads {
            self.course.after.push((slot as f64 / SLOTS as f64, self.road.clone()));
        }
        (self.fell_since, self.formed_since) = (0.0, 0.0);
        self.last_pass = Some(slot as i64);
    }

    /// Adds to the road what a treatment puts there.
    fn put_down(&mut self, crew: &Crew<'_>, act: &Act) {
        let [_, salt, _] = act.salt();
        let area = LANE;
        let solid = 1000.0 * in_kilograms(salt.on(metres(1.0))) / area * PURE * STAYS;
        let liquid = act.liquid_class().and(act.liquid(crew.brine).ok());
        let brine = liquid.map_or(0.0, |[_, mid, _]| quantity::in_cubic_metres(mid.on(metres(1.0))) / area);
        let of = crew.per_cubic_metre;
        self.road.film = self.road.film.plus(Film {
            salt: solid + brine * of.salt,
            water: brine * of.water,
            ..Film::default()
        });
    }

    /// Pretreats where an event comes within the lead, on a dry road that nothing lies on.
    fn pretreat(&mut self, crew: &Crew<'_>, untreated: &Course, hour: usize) {
        let service = &crew.service;
        let work = service.work.min(48.0).ceil().max(1.0) as usize;
        let Some(event) = untreated.slippery_from(hour) else { return };
        // What falls first is met, also where it melts for a while.
        let falls = (hour..event).find(|at| untreated.hours[*at].fell.iter().sum::<f64>() > 0.0);
        let onset_at = falls.unwrap_or(event);
        let before_event = onset_at - hour;
        let is_time = before_event >= 1 && before_event <= service.lead.ceil() as usize + work.max(WORK);
        let is_known = self.pretreated.is_some_and(|at| hour - at <= NEW_EVENT)
            || self.last_need.is_some_and(|last| hour as i64 - last <= NEW_EVENT as i64)
            || self.course.refused.iter().any(|one| one.event == event);
        if !is_time || is_known {
            return;
        }
        if self.road.film.salt > LIES {
            self.course.refused.push(Refused { event, reasons: vec![Reason::StillTreated] });
            return;
        }
        let before = &untreated.hours[hour..=event];
        let onset = untreated.hours[event];
        let wet = event.checked_sub(1).map_or(self.road.film.water, |at| {
            if at < hour { self.road.film.water } else { untreated.hours[at].film.water }
        });
        // Snow that melts as it falls thins what was sprayed as rain does.
        let thins = |hour: &RoadAt| hour.fell[0] + if hour.surface > 0.3 { hour.fell[1] } else { 0.0 };
        let soon =
            untreated.hours[event..(event + WASHES.1).min(self.count())].iter().map(|hour| hour.fell[0]);
        let soon: f64 = soon.sum();
        let rain = before.iter().map(thins).sum::<f64>() + if soon >= WASHES.0 { soon } else { 0.0 };
        let coldest = before.iter().map(|hour| hour.surface).fold(self.road.surface(), f64::min);
        let first = self.told(event);
        let until = (event + 3).min(self.count());
        let freezing_rain = (hour..until).any(|hour| self.told(hour).freezing_rain)
            || (event..until)
                .any(|at| self.told(at).weather.rain > 0.05 && untreated.hours[at].surface <= 0.2);
        let melts = untreated.hours[onset_at].mean > WARMEST;
        let outlook = Outlook {
            pavement: celsius(coldest),
            stays_above_freezing: false,
            rain_first: millimetres(if wet > WET || melts { rain.max(0.3) } else { rain }),
            freezing_rain,
            wind: Some(wind_of(first.weather.wind)),
            dry_snow: onset.fell[1] > 0.0 && first.weather.air < -1.0,
        };
        let mut reasons = spraying::reasons(&outlook, &service.limits);
        // In wind that drifts snow nothing wet is put down.
        let drifts = untreated.hours[event..until].iter().any(|hour| hour.drifts);
        let verdict = spraying::verdict(&reasons);
        if verdict == Verdict::DoNot || drifts {
            if drifts && reasons.is_empty() {
                reasons.push(Reason::Windy { wind: wind_of(first.weather.wind) });
            }
            self.course.refused.push(Refused { event, reasons });
            return;
        }
        if (before_event as f64) < service.work {
            self.course.refused.push(Refused { event, reasons: Vec::new() });
            return;
        }
        let snows = (event..until).any(|at| untreated.hours[at].fell[1] > 0.0);
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
            until: Some(self.story.at(self.story.past + onset_at)),
            purpose: Purpose::Pretreat,
            form: Form::Brine,
            pavement: celsius(self.road.surface()),
            rate: Some(rate.clone()),
            within: 0.5,
        };
        self.put_down(crew, &act);
        self.course.acts.push(act);
        if crew.keeps_roads {
            self.course.after.push((hour as f64, self.road.clone()));
        }
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
