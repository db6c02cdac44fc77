//! Charts as SVG: readable at arm's length, in print, without colour, with a text alternative.
//!
//! A column gets its own drawing, not a scaled one: the page shows the one that fits the figure's own width. Colours
//! and fonts are the page's: the SVG carries class names only. A mark lies where its value lies; its label may move.

mod build_up;
mod canvas;
mod checks;
mod cover;
mod flags;
mod flow;
mod freeze_map;
mod hours;
mod phase_diagram;
mod plant_picture;
mod readings;
mod road_strip;
mod section;
mod spare;
mod strengths;
mod vessel;

pub use build_up::{BuildUp, build_up};
pub use checks::{ChecksChart, checks_chart};
pub use cover::{CoverChart, cover_chart};
pub use flow::{Flow, FlowBar, flow_bars};
pub use freeze_map::{FreezeMap, TankMark, freeze_map};
pub use phase_diagram::{PhaseDiagram, in_its_ratio, phase_diagram};
pub use plant_picture::{PlantPicture, VesselMark, plant_picture};
pub use readings::{ReadingsChart, readings_chart};
pub use road_strip::{RoadStrip, road_strip};
pub use section::{TankSection, tank_section};
pub use spare::{ColdToSpare, SpareRow, cold_to_spare};
pub use strengths::{StrengthsChart, strengths_chart};
pub use vessel::{Texture, Vessel, vessel};

/// Which of the two drawings of a chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    /// For a phone, 360 px wide.
    Phone,
    /// For anything wider.
    Wide,
}

impl Size {
    /// Both drawings of a chart, the narrow one first.
    pub const ALL: [Size; 2] = [Size::Phone, Size::Wide];

    /// Width of a drawing, px: a column of a phone, or two of the desk.
    fn width(self) -> f64 {
        match self {
            Size::Phone => 328.0,
            Size::Wide => 866.0,
        }
    }

    /// What ends an id of this drawing.
    fn suffix(self) -> &'static str {
        match self {
            Size::Phone => "p",
            Size::Wide => "w",
        }
    }

    fn class(self) -> &'static str {
        match self {
            Size::Phone => "chart chart-phone",
            Size::Wide => "chart chart-wide",
        }
    }
}
