//! The command line.

mod bench;
mod blends;
mod ledger;
mod people;
mod reports;
mod roads;
mod serving;

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

pub use bench::{Correct, Impurities, Measure, Properties, Trim};
pub use blends::{Blend, PhaseDiagram};
pub use ledger::{
    ExportFormat, Ledger, LedgerAct, LedgerAdd, LedgerBalance, LedgerExport, LedgerImport, LedgerList,
    LedgerVerify, LedgerVoid,
};
pub use people::{Tls, TlsAct, User, UserAct};
pub use reports::{Calibrate, CalibrateSprayer, CalibrateSpreader, CalibrateWhat, Report, ReportOf};
pub use roads::{Falls, Lies, RoadOne, Treat};
pub use serving::{BackupArgs, Demo, RestoreArgs, Serve};

/// Plans, tracks and shows the brine of a winter-maintenance yard. It advises and records; it never controls equipment.
#[derive(Debug, Parser)]
#[command(name = "brinewright", version, arg_required_else_help = true)]
pub struct Program {
    /// Units to show first [default: from the yard file]
    #[arg(long, global = true, value_enum)]
    pub units: Option<Units>,
    /// Command to run
    #[command(subcommand)]
    pub verb: Verb,
}

/// Units of measure.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Units {
    /// Gallons, pounds, °F.
    Us,
    /// Liters, kilograms, °C.
    Si,
}

/// Command to run
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Try it: a made-up yard, two real storms, and the console
    #[command(after_help = "Example:\n  brinewright demo --print-only")]
    Demo(Demo),
    /// Start the web console for a yard
    #[command(
        after_help = "Example:\n  brinewright serve --yard yard.toml --database ledger.db --forecast grid.json"
    )]
    Serve(Serve),
    /// Copy everything a yard keeps into a folder of its own, checked by reading it back.
    #[command(
        after_help = "Example:\n  brinewright backup /mnt/other-disk/brine --yard yard.toml --database ledger.db\n\n\
        What was read of the plant is in it only while no console runs on it: the console's own nightly copy has it."
    )]
    Backup(BackupArgs),
    /// Put a backup into an empty folder.
    #[command(
        after_help = "Example:\n  brinewright restore /mnt/other-disk/brine/backup-20270114T060000Z --into brine"
    )]
    Restore(RestoreArgs),
    /// Plan ahead from a yard file and a forecast: gallons needed, brine runs, loads, and what stands in the way.
    #[command(
        after_help = "Example:\n  brinewright plan --yard yard.toml --forecast grid.json --ledger ledger.db --hours 48"
    )]
    Plan(Plan),
    /// Read a forecast or observation file and show what is in it
    #[command(
        after_help = "Example:\n  brinewright weather grid.json --from 2026-01-14T06:00Z --to 2026-01-15T06:00Z"
    )]
    Weather(Weather),
    /// Work out a road hour by hour: surface temperature and what lies on it, from a weather file
    #[command(after_help = "Example:\n  brinewright road grid.json --yard yard.toml --road A --hours 48\n  \
            brinewright road week.csv --latitude-deg 42.5 --longitude-deg -73.8 --shade-deg 20 --readings read.csv")]
    Road(RoadOne),
    /// One road condition now: which rate, until when it holds, and why
    #[command(
        after_help = "Example:\n  brinewright treat --surface-f 24 --falls snow --water-in-per-h 0.05 --lies damp\n  \
            brinewright treat --surface-f 28 --before --yard yard.toml"
    )]
    Treat(Treat),
    /// Show the properties of a chloride brine: freezing, density, refraction, conductivity, viscosity and more
    #[command(after_help = "Example:\n  brinewright properties --strength-pct 23.3 --temp-f 40\n  \
            brinewright properties --cacl2-pct 32 --temp-c 0 --json\n  brinewright properties --csv brines.csv")]
    Properties(Properties),
    /// What real rock salt and hard water bring into the brine, and how far each instrument is misled.
    #[command(
        after_help = "Example:\n  brinewright impurities --nacl-pct 96 --caso4-pct 1.2 --hardness-mg-l 320 --temp-f 40"
    )]
    Impurities(Impurities),
    /// Turn an instrument reading into strength, and say if it is in spec; one sample or a CSV
    #[command(
        after_help = "Example:\n  brinewright measure --instrument brix --reading 26.2 --temp-f 60\n  \
            brinewright measure --instrument sg_60_60 --reading 1.1855 --temp-c 0 --budget\n  \
            brinewright measure --csv readings.csv"
    )]
    Measure(Measure),
    /// Next trim setting for a controller, so that its panel agrees with the bench.
    #[command(after_help = "Example:\n  brinewright trim --csv pairs.csv --lag-min 8\n\n\
            Columns: time (RFC 3339, or minutes), trim (the number on the controller), panel and bench (per cent\n\
            by mass); panel_u_pct and bench_u_pct (95 % intervals) where they differ from row to row; temp_c\n\
            and any other columns pass through. The advice of a row is what the rows up to it say.")]
    Trim(Trim),
    /// Correct a tank: how much water, salt or other brine brings it to a strength, by mass.
    #[command(
        after_help = "Example:\n  brinewright correct --volume-gal 5000 --strength-pct 25 --target-pct 23.3 --with water\n  \
            brinewright correct --yard yard.toml --ledger ledger.db --tank 1 --strength-pct 21.8 --with salt"
    )]
    Correct(Correct),
    /// Find the cheapest blend that stays liquid, from liquids you name or from the yard's tanks
    #[command(
        after_help = "Example:\n  brinewright blend --lot nacl=23.3,usd_gal=0.12 --lot mgcl2=30,usd_gal=1.05 --lot water \\\n    \
            --ice-f -10 --clear-f 0 --volume-gal 1000\n  \
            brinewright blend --yard yard.toml --ledger ledger.db --tank 2 --ice-f -10 --clear-f 0"
    )]
    Blend(Blend),
    /// Chart where ice forms and salt drops out in a blend (CSV, SVG)
    #[command(
        after_help = "Example:\n  brinewright phase-diagram --salts nacl=90,mgcl2=10 --svg blend.svg > blend.csv\n  \
            brinewright phase-diagram --liquid nacl=23.3 --liquid mgcl2=30 > shares.csv"
    )]
    PhaseDiagram(PhaseDiagram),
    /// Simulate a plant from a scenario file: sensor readings and true values
    #[command(after_help = "Example:\n  brinewright simulate examples/bridging.toml > run.csv\n  \
        brinewright simulate examples/bridging.toml --summary\n\n\
        A scenario names a layout (batch, fed, upflow), its water, air and salt, what is dumped and what breaks\n\
        when; docs/plant.md lists every key. The plant is invented: it commands nothing real.")]
    Simulate(Simulate),
    /// Convert tank depths to volumes, from a CSV
    #[command(after_help = "Example:\n  brinewright strap --csv tanks.csv > with_volumes.csv\n\n\
        Columns: inside_diameter_m, straight_length_m, orientation (vertical, horizontal),\n\
        end_A_shape, end_A_depth_m, end_B_shape, end_B_depth_m (flat, elliptical, hemispherical, conical,\n\
        torispherical), tori_crown_ratio_f, tori_knuckle_ratio_k, liquid_depth_m. A tank standing has its\n\
        bottom as end A. Cells that do not apply stay blank; other columns pass through.")]
    Strap(Strap),
    /// Record events, list them, add them up, check them and export them.
    #[command(after_help = "Example:\n  brinewright ledger add --author Pat dip tank=1 depth_ft=6.5")]
    Ledger(Ledger),
    /// Report the books: where liquid, salt and money went, whether the books balance, what is due.
    #[command(after_help = "Example:\n  brinewright report season --yard yard.toml --database ledger.db\n  \
        brinewright report season --from 2026-12-01 --until 2026-12-31 --xlsx december.xlsx\n  \
        brinewright report close --json")]
    Report(Report),
    /// Work out the cab card from a sprayer's catch test or a spreader's discharge test.
    #[command(
        after_help = "Example:\n  brinewright calibrate sprayer --truck T1 --caught-floz \"64 63 66 64\" --seconds 15\n  \
        brinewright calibrate spreader --truck T1 \\\n    \
            --setting 4 --caught-lb \"101 98 103\" --turns 10 --per-minute 22"
    )]
    Calibrate(Calibrate),
    /// Add and remove people, and reset a lost password or PIN, on the yard computer itself.
    #[command(after_help = "Example:\n  brinewright user add \"Ines\" --role supervisor --password\n  \
        brinewright user password \"Ines\"\n\n\
        Passwords and PINs are asked for, and read from standard input where that is no terminal.")]
    User(User),
    /// The yard's own certificates, so that every tablet's connection is encrypted and keeps working offline.
    #[command(after_help = "Example:\n  brinewright tls init --host brine.local --host 192.168.1.20")]
    Tls(Tls),
    /// Check a yard file and list every problem in it.
    #[command(
        after_help = "Example:\n  brinewright doctor yard.toml\n  brinewright doctor --sample > yard.toml"
    )]
    Doctor(Doctor),
    /// Print shell completions for the program's verbs and options, and for the kinds and fields of events.
    #[command(
        after_help = "Example:\n  brinewright completions bash > ~/.local/share/bash-completion/completions/brinewright\n  \
        brinewright completions zsh > \"${fpath[1]}/_brinewright\"\n  \
        brinewright completions fish > ~/.config/fish/completions/brinewright.fish"
    )]
    Completions(Completions),
}

/// Arguments of `completions`.
#[derive(Debug, Args)]
pub struct Completions {
    /// Shell to write the completions for.
    #[arg(value_enum)]
    pub shell: Shell,
}

/// A shell that can complete.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Shell {
    /// Bash 4.4 or newer.
    Bash,
    /// Zsh.
    Zsh,
    /// Fish.
    Fish,
}

/// How to read a weather file.
#[derive(Debug, Clone, Args)]
pub struct Reading {
    /// Plan as of this time (UTC like 2013-01-24T18:00Z, or yard time like 2013-01-24T13:00)
    #[arg(long)]
    pub issued: Option<String>,
    /// Station to use, if the file has several
    #[arg(long)]
    pub station: Option<String>,
    /// Whether CSV times mark the start or end of the hour, if the file does not say
    #[arg(long, value_enum)]
    pub hour_label: Option<HourLabel>,
}

/// What a time in a plain CSV means.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum HourLabel {
    /// Start of the hour.
    Start,
    /// End of the hour.
    End,
}

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub struct Plan {
    /// Yard file that describes tanks, trucks, routes, liquids and rules.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Forecast file to plan on, in any format of docs/forecasts.md.
    #[arg(long)]
    pub forecast: PathBuf,
    /// Ledger to read inventory from [default: the yard file's opening amounts]
    #[arg(long)]
    pub ledger: Option<PathBuf>,
    #[command(flatten)]
    pub reading: Reading,
    /// Hours to plan.
    #[arg(long, default_value_t = 72)]
    pub hours: usize,
    /// Print the whole plan as JSON (docs/plan-json.md).
    #[arg(long, conflicts_with = "table")]
    pub json: bool,
    /// Print a table instead.
    #[arg(long, value_enum)]
    pub table: Option<Table>,
    /// What one row of the table is.
    #[arg(long, value_enum, default_value_t = Rows::Routes, requires = "table")]
    pub rows: Rows,
}

/// Rows of a plan's table.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Rows {
    /// One row a route.
    Routes,
    /// One row an hour.
    Hours,
}

/// Format of a table.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Table {
    /// Comma-separated values, with a header line.
    Csv,
}

/// Arguments of `weather`.
#[derive(Debug, Args)]
pub struct Weather {
    /// Forecast or observation file to read, in any format of docs/forecasts.md.
    pub file: PathBuf,
    /// Yard file, for its station and zone.
    #[arg(long)]
    pub yard: Option<PathBuf>,
    #[command(flatten)]
    pub reading: Reading,
    /// Add up precipitation from this time on; the file's first when not given.
    #[arg(long)]
    pub from: Option<String>,
    /// Add precipitation up to this time; the file's last when not given.
    #[arg(long)]
    pub to: Option<String>,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `simulate`.
#[derive(Debug, Args)]
pub struct Simulate {
    /// Scenario file (TOML) that names the layout, the salt, what is dumped and what breaks; see docs/plant.md.
    #[arg(required_unless_present = "tables")]
    pub scenario: Option<PathBuf>,
    /// Run it on the plant that this yard file describes, in place of a layout that ships.
    #[arg(long)]
    pub yard: Option<PathBuf>,
    /// Print a layout that ships (batch, fed or upflow) as tables of a yard file, to begin your own from.
    #[arg(long, value_name = "LAYOUT", conflicts_with_all = ["scenario", "yard", "summary", "json", "band"])]
    pub tables: Option<String>,
    /// Print a summary of the run in place of its rows.
    #[arg(long)]
    pub summary: bool,
    /// Print the summary of the run as JSON in place of its rows.
    #[arg(long, conflicts_with = "summary")]
    pub json: bool,
    /// Run this many variants of the plant in place of one run, and print the panel's 95 % band by time and when
    /// strength is reached; faults of the scenario are left out.
    #[arg(long, conflicts_with = "json", value_parser = clap::value_parser!(u32).range(10..=10_000))]
    pub band: Option<u32>,
}

/// Arguments of `strap`.
#[derive(Debug, Args)]
pub struct Strap {
    /// File with geometry and depth columns; rows come back with volume_m3 added.
    #[arg(long)]
    pub csv: PathBuf,
}

/// Arguments of `doctor`.
#[derive(Debug, Args)]
pub struct Doctor {
    /// Yard file to check.
    #[arg(default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Print a complete example yard file instead.
    #[arg(long)]
    pub sample: bool,
    /// Print as JSON.
    #[arg(long, conflicts_with = "sample")]
    pub json: bool,
}
