//! What the bench remembers: looks at the panel and settings of the trim, checks of instruments, samples that several
//! were read in, and what is due to be looked at again. A part of the fold: evidence, none of it moves stock.

use std::collections::BTreeMap;

use bench::agreement::{Agreement, PairedReadings, agreement};
use bench::drift::{Drift, drift};
use bench::trim::{Advice, Pair, Rules, advise};
use jiff::{SignedDuration, Timestamp};
use quantity::{in_hours, in_minutes};

use event::{Adjusted, Body, EventId, PanelCheck, Recorded, TrimSet};
use site::{Instrument, Yard};

/// k of the intervals logged with a bench reading: 95 %, normal.
const K95: f64 = 1.96;
/// Looks that advice is worked out of, and checks and readings kept of an instrument or of all.
const MOST_LOOKS: usize = 40;
const MOST_CHECKS: usize = 120;
const MOST_READINGS: usize = 600;

/// Everything the bench remembers.
#[derive(Debug, Clone, Default)]
pub struct BenchLog {
    /// Looks and settings, oldest first.
    pub trims: Vec<TrimEntry>,
    checks: BTreeMap<String, Vec<CheckEntry>>,
    readings: Vec<SampleReading>,
    raised: BTreeMap<&'static str, (EventId, Timestamp, String)>,
    seen: BTreeMap<String, Timestamp>,
    season_began: Option<Timestamp>,
}

/// A look or a setting, as it stands in the ledger.
#[derive(Debug, Clone)]
pub struct TrimEntry {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// Row of the ledger.
    pub seq: u64,
    /// When it happened.
    pub at: Timestamp,
    /// Who entered it, by the entry's own word.
    pub author: String,
    /// A look at the panel, or a setting.
    pub act: TrimAct,
}

/// What a person did at the controller.
#[derive(Debug, Clone)]
pub enum TrimAct {
    /// Looked at the panel, with a sample at the bench.
    Look(PanelCheck),
    /// Set the number.
    Set(TrimSet),
}

/// A check of an instrument, as it stands in the ledger.
#[derive(Debug, Clone)]
pub struct CheckEntry {
    /// Id of its entry in the ledger.
    pub event: EventId,
    /// When it happened.
    pub at: Timestamp,
    /// Who entered it, by the entry's own word.
    pub author: String,
    /// What it showed less what it should have, in the unit of its scale.
    pub error: f64,
    /// Whether it was zeroed or set right afterwards.
    pub is_adjusted: bool,
}

/// A reading, for comparing instruments and people on the same sample.
#[derive(Debug, Clone)]
struct SampleReading {
    sample: EventId,
    at: Timestamp,
    instrument: String,
    author: String,
    percent: f64,
    standard_uncertainty: f64,
}

/// Where trimming stands.
#[derive(Debug, Clone)]
pub enum TrimState {
    /// No look was logged yet.
    NeverLooked,
    /// The number was set, and has not come through.
    Waiting {
        /// What it was set to.
        number: f64,
        /// When to sample again.
        until: Timestamp,
    },
    /// It has come through: sample again.
    SampleAgain {
        /// What it was set to.
        number: f64,
    },
    /// What the last look asks for.
    Looked {
        /// The look at the panel, as entered.
        look: PanelCheck,
        /// When it happened.
        at: Timestamp,
        /// What to do, or why nothing can be said.
        advice: Result<Advice, bench::Error>,
    },
    /// Salt, water or season changed since the last look: what it said no longer holds.
    Outdated {
        /// When the last look was.
        at: Timestamp,
        /// What changed, and is to be looked at first.
        due: Due,
    },
}

/// Looks and settings from the first that found a difference to the one that found none.
#[derive(Debug, Clone)]
pub struct Episode<'a> {
    /// In order of time; never empty.
    pub entries: &'a [TrimEntry],
    /// Panel less bench at the end and the interval within which they agree, per cent by mass; none while open.
    pub agreed: Option<(f64, f64)>,
}

/// Something to look at again.
#[derive(Debug, Clone, PartialEq)]
pub struct Due {
    /// What it is called when a person has seen to it.
    pub key: String,
    /// Why it is due.
    pub why: DueWhy,
    /// Since when; for an instrument, its last check.
    pub since: Option<Timestamp>,
}

/// Why something is to be looked at again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DueWhy {
    /// Salt of another delivery: panel and readings may shift.
    NewSalt,
    /// Water from elsewhere.
    WaterChange(String),
    /// A season begins.
    SeasonStart(String),
    /// An instrument whose check is overdue, or was never logged.
    Overdue(String),
    /// An instrument that drifts.
    Drifting(String),
    /// An instrument whose last check was off.
    CheckNow(String),
}

/// How two instruments, or two people with one instrument, agree on the samples both read.
#[derive(Debug, Clone)]
pub struct Compared {
    /// Id of the first instrument.
    pub first: String,
    /// Id of the second instrument.
    pub second: String,
    /// What they were compared with: the instrument, for two people; none for two instruments.
    pub instrument: Option<String>,
    /// How they agree.
    pub found: Agreement,
}

impl BenchLog {
    /// Takes one event in, in order of happening.
    pub(crate) fn take(&mut self, recorded: &Recorded) {
        let (event, seq) = (&recorded.event, recorded.seq);
        let (id, at) = (event.id, event.occurred_at);
        let entry = |act| TrimEntry { event: id, seq, at, author: event.author.clone(), act };
        match &event.body {
            Body::PanelCheck(look) => self.trims.push(entry(TrimAct::Look(look.clone()))),
            Body::TrimSet(set) => self.trims.push(entry(TrimAct::Set(set.clone()))),
            Body::InstrumentCheck(check) => {
                let checks = self.checks.entry(check.instrument.clone()).or_default();
                keep(checks, MOST_CHECKS);
                checks.push(CheckEntry {
                    event: id,
                    at,
                    author: event.author.clone(),
                    error: check.shown_reading - check.expected_reading,
                    is_adjusted: check.adjusted == Adjusted::Yes,
                });
            }
            Body::Reading(reading) => {
                let (Some(instrument), Some(interval)) = (&reading.instrument, reading.uncertainty_pct)
                else {
                    return;
                };
                keep(&mut self.readings, MOST_READINGS);
                self.readings.push(SampleReading {
                    sample: reading.sample.as_ref().and_then(|id| id.parse().ok()).unwrap_or(id),
                    at,
                    instrument: instrument.clone(),
                    author: event.author.clone(),
                    percent: reading.strength_pct,
                    standard_uncertainty: interval / K95,
                });
            }
            Body::SaltDelivery(_) => self.raise("salt", id, at, String::new()),
            Body::WaterChange(change) => self.raise("water", id, at, change.what.clone()),
            Body::SeasonStart(start) => {
                self.season_began = Some(at);
                self.raise("season", id, at, start.season.clone());
            }
            Body::CheckSeen(seen) => {
                self.seen.insert(seen.check.clone(), at);
            }
            _ => {}
        }
    }

    fn raise(&mut self, kind: &'static str, id: EventId, at: Timestamp, what: String) {
        self.raised.insert(kind, (id, at, what));
    }

    /// Readings with an instrument and an interval since a time: when, per cent by mass, half of the 95 % interval.
    pub fn readings_since(&self, since: Timestamp) -> impl Iterator<Item = (Timestamp, f64, f64)> + '_ {
        let late = self.readings.iter().filter(move |one| since <= one.at);
        late.map(|one| (one.at, one.percent, K95 * one.standard_uncertainty))
    }

    /// Checks of an instrument, oldest first.
    pub fn checks(&self, instrument: &str) -> &[CheckEntry] {
        self.checks.get(instrument).map_or(&[], Vec::as_slice)
    }

    /// Errors found since an instrument was last adjusted, shown less known, in the unit of its scale, oldest first.
    pub fn errors(&self, instrument: &str) -> Vec<f64> {
        let checks = self.checks(instrument);
        let since = checks.iter().rposition(|check| check.is_adjusted).map_or(0, |place| place + 1);
        checks[since..].iter().map(|check| check.error).collect()
    }

    /// Whether an instrument is steady; none before its first check, or right after it was set right.
    pub fn drift(&self, instrument: &Instrument) -> Option<Drift> {
        let card = &instrument.card;
        let of_one = card.repeatability.hypot(card.resolution / 12f64.sqrt());
        drift(&self.errors(&instrument.id), of_one).ok()
    }

    /// What is to be looked at again, instruments last.
    pub fn due(&self, yard: &Yard, now: Timestamp) -> Vec<Due> {
        let mut all: Vec<Due> = self.changes().collect();
        for instrument in &yard.instruments {
            let last = self.checks(&instrument.id).last();
            let id = instrument.id.clone();
            let word = self.drift(instrument).map(|drift| drift.steadiness);
            let age = last.map(|check| now.duration_since(check.at).as_secs_f64() / 3600.0);
            let is_overdue = age.is_none_or(|hours| in_hours(instrument.check_every) < hours);
            let since = last.map(|check| check.at);
            let drifts = match word {
                Some(bench::drift::Steadiness::CheckNow) => Some(DueWhy::CheckNow(id.clone())),
                Some(bench::drift::Steadiness::Drifting) => Some(DueWhy::Drifting(id.clone())),
                _ => None,
            };
            if let (Some(why), Some(check)) = (drifts, last) {
                all.push(Due { key: format!("drift:{id}:{}", check.event), why, since });
            } else if is_overdue {
                // Seen to for a day at most: a name does not zero an instrument.
                let day = now.as_second().div_euclid(86_400);
                all.push(Due { key: format!("check:{id}:{day}"), why: DueWhy::Overdue(id), since });
            }
        }
        all.retain(|due| !self.seen.contains_key(&due.key));
        all
    }

    /// The last change each of salt, water and season, seen to or not.
    fn changes(&self) -> impl Iterator<Item = Due> + '_ {
        self.raised.iter().map(|(kind, (id, at, what))| {
            let why = match *kind {
                "salt" => DueWhy::NewSalt,
                "water" => DueWhy::WaterChange(what.clone()),
                _ => DueWhy::SeasonStart(what.clone()),
            };
            Due { key: format!("{kind}:{id}"), why, since: Some(*at) }
        })
    }

    /// The newest change after a time that nobody has seen to.
    fn changed_since(&self, at: Timestamp) -> Option<Due> {
        let open = self.changes().filter(|due| !self.seen.contains_key(&due.key));
        open.filter(|due| due.since.is_some_and(|since| at < since)).max_by_key(|due| due.since)
    }

    /// The trim setting as last read or set, in the controller's own number; none before the first entry of it.
    pub fn number_now(&self) -> Option<f64> {
        Some(match &self.trims.last()?.act {
            TrimAct::Look(look) => look.trim_number,
            TrimAct::Set(set) => set.to_number,
        })
    }

    /// Where trimming stands.
    pub fn trim_state(&self, yard: &Yard, now: Timestamp) -> TrimState {
        let Some(last) = self.trims.last() else { return TrimState::NeverLooked };
        match &last.act {
            TrimAct::Set(set) => {
                let until = last.at + SignedDuration::from_secs_f64(60.0 * rules(yard).wait_minutes());
                if now < until {
                    TrimState::Waiting { number: set.to_number, until }
                } else {
                    TrimState::SampleAgain { number: set.to_number }
                }
            }
            TrimAct::Look(look) => match self.changed_since(last.at) {
                Some(due) => TrimState::Outdated { at: last.at, due },
                None => TrimState::Looked {
                    look: look.clone(),
                    at: last.at,
                    advice: advise(&self.pairs(yard, &self.trims), &rules(yard)),
                },
            },
        }
    }

    /// Looks of this season with when the number was set, as trim advice takes them.
    fn pairs(&self, yard: &Yard, trims: &[TrimEntry]) -> Vec<Pair> {
        let minutes = |at: Timestamp| at.as_second() as f64 / 60.0;
        let mut set: Option<(f64, f64)> = None;
        let mut pairs = Vec::new();
        for entry in trims.iter().filter(|entry| self.season_began.is_none_or(|began| began <= entry.at)) {
            match &entry.act {
                TrimAct::Set(new) => set = Some((new.to_number, minutes(entry.at))),
                TrimAct::Look(look) => pairs.push(Pair {
                    minutes: minutes(entry.at),
                    trim: look.trim_number,
                    set_at: set
                        .filter(|(number, _)| (number - look.trim_number).abs() < 1e-9 * number.abs())
                        .map(|(_, at)| at),
                    panel: look.panel_pct,
                    bench: look.bench_pct,
                    panel_uncertainty: yard.trim.panel_uncertainty_percent,
                    bench_uncertainty: look.uncertainty_pct / K95,
                }),
            }
        }
        let over = pairs.len().saturating_sub(MOST_LOOKS);
        pairs.drain(..over);
        pairs
    }

    /// Trimming from difference to agreement, oldest first; the last may be open.
    pub fn episodes(&self, yard: &Yard) -> Vec<Episode<'_>> {
        let mut found = Vec::new();
        let mut first = 0;
        for (place, entry) in self.trims.iter().enumerate() {
            let TrimAct::Look(_) = entry.act else { continue };
            let so_far = self.pairs(yard, &self.trims[..=place]);
            if so_far.last().is_none_or(|pair| pair.agreement() < pair.difference().abs()) {
                continue;
            }
            if let Ok(Advice::Agreed { difference, within }) = advise(&so_far, &rules(yard)) {
                let entries = &self.trims[first..=place];
                found.push(Episode { entries, agreed: Some((difference, within)) });
                first = place + 1;
            }
        }
        if first < self.trims.len() {
            found.push(Episode { entries: &self.trims[first..], agreed: None });
        }
        found
    }

    /// How instruments agree, and how people do with one instrument, on the samples that two read.
    pub fn compared(&self) -> Vec<Compared> {
        let mut instruments: BTreeMap<(&str, &str), Vec<PairedReadings>> = BTreeMap::new();
        let mut people: BTreeMap<(&str, &str, &str), Vec<PairedReadings>> = BTreeMap::new();
        for (place, one) in self.readings.iter().enumerate() {
            for other in self.readings[..place].iter().filter(|other| other.sample == one.sample) {
                if one.instrument != other.instrument {
                    let (first, second) =
                        if one.instrument < other.instrument { (one, other) } else { (other, one) };
                    let pair = (first.instrument.as_str(), second.instrument.as_str());
                    instruments.entry(pair).or_default().push(both(first, second));
                } else if one.author != other.author {
                    let (first, second) = if one.author < other.author { (one, other) } else { (other, one) };
                    let pair = (first.author.as_str(), second.author.as_str(), one.instrument.as_str());
                    people.entry(pair).or_default().push(both(first, second));
                }
            }
        }
        let of = |first: &str, second: &str, instrument: Option<&str>, samples: &[PairedReadings]| {
            let found = agreement(samples).ok()?;
            let text = str::to_string;
            Some(Compared {
                first: text(first),
                second: text(second),
                instrument: instrument.map(text),
                found,
            })
        };
        let pairs = instruments.iter().filter_map(|((a, b), samples)| of(a, b, None, samples));
        pairs.chain(people.iter().filter_map(|((a, b, with), all)| of(a, b, Some(with), all))).collect()
    }

    /// What was read of a sample by others before: instrument, strength and standard uncertainty, per cent by mass.
    pub fn of_sample(&self, sample: EventId) -> Vec<(String, f64, f64)> {
        let same = self.readings.iter().filter(|one| one.sample == sample);
        same.map(|one| (one.instrument.clone(), one.percent, one.standard_uncertainty)).collect()
    }
}

fn both(first: &SampleReading, second: &SampleReading) -> PairedReadings {
    PairedReadings {
        first: first.percent,
        first_uncertainty: first.standard_uncertainty,
        second: second.percent,
        second_uncertainty: second.standard_uncertainty,
    }
}

/// Lets the older half go once there are twice as many as are to be kept: each costs the same, however many there were.
fn keep<T>(all: &mut Vec<T>, most: usize) {
    if 2 * most <= all.len() {
        all.drain(..most);
    }
}

/// The yard's rules for trimming what the plant makes.
pub fn rules(yard: &Yard) -> Rules {
    let spec = yard.made_spec();
    Rules {
        target: spec.target.percent(),
        top: spec.high.percent(),
        largest_step: yard.trim.largest_step,
        risk: yard.bench.risk,
        resolution: yard.trim.smallest_step,
        lag_minutes: in_minutes(yard.trim.lag),
    }
}
