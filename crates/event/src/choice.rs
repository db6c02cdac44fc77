//! Words out of a few, as the ledger and commands write them.

use serde::{Deserialize, Serialize};

/// A field that holds one word out of a few.
pub trait Choice: 'static {
    /// The words, as the ledger and commands write them, in the order a form offers them.
    const WORDS: &'static [&'static str];
}

macro_rules! choices {
    ($($(#[$doc:meta])* $name:ident { $($(#[$meta:meta])* $variant:ident = $word:literal),* $(,)? })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
        pub enum $name { $($(#[$meta])* #[serde(rename = $word)] $variant),* }

        impl Choice for $name {
            const WORDS: &'static [&'static str] = &[$($word),*];
        }

        impl $name {
            /// All of them, in the order of [`Choice::WORDS`].
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The word that stands for it in the ledger and in commands.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),* }
            }

            /// The one of a word; none for a word that is not of them.
            pub fn of_word(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|one| one.word() == word)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }
    )*};
}

choices! {
    /// What part of a class of route a reading of the road is of.
    RoadPart {
        /// The road on the ground.
        #[default]
        Road = "road",
        /// A bridge deck.
        Bridge = "bridge",
    }
    /// What the temperature of a road was read with.
    RoadInstrument {
        /// An infrared thermometer in the hand.
        #[default]
        Infrared = "infrared",
        /// An infrared thermometer on a vehicle.
        VehicleInfrared = "vehicle_infrared",
        /// A sensor in the road.
        Station = "station",
    }
    /// How a road looked.
    RoadLook {
        /// Nothing on it.
        #[default]
        Dry = "dry",
        /// Dark, without spray from tires.
        Damp = "damp",
        /// Water on it.
        Wet = "wet",
        /// Slush or snow.
        Snow = "snow",
        /// Frost or ice.
        Ice = "ice",
    }
    /// What a sample came after, beside the usual round.
    Occasion {
        /// The usual round.
        #[default]
        Usual = "usual",
        /// Rain fell into an open plant or tank.
        AfterRain = "after_rain",
        /// The tank was filled.
        AfterFill = "after_fill",
    }
    /// What an instrument is checked in.
    CheckedIn {
        /// Distilled water.
        #[default]
        Water = "water",
        /// Brine of known strength.
        Brine = "brine",
    }
    /// Whether an instrument was zeroed or set right after a check.
    Adjusted {
        /// It was left as it is.
        #[default]
        No = "no",
        /// It was zeroed or adjusted.
        Yes = "yes",
    }
    /// How a step of a guided run was answered.
    StepAnswer {
        /// The step was done, as it says.
        #[default]
        Done = "done",
        /// Seen, as the step says.
        Seen = "seen",
        /// What the step asks to look for was not seen.
        NotSeen = "not_seen",
        /// A figure was entered.
        Entered = "entered",
    }
    /// How a guided run ended.
    RunEnding {
        /// Its last step was answered.
        #[default]
        Finished = "finished",
        /// It was stopped before its last step.
        BrokenOff = "broken_off",
    }
    /// How an amount of liquid was found.
    HowFound {
        /// By the loading meter.
        #[default]
        Meter = "meter",
        /// By the truck scale.
        Weight = "weight",
        /// By a dip of the tank before and after.
        Dip = "dip",
        /// By marks on the truck's tank.
        Marks = "marks",
    }
    /// How the volume of a batch was found, the surest first.
    BatchFound {
        /// By the meter of the brine.
        #[default]
        MakingMeter = "making_meter",
        /// By dips before and after.
        Dips = "dips",
        /// By the meter of the water.
        WaterMeter = "water_meter",
        /// By hours and the rate.
        Hours = "hours",
        /// The amount was typed in, found in none of these ways.
        Typed = "typed",
    }
    /// What a total entered in a guided run counts.
    TotalOf {
        /// Water into the plant.
        #[default]
        Water = "water",
        /// Brine out of it.
        Making = "making",
    }
    /// How a road was treated.
    Treated {
        /// With liquid alone.
        #[default]
        Liquid = "liquid",
        /// With salt wetted on its way.
        PreWet = "pre_wet",
        /// With dry salt.
        Dry = "dry",
    }
    /// What a water sample stands for.
    Sampled {
        /// A single sample, taken at one moment.
        #[default]
        Grab = "grab",
        /// A mean over four days.
        FourDays = "four_days",
    }
    /// What a bucket of rock salt went to.
    BucketsTo {
        /// The brine plant.
        #[default]
        Plant = "plant",
        /// Trucks.
        Trucks = "trucks",
        /// Neither: used somewhere else in the yard.
        Elsewhere = "elsewhere",
    }
    /// What a jar test ended with.
    JarResult {
        /// Nothing was seen.
        #[default]
        Clear = "clear",
        /// Something came out as crystals.
        Crystals = "crystals",
        /// Something settled as sludge.
        Sludge = "sludge",
        /// The liquids do not mix.
        Layers = "layers",
        /// It set to a gel.
        Gel = "gel",
    }
    /// What a sprayer gave into the jugs of its catch test.
    CaughtLiquid {
        /// Water.
        #[default]
        Water = "water",
        /// Brine.
        Brine = "brine",
    }
}

/// Where a sample comes from: a level of a tank, or the plant's tap, which is of no tank.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SamplePoint {
    /// The tank's outlet.
    Outlet,
    /// Half way down.
    Middle,
    /// Near the surface.
    Top,
    /// Near the floor.
    Bottom,
    /// The plant's tap.
    PlantTap,
    /// As some older row says it: nothing new is taken in so.
    #[serde(untagged)]
    Other(String),
}

impl Choice for SamplePoint {
    const WORDS: &'static [&'static str] = &["outlet", "middle", "top", "bottom", "plant_tap"];
}

impl SamplePoint {
    /// Levels of a tank.
    pub const OF_TANK: [Self; 4] = [Self::Outlet, Self::Middle, Self::Top, Self::Bottom];

    /// Its word, as the ledger writes it.
    pub fn word(&self) -> &str {
        match self {
            Self::Outlet => "outlet",
            Self::Middle => "middle",
            Self::Top => "top",
            Self::Bottom => "bottom",
            Self::PlantTap => "plant_tap",
            Self::Other(word) => word,
        }
    }
}
