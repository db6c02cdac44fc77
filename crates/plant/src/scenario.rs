//! A scenario file: which plant, its state at the start, what is done to it, and what breaks when.

use std::sync::Arc;

use chemistry::MassFraction;
use message::{Arg, Message, message};
use quantity::{celsius, in_cubic_metres};
use serde::Deserialize;

use crate::Error;
use crate::fault::{Fault, Onset};
use crate::layout::{Layout, Sensed};
use crate::layouts;
use crate::model::{Plant, Snapshot, Start};
use crate::properties::Properties;

/// A scenario, as its file has it. Everything but the layout has a default.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// Name of a shipped layout: batch, fed or upflow.
    pub layout: String,
    /// Title of the scenario.
    #[serde(default)]
    pub title: String,
    /// Length of the run, h.
    #[serde(default = "six")]
    pub hours: f64,
    /// Time between two rows, s.
    #[serde(default = "ten")]
    pub every_s: f64,
    /// Seed of the sensors' noise.
    #[serde(default = "one")]
    pub seed: u64,
    /// Water as it comes, °C.
    pub water_c: Option<f64>,
    /// Air around the plant, °C.
    pub air_c: Option<f64>,
    /// Salt in the store, kg as delivered.
    #[serde(default = "plenty")]
    pub salt_kg: f64,
    /// Salt that lies in the first vessel at the start, kg as delivered.
    #[serde(default)]
    pub bed_kg: f64,
    /// Sodium chloride in the dry salt, per cent.
    pub purity_pct: Option<f64>,
    /// Water in the salt as delivered, per cent.
    pub moisture_pct: Option<f64>,
    /// Strength to make, per cent by mass.
    pub target_pct: Option<f64>,
    /// Faults, each with its time.
    #[serde(default, rename = "fault")]
    pub faults: Vec<Broken>,
    /// Salt dumped by a loader.
    #[serde(default, rename = "dump")]
    pub dumps: Vec<Dump>,
}

fn six() -> f64 {
    6.0
}
fn ten() -> f64 {
    10.0
}
fn one() -> u64 {
    1
}
fn plenty() -> f64 {
    10_000.0
}

/// A fault of a scenario, its place by id.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Broken {
    /// Time it begins, min after the start.
    pub at_min: f64,
    /// Which: the names of [`KINDS`].
    pub kind: String,
    /// Id of the line, feeder, store, vessel or sensor; the first where it is left out.
    pub at: Option<String>,
    /// Size of the fault: a share, factor, K, m³/s or %, depending on the kind.
    pub much: Option<f64>,
}

/// Salt dumped into a vessel by a loader.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dump {
    /// Time of the dump, min after the start.
    pub at_min: f64,
    /// Id of the vessel; the first where it is left out.
    pub vessel: Option<String>,
    /// Salt, kg as delivered.
    pub kg: f64,
}

/// Every kind of fault by its name in the file, with the id of the text that says what `much` is (empty:
/// it has none) and the default of `much`.
pub const KINDS: [(&str, &str, f64); 16] = [
    ("unprimed", "", 0.0),
    ("bridging", "", 0.0),
    ("too_open", "plant.much.feed-factor", 1.4),
    ("too_closed", "plant.much.feed-share", 0.5),
    ("salt_out", "", 0.0),
    ("sludge_full", "", 0.0),
    ("channelled", "plant.much.reached-share", 0.3),
    ("cold_supply", "plant.much.colder", 5.0),
    ("weak_supply", "plant.much.supply-share", 0.4),
    ("stuck", "plant.much.open-share", 0.0),
    ("leaking_fill", "plant.much.water-rate", 2e-4),
    ("fouled_cell", "plant.much.response-share", 0.95),
    ("uncovered_cell", "", 0.0),
    ("drifted_trim", "plant.much.panel-factor", 1.03),
    ("not_zeroed", "plant.much.panel-offset", 0.5),
    ("meter_drift", "plant.much.count-factor", 0.93),
];

/// A value within its limits, both included. `part` is a key of the file, or the message that names it.
fn within(part: impl Into<Arg>, value: f64, low: f64, high: f64) -> Result<f64, Error> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(Error::layout(part, value, message!("plant.accepted.range", low = low, high = high)))
    }
}

/// Names to choose from.
fn names(names: &[&str]) -> Arg {
    names.join(", ").into()
}

/// Returns the index of an id in a list; the first where none is given.
fn place<'a>(
    part: &Message,
    id: Option<&String>,
    ids: impl Iterator<Item = &'a str>,
) -> Result<usize, Error> {
    let ids: Vec<&str> = ids.collect();
    match id {
        None if ids.is_empty() => Err(Error::layout(
            part.clone(),
            message!("plant.none-in-layout"),
            message!("plant.accepted.layout-with-one"),
        )),
        None => Ok(0),
        Some(id) => ids.iter().position(|known| known == id).ok_or_else(|| {
            Error::layout(part.clone(), message!("plant.not-in-layout", id = id), names(&ids))
        }),
    }
}

impl Broken {
    /// The fault in a layout.
    ///
    /// # Errors
    /// [`Error::Layout`] naming `part` and what is wrong with it.
    pub fn fault(&self, layout: &Layout, part: &Message) -> Result<Fault, Error> {
        let Some((_, _, usual)) = KINDS.iter().find(|(name, ..)| *name == self.kind) else {
            let problem = message!("plant.unknown-kind", kind = &self.kind);
            return Err(Error::layout(part.clone(), problem, names(&KINDS.map(|(name, ..)| name))));
        };
        let much = self.much.unwrap_or(*usual);
        let id = self.at.as_ref();
        let line = || place(part, id, layout.lines.iter().map(|one| one.id.as_str()));
        let feeder = || place(part, id, layout.feeders.iter().map(|one| one.id.as_str()));
        let store = || place(part, id, layout.stores.iter().map(|one| one.id.as_str()));
        let vessel = || place(part, id, layout.vessels.iter().map(|one| one.id.as_str()));
        let sensor = |is_it: &dyn Fn(&Sensed) -> bool| {
            let found = match id {
                Some(_) => place(part, id, layout.sensors.iter().map(|one| one.id.as_str())).map(Some)?,
                None => layout.sensors.iter().position(|one| is_it(&one.of)),
            };
            found.ok_or_else(|| {
                let accepted = message!("plant.accepted.layout-with-one");
                Error::layout(part.clone(), message!("plant.no-such-sensor"), accepted)
            })
        };
        let much_within = |low, high| within(field_of(part, "much"), much, low, high);
        let share = || much_within(0.0, 1.0);
        let cell = |of: &Sensed| matches!(of, Sensed::Strength { .. });
        let meter = |of: &Sensed| matches!(of, Sensed::Flow { .. });
        Ok(match self.kind.as_str() {
            "unprimed" => Fault::Unprimed { line: line()? },
            "bridging" => Fault::Bridging { feeder: feeder()? },
            "too_open" => Fault::TooOpen { feeder: feeder()?, factor: much_within(1.0, 10.0)? },
            "too_closed" => Fault::TooClosed { feeder: feeder()?, share: share()? },
            "salt_out" => Fault::SaltOut { store: store()? },
            "sludge_full" => Fault::SludgeFull { vessel: vessel()? },
            "channelled" => Fault::Channelled { vessel: vessel()?, share: share()? },
            "cold_supply" => Fault::ColdSupply { colder: much_within(0.0, 30.0)? },
            "weak_supply" => Fault::WeakSupply { share: share()? },
            "stuck" => Fault::Stuck { line: line()?, at: share()? },
            "leaking_fill" => Fault::LeakingFill { vessel: vessel()?, flow: much_within(0.0, 0.1)? },
            "fouled_cell" => Fault::FouledCell { sensor: sensor(&cell)?, share: share()? },
            "uncovered_cell" => Fault::UncoveredCell { sensor: sensor(&cell)? },
            "drifted_trim" => Fault::DriftedTrim { factor: much_within(0.5, 2.0)? },
            "not_zeroed" => Fault::NotZeroed { percent: much_within(-10.0, 10.0)? },
            _ => Fault::MeterDrift { sensor: sensor(&meter)?, factor: much_within(0.1, 10.0)? },
        })
    }
}

/// The message that names a key of a part.
fn field_of(part: &Message, field: &str) -> Message {
    message!("plant.field-of", part = part.clone(), field = field)
}

/// Result of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Brine released, m³ at 60 °F.
    pub made_m3: f64,
    /// Mean strength of it as a mass fraction; none where no brine was released.
    pub made_strength: Option<f64>,
    /// Salt used, kg as delivered.
    pub salt_used_kg: f64,
    /// Liquid that ran over a brim, kg.
    pub spilt_kg: f64,
    /// Longest that a pump ran dry, s.
    pub dry_seconds: f64,
    /// Time from the start until the panel was first in its spec range, s.
    pub first_in_band: Option<f64>,
}

impl Scenario {
    /// Returns the plant of a scenario at its start, with all its faults to come.
    ///
    /// # Errors
    /// [`Error::Layout`] naming what is wrong.
    pub fn plant(&self, properties: &Arc<Properties>) -> Result<Plant, Error> {
        let layout = self.shipped()?;
        self.plant_of(layout, properties)
    }

    fn shipped(&self) -> Result<Layout, Error> {
        let names = layouts::all().map(|layout| layout.name);
        layouts::all().into_iter().find(|layout| layout.name == self.layout).ok_or_else(|| {
            let problem = message!("plant.unknown-layout", name = &self.layout);
            Error::layout("layout", problem, names.join(", "))
        })
    }

    /// Same as [`Self::plant`], with another layout than the named one.
    ///
    /// # Errors
    /// As [`Self::plant`].
    pub fn plant_of(&self, mut layout: Layout, properties: &Arc<Properties>) -> Result<Plant, Error> {
        within("hours", self.hours, 0.01, 48.0)?;
        within("every_s", self.every_s, 0.1, 3600.0)?;
        if let Some(water) = self.water_c {
            layout.supply.temperature = celsius(within("water_c", water, 0.5, 38.0)?);
        }
        if let Some(air) = self.air_c {
            layout.supply.air = celsius(within("air_c", air, -20.0, 38.0)?);
            layout.salt.temperature = layout.supply.air;
        }
        let percent = |part: &str, value: f64, low: f64, high: f64| -> Result<MassFraction, Error> {
            Ok(MassFraction::from_percent(within(part, value, low, high)?)?)
        };
        if let Some(purity) = self.purity_pct {
            layout.salt.purity = percent("purity_pct", purity, 50.0, 100.0)?;
        }
        if let Some(moisture) = self.moisture_pct {
            layout.salt.moisture = percent("moisture_pct", moisture, 0.0, 15.0)?;
        }
        if let Some(target) = self.target_pct {
            layout.control.target = percent("target_pct", target, 5.0, 26.0)?;
        }
        let mut start = Start::empty(&layout, within("salt_kg", self.salt_kg, 0.0, 1e6)?);
        start.in_vessels_kg[0] = within("bed_kg", self.bed_kg, 0.0, 1e5)?;
        start.seed = self.seed;
        let onsets = self
            .faults
            .iter()
            .enumerate()
            .map(|(number, broken)| {
                let part = message!("plant.fault", number = number + 1);
                let seconds = 60.0 * within(field_of(&part, "at_min"), broken.at_min, 0.0, 2880.0)?;
                Ok(Onset { seconds, fault: broken.fault(&layout, &part)? })
            })
            .collect::<Result<Vec<_>, Error>>()?;
        let mut plant = Plant::new(layout, Arc::clone(properties), &start)?;
        for onset in onsets {
            plant.begin(onset);
        }
        Ok(plant)
    }

    /// Runs the scenario from start to end; `show` gets a snapshot every `every_s` seconds.
    ///
    /// # Errors
    /// As [`Self::plant`]; [`Error::Stuck`].
    pub fn play(
        &self,
        properties: &Arc<Properties>,
        show: &mut dyn FnMut(&Layout, &Snapshot),
    ) -> Result<Outcome, Error> {
        self.play_on(None, properties, show)
    }

    /// Same as [`Self::play`], on another layout than the named one.
    ///
    /// # Errors
    /// As [`Self::play`].
    pub fn play_on(
        &self,
        layout: Option<Layout>,
        properties: &Arc<Properties>,
        show: &mut dyn FnMut(&Layout, &Snapshot),
    ) -> Result<Outcome, Error> {
        let mut plant = match layout {
            Some(layout) => self.plant_of(layout, properties)?,
            None => self.plant(properties)?,
        };
        let layout = plant.layout().clone();
        let mut dumps = Vec::new();
        for (number, dump) in self.dumps.iter().enumerate() {
            let part = message!("plant.dump", number = number + 1);
            let vessel =
                place(&part, dump.vessel.as_ref(), layout.vessels.iter().map(|one| one.id.as_str()))?;
            dumps.push((
                60.0 * within(field_of(&part, "at_min"), dump.at_min, 0.0, 2880.0)?,
                vessel,
                dump.kg,
            ));
        }
        dumps.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (target, band) = (layout.control.target.percent(), 100.0 * layout.control.band);
        let mut first_in_band = None;
        let store = plant.store_kg(0);
        let mut next = 0.0;
        let mut showing = |snapshot: &Snapshot| {
            if first_in_band.is_none() && (snapshot.shown[layout.control.panel] - target).abs() <= band {
                first_in_band = Some(snapshot.seconds);
            }
            // A dump cuts the run in two; snapshots keep their interval.
            if next <= snapshot.seconds + 1e-6 {
                show(&layout, snapshot);
                next = snapshot.seconds + self.every_s;
            }
        };
        let end = 3600.0 * self.hours;
        let mut dumped = 0.0;
        for (at, vessel, kg) in dumps.into_iter().filter(|(at, ..)| *at < end) {
            plant.advance_showing(at - plant.seconds(), self.every_s, &mut showing)?;
            plant.dump(vessel, kg)?;
            dumped += kg;
        }
        plant.advance_showing(end - plant.seconds(), self.every_s, &mut showing)?;
        let (made, spilt) = (plant.made(), plant.spilt());
        let mass = made.water + made.salt;
        let strength = (mass > 1e-9).then(|| made.salt / mass);
        let reference = chemistry::recipe::reference_temperature();
        let volume = match strength.map(MassFraction::from_fraction).transpose()? {
            None => 0.0,
            Some(w) => {
                let density = chemistry::Brine::sodium_chloride(w)?.density(reference)?;
                in_cubic_metres(quantity::kilograms(mass) / density)
            }
        };
        Ok(Outcome {
            made_m3: volume,
            made_strength: strength,
            salt_used_kg: store - plant.store_kg(0) + dumped,
            spilt_kg: spilt.water + spilt.salt + spilt.insolubles,
            dry_seconds: (0..layout.lines.len()).map(|line| plant.dry_seconds(line)).fold(0.0, f64::max),
            first_in_band,
        })
    }
}
