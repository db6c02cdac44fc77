//! What can be read over the network: machines that are asked or listened to, and the points read from them.

use std::path::PathBuf;

use quantity::units::{
    CUBIC_METRE_HOURLY, FAHRENHEIT, FOOT, GALLON_MINUTELY, LITRE_MINUTELY, POUND, SECOND, Unit,
};
use quantity::{Time, Volume, in_seconds, metres};

use crate::Tank;

/// A controller, gateway or broker that is read.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// Id used in the file and the ledger.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Host and port.
    pub address: String,
    /// How it talks.
    pub protocol: Protocol,
    /// Time between two polls; a broker sends by itself.
    pub every: Time,
}

/// How a machine talks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Protocol {
    /// Modbus TCP: it is polled.
    Modbus {
        /// Unit behind the address.
        unit: u8,
        /// Number that the maker's list gives the first register: 0 or 1.
        base: u16,
    },
    /// MQTT 3.1.1: it is listened to.
    Mqtt {
        /// User name, where the broker asks for one.
        user: Option<String>,
        /// File whose first line is the password.
        password_file: Option<PathBuf>,
    },
}

/// Something read from a machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Id, and its name in the telemetry.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Place of its machine.
    pub machine: usize,
    /// Where it is found there.
    pub at: At,
    /// What is read, times this,
    pub scale: f64,
    /// plus this, is in [`Point::unit`].
    pub offset: f64,
    /// Unit it comes in.
    pub unit: PointUnit,
    /// Older than this it is stale.
    pub age_limit: Time,
    /// Sensor, line or feeder of the plant's layout that it stands for.
    pub shows: Option<String>,
    /// Storage tank whose level it is: a depth, or a share of its full volume.
    pub tank: Option<String>,
    /// Class of route or segment whose surface temperature it is, and whether of a bridge deck of the class.
    pub road: Option<(String, bool)>,
}

/// Where a point is found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum At {
    /// In a Modbus table.
    Register {
        /// The table of registers that it is read from.
        table: Table,
        /// Number as in the maker's list.
        number: u16,
        /// How it is written there.
        form: Form,
        /// The word with the low digits comes first.
        low_first: bool,
    },
    /// In a message.
    Topic {
        /// The MQTT topic that carries it, without wildcards.
        topic: String,
        /// JSON pointer (RFC 6901) to the number; none where the message is the number.
        pointer: Option<String>,
    },
}

/// Tables of Modbus that can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Table {
    /// Input registers, 16 bits, read only.
    Input,
    /// Holding registers, 16 bits.
    Holding,
    /// Discrete inputs, one bit, read only.
    Discrete,
    /// Coils, one bit.
    Coil,
}

impl Table {
    /// Whether an entry is a single bit.
    pub fn is_bits(self) -> bool {
        matches!(self, Table::Discrete | Table::Coil)
    }
}

/// How a number is written in registers of 16 bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// One register, without sign.
    U16,
    /// One register, two's complement.
    I16,
    /// Two registers, without sign.
    U32,
    /// Two registers, two's complement.
    I32,
    /// Two registers, IEEE 754.
    F32,
    /// Four registers, IEEE 754.
    F64,
    /// A coil or discrete input.
    Bit,
}

impl Form {
    /// All forms with their names in the yard file.
    pub const ALL: [(&'static str, Form); 7] = [
        ("u16", Form::U16),
        ("i16", Form::I16),
        ("u32", Form::U32),
        ("i32", Form::I32),
        ("f32", Form::F32),
        ("f64", Form::F64),
        ("bit", Form::Bit),
    ];

    /// Registers, or bits, that it takes.
    pub fn length(self) -> u16 {
        match self {
            Form::U16 | Form::I16 | Form::Bit => 1,
            Form::U32 | Form::I32 | Form::F32 => 2,
            Form::F64 => 4,
        }
    }
}

/// Unit that a point comes in, and the one it is kept in: per cent by mass, °C, share, m³/s, kg, or as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PointUnit {
    /// Strength, per cent by mass.
    Percent,
    /// Degrees Celsius.
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
    /// Level, per cent of full.
    PercentFull,
    /// Share 0…1 of full or wide open.
    Share,
    /// Feet of depth.
    Feet,
    /// Meters of depth.
    Metres,
    /// US gallons per minute.
    GallonsPerMinute,
    /// Liters per minute.
    LitresPerMinute,
    /// Cubic meters per hour.
    CubicMetresPerHour,
    /// Kilograms.
    Kilograms,
    /// Pounds.
    Pounds,
    /// As it comes: a count, a switch, a number of its own.
    Plain,
}

impl PointUnit {
    /// All units with their names in the yard file.
    pub const ALL: [(&'static str, PointUnit); 13] = [
        ("pct", PointUnit::Percent),
        ("c", PointUnit::Celsius),
        ("f", PointUnit::Fahrenheit),
        ("pct_full", PointUnit::PercentFull),
        ("share", PointUnit::Share),
        ("ft", PointUnit::Feet),
        ("m", PointUnit::Metres),
        ("gpm", PointUnit::GallonsPerMinute),
        ("l_min", PointUnit::LitresPerMinute),
        ("m3_h", PointUnit::CubicMetresPerHour),
        ("kg", PointUnit::Kilograms),
        ("lb", PointUnit::Pounds),
        ("none", PointUnit::Plain),
    ];

    /// A value of this unit in the unit it is kept in.
    pub fn kept(self, value: f64) -> f64 {
        let per_second = |unit: Unit| SECOND.to_base(unit.to_base(value));
        match self {
            PointUnit::Percent
            | PointUnit::Celsius
            | PointUnit::Share
            | PointUnit::Metres
            | PointUnit::Plain => value,
            PointUnit::Feet => FOOT.to_base(value),
            PointUnit::Fahrenheit => FAHRENHEIT.to_base(value),
            PointUnit::PercentFull => value / 100.0,
            PointUnit::GallonsPerMinute => per_second(GALLON_MINUTELY),
            PointUnit::LitresPerMinute => per_second(LITRE_MINUTELY),
            PointUnit::CubicMetresPerHour => per_second(CUBIC_METRE_HOURLY),
            PointUnit::Kilograms => value,
            PointUnit::Pounds => POUND.to_base(value),
        }
    }

    /// What kind of quantity it is.
    pub fn kind(self) -> PointKind {
        match self {
            PointUnit::Percent => PointKind::Strength,
            PointUnit::Celsius | PointUnit::Fahrenheit => PointKind::Temperature,
            PointUnit::PercentFull | PointUnit::Share => PointKind::Share,
            PointUnit::Feet | PointUnit::Metres => PointKind::Depth,
            PointUnit::GallonsPerMinute | PointUnit::LitresPerMinute | PointUnit::CubicMetresPerHour => {
                PointKind::Flow
            }
            PointUnit::Kilograms | PointUnit::Pounds => PointKind::Mass,
            PointUnit::Plain => PointKind::Plain,
        }
    }
}

/// What a point is, in the unit it is kept in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PointKind {
    /// Per cent by mass.
    Strength,
    /// A temperature, kept in °C.
    Temperature,
    /// A share, kept as 0…1.
    Share,
    /// A depth, kept in m.
    Depth,
    /// A flow, kept in m³/s.
    Flow,
    /// A mass, kept in kg.
    Mass,
    /// As it is.
    Plain,
}

impl Point {
    /// A number as it was read, in the unit it is kept in.
    pub fn value(&self, read: f64) -> f64 {
        self.unit.kept(read * self.scale + self.offset)
    }

    /// Volume in its tank by a value in the unit it is kept in; none for a point of no tank, or a level that cannot be.
    pub fn volume_in(&self, tank: &Tank, value: f64) -> Option<Volume> {
        if self.tank.as_ref() != Some(&tank.id) {
            return None;
        }
        match self.unit.kind() {
            PointKind::Depth => tank.shape.volume_at(metres(value)).ok(),
            PointKind::Share if (0.0..=1.0).contains(&value) => Some(tank.shape.full_volume() * value),
            _ => None,
        }
    }

    /// Age after which it is stale, s.
    pub fn age_limit_seconds(&self) -> f64 {
        in_seconds(self.age_limit)
    }
}

impl Machine {
    /// Time between two polls, s.
    pub fn every_seconds(&self) -> f64 {
        in_seconds(self.every)
    }
}
