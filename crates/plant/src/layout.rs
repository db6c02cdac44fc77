//! A plant as a graph: vessels that hold, lines that carry, stores of salt and feeders that drop it. Nothing here comes
//! from any one machine: what is not a named source is the yard's own, and a layout says all of it.

use chemistry::MassFraction;
use message::message;
use quantity::{
    Length, MassRate, TemperatureInterval, ThermodynamicTemperature, Time, Volume, VolumeRate, in_metres,
};

use crate::Error;

/// How many sizes of grain are followed.
pub const SIZES: usize = 3;

/// A whole plant.
#[derive(Debug, Clone)]
pub struct Layout {
    /// What it is called.
    pub name: String,
    /// What holds liquid.
    pub vessels: Vec<Vessel>,
    /// What carries it.
    pub lines: Vec<Line>,
    /// Where salt waits.
    pub stores: Vec<Store>,
    /// What drops it.
    pub feeders: Vec<Feeder>,
    /// Water as it comes.
    pub supply: Supply,
    /// Salt as it comes.
    pub salt: Grain,
    /// What is measured.
    pub sensors: Vec<Sensor>,
    /// How it is run.
    pub control: Control,
}

/// Something that holds liquid, salt and sludge.
#[derive(Debug, Clone)]
pub struct Vessel {
    /// Id.
    pub id: String,
    /// Full to the brim.
    pub volume: Volume,
    /// Heat it loses to the air, W/K: a yard's own figure.
    pub loss_watts_per_kelvin: f64,
    /// How salt dissolves in it; none where no salt is put.
    pub dissolving: Option<Dissolving>,
    /// Volume of sludge up to its suction.
    pub sludge_room: Volume,
}

/// How salt dissolves in a vessel.
#[derive(Debug, Clone, Copy)]
pub enum Dissolving {
    /// Grains lie or float in liquid that a pump keeps moving.
    Stirred {
        /// Speed of the liquid past the grains while the stirring line runs, m/s.
        speed: f64,
        /// Place of that line in the layout.
        by: usize,
        /// Share of the grains' surface that the liquid reaches.
        reached: f64,
    },
    /// Liquid rises through a bed.
    Bed {
        /// Cross-section, m².
        cross_section: f64,
        /// Share of the grains' surface that the liquid reaches.
        reached: f64,
    },
}

/// An end of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The water supply.
    Supply,
    /// A vessel, by its place.
    Vessel(usize),
    /// Out of the plant: to storage.
    Out,
}

/// Something that carries liquid.
#[derive(Debug, Clone)]
pub struct Line {
    /// Id.
    pub id: String,
    /// From.
    pub from: End,
    /// To.
    pub to: End,
    /// How it works.
    pub kind: LineKind,
}

/// How a line works.
#[derive(Debug, Clone, Copy)]
pub enum LineKind {
    /// A pump: so much at full; nothing while it is not primed.
    Pump(VolumeRate),
    /// A valve with pressure before it: so much wide open.
    Valve(VolumeRate),
    /// What stands above a level runs over by itself within about so long.
    Overflow {
        /// Level, share of the vessel's volume.
        above: f64,
        /// Time.
        within: Time,
    },
}

/// A place where salt waits.
#[derive(Debug, Clone)]
pub struct Store {
    /// Id.
    pub id: String,
}

/// What drops salt into a vessel.
#[derive(Debug, Clone)]
pub struct Feeder {
    /// Id.
    pub id: String,
    /// From which store, by its place.
    pub from: usize,
    /// Into which vessel, by its place.
    pub to: usize,
    /// Salt as delivered at full.
    pub rate: MassRate,
}

/// Water as it comes.
#[derive(Debug, Clone, Copy)]
pub struct Supply {
    /// How warm.
    pub temperature: ThermodynamicTemperature,
    /// Air around the plant.
    pub air: ThermodynamicTemperature,
}

/// Salt as it comes.
#[derive(Debug, Clone, Copy)]
pub struct Grain {
    /// Sodium chloride in the dry salt.
    pub purity: MassFraction,
    /// Water in the salt as delivered.
    pub moisture: MassFraction,
    /// Sizes with their shares by mass, adding up to one.
    pub sizes: [(Length, f64); SIZES],
    /// How warm it lies.
    pub temperature: ThermodynamicTemperature,
}

/// Something measured.
#[derive(Debug, Clone)]
pub struct Sensor {
    /// Id.
    pub id: String,
    /// What and where.
    pub of: Sensed,
    /// Time in which it follows by two thirds.
    pub lag: Time,
    /// Standard deviation of one look, in the unit shown.
    pub noise: f64,
}

/// What a sensor answers to.
#[derive(Debug, Clone, Copy)]
pub enum Sensed {
    /// Strength by conductivity with a temperature probe beside it, per cent by mass.
    Strength {
        /// Vessel, by its place.
        vessel: usize,
        /// What the probe shows too much.
        probe: TemperatureInterval,
    },
    /// Temperature of a vessel's liquid, °C.
    Temperature {
        /// Vessel, by its place.
        vessel: usize,
    },
    /// Salt that lies undissolved, kg: a gauge on a bed.
    Bed {
        /// Vessel, by its place.
        vessel: usize,
    },
    /// Level, share of the volume.
    Level {
        /// Vessel, by its place.
        vessel: usize,
    },
    /// Flow in a line, m³/s.
    Flow {
        /// Line, by its place.
        line: usize,
    },
}

/// How a plant is run: our own plain logic, for a practice plant and for what a run should look like.
#[derive(Debug, Clone)]
pub struct Control {
    /// Time between two looks of the controller.
    pub period: Time,
    /// Strength to make.
    pub target: MassFraction,
    /// Strength that may be let out: this much either side, as a fraction.
    pub band: f64,
    /// The panel: a sensor of strength, by its place.
    pub panel: usize,
    /// The way it works.
    pub way: Way,
}

/// The ways a plant works.
#[derive(Debug, Clone, Copy)]
pub enum Way {
    /// One batch after another: fill, dissolve while stirring, settle, let out.
    Batch {
        /// Vessel, water line, stirring line, outlet, feeder: by their places.
        vessel: usize,
        /// See `vessel`.
        water: usize,
        /// See `vessel`.
        stir: usize,
        /// See `vessel`.
        outlet: usize,
        /// See `vessel`.
        feeder: usize,
        /// Filled to, and emptied to, as shares of the volume.
        fill: (f64, f64),
        /// Settling after the salt stops.
        settle: Time,
    },
    /// Fed and drawn all the time: feed by the panel, water by the level.
    Fed {
        /// Vessel, water line, stirring line, outlet, feeder: by their places.
        vessel: usize,
        /// See `vessel`.
        water: usize,
        /// See `vessel`.
        stir: usize,
        /// See `vessel`.
        outlet: usize,
        /// See `vessel`.
        feeder: usize,
        /// Level held, share of the volume.
        level: f64,
    },
    /// Water rises through a bed, leaves it nearly saturated, and is thinned by the panel.
    Upflow {
        /// Vessel of the bed, its water line, the thinning water line, the outlet, the feeder: by their places.
        bed: usize,
        /// See `bed`.
        water: usize,
        /// See `bed`.
        thin: usize,
        /// See `bed`.
        outlet: usize,
        /// See `bed`.
        feeder: usize,
        /// Salt kept in the bed, kg.
        salt_kg: f64,
    },
}

impl Layout {
    /// Whether its parts point at one another as they should.
    ///
    /// # Errors
    /// [`Error::Layout`], the first problem.
    pub fn check(&self) -> Result<(), Error> {
        let vessels = self.vessels.len();
        let is_there = |end: End| match end {
            End::Vessel(place) => place < vessels,
            End::Supply | End::Out => true,
        };
        for line in &self.lines {
            let part = message!("plant.line", id = &line.id);
            if !is_there(line.from) || !is_there(line.to) || line.from == End::Out || line.to == End::Supply {
                return Err(Error::layout(part, message!("plant.ends"), message!("plant.accepted.line-ends")));
            }
            if matches!(line.kind, LineKind::Overflow { .. }) && line.from == End::Supply {
                let problem = message!("plant.overflows-from-supply");
                return Err(Error::layout(part, problem, message!("plant.accepted.vessel")));
            }
        }
        for vessel in &self.vessels {
            if let Some(Dissolving::Stirred { by, .. }) = vessel.dissolving
                && self.lines.len() <= by
            {
                let part = message!("plant.vessel", id = &vessel.id);
                return Err(Error::layout(part, message!("plant.stirrer"), message!("plant.accepted.line")));
            }
        }
        for feeder in &self.feeders {
            let dissolves = self.vessels.get(feeder.to).is_some_and(|one| one.dissolving.is_some());
            if feeder.from >= self.stores.len() || !dissolves {
                let part = message!("plant.feeder", id = &feeder.id);
                return Err(Error::layout(part, message!("plant.ends"), message!("plant.accepted.feeder-ends")));
            }
        }
        let shares: f64 = self.salt.sizes.iter().map(|(_, share)| share).sum();
        if (shares - 1.0).abs() > 1e-9 || self.salt.sizes.iter().any(|(size, _)| in_metres(*size) <= 0.0) {
            return Err(Error::layout(
                message!("plant.grain-sizes"),
                message!("plant.shares", sum = shares),
                message!("plant.accepted.shares"),
            ));
        }
        for sensor in &self.sensors {
            let is_there = match sensor.of {
                Sensed::Flow { line } => line < self.lines.len(),
                Sensed::Strength { vessel, .. }
                | Sensed::Temperature { vessel }
                | Sensed::Bed { vessel }
                | Sensed::Level { vessel } => vessel < vessels,
            };
            if !is_there {
                let part = message!("plant.sensor", id = &sensor.id);
                return Err(Error::layout(part, message!("plant.location"), message!("plant.accepted.part")));
            }
        }
        let panel = self.sensors.get(self.control.panel);
        if !panel.is_some_and(|one| matches!(one.of, Sensed::Strength { .. })) {
            return Err(Error::layout(
                message!("plant.panel"),
                message!("plant.sensor", id = self.control.panel),
                message!("plant.accepted.strength-sensor"),
            ));
        }
        let (vessel, lines, feeder) = match self.control.way {
            Way::Batch { vessel, water, stir, outlet, feeder, .. }
            | Way::Fed { vessel, water, stir, outlet, feeder, .. } => (vessel, [water, stir, outlet], feeder),
            Way::Upflow { bed, water, thin, outlet, feeder, .. } => (bed, [water, thin, outlet], feeder),
        };
        let is_whole = vessel < vessels
            && lines.iter().all(|line| *line < self.lines.len())
            && feeder < self.feeders.len();
        if is_whole {
            Ok(())
        } else {
            Err(Error::layout(
                message!("plant.making-method"),
                message!("plant.part-missing"),
                message!("plant.accepted.parts"),
            ))
        }
    }
}
