//! What can go wrong in a plant, and what it does to it.

/// A fault, by the place of what it is in. Shares are 0…1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// A pump runs without liquid: not primed, or bound by air.
    Unprimed {
        /// Line.
        line: usize,
    },
    /// Wet or lumpy salt bridges above a feeder: nothing falls.
    Bridging {
        /// Feeder.
        feeder: usize,
    },
    /// A feeder drops more than its setting says, by this factor; above what it can carry it jams.
    TooOpen {
        /// Feeder.
        feeder: usize,
        /// Factor, above one.
        factor: f64,
    },
    /// A feeder drops less than its setting says.
    TooClosed {
        /// Feeder.
        feeder: usize,
        /// Share that still falls.
        share: f64,
    },
    /// A store runs empty.
    SaltOut {
        /// Store.
        store: usize,
    },
    /// Sludge stands at the suction: a line out of the vessel chokes.
    SludgeFull {
        /// Vessel.
        vessel: usize,
    },
    /// Liquid finds a channel through the salt: less surface is reached.
    Channelled {
        /// Vessel.
        vessel: usize,
        /// Share of the surface that is still reached.
        share: f64,
    },
    /// The supply is colder, K.
    ColdSupply {
        /// Kelvins colder.
        colder: f64,
    },
    /// The supply gives less.
    WeakSupply {
        /// Share it still gives.
        share: f64,
    },
    /// A line stays as it stands, whatever it is told.
    Stuck {
        /// Line.
        line: usize,
        /// Share it stands open.
        at: f64,
    },
    /// Water leaks in past a closed fill valve, unmetered, m³/s.
    LeakingFill {
        /// Vessel.
        vessel: usize,
        /// Flow, m³/s.
        flow: f64,
    },
    /// A cell that is fouled, or has air in it, answers to less than all of the conductivity.
    FouledCell {
        /// Sensor.
        sensor: usize,
        /// Share it answers to.
        share: f64,
    },
    /// A cell that is not covered by liquid.
    UncoveredCell {
        /// Sensor.
        sensor: usize,
    },
    /// The controller's number has been moved: the panel shows so much of the truth.
    DriftedTrim {
        /// Factor on the panel.
        factor: f64,
    },
    /// The bench's refractometer was not zeroed: it shows this much too much, per cent by mass.
    NotZeroed {
        /// Per cent by mass.
        percent: f64,
    },
    /// A meter counts this much of what passes.
    MeterDrift {
        /// Sensor.
        sensor: usize,
        /// Factor.
        factor: f64,
    },
}

/// A fault with the time it begins at, s of the plant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// When.
    pub seconds: f64,
    /// What.
    pub fault: Fault,
}
