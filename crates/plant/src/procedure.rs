//! A guided run: steps in order, each with its reason, its caution, and what must be confirmed or entered first.

use message::{Arg, Message, message};
use quantity::units::{CUBIC_FOOT, CUBIC_METRE, GALLON, LITRE, Unit};
use serde::Deserialize;

use crate::Error;
use crate::layout::Way;

/// The shipped procedure for a brine run in a batch plant, as text: the salt is off before the sample that releases it.
pub const SHIPPED: &str = include_str!("../data/procedure.toml");
/// The shipped procedure for a brine run in a plant that makes brine as it flows out, as text.
pub const CONTINUOUS: &str = include_str!("../data/procedure_continuous.toml");
/// The shipped procedure for the end of a season, as text.
pub const END_OF_SEASON: &str = include_str!("../data/end_of_season.toml");
/// The shipped procedures, each in English, Spanish and French.
pub const TRANSLATED: [[&str; 3]; 3] = [
    [SHIPPED, include_str!("../data/procedure.es.toml"), include_str!("../data/procedure.fr.toml")],
    [
        CONTINUOUS,
        include_str!("../data/procedure_continuous.es.toml"),
        include_str!("../data/procedure_continuous.fr.toml"),
    ],
    [
        END_OF_SEASON,
        include_str!("../data/end_of_season.es.toml"),
        include_str!("../data/end_of_season.fr.toml"),
    ],
];

/// Returns the shipped procedures of a yard, as text: the one for how its plant works, both where that is not known,
/// and the end of the season.
pub fn shipped_for(way: Option<Way>) -> Vec<&'static str> {
    let making: &[&str] = match way {
        Some(Way::Batch { .. }) => &[SHIPPED],
        Some(_) => &[CONTINUOUS],
        None => &[SHIPPED, CONTINUOUS],
    };
    making.iter().copied().chain([END_OF_SEASON]).collect()
}

/// A procedure: the steps of a guided run.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Procedure {
    /// Title of the procedure.
    pub title: String,
    /// Its steps, in order.
    #[serde(rename = "step")]
    pub steps: Vec<Step>,
}

/// What a step asks the operator to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Do it and tick it.
    Do,
    /// Look and confirm; stop where the answer is no.
    See,
    /// Read a figure and enter it.
    Enter,
    /// Enter what was made: tank, volume, strength, salt, water.
    Book,
}

/// What a step needs before it may be answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Needs {
    /// A sample from the plant's tap, logged in this run after the last change, that the bench finds in spec; or a
    /// supervisor's reason.
    InSpec,
}

/// The page that a step refers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Page {
    /// Page where samples are tested.
    Bench,
    /// Page that compares panel and bench.
    Trim,
    /// Page where instruments are checked.
    Instruments,
    /// Page that corrects a tank.
    PutRight,
    /// Page where salt is received and buckets are counted.
    Salt,
}

/// What a meter of the plant counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Meter {
    /// Water into the plant.
    Water,
    /// Brine out of the plant.
    Making,
}

/// Units that a meter's total may be entered in.
pub const METER_UNITS: [Unit; 4] = [GALLON, LITRE.named("L", "L"), CUBIC_METRE, CUBIC_FOOT];

/// What the plant's own sensors can show about a step, where they are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Watch {
    /// Liquid circulates: the flow of the stirring line.
    Circulation,
    /// Water comes in: the flow of the supply line.
    Water,
    /// The panel rises.
    Climbing,
    /// The panel is in its spec range.
    InBand,
}

/// A step of a procedure.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// Id, used in the ledger.
    pub id: String,
    /// Part of the run it belongs to.
    pub phase: String,
    /// What to do.
    pub act: String,
    /// Reason for the step.
    pub why: String,
    /// Caution, where the step can hurt.
    pub caution: Option<String>,
    /// What the operator is asked for.
    pub kind: Kind,
    /// Longest time it takes before it must be checked again, or shortest time before it may be answered, min.
    pub minutes: Option<f64>,
    /// What to do when the answer is no.
    pub if_not: Option<String>,
    /// The figure to enter.
    pub entry: Option<Entry>,
    /// What the plant's sensors can show about it.
    pub watch: Option<Watch>,
    /// What must be true before it may be answered.
    pub needs: Option<Needs>,
    /// The page that it refers to.
    pub page: Option<Page>,
}

/// A figure to enter.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Name of the figure.
    pub name: String,
    /// Unit it is entered in.
    pub unit: String,
    /// Lowest accepted figure.
    pub low: f64,
    /// Highest accepted figure.
    pub high: f64,
    /// The meter of the plant whose total it is; its unit is then one of [`METER_UNITS`].
    pub meter: Option<Meter>,
}

impl Entry {
    /// Whether there is anything between its limits.
    fn has_room(&self) -> bool {
        self.low < self.high && (self.high - self.low).is_finite()
    }

    /// Returns the figure as a meter total, m³; none where it is not a meter's.
    pub fn total_m3(&self, figure: f64) -> Option<(Meter, f64)> {
        let unit = METER_UNITS.iter().find(|unit| unit.ending == self.unit)?;
        Some((self.meter?, unit.to_base(figure)))
    }
}

impl Procedure {
    /// Checks that the steps fit together: unique ids, figures with limits, and what to do where the answer is no.
    ///
    /// # Errors
    /// [`Error::Layout`], the first problem.
    pub fn check(&self) -> Result<(), Error> {
        let refuse = |step: &Step, problem: Message, accepted: Arg| {
            Error::layout(message!("plant.step", id = &step.id), problem, accepted)
        };
        let texts = |step: &Step, problem: &str, accepted: &str| {
            refuse(step, Message::from(problem), Message::from(accepted).into())
        };
        if self.steps.is_empty() {
            return Err(Error::layout(
                message!("plant.procedure"),
                message!("plant.no-step"),
                message!("plant.accepted.steps"),
            ));
        }
        for (place, step) in self.steps.iter().enumerate() {
            let is_plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
            if step.id.is_empty() || !step.id.chars().all(is_plain) {
                return Err(texts(step, "plant.not-an-id", "plant.accepted.id"));
            }
            if self.steps[..place].iter().any(|other| other.id == step.id) {
                return Err(texts(step, "plant.step-twice", "plant.accepted.step-once"));
            }
            match (step.kind, &step.entry) {
                (Kind::Enter, None) => {
                    return Err(texts(step, "plant.step-without-entry", "plant.accepted.entry"));
                }
                (Kind::Do | Kind::See | Kind::Book, Some(_)) => {
                    return Err(texts(step, "plant.step-with-entry", "plant.accepted.kind-enter"));
                }
                (Kind::Enter, Some(entry)) if !entry.has_room() => {
                    return Err(texts(step, "plant.limits-reversed", "plant.accepted.limits"));
                }
                _ => {}
            }
            let metered = step.entry.as_ref().filter(|entry| entry.meter.is_some());
            if metered.is_some_and(|entry| entry.total_m3(0.0).is_none()) {
                let accepted = METER_UNITS.map(|unit| unit.ending).join(", ");
                return Err(refuse(step, message!("plant.meter-unit"), accepted.into()));
            }
            if step.kind == Kind::Book && place + 1 < self.steps.len() {
                return Err(texts(step, "plant.book-not-last", "plant.accepted.book-last"));
            }
            if step.kind == Kind::See && step.if_not.is_none() {
                return Err(refuse(step, message!("plant.no-if-not"), "if_not".into()));
            }
            if step.minutes.is_some_and(|minutes| !(0.0..=600.0).contains(&minutes)) {
                return Err(texts(step, "plant.step-minutes", "plant.accepted.minutes"));
            }
        }
        Ok(())
    }

    /// Returns a step and its index, by id.
    pub fn step(&self, id: &str) -> Option<(usize, &Step)> {
        self.steps.iter().enumerate().find(|(_, step)| step.id == id)
    }
}
