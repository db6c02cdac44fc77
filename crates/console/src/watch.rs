//! What is thought of the run that goes on: a judge that looks along, and what it says.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use event::EventId;
use jiff::{SignedDuration, Timestamp};
use plant::expect::{Band, band};
use plant::judge::{Judge, Prior, Seen, USUAL_THRESHOLD, Verdict};
use plant::layout::{Layout, Sensed};
use plant::model::{Commands, Plant, Start};
use plant::properties::Properties;
use quantity::{in_cubic_metres, in_hours};
use yard::run_log::Run;
use yard::stock::Books;

use crate::following::Following;

/// Looks that are made up for at once; more behind than this, and the run is too fast to be judged.
const MOST_BEHIND: i64 = 24;
/// The time to strength is worked out anew every so many looks.
const AHEAD_EVERY: usize = 4;
/// How far ahead it looks, s.
const LONGEST: f64 = 3.0 * 3600.0;
/// Runs of the expected band, its length and step, s.
const BAND: (usize, f64, f64) = (40, 3.0 * 3600.0, 120.0);
/// A setting that moved by more than this since the last look was changed by a hand or a controller.
const CHANGED: f64 = 0.02;
/// Looks that a run must have to teach anything of the plant: half an hour.
const FEWEST: usize = 60;

/// What can be said.
#[derive(Debug, Clone, Default)]
pub(crate) struct Thought {
    /// Parts of the plant that nothing is read of, or nothing fresh.
    pub(crate) missing: Vec<String>,
    /// The run's time goes too fast to look along.
    pub(crate) too_fast: bool,
    /// What the judge says of the last look.
    pub(crate) verdict: Option<Verdict>,
    /// When the judge began to look.
    pub(crate) since: Option<Timestamp>,
    /// Time to strength from the last look, s: a tenth, half, nine tenths; with the time it was worked out.
    pub(crate) ahead: Option<([Option<f64>; 3], Timestamp)>,
    /// The panel as expected, from [`Self::since`] on.
    pub(crate) band: Option<Arc<Band>>,
    /// While no run goes on: what one begun empty should look like, and what was known of the plant for it.
    pub(crate) before: Option<(Arc<Band>, Prior)>,
}

#[derive(Default)]
struct Watching {
    run: Option<EventId>,
    judge: Option<Judge>,
    start: Option<Plant>,
    seen: Vec<Seen>,
    last: Option<Timestamp>,
    thought: Thought,
}

/// What is looked at.
pub(crate) struct Along<'a> {
    pub(crate) layout: &'a Layout,
    pub(crate) books: &'a Books,
    /// The run that goes on, where it makes brine: only such a one is judged.
    pub(crate) run: Option<&'a Run>,
    pub(crate) following: Option<&'a Following>,
    pub(crate) now: Timestamp,
}

/// Watches the run that goes on.
#[derive(Default)]
pub(crate) struct Watch {
    inner: Mutex<Watching>,
    /// What was thought last, so that pages need not wait for a look.
    /// Of the last [`Thought::before`].
    usual: Mutex<Option<f64>>,
    said: Mutex<Thought>,
    properties: Mutex<Option<Arc<Properties>>>,
}

fn hold<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // A look that panicked leaves a judge behind that is begun anew at the next.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What every line and feeder was told and every sensor shows, or the parts that say nothing.
fn seen(following: &Following, layout: &Layout, from: Timestamp, to: Timestamp) -> Result<Seen, Vec<String>> {
    let mut missing = Vec::new();
    let shown = layout
        .sensors
        .iter()
        .map(|one| {
            following.at(&one.id, to).unwrap_or_else(|| {
                missing.push(one.id.clone());
                0.0
            })
        })
        .collect();
    // What a line was told at the begin, on the mean, and at the end: from these, when a hand changed it.
    let mut told = |id: &str| {
        let found = following.at(id, from).zip(following.mean(id, from, to)).zip(following.at(id, to));
        let Some(((begin, mean), end)) = found else {
            missing.push(id.to_string());
            return [0.0; 3];
        };
        [begin, mean, end].map(|share| share.clamp(0.0, 1.0))
    };
    let lines: Vec<[f64; 3]> = layout
        .lines
        .iter()
        .map(|one| match one.kind {
            plant::layout::LineKind::Overflow { .. } => [1.0; 3],
            _ => told(&one.id),
        })
        .collect();
    let feeders: Vec<[f64; 3]> = layout.feeders.iter().map(|one| told(&one.id)).collect();
    if !missing.is_empty() {
        return Err(missing);
    }
    let at = |place: usize| Commands {
        lines: lines.iter().map(|told| told[place]).collect(),
        feeders: feeders.iter().map(|told| told[place]).collect(),
    };
    let change = |told: &&[f64; 3]| (told[2] - told[0]).abs();
    let most = lines.iter().chain(&feeders).max_by(|a, b| change(a).total_cmp(&change(b)));
    let earlier = most.filter(|told| CHANGED < change(told)).map(|[begin, mean, end]| {
        let share = (end - mean) / (end - begin);
        (share.clamp(0.0, 1.0), at(0))
    });
    Ok(Seen { commands: at(2), earlier, shown })
}

/// A plant that stands as its sensors show it.
fn standing(layout: &Layout, seen: &Seen, properties: &Arc<Properties>) -> Option<Plant> {
    let mut start = Start::empty(layout, 1e6);
    for (sensor, shown) in layout.sensors.iter().zip(&seen.shown) {
        if let Sensed::Level { vessel } = sensor.of {
            let volume = in_cubic_metres(layout.vessels[vessel].volume);
            start.liquids[vessel].0 = (1000.0 * volume * shown).max(start.liquids[vessel].0);
        }
    }
    for (sensor, shown) in layout.sensors.iter().zip(&seen.shown) {
        let covered = |vessel: usize| {
            0.05 * 1000.0 * in_cubic_metres(layout.vessels[vessel].volume) < start.liquids[vessel].0
        };
        match sensor.of {
            Sensed::Strength { vessel, .. } if covered(vessel) => {
                let strength = (shown / 100.0).clamp(0.0, 0.26);
                start.liquids[vessel].1 = strength;
                start.liquids[vessel].0 *= 1.0 + 0.75 * strength;
            }
            Sensed::Temperature { vessel } if covered(vessel) => start.liquids[vessel].2 = *shown,
            Sensed::Bed { vessel } => start.in_vessels_kg[vessel] = shown.max(0.0),
            _ => {}
        }
    }
    let mut plant = Plant::new(layout.clone(), Arc::clone(properties), &start).ok()?;
    plant.by_hand(true);
    plant.tell(seen.commands.clone());
    Some(plant)
}

impl Watch {
    /// What was thought last.
    pub(crate) fn thought(&self) -> Thought {
        hold(&self.said).clone()
    }

    fn properties(&self) -> Option<Arc<Properties>> {
        let mut held = hold(&self.properties);
        if held.is_none() {
            *held = Properties::new().ok().map(Arc::new);
        }
        held.clone()
    }

    /// Looks along once more where that is due. It may take a tenth of a second: not for an asynchronous task.
    pub(crate) fn update(&self, along: &Along<'_>) {
        let mut watching = hold(&self.inner);
        self.step(along, &mut watching);
        if let Some((band, _)) = &watching.thought.before {
            *hold(&self.usual) = band.reached[1];
        }
        *hold(&self.said) = watching.thought.clone();
    }

    /// Time in which half of the runs begun empty come to strength, s, as last worked out.
    /// It stays while a run goes on.
    pub(crate) fn usual_start_up(&self) -> Option<f64> {
        *hold(&self.usual)
    }

    fn step(&self, along: &Along<'_>, watching: &mut Watching) {
        let (layout, books, now) = (along.layout, along.books, along.now);
        let Some(run) = along.run else {
            if watching.run.is_some() {
                *watching = Watching::default();
            }
            let prior = books.runs.learned().map_or_else(Prior::default, |learned| learned.prior);
            if watching.thought.before.as_ref().is_none_or(|(_, known)| *known != prior) {
                watching.thought.before = self.expected(layout, &prior).map(|band| (Arc::new(band), prior));
            }
            return;
        };
        let Some(following) = along.following else { return };
        if watching.run != Some(run.event) {
            *watching = Watching { run: Some(run.event), ..Watching::default() };
        }
        let period = SignedDuration::from_secs_f64(3600.0 * in_hours(layout.control.period));
        let behind = watching
            .last
            .map_or(0, |last| (now.duration_since(last).as_secs_f64() / period.as_secs_f64()).floor() as i64);
        if !(0..=MOST_BEHIND).contains(&behind) {
            // The clock was put back, or it runs too fast: what was thought holds no more.
            let run = watching.run;
            *watching = Watching { run, ..Watching::default() };
            watching.thought.too_fast = 0 < behind;
            return;
        }
        if watching.last.is_none() {
            self.begin(watching, following, layout, now, period, books);
            return;
        }
        for _ in 0..behind {
            let Some(last) = watching.last else { return };
            let next = last + period;
            watching.last = Some(next);
            let shown = match seen(following, layout, last, next) {
                Ok(shown) => shown,
                Err(missing) => {
                    let run = watching.run;
                    *watching = Watching { run, ..Watching::default() };
                    watching.thought.missing = missing;
                    return;
                }
            };
            let Some(judge) = &mut watching.judge else { return };
            let Ok(verdict) = judge.look(&shown) else {
                watching.last = None;
                return;
            };
            watching.seen.push(shown);
            watching.thought.verdict = Some(verdict);
            if watching.seen.len() % AHEAD_EVERY == 1 {
                watching.thought.ahead = judge.time_to_strength(LONGEST).ok().map(|times| (times, next));
            }
        }
    }

    /// What a run begun on an empty plant should look like.
    fn expected(&self, layout: &Layout, prior: &Prior) -> Option<Band> {
        let properties = self.properties()?;
        let mut start = Start::empty(layout, 1e6);
        if let plant::layout::Way::Upflow { bed, salt_kg, .. } = layout.control.way {
            start.in_vessels_kg[bed] = salt_kg;
        }
        let plant = Plant::new(layout.clone(), properties, &start).ok()?;
        let (runs, length, every) = BAND;
        band(&plant, prior, runs, (length, every), 1).ok()
    }

    fn begin(
        &self,
        watching: &mut Watching,
        following: &Following,
        layout: &Layout,
        now: Timestamp,
        period: SignedDuration,
        books: &Books,
    ) {
        let shown = match seen(following, layout, now - period, now) {
            Ok(shown) => shown,
            Err(missing) => {
                watching.thought.missing = missing;
                return;
            }
        };
        let Some(properties) = self.properties() else { return };
        let Some(start) = standing(layout, &shown, &properties) else { return };
        let prior = books.runs.learned().map_or_else(Prior::default, |learned| learned.prior);
        let mut expected = start.clone();
        expected.by_hand(false);
        let (runs, length, every) = BAND;
        watching.thought = Thought {
            since: Some(now),
            band: band(&expected, &prior, runs, (length, every), 1).ok().map(Arc::new),
            ..Thought::default()
        };
        watching.judge = Some(Judge::knowing(&start, &prior, 1, USUAL_THRESHOLD));
        watching.start = Some(start);
        watching.last = Some(now);
    }

    /// What a run has taught of the plant, with what was known before: the prior for the next, and the looks it rests
    /// on. None where it was not watched for long enough. It takes a second or two.
    pub(crate) fn learned(&self, run: EventId, before: &Prior) -> Option<(Prior, usize)> {
        let watching = hold(&self.inner);
        let start = watching.start.as_ref().filter(|_| watching.run == Some(run))?;
        if watching.seen.len() < FEWEST {
            return None;
        }
        let logged = plant::fit::Logged { start, seen: &watching.seen };
        let learned = plant::fit::fit(&[logged], before, 1).ok()?;
        Some((learned, watching.seen.len()))
    }
}
