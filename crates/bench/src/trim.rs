//! The next trim setting of a controller, so that its panel agrees with the bench.
//!
//! A plant holds its panel at the target. Where the panel shows `d` more than is true, the brine is `d` weaker than the
//! target. How far a change of the setting moves d, and which way, is not known beforehand; the saved panel
//! checks tell. The possible sensitivities are kept as a set, each with its probability and its own estimate of d now;
//! every advice is calculated from all of them. Defaults are neutral and come from no machine.

use crate::error::{Error, check};
use crate::uncertainty::chance_below;

/// Sensitivities that are possible before any panel check: change of the panel, per cent by mass, for one per cent of
/// the trim setting; uniform in the logarithm, up or down alike. A judgment, wide.
const SENSITIVITIES: (f64, f64) = (0.03, 3.0);
/// How many of each sign are followed.
const SENSITIVITIES_OF_A_SIGN: usize = 32;
/// Steps that are weighed to either side.
const STEPS: usize = 25;
/// What the panel may be off by before anything is known, per cent by mass: one standard deviation. Wide.
const OFF: f64 = 5.0;
/// How far that wanders by itself, per cent by mass for the square root of an hour. A judgment.
const WANDER: f64 = 0.05;
/// Lags to wait until a change has come through: 95 %.
const LAGS_TO_WAIT: f64 = 3.0;
/// Probability from which the sign of the sensitivity counts as known.
const SIGN_KNOWN: f64 = 0.9;
/// Combined standard uncertainties that a trial step should move the difference by, to be seen.
const TO_BE_SEEN: f64 = 3.0;
/// Combined standard uncertainties within which panel and bench agree.
const AGREEMENT: f64 = 2.0;

/// One panel check: the trim setting, the panel, and a sample at the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Time of the check, minutes on any clock.
    pub minutes: f64,
    /// Trim setting at that time.
    pub trim: f64,
    /// Time it was set to that, minutes on the same clock; none where it is not known.
    pub set_at: Option<f64>,
    /// Strength on the panel, per cent by mass.
    pub panel: f64,
    /// Strength at the bench, per cent by mass.
    pub bench: f64,
    /// Standard uncertainty of the panel's reading, per cent by mass.
    pub panel_uncertainty: f64,
    /// Standard uncertainty of the bench's, per cent by mass.
    pub bench_uncertainty: f64,
}

impl Pair {
    /// Panel less bench, per cent by mass.
    pub fn difference(&self) -> f64 {
        self.panel - self.bench
    }

    /// Standard uncertainty of the difference, per cent by mass.
    pub fn uncertainty(&self) -> f64 {
        self.panel_uncertainty.hypot(self.bench_uncertainty)
    }

    /// Half of the interval within which the two agree: two standard uncertainties of the difference, per cent by mass.
    pub fn agreement(&self) -> f64 {
        AGREEMENT * self.uncertainty()
    }
}

/// The yard's rules for trimming.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// The product's target, per cent by mass.
    pub target: f64,
    /// Highest strength in spec, per cent by mass.
    pub top: f64,
    /// Largest step, as a fraction of the trim setting.
    pub largest_step: f64,
    /// Accepted probability that a step makes brine above the spec range, 0…0.5.
    pub risk: f64,
    /// Smallest step the controller takes, in units of the trim setting.
    pub resolution: f64,
    /// Time constant of the plant, minutes: a change has come through by 63 % after it.
    pub lag_minutes: f64,
}

impl Rules {
    /// Default rules for a product, `target` and `top` in per cent by mass: steps of at most 2 % of the setting, 5 %
    /// risk, steps of 0.001, a lag of 10 minutes. Program defaults; no published source.
    pub fn neutral(target: f64, top: f64) -> Self {
        Self { target, top, largest_step: 0.02, risk: 0.05, resolution: 0.001, lag_minutes: 10.0 }
    }

    /// Minutes to wait after a step: three time constants, when 95 % has come through.
    pub fn wait_minutes(&self) -> f64 {
        LAGS_TO_WAIT * self.lag_minutes
    }

    fn checked(&self) -> Result<(), Error> {
        check("bench.quantity.target", self.target, "bench.accepted.above_zero", 0.0 < self.target)?;
        check("bench.quantity.spec_top", self.top, "bench.accepted.above_target", self.target < self.top)?;
        let step = self.largest_step;
        check("bench.quantity.largest_step", step, "bench.accepted.step", 0.0 < step && step <= 0.1)?;
        check(
            "bench.quantity.over_strength_risk",
            self.risk,
            "bench.accepted.risk",
            0.0 < self.risk && self.risk < 0.5,
        )?;
        check(
            "bench.quantity.smallest_step",
            self.resolution,
            "bench.accepted.above_zero",
            0.0 < self.resolution,
        )?;
        check("bench.quantity.lag", self.lag_minutes, "bench.accepted.from_zero", 0.0 <= self.lag_minutes)
    }
}

/// Purpose of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// A small step to find out whether a higher setting raises or lowers the panel.
    Trial,
    /// It brings panel and bench together.
    Approach,
}

/// The trim setting to set next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// New trim setting.
    pub next: f64,
    /// Panel less bench to be expected then, per cent by mass.
    pub difference: f64,
    /// Half of the 95 % interval of that.
    pub difference_interval: f64,
    /// Probability that the brine is then above the spec range.
    pub over_strength: f64,
    /// Minutes until the next panel check.
    pub wait_minutes: f64,
    /// What the step is for.
    pub purpose: Purpose,
}

/// What to do about the trim setting after the pairs logged so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Advice {
    /// Panel and bench agree: leave the setting.
    Agreed {
        /// Panel less bench, per cent by mass.
        difference: f64,
        /// Half of the interval within which they agree.
        within: f64,
    },
    /// The last change has not come through: wait, then check again.
    Wait {
        /// Minutes still to wait.
        minutes: f64,
    },
    /// Change the trim setting.
    Step(Step),
    /// The brine is more likely above the spec range than the yard allows, now and after every step: the step that
    /// helps most. Do not release brine meanwhile.
    StepWhileOver {
        /// The step, with the probability that the brine is still above after it.
        step: Step,
        /// Probability that it is above the range now.
        over_now: f64,
    },
    /// The readings are too uncertain to trim by.
    Unsure {
        /// Half of the interval of panel and bench together, per cent by mass.
        within: f64,
        /// Half-width that would be good enough, per cent by mass.
        needed: f64,
        /// Whether the bench's reading is the worse of the two.
        by_bench: bool,
    },
    /// No step within the rules helps: its probability of over-strength is too high, or it is less than the
    /// controller takes.
    Hold {
        /// Probability that the brine is above the spec range now.
        over_strength: f64,
    },
}

/// One possible sensitivity with what follows from it.
#[derive(Debug, Clone, Copy)]
struct Belief {
    chance: f64,
    /// Change of the difference, per cent by mass, for a trim setting twice as high.
    sensitivity: f64,
    /// Difference at the last setting, per cent by mass, now.
    difference: f64,
    variance: f64,
}

/// What to set next, from the pairs logged since the plant or its instruments were last changed, oldest first.
///
/// # Equation
/// Panel − bench = d + s·(setting/setting now − 1), s one of many possible sensitivities; d and its variance by Bayes
/// for each, and its probability by how well it predicted the pairs. The step is the one of least mean square of the
/// difference to come, among those whose probability of brine above the top is within the risk; while the sign of s
/// is not known, a trial that can just be seen. No step goes against what the last two settings showed: where all
/// pairs together make the other direction likely, a trial finds out.
///
/// # Range
/// One pair or more, in order of time; a trim setting above zero.
///
/// # Error
/// Measured on simulated plants drawn at random: VALIDATION.md.
///
/// # Source
/// Our own; the rule of agreement follows JCGM 100, the decision JCGM 106.
///
/// # Errors
/// [`Error::TooFew`] without a pair; [`Error::Value`] for numbers that cannot be, or a clock that runs backwards.
///
/// # Examples
/// ```
/// use bench::trim::{Advice, Pair, Rules, advise};
/// let pair = |minutes, trim, bench| Pair {
///     minutes, trim, set_at: None, panel: 23.3, bench, panel_uncertainty: 0.05, bench_uncertainty: 0.1,
/// };
/// let rules = Rules::neutral(23.3, 23.8);
/// let Advice::Step(trial) = advise(&[pair(0.0, 500.0, 22.8)], &rules)? else { panic!("a step") };
/// assert!((490.0..=510.0).contains(&trial.next));
/// assert!(matches!(advise(&[pair(0.0, 500.0, 23.2)], &rules)?, Advice::Agreed { .. }));
/// assert!(advise(&[], &rules).is_err());
/// # Ok::<(), bench::Error>(())
/// ```
pub fn advise(pairs: &[Pair], rules: &Rules) -> Result<Advice, Error> {
    rules.checked()?;
    let Some(now) = pairs.last() else {
        return Err(Error::TooFew { what: "bench.task.trim", found: 0, needed: 1 });
    };
    checked(pairs)?;
    if let Some(minutes) = still_to_wait(pairs, rules) {
        return Ok(Advice::Wait { minutes });
    }
    let room = rules.top - rules.target;
    if room < now.agreement() {
        let by_bench = now.panel_uncertainty <= now.bench_uncertainty;
        return Ok(Advice::Unsure { within: now.agreement(), needed: room, by_bench });
    }
    if now.difference().abs() <= now.agreement() {
        return Ok(Advice::Agreed { difference: now.difference(), within: now.agreement() });
    }
    let beliefs = beliefs(pairs, rules);
    let over_now = over_strength(&beliefs, 0.0, room);
    let shown = direction_shown(pairs, rules);
    let raising: f64 =
        beliefs.iter().filter(|belief| 0.0 < belief.sensitivity).map(|belief| belief.chance).sum();
    // The change that would help, were the sensitivity of its likelier sign.
    let likely = -now.difference() * (raising - 0.5);
    let is_at_odds = shown.is_some_and(|shown| shown * likely < 0.0);
    let is_known = !is_at_odds && SIGN_KNOWN <= raising.max(1.0 - raising);
    // Above the risk already, a step must not make it likelier, nor a trial much likelier.
    let is_over = rules.risk < over_now;
    let allowed = match (is_over, is_known) {
        (false, _) => rules.risk,
        (true, true) => over_now,
        (true, false) => (over_now + rules.risk).min(1.0),
    };
    let weigh = |change: f64| {
        let square = mean_square(&beliefs, change);
        // Of two trials alike to either side, the one that is likelier to help.
        if is_known { (square, 0.0) } else { (to_be_seen(&beliefs, change, now), square) }
    };
    let chosen = candidates(now.trim, rules)
        .filter(|change| shown.is_none_or(|shown| 0.0 < change * shown))
        .filter(|change| over_strength(&beliefs, *change, room) <= allowed)
        .map(|change| (change, weigh(change)))
        .min_by(|(_, a), (_, b)| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let Some((change, _)) = chosen else { return Ok(Advice::Hold { over_strength: over_now }) };
    if is_known && mean_square(&beliefs, 0.0) <= mean_square(&beliefs, change) {
        return Ok(Advice::Hold { over_strength: over_now });
    }
    let difference: f64 =
        beliefs.iter().map(|belief| belief.chance * (belief.difference + belief.sensitivity * change)).sum();
    let step = Step {
        next: now.trim * (1.0 + change),
        difference,
        difference_interval: 1.96 * (mean_square(&beliefs, change) - difference * difference).max(0.0).sqrt(),
        over_strength: over_strength(&beliefs, change, room),
        wait_minutes: rules.wait_minutes(),
        purpose: if is_known { Purpose::Approach } else { Purpose::Trial },
    };
    let is_within = step.over_strength <= rules.risk;
    Ok(if is_within { Advice::Step(step) } else { Advice::StepWhileOver { step, over_now } })
}

/// The direction that the last two settings show, as the sign of a change: from the last check at the one before to the
/// last check at this one, both after the change had come through. None where they show nothing.
///
/// All pairs weighed together may make the other direction likely, and while the sign is not known the risk alone may
/// leave only steps to the other side. A person who has just seen it get better would not follow either, and rightly.
fn direction_shown(pairs: &[Pair], rules: &Rules) -> Option<f64> {
    let mut settled = (1..=pairs.len())
        .rev()
        .filter(|end| still_to_wait(&pairs[..*end], rules).is_none())
        .map(|end| &pairs[end - 1]);
    let now = settled.next()?;
    let before = settled.find(|pair| differs(pair.trim, now.trim))?;
    let sensitivity = (now.difference() - before.difference()) / (now.trim - before.trim);
    let shown = -now.difference() * sensitivity;
    (0.0 < shown.abs()).then(|| shown.signum())
}

fn checked(pairs: &[Pair]) -> Result<(), Error> {
    for pair in pairs {
        check("bench.quantity.pair_time", pair.minutes, "bench.accepted.number", true)?;
        check("bench.quantity.trim_setting", pair.trim, "bench.accepted.above_zero", 0.0 < pair.trim)?;
        for strength in [pair.panel, pair.bench] {
            check(
                "bench.quantity.pair_strength",
                strength,
                "bench.accepted.strength",
                (0.0..=45.0).contains(&strength),
            )?;
        }
        for u in [pair.panel_uncertainty, pair.bench_uncertainty] {
            check("bench.quantity.pair_uncertainty", u, "bench.accepted.above_zero", 0.0 < u)?;
        }
    }
    for Pair { set_at, minutes, .. } in pairs {
        let at = set_at.unwrap_or(*minutes);
        check("bench.quantity.set_time", at, "bench.accepted.before_look", at <= *minutes)?;
    }
    for two in pairs.windows(2) {
        let accepted = "bench.accepted.in_order";
        check("bench.quantity.pair_time", two[1].minutes, accepted, two[0].minutes <= two[1].minutes)?;
    }
    Ok(())
}

/// Minutes still to wait since the setting was last changed; none when it has come through. Where it is
/// not known when it was set, it is taken to have been right after the last check at the old setting.
fn still_to_wait(pairs: &[Pair], rules: &Rules) -> Option<f64> {
    let now = pairs.last()?;
    let changed = pairs.iter().rev().find(|pair| differs(pair.trim, now.trim))?.minutes;
    let left = rules.wait_minutes() - (now.minutes - now.set_at.unwrap_or(changed));
    (1e-6 < left).then_some(left)
}

fn differs(one: f64, other: f64) -> bool {
    1e-9 * other.abs() < (one - other).abs()
}

/// All the sensitivities, with what follows from the pairs that were taken after the last change had come through.
fn beliefs(pairs: &[Pair], rules: &Rules) -> Vec<Belief> {
    let settled: Vec<&Pair> = (1..=pairs.len())
        .filter(|end| still_to_wait(&pairs[..*end], rules).is_none())
        .map(|end| &pairs[end - 1])
        .collect();
    let setting = settled.last().map_or(1.0, |pair| pair.trim);
    let per_step = (SENSITIVITIES.1 / SENSITIVITIES.0).powf(1.0 / (SENSITIVITIES_OF_A_SIGN - 1) as f64);
    let magnitudes =
        (0..SENSITIVITIES_OF_A_SIGN).map(|step| 100.0 * SENSITIVITIES.0 * per_step.powi(step as i32));
    let mut all: Vec<(f64, Belief)> = magnitudes
        .flat_map(|sensitivity| [sensitivity, -sensitivity])
        .map(|sensitivity| follow(&settled, setting, sensitivity))
        .collect();
    let best = all.iter().map(|(log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = all.iter().map(|(log, _)| (log - best).exp()).sum();
    for (log, belief) in &mut all {
        belief.chance = (*log - best).exp() / total;
    }
    all.into_iter().map(|(_, belief)| belief).collect()
}

/// One sensitivity followed through the pairs: what it makes of d, and the log-likelihood of the pairs by it.
fn follow(pairs: &[&Pair], setting: f64, sensitivity: f64) -> (f64, Belief) {
    let (mut difference, mut variance, mut log) = (0.0, OFF * OFF, 0.0);
    let mut before = pairs.first().map_or(0.0, |pair| pair.minutes);
    for pair in pairs {
        variance += WANDER * WANDER * (pair.minutes - before) / 60.0;
        before = pair.minutes;
        let predicted = difference + sensitivity * (pair.trim / setting - 1.0);
        let spread = variance + pair.uncertainty().powi(2);
        let miss = pair.difference() - predicted;
        log -= 0.5 * (miss * miss / spread + spread.ln());
        let gain = variance / spread;
        difference += gain * miss;
        variance *= 1.0 - gain;
    }
    (log, Belief { chance: 0.0, sensitivity, difference, variance })
}

/// Steps within the yard's largest, in whole steps of the controller, as fractions of the setting; never zero.
fn candidates(setting: f64, rules: &Rules) -> impl Iterator<Item = f64> {
    let most = (rules.largest_step * setting / rules.resolution + 1e-9).floor();
    let stride = (most / STEPS as f64).max(1.0);
    let unit = rules.resolution / setting;
    let sizes =
        (1..=STEPS).map(move |step| (step as f64 * stride).round()).filter(move |units| *units <= most);
    sizes.flat_map(move |units| [units * unit, -units * unit])
}

/// Probability that the brine is above the spec range once a change of the setting has come through.
fn over_strength(beliefs: &[Belief], change: f64, room: f64) -> f64 {
    let chance = |belief: &Belief| {
        let difference = belief.difference + belief.sensitivity * change;
        belief.chance * chance_below(None, (-room - difference) / belief.variance.sqrt())
    };
    beliefs.iter().map(chance).sum()
}

/// Mean square of the difference once a change has come through.
fn mean_square(beliefs: &[Belief], change: f64) -> f64 {
    beliefs.iter().map(|b| b.chance * ((b.difference + b.sensitivity * change).powi(2) + b.variance)).sum()
}

/// How far a trial is from one that can just be seen, were the sensitivity of middling size.
fn to_be_seen(beliefs: &[Belief], change: f64, now: &Pair) -> f64 {
    let log_sensitivity: f64 =
        beliefs.iter().map(|belief| belief.chance * belief.sensitivity.abs().ln()).sum();
    let wanted = TO_BE_SEEN * now.uncertainty() / log_sensitivity.exp();
    (change.abs() / wanted).ln().abs()
}
