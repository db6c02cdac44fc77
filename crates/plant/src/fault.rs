//! Faults of a plant, and what each does to it.

/// A fault, with the index in the layout of the part it is in. Shares are 0…1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// A pump runs without liquid: not primed, or bound by air.
    Unprimed {
        /// Index of the line.
        line: usize,
    },
    /// Wet or lumpy salt bridges above a feeder: nothing falls.
    Bridging {
        /// Index of the feeder.
        feeder: usize,
    },
    /// A feeder drops more than its setting says, by this factor; above what it can carry it jams.
    TooOpen {
        /// Index of the feeder.
        feeder: usize,
        /// Factor on what is fed, above one.
        factor: f64,
    },
    /// A feeder drops less than its setting says.
    TooClosed {
        /// Index of the feeder.
        feeder: usize,
        /// Share that still falls.
        share: f64,
    },
    /// A store runs empty.
    SaltOut {
        /// Index of the store.
        store: usize,
    },
    /// Sludge is at the suction: a line out of the vessel chokes.
    SludgeFull {
        /// Index of the vessel.
        vessel: usize,
    },
    /// Liquid finds a channel through the salt: less surface is reached.
    Channelled {
        /// Index of the vessel.
        vessel: usize,
        /// Share of the surface that is still reached.
        share: f64,
    },
    /// The supply water is colder.
    ColdSupply {
        /// How much colder, K.
        colder: f64,
    },
    /// The supply gives less water.
    WeakSupply {
        /// Share of the water it still gives.
        share: f64,
    },
    /// A line stays where it is, whatever it is commanded.
    Stuck {
        /// Index of the line.
        line: usize,
        /// Share it is open.
        at: f64,
    },
    /// Water leaks in past a closed fill valve, unmetered, m³/s.
    LeakingFill {
        /// Index of the vessel.
        vessel: usize,
        /// Flow that leaks in, m³/s.
        flow: f64,
    },
    /// A cell that is fouled, or has air in it, answers to less than all of the conductivity.
    FouledCell {
        /// Index of the sensor.
        sensor: usize,
        /// Share of the conductivity it responds to.
        share: f64,
    },
    /// A cell that is not covered by liquid.
    UncoveredCell {
        /// Index of the sensor.
        sensor: usize,
    },
    /// The trim setting has been moved: the panel shows this factor of the true strength.
    DriftedTrim {
        /// Factor on the panel.
        factor: f64,
    },
    /// The bench's refractometer was not zeroed: it shows this much too much, per cent by mass.
    NotZeroed {
        /// Offset of the reading, % by mass.
        percent: f64,
    },
    /// A meter counts this factor of what passes.
    MeterDrift {
        /// Index of the sensor.
        sensor: usize,
        /// Factor on the count.
        factor: f64,
    },
}

/// A fault with the time it begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// Plant time at which it begins, s.
    pub seconds: f64,
    /// The fault that begins.
    pub fault: Fault,
}
