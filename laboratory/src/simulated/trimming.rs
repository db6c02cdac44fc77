//! Trim advice on plants drawn by chance, beside a fixed-step habit.
//!
//! A *trim* is one change of the number. Brine made after a trim is *released* when the bench's sample of it
//! is in the band: by its bare reading, or by the bench's verdict at 5 % risk. An *event* is released brine
//! whose true strength is above the band's top.

use bench::conformity::Known;
use bench::trim::{Advice, Pair, Rules, advise};
use bench::{Conformity, SpecRange};
use chemistry::MassFraction;

use super::plants::{BAND, HELD_OUT, Look, Plant, TARGET, TUNING};

/// Looks after which a plant counts as not brought to agreement.
const MOST_LOOKS: usize = 60;
/// Minutes between the steps of the habit (common practice, no source).
const HABIT_MINUTES: f64 = 10.0;

/// How a plant is trimmed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Way {
    /// By our advice.
    Advice,
    /// By equal steps of so many units, turned round when the difference grew.
    Habit {
        /// Ten at most.
        units: f64,
    },
}

/// What became of one plant, or of many.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Tally {
    /// How many plants.
    pub plants: usize,
    /// Changes of the number.
    pub trims: usize,
    /// Sum of the squares of the trims of each plant.
    pub squares: usize,
    /// Plants brought to agreement.
    pub agreed: usize,
    /// Events, released by the bare reading.
    pub events_by_reading: usize,
    /// Events, released by the verdict.
    pub events_by_verdict: usize,
    /// Trims after which the brine was above the top, released or not.
    pub above: usize,
    /// Trims that took brine from within the top to above it, released or not.
    pub driven: usize,
    /// Minutes until agreement, or until it was given up.
    pub minutes: f64,
}

impl Tally {
    fn add(mut self, other: Self) -> Self {
        self.plants += other.plants;
        self.trims += other.trims;
        self.squares += other.squares;
        self.agreed += other.agreed;
        self.events_by_reading += other.events_by_reading;
        self.events_by_verdict += other.events_by_verdict;
        self.above += other.above;
        self.driven += other.driven;
        self.minutes += other.minutes;
        self
    }

    /// Mean number of trims a plant, and half of the 95 % interval of that.
    pub fn mean_trims(&self) -> (f64, f64) {
        let n = self.plants as f64;
        let mean = self.trims as f64 / n;
        (mean, 1.96 * ((self.squares as f64 / n - mean * mean).max(0.0) / n).sqrt())
    }

    /// So many per 1,000 trims with the 95 % interval: Wilson's, as a share of the trims.
    pub fn per_thousand(&self, events: usize) -> (f64, f64, f64) {
        let (n, z) = (self.trims as f64, 1.96f64);
        let share = events as f64 / n;
        let centre = (share + z * z / (2.0 * n)) / (1.0 + z * z / n);
        let reach = z / (1.0 + z * z / n) * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
        (1e3 * share, 1e3 * (centre - reach).max(0.0), 1e3 * (centre + reach))
    }
}

/// All plants of some seeds, trimmed one way.
pub fn run(seeds: std::ops::Range<u64>, way: Way) -> Result<Tally, String> {
    seeds.map(|seed| one(seed, way)).try_fold(Tally::default(), |all, one| Ok(all.add(one?)))
}

fn one(seed: u64, way: Way) -> Result<Tally, String> {
    let mut plant = Plant::new(seed);
    let mut trims = Trims {
        was_above: BAND.1 < plant.look().truth,
        plant: &mut plant,
        tally: Tally { plants: 1, ..Tally::default() },
    };
    let agreed = match way {
        Way::Advice => trims.by_advice()?,
        Way::Habit { units } => trims.by_habit(units)?,
    };
    let mut tally = trims.tally;
    tally.agreed = usize::from(agreed);
    tally.squares = tally.trims * tally.trims;
    tally.minutes = plant.minutes;
    Ok(tally)
}

struct Trims<'a> {
    plant: &'a mut Plant,
    /// Whether the brine was above the top when last looked at.
    was_above: bool,
    tally: Tally,
}

impl Trims<'_> {
    fn pair(&self, look: &Look) -> Pair {
        Pair {
            set_at: None,
            minutes: self.plant.minutes,
            trim: self.plant.number,
            panel: look.panel,
            bench: look.bench,
            panel_uncertainty: self.plant.panel_uncertainty,
            bench_uncertainty: self.plant.bench_uncertainty,
        }
    }

    fn by_advice(&mut self) -> Result<bool, String> {
        let rules =
            Rules { resolution: 1.0, lag_minutes: self.plant.lag_minutes, ..Rules::neutral(TARGET, BAND.1) };
        let mut pairs = Vec::new();
        for _ in 0..MOST_LOOKS {
            let look = self.plant.look();
            pairs.push(self.pair(&look));
            match advise(&pairs, &rules).map_err(|error| format!("seed: {error}"))? {
                Advice::Agreed { .. } => return Ok(true),
                Advice::Wait { minutes } => self.plant.run(minutes),
                // Nothing to set: another sample may say more.
                Advice::Hold { .. } | Advice::Unsure { .. } => self.plant.run(rules.wait_minutes()),
                Advice::Step(step) | Advice::StepWhileOver { step, .. } => {
                    self.plant.set(step.next);
                    self.plant.run(step.wait_minutes);
                    self.count()?;
                }
            }
        }
        Ok(false)
    }

    fn by_habit(&mut self, units: f64) -> Result<bool, String> {
        let mut look = self.plant.look();
        let mut before: Option<f64> = None;
        // Most numbers raise the panel when raised: the first guess.
        let mut direction = (look.bench - look.panel).signum();
        for _ in 0..MOST_LOOKS {
            let pair = self.pair(&look);
            if pair.difference().abs() <= pair.agreement() {
                return Ok(true);
            }
            if before.is_some_and(|before| before < pair.difference().abs()) {
                direction = -direction;
            }
            before = Some(pair.difference().abs());
            self.plant.set(self.plant.number + direction * units);
            self.plant.run(HABIT_MINUTES);
            self.count()?;
            look = self.plant.look();
        }
        Ok(false)
    }

    /// Counts a trim, and what a sample taken after it lets through.
    fn count(&mut self) -> Result<(), String> {
        let Look { bench, truth, .. } = self.plant.look();
        let u = self.plant.bench_uncertainty;
        let percent = |p: f64| MassFraction::from_percent(p).map_err(|e| e.to_string());
        let band = SpecRange { low: percent(BAND.0)?, high: percent(BAND.1)? };
        let known =
            Known { strength: percent(bench)?, standard_uncertainty: percent(u)?, degrees_of_freedom: None };
        let verdict = band.judge_at_risk(&known, 0.05).map_err(|e| e.to_string())?;
        let is_above = BAND.1 < truth;
        self.tally.trims += 1;
        self.tally.above += usize::from(is_above);
        self.tally.driven += usize::from(is_above && !self.was_above);
        self.was_above = is_above;
        self.tally.events_by_reading += usize::from(is_above && (BAND.0..=BAND.1).contains(&bench));
        self.tally.events_by_verdict += usize::from(is_above && verdict == Conformity::InSpec);
        Ok(())
    }
}

/// The habit's step of fewest trims and that of fewest trims into over-strength, chosen on plants that are not judged.
fn tuned_habits() -> Result<[Way; 2], String> {
    let mut all = Vec::new();
    for units in 1..=10 {
        let way = Way::Habit { units: f64::from(units) };
        all.push((way, run(TUNING, way)?));
    }
    let least = |of: &dyn Fn(&Tally) -> f64| {
        let found = all.iter().min_by(|(_, a), (_, b)| of(a).total_cmp(&of(b)));
        found.map(|(way, _)| *way).ok_or("no habit")
    };
    Ok([least(&|tally| tally.mean_trims().0)?, least(&|tally| tally.per_thousand(tally.driven).0)?])
}

/// The table for VALIDATION.md, on the plants held out.
///
/// # Errors
/// When advice is refused, which it never should be here.
pub fn section() -> Result<String, String> {
    let [quick, careful] = tuned_habits()?;
    let mut text = String::from(ABOUT);
    for way in [Way::Advice, quick, careful] {
        let name = match way {
            Way::Advice => "our advice".to_string(),
            Way::Habit { units } if way == quick => format!("equal steps of {units}, tuned for few trims"),
            Way::Habit { units } => format!("equal steps of {units}, tuned not to go over"),
        };
        let tally = run(HELD_OUT, way)?;
        let (mean, reach) = tally.mean_trims();
        let rate = |events| {
            let (rate, low, high) = tally.per_thousand(events);
            format!("{rate:.2} ({low:.2}…{high:.2})")
        };
        let cells = [
            name,
            format!("{mean:.2} ± {reach:.2}"),
            format!("{:.1} %", 100.0 * tally.agreed as f64 / tally.plants as f64),
            format!("{:.0}", tally.minutes / tally.plants as f64),
            rate(tally.events_by_verdict),
            rate(tally.events_by_reading),
            rate(tally.driven),
        ];
        text.push_str(&format!("| {} |\n", cells.join(" | ")));
    }
    Ok(text)
}

const ABOUT: &str = "
## Trim advice on plants drawn by chance

5,000 plants (`laboratory/src/simulated/plants.rs`, written before the advice; these seeds held out) trimmed until
panel and bench agree. The habit is common practice, no source: equal steps of at most ten units, ten minutes
between, turned round when the difference grew; its step was chosen on 5,000 other plants. Released is brine
that the bench found in the band after a trim: by its verdict at 5 % risk, as our bench judges, or by the bare
reading, as is the habit; an event is released brine truly above the top. *Driven over*: trims that took brine
from below the top to above it, released or not. Both per 1,000 trims, with 95 % intervals. Our advice with
the verdict is to be
set beside the habit with the bare reading; the other columns say how much of that is the verdict's doing. Its
minutes are not fewer: it waits until a change has come through.

| Way | Trims | Agreed | Minutes | Events, by verdict | Events, by bare reading | Driven over |
| --- | ---: | ---: | ---: | ---: | ---: | ---: |
";

#[cfg(test)]
mod tests {
    use super::*;

    /// On a few of the plants held out: fewer trims, seldom driven over, and a tenth of the habit's events.
    #[test]
    fn advice_takes_fewer_trims_and_fewer_events() {
        let few = HELD_OUT.start..HELD_OUT.start + 1_000;
        let ours = run(few.clone(), Way::Advice).expect("advice");
        let habit = run(few, Way::Habit { units: 4.0 }).expect("habit");
        assert!(ours.mean_trims().0 + 1.0 < habit.mean_trims().0, "{ours:?} {habit:?}");
        assert!(habit.agreed <= ours.agreed);
        let (events, driven) = (ours.per_thousand(ours.events_by_verdict), ours.per_thousand(ours.driven));
        assert!(10.0 * events.0 <= habit.per_thousand(habit.events_by_reading).0, "{ours:?} {habit:?}");
        assert!(4.0 * driven.0 <= habit.per_thousand(habit.driven).0, "{ours:?} {habit:?}");
        assert!(driven.0 <= 50.0, "the yard's risk is 5 %");
    }
}
