//! What is said of a run that goes on, and of one on the practice plant.

use chemistry::MassFraction;
use plant::fault::Fault;
use plant::judge::{Cause, Check};
use plant::layout::{Layout, LineKind};
use plant::practice::{Act, Danger, Found, Mend, What};
use quantity::{Time, celsius, in_seconds, kilograms};

use crate::Display;
use crate::display::number;
use crate::words::Words;

/// Start-up by the yard file and by simulation are told apart from this much on, s.
const STARTUP_APART: f64 = 900.0;

/// A reader of a plant's run.
#[derive(Debug, Clone, Copy)]
pub struct RunTeller<'a> {
    /// Texts of the reader's language.
    pub words: &'a Words,
    /// Formats numbers in the reader's units.
    pub display: &'a Display,
    /// The plant whose parts are named.
    pub layout: &'a Layout,
}

impl RunTeller<'_> {
    fn line(&self, place: usize) -> &str {
        self.layout.lines.get(place).map_or("", |one| one.id.as_str())
    }

    fn feeder(&self, place: usize) -> &str {
        self.layout.feeders.get(place).map_or("", |one| one.id.as_str())
    }

    fn vessel(&self, place: usize) -> &str {
        self.layout.vessels.get(place).map_or("", |one| one.id.as_str())
    }

    fn sensor(&self, place: usize) -> &str {
        self.layout.sensors.get(place).map_or("", |one| one.id.as_str())
    }

    fn part(&self, key: &str, part: &str) -> String {
        self.words.fill(key, &[("part", part)])
    }

    /// What is to be said where a plant takes longer to its first brine in range, s, than the storm plan allows for it;
    /// nothing where the two lie within a quarter of an hour.
    pub fn startup_note(&self, start_up: Time, reached: f64) -> Option<String> {
        let start_up_text = self.display.time_span(start_up);
        (reached > in_seconds(start_up) + STARTUP_APART)
            .then(|| self.words.fill("plant.before-plan", &[("start_up", &start_up_text)]))
    }

    /// A cause, in a sentence.
    pub fn cause(&self, cause: &Cause) -> String {
        match cause {
            Cause::Otherwise => self.words.say("cause.otherwise").to_string(),
            Cause::Unprimed(line) => self.part("cause.unprimed", self.line(*line)),
            Cause::NothingFalls(feeder) => self.part("cause.nothing-falls", self.feeder(*feeder)),
            Cause::TooOpen(feeder) => self.part("cause.too-open", self.feeder(*feeder)),
            Cause::TooClosed(feeder) => self.part("cause.too-closed", self.feeder(*feeder)),
            Cause::SludgeFull(vessel) => self.part("cause.sludge-full", self.vessel(*vessel)),
            Cause::Channelled(vessel) => self.part("cause.channelled", self.vessel(*vessel)),
            Cause::ColdSupply => self.words.say("cause.cold-supply").to_string(),
            Cause::WeakSupply => self.words.say("cause.weak-supply").to_string(),
            Cause::Stuck(line) => self.part("cause.stuck", self.line(*line)),
            Cause::LeakingFill(vessel) => self.part("cause.leaking-fill", self.vessel(*vessel)),
            Cause::Cell(sensor) => self.part("cause.cell", self.sensor(*sensor)),
            Cause::DriftedTrim => self.words.say("cause.drifted-trim").to_string(),
            Cause::MeterDrift(sensor) => self.part("cause.meter-drift", self.sensor(*sensor)),
        }
    }

    /// A fault, in a sentence.
    pub fn fault(&self, fault: &Fault) -> String {
        match Cause::of(fault) {
            Some(cause) => self.cause(&cause),
            None => self.words.say("cause.not-zeroed").to_string(),
        }
    }

    /// A look that tells causes apart.
    pub fn check(&self, check: Check) -> String {
        let key = match check {
            Check::Circulation => "check.circulation",
            Check::Hopper => "check.hopper",
            Check::CatchFeed => "check.catch-feed",
            Check::DipBed => "check.dip-bed",
            Check::Sample => "check.sample",
            Check::MeterAgainstRise => "check.meter-against-rise",
            Check::SupplyTemperature => "check.supply-temperature",
            Check::Valve => "check.valve",
            Check::Cell => "check.cell",
            Check::Sludge => "check.sludge",
        };
        self.words.say(key).to_string()
    }

    fn share(&self, share: f64) -> String {
        self.display.percent(100.0 * share, 0)
    }

    /// Something done by hand.
    pub fn act(&self, act: &Act) -> String {
        let set = |part: &str, share: f64| {
            let key = if share <= 0.0 { "act.off" } else { "act.set" };
            self.words.fill(key, &[("part", part), ("share", &self.share(share))])
        };
        match *act {
            Act::Line { line, share }
                if 0.0 < share
                    && matches!(self.layout.lines.get(line).map(|one| one.kind), Some(LineKind::Pump(_))) =>
            {
                self.part("act.started", self.line(line))
            }
            Act::Line { line, share } => set(self.line(line), share),
            Act::Feed { feeder, share } => set(self.feeder(feeder), share),
            Act::LockOut { feeder, locked: true } => self.part("act.lock-out", self.feeder(feeder)),
            Act::LockOut { feeder, locked: false } => self.part("act.give-free", self.feeder(feeder)),
            Act::Trim { number: to } => self.words.fill("act.trim", &[("number", &number(to, 0))]),
            Act::ReturnToAuto => self.words.say("act.hand-back").to_string(),
            Act::Mend(mend) => self.mend(mend),
        }
    }

    /// Something put right by hand.
    pub fn mend(&self, mend: Mend) -> String {
        match mend {
            Mend::Prime(line) => self.part("act.prime", self.line(line)),
            Mend::Rod(feeder) => self.part("act.rod", self.feeder(feeder)),
            Mend::Gate(feeder) => self.part("act.gate", self.feeder(feeder)),
            Mend::Refill(_) => self.words.say("act.refill").to_string(),
            Mend::Sludge(vessel) => self.part("act.clean-out", self.vessel(vessel)),
            Mend::Rake(vessel) => self.part("act.rake", self.vessel(vessel)),
            Mend::Strainer(line) => self.part("act.strainer", self.line(line)),
            Mend::Valve(line) => self.part("act.valve", self.line(line)),
            Mend::Seat(vessel) => self.part("act.seat", self.vessel(vessel)),
            Mend::Cell(sensor) => self.part("act.cell", self.sensor(sensor)),
            Mend::Zero => self.words.say("act.zero").to_string(),
            Mend::Meter(sensor) => self.part("act.meter", self.sensor(sensor)),
        }
    }

    /// Why an act was refused.
    pub fn danger(&self, act: &Act, danger: Danger) -> String {
        let key = match danger {
            Danger::FeederNotLockedOut => "danger.not-locked-out",
            Danger::PumpRuns => "danger.pump-runs",
            Danger::LockedOut => "danger.locked-out",
        };
        self.words.fill(key, &[("act", &self.act(act))])
    }

    /// What a look finds.
    pub fn found(&self, found: &Found) -> String {
        let (words, display) = (self.words, self.display);
        let say = |key: &str| words.say(key).to_string();
        match *found {
            Found::Circulation { runs: false, .. } => say("found.pump-off"),
            Found::Circulation { share, .. } if share < 0.05 => say("found.no-circulation"),
            Found::Circulation { .. } => say("found.circulation"),
            Found::Hopper { kg, falls } => {
                let falls = match falls {
                    None => "found.feeder-off",
                    Some(true) => "found.falls",
                    Some(false) => "found.hangs",
                };
                let salt = display.mass(kilograms(kg));
                words.fill("found.hopper", &[("salt", &salt), ("falls", words.say(falls))])
            }
            Found::Caught { kg_per_minute, set } => words.fill(
                "found.caught",
                &[
                    ("caught", &display.mass(kilograms(kg_per_minute))),
                    ("set", &display.mass(kilograms(set))),
                ],
            ),
            Found::Bed { kg, reached } => {
                let key = if reached < 0.9 { "found.channel" } else { "found.bed" };
                words.fill(key, &[("salt", &display.mass(kilograms(kg)))])
            }
            Found::Sample { strength, degrees } => {
                let strength = MassFraction::from_fraction(strength.clamp(0.0, 1.0));
                let strength = strength.map_or_else(|_| String::new(), |w| display.strength(w));
                let degrees = display.temperature(celsius(degrees));
                words.fill("found.sample", &[("strength", &strength), ("degrees", &degrees)])
            }
            Found::Water { metered, rises, usual } => words.fill(
                "found.water",
                &[
                    ("metered", &display.pipe_flow(metered)),
                    ("rises", &display.pipe_flow(rises)),
                    ("usual", &display.pipe_flow(usual)),
                ],
            ),
            Found::Supply { degrees, usual } => words.fill(
                "found.supply",
                &[
                    ("degrees", &display.temperature(celsius(degrees))),
                    ("usual", &display.temperature(celsius(usual))),
                ],
            ),
            Found::Valve { stuck: None } => say("found.valves-move"),
            Found::Valve { stuck: Some(line) } => self.part("found.valve-stuck", self.line(line)),
            Found::Cell { covered: false, .. } => say("found.cell-bare"),
            Found::Cell { clean: false, .. } => say("found.cell-fouled"),
            Found::Cell { .. } => say("found.cell-clean"),
            Found::Sludge { kg, at_suction } => {
                let key = if at_suction { "found.sludge-high" } else { "found.sludge" };
                words.fill(key, &[("salt", &display.mass(kilograms(kg)))])
            }
        }
    }

    /// An entry of a session's log, in a line.
    pub fn what(&self, what: &What) -> String {
        let words = self.words;
        match what {
            What::Did(act) => self.act(act),
            What::Dangerous(act, danger) => {
                words.fill("log.dangerous", &[("danger", &self.danger(act, *danger))])
            }
            What::Looked(check) => words.fill("log.looked", &[("check", &self.check(*check))]),
            What::Began { fault, .. } => words.fill("log.began", &[("fault", &self.fault(fault))]),
            What::Ruined { line } => self.part("log.ruined", self.line(*line)),
            What::InBand => words.say("log.in-band").to_string(),
            What::WentBack => words.say("log.went-back").to_string(),
        }
    }
}
