//! Charts as SVG: readable at arm's length, in print, without colour, with a text alternative.
//!
//! A phone gets its own drawing, not a scaled one. Colours and fonts are the page's: the SVG carries class names only.

mod build_up;
mod canvas;
mod checks;
mod cover;
mod freeze_map;
mod level;
mod phase_diagram;
mod plant_picture;
mod readings;
mod timeline;
mod vessel;

pub use build_up::{BuildUp, build_up};
pub use checks::{ChecksChart, checks_chart};
pub use cover::{CoverChart, cover_chart};
pub use freeze_map::{FreezeMap, TankMark, freeze_map};
pub use level::{TankLevel, tank_level};
pub use phase_diagram::{PhaseDiagram, in_its_ratio, phase_diagram};
pub use plant_picture::{PlantPicture, VesselMark, plant_picture};
pub use readings::{ReadingsChart, readings_chart};
pub use timeline::{Timeline, timeline};
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

    fn class(self) -> &'static str {
        match self {
            Size::Phone => "chart chart-phone",
            Size::Wide => "chart chart-wide",
        }
    }
}
