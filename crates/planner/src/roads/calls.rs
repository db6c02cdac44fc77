//! Calls on the crew, out of what every member of a forecast asks for.

use std::sync::Arc;

use jiff::Timestamp;
use quantity::celsius;
use road::course::{Course, Hazard, Purpose};
use road::story::Story;
use site::Yard;

use super::kinds::{Kind, Served};
use super::parts::{ACTED_ON, CallKind, CallOut, CallWhy, TOLD};

/// Ice formed in an hour from which that hour counts as a hazard, mm.
const FORMS: f64 = 0.005;
/// Snow in an hour below which a wet road still freezes as such, mm.
const FLURRIES: f64 = 0.25;
/// Share of members in an hour from which a call-out goes on.
const GOES_ON: f64 = 0.12;
/// Share of its worst hour from which a call-out begins and to which it goes.
const TRIMS: f64 = 0.25;
/// Hours without it that a call-out bridges.
const BRIDGES: usize = 2;
/// The same for what comes once in an event.
const BRIDGES_ONCE: usize = 6;
/// Water of snow that fell in so many hours before, mm, whose banks may melt over the road.
const BANKS: (f64, usize) = (6.0, 72);
/// A thaw this warm by day and a night this cold let banks melt and freeze, °C.
const BANK_WEATHER: (f64, f64) = (1.5, -1.0);
/// Hours from which a road that stays slippery as treated is called for.
const STAYS_SLIPPERY: usize = 2;
/// Hours that such a call is for: a patrol then says more than a forecast.
const PATROL: usize = 4;
/// Coldest road, °C, on which frost or what salt leaves is a call: colder frost is thin and dry, and salt does not
/// work.
const COLDEST: f64 = -12.0;
/// Salt on a road that keeps frost off, g/m²: half of what a spraying leaves.
const KEEPS_FROST_OFF: f64 = 3.5;
/// Chance given to banks that melt: judgement, no hourly file holds them.
const BANK_CHANCE: f64 = 0.35;

/// Calls as they are found.
pub(super) struct Calls<'a> {
    pub(super) yard: &'a Yard,
    pub(super) story: &'a Story,
    pub(super) found: Vec<CallOut>,
}

/// A road that is unlike its class.
pub(super) struct Other {
    pub(super) why: CallWhy,
    /// Indexes of the routes it is on.
    pub(super) routes: Vec<usize>,
    pub(super) kind: Arc<Kind>,
}

/// Hours of a member in which something is called for.
pub(super) type Called = Vec<bool>;

impl Calls<'_> {
    fn count(&self) -> usize {
        self.story.hours.len() - self.story.past
    }

    fn at(&self, hour: usize) -> Timestamp {
        self.story.at(self.story.past + hour)
    }

    pub(super) fn of_class(
        &mut self,
        routes: &[usize],
        cycle: usize,
        ground: &Kind,
        served: &Served,
        others: &[Other],
    ) {
        let count = self.count();
        let hour_of =
            |at: Timestamp, from: Timestamp| (at.duration_since(from).as_secs() / 3600).max(0) as usize;
        let from = self.at(0);
        let works = [
            (Purpose::Pretreat, CallKind::Pretreat),
            (Purpose::First, CallKind::FirstTreatment),
            (Purpose::Repeat, CallKind::Repeat),
            (Purpose::CleanUp, CallKind::CleanUp),
            (Purpose::PlowOnly, CallKind::PlowOnly),
        ];
        for (purpose, kind) in works {
            let members: Vec<Called> = served
                .members
                .iter()
                .map(|course| {
                    let mut hours = vec![false; count];
                    for act in course.acts.iter().filter(|act| act.purpose == purpose) {
                        let hour = hour_of(act.at, from).min(count - 1);
                        // A pass takes its hour and the next; where one follows another, the crew stays out.
                        let goes_on = matches!(purpose, Purpose::Repeat | Purpose::PlowOnly);
                        let until = hour + 1 + if goes_on { cycle.max(1) } else { 1 };
                        hours[hour..until.min(count)].fill(true);
                    }
                    hours
                })
                .collect();
            self.spans(kind, CallWhy::Road, routes, &members, ground);
        }
        let drifting: Vec<Called> = ground
            .members
            .iter()
            .map(|course| course.hours.iter().map(|hour| hour.drifts && hour.surface < 0.0).collect())
            .collect();
        self.spans(CallKind::BlowingSnow, CallWhy::Road, routes, &drifting, ground);
        for (hazard, kind) in [
            (Hazard::Frost, CallKind::Frost),
            (Hazard::WetFreeze, CallKind::WetFreeze),
            (Hazard::Refreeze, CallKind::Refreeze),
        ] {
            let on = |kind: &Kind| -> Vec<Called> {
                kind.members.iter().map(|course| hazard_hours(course, hazard)).collect()
            };
            let mut road = on(ground);
            if hazard == Hazard::Frost {
                // What was put down for something else keeps frost off as well.
                for (hours, served) in road.iter_mut().zip(&served.members) {
                    for (called, hour) in hours.iter_mut().zip(&served.hours) {
                        *called &= hour.film.salt < KEEPS_FROST_OFF || hour.slippery;
                    }
                }
            }
            self.spans(kind, CallWhy::Road, routes, &road, ground);
            // Decks and segments are called for by themselves where the road of the same member holds.
            for other in others {
                let alone: Vec<Called> = on(&other.kind)
                    .into_iter()
                    .zip(&road)
                    .map(|(alone, road)| if road.contains(&true) { vec![false; alone.len()] } else { alone })
                    .collect();
                self.spans(kind, other.why, &other.routes, &alone, &other.kind);
            }
        }
        self.banks(routes, ground);
        self.after_all(routes, ground, served);
    }

    /// Hours in which the road is slippery all the same, as served, and no other call says so.
    fn after_all(&mut self, routes: &[usize], ground: &Kind, served: &Served) {
        let slippery: Vec<Called> = served
            .members
            .iter()
            .map(|course| {
                course
                    .hours
                    .iter()
                    .map(|hour| (COLDEST..0.0).contains(&hour.surface) && hour.slippery)
                    .collect()
            })
            .collect();
        let total = slippery.len().max(1) as f64;
        let share = |hour: usize| slippery.iter().filter(|one| one[hour]).count() as f64 / total;
        let is_told = |hour: usize| {
            let (begin, end) = (self.at(hour), self.at(hour + 1));
            self.found.iter().any(|call| {
                call.routes == routes && call.chance >= ACTED_ON && call.span[0] < end && begin < call.span[1]
            })
        };
        let mut spans: Vec<[usize; 2]> = Vec::new();
        for hour in (0..self.count()).filter(|hour| share(*hour) >= ACTED_ON && !is_told(*hour)) {
            match spans.last_mut() {
                Some(last) if last[1] == hour => last[1] = hour + 1,
                _ => spans.push([hour, hour + 1]),
            }
        }
        for [begin, end] in spans.into_iter().filter(|[begin, end]| end - begin >= STAYS_SLIPPERY) {
            let end = end.min(begin + PATROL);
            let coldest =
                ground.middle.hours[begin..end].iter().map(|hour| hour.surface).fold(f64::INFINITY, f64::min);
            self.found.push(CallOut {
                kind: CallKind::Refreeze,
                routes: routes.to_vec(),
                span: [self.at(begin), self.at(end)],
                chance: (begin..end).map(share).fold(0.0, f64::max),
                why: CallWhy::AsTreated,
                coldest: celsius(coldest),
            });
        }
    }

    /// Joins hours that enough members share into call-outs.
    fn spans(&mut self, kind: CallKind, why: CallWhy, routes: &[usize], members: &[Called], road: &Kind) {
        let total = members.len().max(1) as f64;
        let share =
            |hour: usize| members.iter().filter(|one| one.get(hour) == Some(&true)).count() as f64 / total;
        // What comes once may come sooner or later: one call.
        let comes_once = matches!(kind, CallKind::Pretreat | CallKind::FirstTreatment);
        let bridges = if comes_once { BRIDGES_ONCE } else { BRIDGES };
        let mut spans: Vec<[usize; 2]> = Vec::new();
        for hour in (0..self.count()).filter(|hour| share(*hour) >= GOES_ON) {
            match spans.last_mut() {
                Some(last) if hour - last[1] <= bridges => last[1] = hour + 1,
                _ => spans.push([hour, hour + 1]),
            }
        }
        for [begin, end] in spans {
            // Its ends are where a quarter of its worst hour is reached.
            let worst = (begin..end).map(share).fold(0.0, f64::max);
            let (mut begin, mut end) = (begin, end);
            while begin + 1 < end && share(begin) < TRIMS * worst {
                begin += 1;
            }
            while begin + 1 < end && share(end - 1) < TRIMS * worst {
                end -= 1;
            }
            let needs = |one: &&Called| one[begin..end].contains(&true);
            let chance = members.iter().filter(needs).count() as f64 / total;
            if chance < TOLD {
                continue;
            }
            let coldest =
                road.middle.hours[begin..end].iter().map(|hour| hour.surface).fold(f64::INFINITY, f64::min);
            self.found.push(CallOut {
                kind,
                routes: routes.to_vec(),
                span: [self.at(begin), self.at(end)],
                chance,
                why,
                coldest: celsius(coldest),
            });
        }
    }

    /// Banks of plowed snow that melt over the road by day and freeze by night.
    fn banks(&mut self, routes: &[usize], ground: &Kind) {
        let story = self.story;
        let (mut thawed, mut night): (Option<usize>, Option<[usize; 2]>) = (None, None);
        for hour in 0..self.count() {
            let end = story.past + hour;
            let told = &story.hours[end];
            let fell: f64 =
                story.hours[end.saturating_sub(BANKS.1)..end].iter().map(|one| one.weather.snow).sum();
            let warm = told.weather.air >= BANK_WEATHER.0
                || (told.weather.shortwave > 300.0 && told.weather.air > -1.0);
            if fell >= BANKS.0 && warm && told.falls() <= 0.0 {
                thawed = Some(hour);
            }
            let is_night = thawed.is_some_and(|day| (1..=16).contains(&(hour - day)));
            if is_night && ground.middle.hours[hour].surface <= BANK_WEATHER.1 {
                match &mut night {
                    Some(span) => span[1] = hour + 1,
                    None => night = Some([hour, hour + 1]),
                }
            }
        }
        let Some([begin, end]) = night else { return };
        let covered = self.found.iter().any(|call| {
            matches!(call.kind, CallKind::Refreeze | CallKind::WetFreeze)
                && call.routes == routes
                && call.chance >= BANK_CHANCE
                && call.span[0] < self.at(end)
                && self.at(begin) < call.span[1]
        });
        if !covered {
            let coldest =
                ground.middle.hours[begin..end].iter().map(|hour| hour.surface).fold(f64::INFINITY, f64::min);
            self.found.push(CallOut {
                kind: CallKind::Refreeze,
                routes: routes.to_vec(),
                span: [self.at(begin), self.at((begin + 12).min(end))],
                chance: BANK_CHANCE,
                why: CallWhy::Banks,
                coldest: celsius(coldest),
            });
        }
    }

    /// All of them, those alike of several classes as one; and that nothing is to be done, where so.
    pub(super) fn joined(mut self) -> Vec<CallOut> {
        let mut joined: Vec<CallOut> = Vec::new();
        self.found.sort_by(|a, b| a.span[0].cmp(&b.span[0]).then(a.kind.cmp(&b.kind)));
        for call in std::mem::take(&mut self.found) {
            let alike = |other: &&mut CallOut| {
                other.kind == call.kind
                    && other.why == call.why
                    && other.span[0] <= call.span[1]
                    && call.span[0] <= other.span[1]
                    && (other.chance - call.chance).abs()
                        < if call.why == CallWhy::AsTreated { 0.35 } else { 0.15 }
                    && !call.routes.iter().any(|route| other.routes.contains(route))
            };
            match joined.iter_mut().find(alike) {
                Some(other) => {
                    other.span = [other.span[0].min(call.span[0]), other.span[1].max(call.span[1])];
                    other.routes.extend(&call.routes);
                    other.routes.sort_unstable();
                    other.chance = other.chance.max(call.chance);
                }
                None => joined.push(call),
            }
        }
        let worst = joined.iter().map(|call| call.chance).fold(0.0, f64::max);
        if worst < ACTED_ON && self.count() > 0 {
            joined.push(CallOut {
                kind: CallKind::NoAction,
                routes: (0..self.yard.routes.len()).collect(),
                span: [self.at(0), self.at(self.count())],
                chance: 1.0 - worst,
                why: CallWhy::Road,
                coldest: celsius(0.0),
            });
        }
        joined
    }
}

/// Hours in which a hazard forms on a road that is not being snowed on.
pub(super) fn hazard_hours(course: &Course, hazard: Hazard) -> Called {
    course
        .hours
        .iter()
        .map(|hour| {
            // Flurries on a wet road do not hide that it freezes; frost settles in dry air alone.
            let snows = hour.fell[1] > if hazard == Hazard::Frost { 0.0 } else { FLURRIES };
            let amount = match hazard {
                Hazard::Frost => hour.formed.hoar,
                Hazard::WetFreeze => hour.formed.frozen,
                Hazard::Refreeze => hour.formed.refrozen,
            };
            let coldest = if hazard == Hazard::Frost { COLDEST } else { f64::NEG_INFINITY };
            let lies = hour.film.ice > 0.01 && (coldest..0.0).contains(&hour.surface);
            !snows && amount >= FORMS && lies && hour.film.snow < 0.5
        })
        .collect()
}
