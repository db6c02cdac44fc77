//! What the bench says: due checks, an instrument's word, trims, and why a band is where it is.

use bench::drift::Steadiness;
use bench::instrument::reading_decimals;
use bench::trim::{Advice, Purpose, Step};
use chemistry::Brine;
use chemistry::freezing::Solid;
use event::{Adjusted, CheckedIn, InstrumentCheck, PanelCheck, PlantFit, RunEnd, RunStep, TrimSet};
use site::Spec;
use yard::bench_log::{Compared, Due, DueWhy, TrimAct, TrimEntry};

use crate::Teller;
use crate::display::number;

/// Advice on the trim in an operator's words.
#[derive(Debug, Clone, PartialEq)]
pub struct TrimWords {
    /// The one act, in a sentence.
    pub headline: String,
    /// Why, and what to expect.
    pub why: String,
    /// The number to set, where one is advised.
    pub next: Option<f64>,
    /// Panel and bench agree.
    pub is_agreed: bool,
}

impl Teller<'_> {
    /// A number of the controller, with as many decimals as its smallest step has.
    pub fn trim_number(&self, value: f64) -> String {
        let step = self.yard.trim.smallest_step;
        let decimals = if step.fract() == 0.0 { 0.0 } else { (-step.log10()).ceil().clamp(0.0, 6.0) };
        number(value, decimals as usize)
    }

    /// What is due, in a sentence.
    pub fn due(&self, due: &Due) -> String {
        let called = |id: &str| self.instrument_called(id);
        let since =
            due.since.map_or_else(|| self.words.say("due.never").to_string(), |at| self.display.time(at));
        let fill = |key: &str, name: &str, value: &str| {
            self.words.fill(key, &[(name, value), ("since", since.as_str())])
        };
        match &due.why {
            DueWhy::NewSalt => fill("due.salt", "what", ""),
            DueWhy::WaterChange(what) => fill("due.water", "what", what),
            DueWhy::SeasonStart(season) => fill("due.season", "what", season),
            DueWhy::Overdue(id) => fill("due.overdue", "instrument", &called(id)),
            DueWhy::Drifting(id) => fill("due.drifting", "instrument", &called(id)),
            DueWhy::CheckNow(id) => fill("due.check_now", "instrument", &called(id)),
        }
    }

    /// What an instrument is called.
    pub fn instrument_called(&self, id: &str) -> String {
        let by_lab = || match id {
            "drying" => self.words.say("lab.drying").to_string(),
            "titration" => self.words.say("lab.titration").to_string(),
            other => other.to_string(),
        };
        self.yard.instrument(id).map_or_else(by_lab, |one| one.name.clone())
    }

    /// An instrument's state in a word.
    pub fn drift_word(&self, word: Steadiness) -> &'static str {
        self.words.say(match word {
            Steadiness::Steady => "drift.steady",
            Steadiness::Drifting => "drift.drifting",
            Steadiness::CheckNow => "drift.check_now",
        })
    }

    /// Why a band is where it is: the yard's own reason, or what comes out beyond it.
    pub fn spec_reason(&self, spec: &Spec) -> String {
        if let Some(reason) = &spec.reason {
            return reason.clone();
        }
        let first = |strength| Brine::sodium_chloride(strength).ok()?.first_solid().ok();
        let (Some(low), Some(high), Some(best)) = (first(spec.low), first(spec.high), first(spec.target))
        else {
            return self.words.say("bench.reason").to_string();
        };
        // A band on one side of the eutectic: the sentence would name the wrong solid at one of its ends.
        if !matches!(low.solid, Solid::Ice | Solid::IceOrHydrohalite) || high.solid == Solid::Ice {
            return self.words.say("bench.reason").to_string();
        }
        let [ice, salt, best] = [low, high, best].map(|first| self.display.temperature(first.temperature));
        let pct = |strength: chemistry::MassFraction| number(strength.percent(), 1);
        self.words.fill(
            "bench.reason-is",
            &[
                ("low", &pct(spec.low)),
                ("ice", &ice),
                ("high", &pct(spec.high)),
                ("salt", &salt),
                ("target", &pct(spec.target)),
                ("best", &best),
            ],
        )
    }

    /// Advice on the trim.
    pub fn trim_advice(&self, advice: &Advice) -> TrimWords {
        let pct = |value: f64| number(value, 2);
        let name = self.yard.trim.name.as_str();
        let plain = |headline: String, why: String| TrimWords { headline, why, next: None, is_agreed: false };
        match *advice {
            Advice::Agreed { difference, within } => TrimWords {
                is_agreed: true,
                ..plain(
                    self.words.fill("trim.agreed", &[("name", name)]),
                    self.words.fill(
                        "trim.agreed-why",
                        &[("difference", &pct(difference)), ("within", &pct(within))],
                    ),
                )
            },
            Advice::Wait { minutes } => plain(
                self.words.fill("trim.wait", &[("minutes", &number(minutes.ceil(), 0))]),
                self.words.say("trim.wait-why").to_string(),
            ),
            Advice::Step(step) => {
                let key = match step.purpose {
                    Purpose::Trial => "trim.trial-why",
                    Purpose::Approach => "trim.approach-why",
                };
                self.trim_step(&step, key, None)
            }
            Advice::StepWhileOver { step, over_now } => {
                self.trim_step(&step, "trim.while-over-why", Some(over_now))
            }
            Advice::Unsure { within, needed, by_bench } => {
                let key = if by_bench { "trim.unsure-bench" } else { "trim.unsure-panel" };
                plain(
                    self.words.say("trim.unsure").to_string(),
                    self.words.fill(key, &[("within", &pct(within)), ("needed", &pct(needed))]),
                )
            }
            Advice::Hold { over_strength } => plain(
                self.words.fill("trim.hold", &[("name", name)]),
                self.words.fill("trim.hold-why", &[("over", &number(100.0 * over_strength, 0))]),
            ),
        }
    }

    fn trim_step(&self, step: &Step, why: &str, over_now: Option<f64>) -> TrimWords {
        let share = |chance: f64| number(100.0 * chance, 0);
        let mut values = vec![
            ("difference", number(step.difference, 2)),
            ("interval", number(step.difference_interval, 2)),
            ("over", share(step.over_strength)),
            ("minutes", number(step.wait_minutes.ceil(), 0)),
        ];
        values.extend(over_now.map(|now| ("now", share(now))));
        let (name, next) = (self.yard.trim.name.as_str(), self.trim_number(step.next));
        TrimWords {
            headline: self.words.fill("trim.set", &[("name", name), ("next", &next)]),
            why: self.words.fill_with(why, &values),
            next: Some(step.next),
            is_agreed: false,
        }
    }

    /// A look or a setting, in a line.
    pub fn trim_entry(&self, entry: &TrimEntry) -> String {
        match &entry.act {
            TrimAct::Look(look) => self.panel_check(look),
            TrimAct::Set(set) => self.trim_set(set),
        }
    }

    pub(crate) fn panel_check(&self, look: &PanelCheck) -> String {
        self.words.fill(
            "line.panel_check",
            &[
                ("name", &self.yard.trim.name),
                ("number", &self.trim_number(look.trim_number)),
                ("panel", &number(look.panel_pct, 2)),
                ("bench", &number(look.bench_pct, 2)),
                ("within", &number(look.uncertainty_pct, 2)),
            ],
        )
    }

    pub(crate) fn trim_set(&self, set: &TrimSet) -> String {
        let (from, to) = (self.trim_number(set.from_number), self.trim_number(set.to_number));
        let values = [("name", self.yard.trim.name.as_str()), ("from", &from), ("to", &to)];
        let line = self.words.fill("line.trim_set", &values);
        match (&set.reason, set.advised_number) {
            (Some(reason), Some(advised)) => {
                let advised = self.trim_number(advised);
                let why = [("advised", advised.as_str()), ("reason", reason.as_str())];
                format!("{line} {}", self.words.fill("line.trim_set-other", &why))
            }
            _ => line,
        }
    }

    pub(crate) fn instrument_check(&self, check: &InstrumentCheck) -> String {
        let key = match (check.against, check.adjusted) {
            (CheckedIn::Water, Adjusted::Yes) => "line.instrument_check-water-set",
            (CheckedIn::Water, Adjusted::No) => "line.instrument_check-water",
            (CheckedIn::Brine, Adjusted::Yes) => "line.instrument_check-brine-set",
            (CheckedIn::Brine, Adjusted::No) => "line.instrument_check-brine",
        };
        let called = self.instrument_called(&check.instrument);
        let decimals =
            self.yard.instrument(&check.instrument).map_or(2, |one| reading_decimals(one.card.resolution));
        let (shown, expected) =
            (number(check.shown_reading, decimals), number(check.expected_reading, decimals));
        self.words.fill(key, &[("instrument", &called), ("shown", &shown), ("expected", &expected)])
    }

    pub(crate) fn run_step(&self, step: &RunStep) -> String {
        let answer = self.words.say(&format!("answer.{}", step.answer)).to_string();
        let value = step.value_reading.map_or_else(String::new, |value| format!(" {value}"));
        let values = [("step", step.step.replace('_', " ")), ("answer", format!("{answer}{value}"))];
        self.words.fill_with("line.run_step", &values)
    }

    pub(crate) fn run_end(&self, end: &RunEnd) -> String {
        let how = self.words.say(&format!("run-end.{}", end.how)).to_string();
        match &end.reason {
            Some(reason) => format!("{how}: {reason}"),
            None => how,
        }
    }

    pub(crate) fn plant_fit(&self, fit: &PlantFit) -> String {
        let one = |factor: f64, spread: f64| {
            format!("{} ± {}", number(factor, 2), number(1.96 * spread * factor, 2))
        };
        let values = [
            ("reached", one(fit.reached_number, fit.reached_spread_number)),
            ("feed", one(fit.feed_number, fit.feed_spread_number)),
            ("water", one(fit.water_number, fit.water_spread_number)),
            ("looks", number(fit.looks_number, 0)),
        ];
        self.words.fill_with("line.plant_fit", &values)
    }

    /// How two agree, in a sentence.
    pub fn compared(&self, compared: &Compared) -> String {
        let (first, second) = match compared.instrument {
            Some(_) => (compared.first.clone(), compared.second.clone()),
            None => (self.instrument_called(&compared.first), self.instrument_called(&compared.second)),
        };
        let found = &compared.found;
        let key = if found.is_different { "agree.differ" } else { "agree.same" };
        let mut text = self.words.fill(
            key,
            &[
                ("first", &first),
                ("second", &second),
                ("difference", &number(found.difference, 2)),
                ("within", &number(found.within, 2)),
                ("count", &number(found.samples as f64, 0)),
            ],
        );
        if let Some(instrument) = &compared.instrument {
            let with = self.words.fill("agree.with", &[("instrument", &self.instrument_called(instrument))]);
            text = format!("{text} {with}");
        }
        if let Some(line) = &found.line {
            let values = [
                ("slope", number(line.slope, 3)),
                ("slope_u", number(1.96 * line.slope_uncertainty, 3)),
                ("intercept", number(line.intercept, 2)),
                ("intercept_u", number(1.96 * line.intercept_uncertainty, 2)),
            ];
            let values = values.each_ref().map(|(name, value)| (*name, value.as_str()));
            text = format!("{text} {}", self.words.fill("agree.line", &values));
        }
        text
    }
}
