//! Arguments of `report` and `calibrate`.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

/// Arguments of `report`.
#[derive(Debug, Args)]
pub struct Report {
    /// Report to print.
    #[arg(value_enum)]
    pub what: ReportOf,
    /// Yard file that the ledger belongs to.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Ledger file to report on.
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// First day, or first moment, in the yard's time; the season's first when not given.
    #[arg(long)]
    pub from: Option<String>,
    /// Last day (counted whole), or last moment, in the yard's time; now when not given.
    #[arg(long)]
    pub until: Option<String>,
    /// Now, for trying things out (UTC like 2026-01-14T06:00Z, or yard time); the clock when not given.
    #[arg(long)]
    pub now: Option<String>,
    /// One table as CSV: liquids, tanks, rock-salt, routes, chloride, money, agencies, overrides, short, odd,
    /// left-over, due.
    #[arg(long, conflicts_with_all = ["json", "xlsx"])]
    pub csv: Option<String>,
    /// All tables as a spreadsheet, written whole or not at all.
    #[arg(long, conflicts_with = "json")]
    pub xlsx: Option<PathBuf>,
    /// Print as JSON: SI units, unrounded.
    #[arg(long)]
    pub json: bool,
}

/// What `report` tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ReportOf {
    /// Liquids, salt, routes, chloride, money of a season or of some days.
    Season,
    /// Storms of the season, each with its name, begin and end.
    Storms,
    /// Whether the books balance, and what to doubt first; exit code 1 when they do not.
    Close,
    /// Checks and tasks that are due.
    Due,
}

/// Arguments of `calibrate`.
#[derive(Debug, Args)]
pub struct Calibrate {
    /// What is tested.
    #[command(subcommand)]
    pub what: CalibrateWhat,
}

/// What `calibrate` works out.
#[derive(Debug, Subcommand)]
pub enum CalibrateWhat {
    /// A sprayer, from what each nozzle gave.
    #[command(after_help = "Example:\n  brinewright calibrate sprayer --truck T1 \\\n    \
            --caught-floz \"64 63 66 64\" --seconds 15 --psi 40")]
    Sprayer(CalibrateSprayer),
    /// A spreader, from what dropped in some turns.
    #[command(after_help = "Example:\n  brinewright calibrate spreader --truck T1 \\\n    \
            --setting 4 --caught-lb \"101 98 103\" --turns 10 --per-minute 22")]
    Spreader(CalibrateSpreader),
}

/// Arguments of `calibrate sprayer`.
#[derive(Debug, Args)]
pub struct CalibrateSprayer {
    /// Yard file that lists the truck.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Truck of the yard file.
    #[arg(long)]
    pub truck: String,
    /// What each nozzle gave, in order, US fluid ounces with blanks between.
    #[arg(long, required_unless_present = "caught_ml", conflicts_with = "caught_ml")]
    pub caught_floz: Option<String>,
    /// What each nozzle gave, in order, millilitres with blanks between.
    #[arg(long)]
    pub caught_ml: Option<String>,
    /// Length of the catch, s.
    #[arg(long)]
    pub seconds: String,
    /// Liquid used for the test: water or brine.
    #[arg(long, default_value = "water")]
    pub liquid: String,
    /// Width it sprays, lanes.
    #[arg(long, default_value = "1")]
    pub lanes: String,
    /// Pressure at the boom, psi.
    #[arg(long, conflicts_with = "kpa")]
    pub psi: Option<String>,
    /// Pressure at the boom, kPa.
    #[arg(long)]
    pub kpa: Option<String>,
}

/// Arguments of `calibrate spreader`.
#[derive(Debug, Args)]
pub struct CalibrateSpreader {
    /// Yard file that lists the truck.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Truck of the yard file.
    #[arg(long)]
    pub truck: String,
    /// Material caught in the test.
    #[arg(long, default_value = "rock salt")]
    pub material: String,
    /// Setting of the spreader control during the test.
    #[arg(long)]
    pub setting: String,
    /// Mass of each catch, lb with blanks between.
    #[arg(long, required_unless_present = "caught_kg", conflicts_with = "caught_kg")]
    pub caught_lb: Option<String>,
    /// Mass of each catch, kg with blanks between.
    #[arg(long)]
    pub caught_kg: Option<String>,
    /// Shaft turns in each catch.
    #[arg(long)]
    pub turns: String,
    /// Shaft RPM at that setting.
    #[arg(long)]
    pub per_minute: String,
}
