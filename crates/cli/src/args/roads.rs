//! Arguments of `road` and `treat`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::Reading;

/// Arguments of `road`.
#[derive(Debug, Args)]
pub struct RoadOne {
    /// Weather file, forecast or observations, in any format of docs/forecasts.md.
    pub weather: PathBuf,
    /// Yard file that the road is of; without one the flags below describe it.
    #[arg(long)]
    pub yard: Option<PathBuf>,
    /// Route class or segment of the yard file [default: its first class]
    #[arg(long, requires = "yard")]
    pub road: Option<String>,
    /// Of a bridge deck.
    #[arg(long)]
    pub bridge: bool,
    #[command(flatten)]
    pub place: PlaceFlags,
    #[command(flatten)]
    pub reading: Reading,
    /// Hours after --issued to work out [default: to the end of the file]
    #[arg(long)]
    pub hours: Option<usize>,
    /// Road temperatures as read: CSV with the columns time, surface_c (or surface_f), and instrument if not infrared.
    #[arg(long)]
    pub readings: Option<PathBuf>,
    /// Treatments: CSV with the columns time and any of brine_gal_lane_mile, salt_lb_lane_mile, brine_ml_m2, salt_g_m2.
    #[arg(long)]
    pub treatments: Option<PathBuf>,
    /// Strength of that brine, % by mass.
    #[arg(long, default_value_t = 23.3)]
    pub strength_pct: f64,
    /// Leave snow where it falls.
    #[arg(long)]
    pub no_plow: bool,
    /// Take the weather after --issued as measured: the range is then that of the road alone.
    #[arg(long, requires = "issued")]
    pub as_measured: bool,
    /// Print as JSON instead of CSV.
    #[arg(long)]
    pub json: bool,
}

/// What a road is made of and sees, where no yard file says it.
#[derive(Debug, Args)]
pub struct PlaceFlags {
    /// Latitude, degrees north.
    #[arg(long, default_value_t = 43.0, allow_negative_numbers = true)]
    pub latitude_deg: f64,
    /// Longitude, degrees east.
    #[arg(long, default_value_t = -90.0, allow_negative_numbers = true)]
    pub longitude_deg: f64,
    /// Height above sea level, m.
    #[arg(long, default_value_t = 0.0, allow_negative_numbers = true)]
    pub elevation_m: f64,
    /// Concrete in place of asphalt.
    #[arg(long)]
    pub concrete: bool,
    /// Share of the sky that is seen, 0.05 to 1.
    #[arg(long)]
    pub sky_view: Option<f64>,
    /// Angle below which trees or banks hide the sun, degrees.
    #[arg(long)]
    pub shade_deg: Option<f64>,
    /// A street between walls: axis (degrees from north), left and right height, gap and road width, m.
    #[arg(long, num_args = 5, value_names = ["AXIS", "LEFT", "RIGHT", "GAP", "ROAD"], allow_negative_numbers = true)]
    pub street: Option<Vec<f64>>,
    /// How much warmer than the air those walls are, K.
    #[arg(long, default_value_t = 0.0)]
    pub wall_warmer_k: f64,
    /// Wind at the road over the wind that is given.
    #[arg(long, default_value_t = 1.0)]
    pub wind_share: f64,
    /// Water of the base that freezes, per cent of volume.
    #[arg(long, default_value_t = 0.0)]
    pub wet_base_pct: f64,
    /// Light vehicles in a lane in an hour.
    #[arg(long, default_value_t = 0.0)]
    pub light_per_h: f64,
    /// Heavy vehicles in a lane in an hour.
    #[arg(long, default_value_t = 0.0)]
    pub heavy_per_h: f64,
    /// Their speed, km/h.
    #[arg(long, default_value_t = 70.0)]
    pub speed_km_h: f64,
}

/// What falls now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Falls {
    /// Nothing.
    Nothing,
    /// Snow.
    Snow,
    /// Rain.
    Rain,
    /// Rain that freezes on the road.
    FreezingRain,
}

/// What lies on the road now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Lies {
    /// Nothing.
    Dry,
    /// Dark, without spray from tires.
    Damp,
    /// Water.
    Wet,
    /// Slush or snow.
    Snow,
    /// Frost or thin ice.
    Ice,
}

/// Arguments of `treat`.
#[derive(Debug, Args)]
pub struct Treat {
    /// Road temperature, °F.
    #[arg(
        long,
        allow_negative_numbers = true,
        required_unless_present = "surface_c",
        conflicts_with = "surface_c"
    )]
    pub surface_f: Option<f64>,
    /// Road temperature, °C.
    #[arg(long, allow_negative_numbers = true)]
    pub surface_c: Option<f64>,
    /// How much warmer (+) or colder (-) the road gets in an hour, °F.
    #[arg(long, allow_negative_numbers = true, default_value_t = 0.0)]
    pub trend_f_per_h: f64,
    /// Air temperature, °F [default: the road's]
    #[arg(long, allow_negative_numbers = true)]
    pub air_f: Option<f64>,
    /// Relative humidity of the air, %.
    #[arg(long, default_value_t = 85.0)]
    pub humidity_pct: f64,
    /// Wind, mph.
    #[arg(long, default_value_t = 5.0)]
    pub wind_mph: f64,
    /// What falls.
    #[arg(long, value_enum, default_value_t = Falls::Snow)]
    pub falls: Falls,
    /// Inches of water in an hour (an inch of snow is about a tenth of it).
    #[arg(long, default_value_t = 0.05)]
    pub water_in_per_h: f64,
    /// For how many hours it goes on.
    #[arg(long, default_value_t = 6)]
    pub for_h: usize,
    /// What lies on the road.
    #[arg(long, value_enum, default_value_t = Lies::Dry)]
    pub lies: Lies,
    /// Salt that still lies there, lb per lane-mile.
    #[arg(long, default_value_t = 0.0)]
    pub salt_lb_lane_mile: f64,
    /// It has not begun: pretreat?
    #[arg(long)]
    pub before: bool,
    /// Time between two passes, h.
    #[arg(long, default_value_t = 2.0)]
    pub cycle_h: f64,
    /// Yard file, for its rates, limits and strength of brine.
    #[arg(long)]
    pub yard: Option<PathBuf>,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}
