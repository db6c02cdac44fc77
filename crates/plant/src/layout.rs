//! A plant as a graph: vessels that hold liquid, lines that carry it, stores of salt and feeders that drop it. Nothing
//! here is taken from a particular machine: every figure is the yard's own or has a named source.

use chemistry::MassFraction;
use message::message;
use quantity::{
    Length, MassRate, TemperatureInterval, ThermodynamicTemperature, Time, Volume, VolumeRate, in_metres,
};

use crate::Error;

/// Number of grain sizes that are followed.
pub const SIZES: usize = 3;

/// A whole plant as a graph.
#[derive(Debug, Clone)]
pub struct Layout {
    /// Name of the layout.
    pub name: String,
    /// Vessels that hold liquid.
    pub vessels: Vec<Vessel>,
    /// Lines that carry liquid.
    pub lines: Vec<Line>,
    /// Stores of salt.
    pub stores: Vec<Store>,
    /// Feeders that drop salt.
    pub feeders: Vec<Feeder>,
    /// Supply water and the air around the plant.
    pub supply: Supply,
    /// Salt as delivered.
    pub salt: Grain,
    /// Sensors of the plant.
    pub sensors: Vec<Sensor>,
    /// How the plant is controlled.
    pub control: Control,
}

/// Something that holds liquid, salt and sludge.
#[derive(Debug, Clone)]
pub struct Vessel {
    /// Id in the yard file.
    pub id: String,
    /// Volume when full to the brim.
    pub volume: Volume,
    /// Heat it loses to the air, W/K: the yard's own figure.
    pub loss_watts_per_kelvin: f64,
    /// How salt dissolves in it; none where no salt goes in.
    pub dissolving: Option<Dissolving>,
    /// Volume of sludge below its suction.
    pub sludge_room: Volume,
}

/// How salt dissolves in a vessel.
#[derive(Debug, Clone, Copy)]
pub enum Dissolving {
    /// Grains lie or float in liquid that a pump keeps moving.
    Stirred {
        /// Speed of the liquid past the grains while the stirring line runs, m/s.
        speed: f64,
        /// Index of the stirring line in the layout.
        by: usize,
        /// Share of the grains' surface that the liquid reaches, 0…1.
        reached: f64,
    },
    /// Liquid rises through a bed.
    Bed {
        /// Cross-section of the bed, m².
        cross_section: f64,
        /// Share of the grains' surface that the liquid reaches, 0…1.
        reached: f64,
    },
}

/// An end of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The water supply.
    Supply,
    /// A vessel, by its index in the layout.
    Vessel(usize),
    /// Out of the plant: to storage.
    Out,
}

/// A line that carries liquid.
#[derive(Debug, Clone)]
pub struct Line {
    /// Id in the yard file.
    pub id: String,
    /// End the liquid comes from.
    pub from: End,
    /// End the liquid goes to.
    pub to: End,
    /// How the line works.
    pub kind: LineKind,
}

/// How a line works.
#[derive(Debug, Clone, Copy)]
pub enum LineKind {
    /// A pump with its full flow; no flow while it is not primed.
    Pump(VolumeRate),
    /// A valve under pressure with its flow when wide open.
    Valve(VolumeRate),
    /// An overflow: liquid above a level runs over by itself.
    Overflow {
        /// Level of the brim, as a share of the vessel's volume.
        above: f64,
        /// Time in which about two thirds of the excess runs over.
        within: Time,
    },
}

/// A store of salt.
#[derive(Debug, Clone)]
pub struct Store {
    /// Id in the yard file.
    pub id: String,
}

/// A feeder that drops salt into a vessel.
#[derive(Debug, Clone)]
pub struct Feeder {
    /// Id in the yard file.
    pub id: String,
    /// Index of the store it takes salt from.
    pub from: usize,
    /// Index of the vessel it drops salt into.
    pub to: usize,
    /// Salt as delivered that it drops at full speed.
    pub rate: MassRate,
}

/// The supply water, and the air around the plant.
#[derive(Debug, Clone, Copy)]
pub struct Supply {
    /// Temperature of the supply water.
    pub temperature: ThermodynamicTemperature,
    /// Temperature of the air around the plant.
    pub air: ThermodynamicTemperature,
}

/// Salt as delivered.
#[derive(Debug, Clone, Copy)]
pub struct Grain {
    /// Sodium chloride in the dry salt.
    pub purity: MassFraction,
    /// Water in the salt as delivered.
    pub moisture: MassFraction,
    /// Grain diameters with their shares by mass, which add up to one.
    pub sizes: [(Length, f64); SIZES],
    /// Temperature of the stored salt.
    pub temperature: ThermodynamicTemperature,
}

/// A sensor of the plant.
#[derive(Debug, Clone)]
pub struct Sensor {
    /// Id in the yard file.
    pub id: String,
    /// What it measures, and where.
    pub of: Sensed,
    /// Lag: the time in which it follows a step by two thirds.
    pub lag: Time,
    /// Standard deviation of one reading, in the unit shown.
    pub noise: f64,
}

/// What a sensor responds to.
#[derive(Debug, Clone, Copy)]
pub enum Sensed {
    /// Strength by conductivity with a temperature probe beside it, per cent by mass.
    Strength {
        /// Index of the vessel.
        vessel: usize,
        /// What the probe shows too much.
        probe: TemperatureInterval,
    },
    /// Temperature of a vessel's liquid, °C.
    Temperature {
        /// Index of the vessel.
        vessel: usize,
    },
    /// Salt that is undissolved, kg: a gauge on a bed.
    Bed {
        /// Index of the vessel.
        vessel: usize,
    },
    /// Level, share of the volume.
    Level {
        /// Index of the vessel.
        vessel: usize,
    },
    /// Flow in a line, m³/s.
    Flow {
        /// Index of the line.
        line: usize,
    },
}

/// How a plant is controlled: a simple logic of this program, for the practice plant and for what a run should look
/// like.
#[derive(Debug, Clone)]
pub struct Control {
    /// Time between two readings of the controller.
    pub period: Time,
    /// Strength to make.
    pub target: MassFraction,
    /// Strength that may be released: this much either side of the target, as a fraction.
    pub band: f64,
    /// Index of the panel, a strength sensor.
    pub panel: usize,
    /// How the plant works.
    pub way: Way,
}

/// The ways a plant works. Parts are named by their index in the layout.
#[derive(Debug, Clone, Copy)]
pub enum Way {
    /// One batch after another: fill, dissolve while stirring, settle, let out.
    Batch {
        /// Index of the dissolving vessel.
        vessel: usize,
        /// Index of the water line.
        water: usize,
        /// Index of the stirring line.
        stir: usize,
        /// Index of the outlet line.
        outlet: usize,
        /// Index of the feeder.
        feeder: usize,
        /// Levels it is filled and emptied to, as shares of the volume.
        fill: (f64, f64),
        /// Settling time after the salt stops.
        settle: Time,
    },
    /// Fed and drawn all the time: feed controlled by the panel, water by the level.
    Fed {
        /// Index of the dissolving vessel.
        vessel: usize,
        /// Index of the water line.
        water: usize,
        /// Index of the stirring line.
        stir: usize,
        /// Index of the outlet line.
        outlet: usize,
        /// Index of the feeder.
        feeder: usize,
        /// Level that is held, as a share of the volume.
        level: f64,
    },
    /// Water rises through a bed, leaves it nearly saturated, and is diluted to the target by the panel.
    Upflow {
        /// Index of the vessel with the bed.
        bed: usize,
        /// Index of the water line below the bed.
        water: usize,
        /// Index of the diluting water line.
        thin: usize,
        /// Index of the outlet line.
        outlet: usize,
        /// Index of the feeder.
        feeder: usize,
        /// Salt kept in the bed, kg.
        salt_kg: f64,
    },
}

impl Layout {
    /// Checks that the parts refer to each other as they should.
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
                return Err(Error::layout(
                    part,
                    message!("plant.ends"),
                    message!("plant.accepted.line-ends"),
                ));
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
                return Err(Error::layout(
                    part,
                    message!("plant.ends"),
                    message!("plant.accepted.feeder-ends"),
                ));
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
