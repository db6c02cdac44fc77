//! The command line.

mod blends;
mod ledger;

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

pub use blends::{Blend, PhaseDiagram};
pub use ledger::{
    ExportFormat, Ledger, LedgerAct, LedgerAdd, LedgerBalance, LedgerExport, LedgerImport, LedgerList,
    LedgerVerify, LedgerVoid,
};

/// Plans, keeps and shows a winter yard's brine. It advises and records; it never commands a machine.
#[derive(Debug, Parser)]
#[command(name = "brinewright", version, arg_required_else_help = true)]
pub struct Program {
    /// Units shown first; the yard file decides when this is not given.
    #[arg(long, global = true, value_enum)]
    pub units: Option<Units>,
    /// What to do.
    #[command(subcommand)]
    pub verb: Verb,
}

/// Units of measure.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Units {
    /// Gallons, pounds, °F.
    Us,
    /// Litres, kilograms, °C.
    Si,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Make an invented yard, plan two real storms for it, open the console on them.
    #[command(after_help = "Example:\n  brinewright demo --print-only")]
    Demo(Demo),
    /// Open the console of a yard.
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
    /// From a yard file and a forecast: gallons, making runs, loads, what stands in the way.
    #[command(
        after_help = "Example:\n  brinewright plan --yard yard.toml --forecast grid.json --ledger ledger.db --hours 48"
    )]
    Plan(Plan),
    /// Read a forecast or observation file and say what it holds.
    #[command(
        after_help = "Example:\n  brinewright weather grid.json --from 2026-01-14T06:00Z --to 2026-01-15T06:00Z"
    )]
    Weather(Weather),
    /// Properties of a chloride brine: freezing, density, refraction, conductivity, viscosity, heat, humidity.
    #[command(after_help = "Example:\n  brinewright properties --strength-pct 23.3 --temp-f 40\n  \
            brinewright properties --cacl2-pct 32 --temp-c 0 --json\n  brinewright properties --csv brines.csv")]
    Properties(Properties),
    /// Strength from a reading, in spec or not, and how sure; one sample or a CSV of many.
    #[command(
        after_help = "Example:\n  brinewright measure --instrument brix --reading 26.2 --temp-f 60\n  \
            brinewright measure --instrument sg_60_60 --reading 1.1855 --temp-c 0 --budget\n  \
            brinewright measure --csv readings.csv"
    )]
    Measure(Measure),
    /// What to set a controller's number to next, so that its panel agrees with the bench.
    #[command(after_help = "Example:\n  brinewright trim --csv pairs.csv --lag-min 8\n\n\
            Columns: time (RFC 3339, or minutes), trim (the number on the controller), panel and bench (per cent\n\
            by mass); panel_u_pct and bench_u_pct (95 % intervals) where they differ from row to row; temp_c\n\
            and any other columns pass through. The advice of a row is what the rows up to it say.")]
    Trim(Trim),
    /// Put a tank right: how much water, salt or other brine brings it to a strength, by mass.
    #[command(
        after_help = "Example:\n  brinewright correct --volume-gal 5000 --strength-pct 25 --target-pct 23.3 --with water\n  \
            brinewright correct --yard yard.toml --ledger ledger.db --tank 1 --strength-pct 21.8 --with salt"
    )]
    Correct(Correct),
    /// The cheapest recipe of a blend that stays liquid: from liquids at hand, or from a yard's tanks.
    #[command(
        after_help = "Example:\n  brinewright blend --lot nacl=23.3,usd_gal=0.12 --lot mgcl2=30,usd_gal=1.05 --lot water \\\n    \
            --ice-f -10 --clear-f 0 --volume-gal 1000\n  \
            brinewright blend --yard yard.toml --ledger ledger.db --tank 2 --ice-f -10 --clear-f 0"
    )]
    Blend(Blend),
    /// Where ice and where salt appear in a blend, at every strength or share: CSV, and SVG.
    #[command(
        after_help = "Example:\n  brinewright phase-diagram --salts nacl=90,mgcl2=10 --svg blend.svg > blend.csv\n  \
            brinewright phase-diagram --liquid nacl=23.3 --liquid mgcl2=30 > shares.csv"
    )]
    PhaseDiagram(PhaseDiagram),
    /// Run a plant's model from a scenario file: what its sensors show, and what is true.
    #[command(after_help = "Example:\n  brinewright simulate examples/bridging.toml > run.csv\n  \
        brinewright simulate examples/bridging.toml --summary\n\n\
        A scenario names a layout (batch, fed, upflow), its water, air and salt, what is dumped and what breaks\n\
        when; docs/plant.md lists every key. The plant is invented: it commands nothing real.")]
    Simulate(Simulate),
    /// Volume in a tank by depth, row by row.
    #[command(after_help = "Example:\n  brinewright strap --csv tanks.csv > with_volumes.csv\n\n\
        Columns: inside_diameter_m, straight_length_m, orientation (vertical, horizontal),\n\
        end_A_shape, end_A_depth_m, end_B_shape, end_B_depth_m (flat, elliptical, hemispherical, conical,\n\
        torispherical), tori_crown_ratio_f, tori_knuckle_ratio_k, liquid_depth_m. A tank standing has its\n\
        bottom as end A. Cells that do not apply stay blank; other columns pass through.")]
    Strap(Strap),
    /// Record what happened, list it, add it up, check it, hand it out.
    #[command(after_help = "Example:\n  brinewright ledger add --author Pat dip tank=1 depth_ft=6.5")]
    Ledger(Ledger),
    /// The books: where it all went, whether they close, what is due.
    #[command(after_help = "Example:\n  brinewright report season --yard yard.toml --database ledger.db\n  \
        brinewright report season --from 2026-12-01 --until 2026-12-31 --xlsx december.xlsx\n  \
        brinewright report close --json")]
    Report(Report),
    /// Catch test of a sprayer, or discharge test of a spreader, to the card for the cab.
    #[command(
        after_help = "Example:\n  brinewright calibrate sprayer --truck T1 --caught-floz \"64 63 66 64\" --seconds 15\n  \
        brinewright calibrate spreader --truck T1 \\\n    \
            --setting 4 --caught-lb \"101 98 103\" --turns 10 --per-minute 22"
    )]
    Calibrate(Calibrate),
    /// Take people in and out, and set a lost password or PIN anew, at the machine itself.
    #[command(after_help = "Example:\n  brinewright user add \"Ines\" --role supervisor --password\n  \
        brinewright user password \"Ines\"\n\n\
        Passwords and PINs are asked for, and read from standard input where that is no terminal.")]
    User(User),
    /// The yard's own certificates, so that every tablet's connection is encrypted and works without network.
    #[command(after_help = "Example:\n  brinewright tls init --host brine.local --host 192.168.1.20")]
    Tls(Tls),
    /// Say everything that is wrong with a yard file.
    #[command(
        after_help = "Example:\n  brinewright doctor yard.toml\n  brinewright doctor --sample > yard.toml"
    )]
    Doctor(Doctor),
}

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub struct Demo {
    /// Print both plans and stop, without the console.
    #[arg(long)]
    pub print_only: bool,
    /// Where the console listens; a free port beside 8417 when not given.
    #[arg(long)]
    pub address: Option<SocketAddr>,
    /// Folder for the demo yard; a temporary one, removed at the end, when not given.
    #[arg(long)]
    pub folder: Option<PathBuf>,
    /// Make people with passwords and PINs, to try signing in and signing at a shared tablet.
    #[arg(long)]
    pub people: bool,
    /// Let the demo's clock stand at its first moment, for pictures.
    #[arg(long)]
    pub standing_clock: bool,
}

/// Arguments of `backup`.
#[derive(Debug, Args)]
pub struct BackupArgs {
    /// Folder that backups go to.
    pub folder: PathBuf,
    /// Yard file.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Ledger; the people's file and the telemetry are looked for beside it.
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// Copy the keys of the yard's authority too: whoever has them can speak for the console.
    #[arg(long)]
    pub keys: bool,
}

/// Arguments of `restore`.
#[derive(Debug, Args)]
pub struct RestoreArgs {
    /// A backup: the folder whose name says when it was made.
    pub backup: PathBuf,
    /// An empty folder, or one that is not there yet.
    #[arg(long, required_unless_present = "check")]
    pub into: Option<PathBuf>,
    /// Check it and put nothing anywhere.
    #[arg(long)]
    pub check: bool,
}

/// Arguments of `serve`.
#[derive(Debug, Args)]
pub struct Serve {
    /// Yard file.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Ledger; made when it is not there.
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// Forecast files, the first shown first.
    #[arg(long)]
    pub forecast: Vec<PathBuf>,
    /// Where to listen: this machine alone, or every address of it (0.0.0.0:8420), which takes encryption
    /// (docs/people.md).
    #[arg(long, default_value = "127.0.0.1:8420")]
    pub address: SocketAddr,
    /// Who may come in is kept here; people.db beside the ledger where it is left out.
    #[arg(long)]
    pub people: Option<PathBuf>,
    /// Folder of the yard's own certificates, made by "brinewright tls init"; tls beside the ledger where it is left
    /// out.
    #[arg(long)]
    pub tls: Option<PathBuf>,
    /// A certificate of your own (PEM, with those above it), in place of the yard's.
    #[arg(long, requires = "key")]
    pub certificate: Option<PathBuf>,
    /// Its private key (PEM).
    #[arg(long, requires = "certificate")]
    pub key: Option<PathBuf>,
    /// A proxy stands in front and does the encryption.
    #[arg(long, conflicts_with_all = ["certificate", "trust_address"])]
    pub behind_proxy: bool,
    /// Also show, without encryption, the page that tells how a device comes to trust this console, and nothing else.
    #[arg(long)]
    pub trust_address: Option<SocketAddr>,
    /// Name by which the console may be asked, besides its address and localhost; may be given several times.
    #[arg(long)]
    pub host: Vec<String>,
    /// Path before every address, such as /brine, behind a proxy.
    #[arg(long, default_value = "")]
    pub base_path: String,
    /// Procedures that guided runs follow, in place of those that ship (docs/run.md); the usual one first.
    #[arg(long)]
    pub procedure: Vec<PathBuf>,
    /// What the plant's sensors show is kept here, where the yard file names points to read (docs/live.md); where it is
    /// left out, telemetry.db beside the ledger.
    #[arg(long)]
    pub telemetry: Option<PathBuf>,
    /// Folder of the practice plant's own ledgers (docs/trainer.md); practice beside the ledger where it is left out.
    #[arg(long)]
    pub practice: Option<PathBuf>,
    /// Folder for a checked copy of everything every night; the newest fourteen are kept. Best on another disk.
    #[arg(long)]
    pub backup: Option<PathBuf>,
    /// Where the practice plant is served over Modbus TCP while it runs; it refuses to be written to.
    #[arg(long, default_value = "127.0.0.1:0")]
    pub practice_modbus: SocketAddr,
    /// Broker, host:port, that the practice plant is published to over MQTT while it runs.
    #[arg(long)]
    pub practice_mqtt: Option<String>,
    #[command(flatten)]
    pub reading: Reading,
    /// Hours to plan.
    #[arg(long, default_value_t = 72)]
    pub hours: usize,
}

/// Arguments of `user`.
#[derive(Debug, Args)]
pub struct User {
    /// Who may come in is kept here.
    #[arg(long, default_value = "people.db", global = true)]
    pub people: PathBuf,
    /// What to do.
    #[command(subcommand)]
    pub act: UserAct,
}

/// What `user` does.
#[derive(Debug, Subcommand)]
pub enum UserAct {
    /// List people and devices.
    #[command(after_help = "Example:\n  brinewright user list --json")]
    List {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Take somebody in.
    #[command(after_help = "Example:\n  brinewright user add \"Lou\" --role operator --pin")]
    Add {
        /// Name, as the ledger is to show it.
        name: String,
        /// viewer, operator, trainer or supervisor.
        #[arg(long, default_value = "operator")]
        role: String,
        /// Ask for a password.
        #[arg(long)]
        password: bool,
        /// Ask for a PIN.
        #[arg(long)]
        pin: bool,
    },
    /// Set a password anew. All places where the person was signed in are signed out.
    #[command(after_help = "Example:\n  brinewright user password \"Ines\"")]
    Password {
        /// Name.
        name: String,
    },
    /// Set a PIN anew.
    #[command(after_help = "Example:\n  brinewright user pin \"Lou\"")]
    Pin {
        /// Name.
        name: String,
    },
    /// Change what a person may do.
    #[command(after_help = "Example:\n  brinewright user role \"Lou\" trainer")]
    Role {
        /// Name.
        name: String,
        /// viewer, operator, trainer or supervisor.
        role: String,
    },
    /// Somebody has left: kept by name, and may do nothing.
    #[command(after_help = "Example:\n  brinewright user leave \"Lou\"")]
    Leave {
        /// Name.
        name: String,
    },
}

/// Arguments of `tls`.
#[derive(Debug, Args)]
pub struct Tls {
    /// What to do.
    #[command(subcommand)]
    pub act: TlsAct,
}

/// What `tls` does.
#[derive(Debug, Subcommand)]
pub enum TlsAct {
    /// Make the yard's authority and a certificate for this machine.
    #[command(after_help = "Example:\n  brinewright tls init --host brine.local --host 192.168.1.20")]
    Init {
        /// Folder.
        #[arg(long, default_value = "tls")]
        folder: PathBuf,
        /// Yard file, for the yard's name.
        #[arg(long, default_value = "yard.toml")]
        yard: PathBuf,
        /// Names and addresses that tablets ask this machine by; may be given several times.
        #[arg(long, required = true)]
        host: Vec<String>,
        /// Make a new authority in place of one that is there: every device must be told to trust it anew.
        #[arg(long)]
        again: bool,
    },
    /// Say what the authority is, to compare with what a device shows.
    #[command(after_help = "Example:\n  brinewright tls show")]
    Show {
        /// Folder.
        #[arg(long, default_value = "tls")]
        folder: PathBuf,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
}

/// How to read a weather file.
#[derive(Debug, Clone, Args)]
pub struct Reading {
    /// Plan as if from this time (UTC like 2013-01-24T18:00Z, or yard time like 2013-01-24T13:00).
    #[arg(long)]
    pub issued: Option<String>,
    /// Station, when the file holds several.
    #[arg(long)]
    pub station: Option<String>,
    /// Whether times in a plain CSV are the start or the end of their hour, when it does not say.
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
    /// Yard file.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Forecast file.
    #[arg(long)]
    pub forecast: PathBuf,
    /// Ledger to take the stock from; the yard file's opening figures when not given.
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
    /// Rows of the table.
    #[arg(long, value_enum, default_value_t = Rows::Routes, requires = "table")]
    pub rows: Rows,
}

/// Rows of a plan's table.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Rows {
    /// One a route.
    Routes,
    /// One an hour.
    Hours,
}

/// Format of a table.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Table {
    /// Comma-separated values.
    Csv,
}

/// Arguments of `weather`.
#[derive(Debug, Args)]
pub struct Weather {
    /// File.
    pub file: PathBuf,
    /// Yard file, for its station and zone.
    #[arg(long)]
    pub yard: Option<PathBuf>,
    #[command(flatten)]
    pub reading: Reading,
    /// Add precipitation up from this time; the file's first when not given.
    #[arg(long)]
    pub from: Option<String>,
    /// Add precipitation up to this time; the file's last when not given.
    #[arg(long)]
    pub to: Option<String>,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `properties`.
#[derive(Debug, Args)]
pub struct Properties {
    /// Sodium chloride, per cent by mass.
    #[arg(long, allow_negative_numbers = true)]
    pub strength_pct: Option<f64>,
    /// Calcium chloride (anhydrous), per cent by mass.
    #[arg(long, allow_negative_numbers = true)]
    pub cacl2_pct: Option<f64>,
    /// Magnesium chloride (anhydrous), per cent by mass.
    #[arg(long, allow_negative_numbers = true)]
    pub mgcl2_pct: Option<f64>,
    /// Potassium chloride, per cent by mass.
    #[arg(long, allow_negative_numbers = true)]
    pub kcl_pct: Option<f64>,
    /// Sodium sulphate (anhydrous), per cent by mass.
    #[arg(long, allow_negative_numbers = true)]
    pub na2so4_pct: Option<f64>,
    /// Temperature, °F.
    #[arg(long, conflicts_with = "temp_c", allow_negative_numbers = true)]
    pub temp_f: Option<f64>,
    /// Temperature, °C.
    #[arg(long, allow_negative_numbers = true)]
    pub temp_c: Option<f64>,
    /// File with columns temp_c and any of nacl_wt_pct, cacl2_wt_pct, mgcl2_wt_pct, kcl_wt_pct, na2so4_wt_pct
    /// (absent: 0); rows come back with columns added, what cannot be given is empty and named in the last.
    #[arg(long, conflicts_with_all = ["strength_pct", "cacl2_pct", "mgcl2_pct", "kcl_pct", "na2so4_pct", "temp_f", "temp_c"])]
    pub csv: Option<PathBuf>,
    /// Print as JSON.
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
}

/// Arguments of `measure`.
#[derive(Debug, Args)]
pub struct Measure {
    /// Scale that was read: brix, refractive_index, nacl_pct, freezing_c, seawater_permille (refractometers);
    /// sg_60_60, sg_20_20, sg_20_4, baume, salometer, salometer_38 (hydrometers); conductivity (mS/cm),
    /// density (kg/m³), cup (grams). With --yard, an instrument of that yard by its id.
    #[arg(long, required_unless_present_any = ["csv", "dried", "titrated"], conflicts_with = "csv")]
    pub instrument: Option<String>,
    /// What it showed; several times for several readings of one sample.
    #[arg(
        long,
        required_unless_present_any = ["csv", "dried", "titrated"],
        conflicts_with = "csv",
        allow_negative_numbers = true
    )]
    pub reading: Vec<f64>,
    /// Yard file whose instruments may be named.
    #[arg(long)]
    pub yard: Option<PathBuf>,
    /// Instead of a reading, a sample dried at 105 to 110 °C to constant mass: grams before and grams left.
    #[arg(
        long,
        num_args = 2,
        value_names = ["SAMPLE_G", "RESIDUE_G"],
        conflicts_with_all = ["csv", "instrument", "reading"]
    )]
    pub dried: Option<Vec<f64>>,
    /// Instead of a reading, chloride titrated with silver nitrate: millilitres, mol/L, grams of brine titrated.
    #[arg(
        long,
        num_args = 3,
        value_names = ["ML", "MOLAR", "PORTION_G"],
        conflicts_with_all = ["csv", "instrument", "reading", "dried"]
    )]
    pub titrated: Option<Vec<f64>>,
    /// Temperature of the sample, °F.
    #[arg(long, conflicts_with_all = ["temp_c", "csv"], allow_negative_numbers = true)]
    pub temp_f: Option<f64>,
    /// Temperature of the sample, °C.
    #[arg(long, conflicts_with = "csv", allow_negative_numbers = true)]
    pub temp_c: Option<f64>,
    /// How far off the thermometer may be, ± K.
    #[arg(long, default_value_t = 1.0)]
    pub temp_half_width_k: f64,
    /// The refractometer compensates for temperature by itself.
    #[arg(long)]
    pub compensated: bool,
    /// The conductivity meter's own compensation, per cent per kelvin; none when not given.
    #[arg(long)]
    pub alpha_pct_per_k: Option<f64>,
    /// Temperature that compensation refers to, °C.
    #[arg(long, default_value_t = 25.0)]
    pub alpha_reference_c: f64,
    /// What the cup holds, mL.
    #[arg(long)]
    pub cup_ml: Option<f64>,
    /// Smallest step the instrument can be read to, in the unit of its scale.
    #[arg(long)]
    pub resolution: Option<f64>,
    /// Standard uncertainty of its last zero or check, in the unit of its scale.
    #[arg(long)]
    pub calibration: Option<f64>,
    /// Standard deviation of one reading after another of a sample, in the unit of its scale.
    #[arg(long)]
    pub repeatability: Option<f64>,
    /// What is dissolved, by mass: salt=parts with commas between, of nacl, cacl2, mgcl2, kcl.
    #[arg(long, default_value = "nacl=1")]
    pub solute: String,
    /// Weakest strength in spec, per cent by mass.
    #[arg(long, default_value_t = 22.8)]
    pub low_pct: f64,
    /// Strongest strength in spec, per cent by mass.
    #[arg(long, default_value_t = 23.8)]
    pub high_pct: f64,
    /// Chance of a wrong verdict that is accepted, per cent.
    #[arg(long, default_value_t = 5.0)]
    pub risk_pct: f64,
    /// Also print what the interval is made of.
    #[arg(long, conflicts_with = "csv")]
    pub budget: bool,
    /// File with columns instrument, reading, temp_c (blank where it was not taken) and, where wanted, compensated
    /// (yes or no); rows come back with columns added, what cannot be given is empty and named in the last.
    #[arg(long)]
    pub csv: Option<PathBuf>,
    /// Print as JSON.
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
}

/// Arguments of `trim`.
#[derive(Debug, Args)]
pub struct Trim {
    /// File of pairs, oldest first; rows come back with columns added.
    #[arg(long)]
    pub csv: PathBuf,
    /// Strength the product is to have, per cent by mass.
    #[arg(long, default_value_t = 23.3)]
    pub target_pct: f64,
    /// Strongest it may be, per cent by mass.
    #[arg(long, default_value_t = 23.8)]
    pub top_pct: f64,
    /// Largest step of the number, per cent of it.
    #[arg(long, default_value_t = 2.0)]
    pub largest_step_pct: f64,
    /// Chance of over-strength that a step may bring, per cent.
    #[arg(long, default_value_t = 5.0)]
    pub risk_pct: f64,
    /// Smallest step the controller takes, in units of the number.
    #[arg(long, default_value_t = 0.001)]
    pub resolution: f64,
    /// Minutes in which a change comes through by 63 %, as seen on the build-up.
    #[arg(long, default_value_t = 10.0)]
    pub lag_min: f64,
    /// 95 % interval of the panel's reading, ± per cent by mass, where the file does not say.
    #[arg(long, default_value_t = 0.15)]
    pub panel_u_pct: f64,
    /// 95 % interval of the bench's, ± per cent by mass, where the file does not say.
    #[arg(long, default_value_t = 0.26)]
    pub bench_u_pct: f64,
    /// Print the advice of the last row as JSON instead.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `correct`.
#[derive(Debug, Args)]
pub struct Correct {
    /// What is put in: water, salt, tank=ID (of the yard), or lot=PERCENT (a brine of that strength).
    #[arg(long)]
    pub with: String,
    /// Yard file; then --tank names the tank, and what is not given is taken from its books.
    #[arg(long, requires = "tank")]
    pub yard: Option<PathBuf>,
    /// Ledger to take the stock from; the yard file's opening figures when not given.
    #[arg(long, requires = "yard")]
    pub ledger: Option<PathBuf>,
    /// Tank of the yard.
    #[arg(long, requires = "yard")]
    pub tank: Option<String>,
    /// What the tank holds, US gallons at 60 °F.
    #[arg(long, conflicts_with = "volume_l")]
    pub volume_gal: Option<f64>,
    /// What the tank holds, litres at 60 °F.
    #[arg(long)]
    pub volume_l: Option<f64>,
    /// Measured strength, per cent salt by mass.
    #[arg(long)]
    pub strength_pct: Option<f64>,
    /// 95 % interval of that strength, ± per cent salt by mass; 0.3 when nothing says better.
    #[arg(long)]
    pub uncertainty_pct: Option<f64>,
    /// Strength wanted, per cent salt by mass; the plant's target, or 23.3.
    #[arg(long)]
    pub target_pct: Option<f64>,
    /// Temperature of the brine, °F.
    #[arg(long, conflicts_with = "temp_c", allow_negative_numbers = true)]
    pub temp_f: Option<f64>,
    /// Temperature of the brine, °C.
    #[arg(long, allow_negative_numbers = true)]
    pub temp_c: Option<f64>,
    /// Temperature of what is put in, °F.
    #[arg(long, conflicts_with = "with_temp_c", allow_negative_numbers = true)]
    pub with_temp_f: Option<f64>,
    /// Temperature of what is put in, °C.
    #[arg(long, allow_negative_numbers = true)]
    pub with_temp_c: Option<f64>,
    /// Sodium chloride in the dry salt, per cent; 95 without a yard file.
    #[arg(long, conflicts_with = "yard")]
    pub purity_pct: Option<f64>,
    /// Water in the salt as delivered, per cent; 1.5 without a yard file.
    #[arg(long, conflicts_with = "yard")]
    pub moisture_pct: Option<f64>,
    /// Most the tank may hold, US gallons.
    #[arg(long, conflicts_with = "yard")]
    pub capacity_gal: Option<f64>,
    /// Salt in one loader bucket, pounds.
    #[arg(long, conflicts_with = "yard")]
    pub bucket_lb: Option<f64>,
    /// Pump that brings what is put in, gallons a minute.
    #[arg(long, conflicts_with = "yard")]
    pub pump_gpm: Option<f64>,
    /// Pump that circulates the tank, gallons a minute.
    #[arg(long, conflicts_with = "yard")]
    pub circulation_gpm: Option<f64>,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `simulate`.
#[derive(Debug, Args)]
pub struct Simulate {
    /// The scenario.
    #[arg(required_unless_present = "tables")]
    pub scenario: Option<PathBuf>,
    /// Run it on the plant that this yard file describes, in place of a layout that ships.
    #[arg(long)]
    pub yard: Option<PathBuf>,
    /// Print a layout that ships (batch, fed or upflow) as tables of a yard file, to begin your own from.
    #[arg(long, value_name = "LAYOUT", conflicts_with_all = ["scenario", "yard", "summary", "json", "band"])]
    pub tables: Option<String>,
    /// What came of the run, in place of its rows.
    #[arg(long)]
    pub summary: bool,
    /// The same as JSON.
    #[arg(long, conflicts_with = "summary")]
    pub json: bool,
    /// In place of one run, what so many plants as this one may be would show: the panel's 95 % band by time, and when
    /// strength is reached; what breaks in the scenario is left out.
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
    /// Yard file.
    #[arg(default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Print a complete example yard file instead.
    #[arg(long)]
    pub sample: bool,
    /// Print as JSON.
    #[arg(long, conflicts_with = "sample")]
    pub json: bool,
}

/// Arguments of `report`.
#[derive(Debug, Args)]
pub struct Report {
    /// What is reported.
    #[arg(value_enum)]
    pub what: ReportOf,
    /// Yard file.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Ledger.
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
    /// The storms there were.
    Storms,
    /// Whether the books close, and what to doubt first; exit code 1 when they do not.
    Close,
    /// What is due.
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
    /// Yard file.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Truck of the yard file.
    #[arg(long)]
    pub truck: String,
    /// What each nozzle gave, in order, US fluid ounces with blanks between.
    #[arg(long, required_unless_present = "caught_ml", conflicts_with = "caught_ml")]
    pub caught_floz: Option<String>,
    /// The same in millilitres.
    #[arg(long)]
    pub caught_ml: Option<String>,
    /// Time of catching, s.
    #[arg(long)]
    pub seconds: String,
    /// Caught in water or brine.
    #[arg(long, default_value = "water")]
    pub liquid: String,
    /// Lanes it sprays.
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
    /// Yard file.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Truck of the yard file.
    #[arg(long)]
    pub truck: String,
    /// What was spread.
    #[arg(long, default_value = "rock salt")]
    pub material: String,
    /// Setting of the control.
    #[arg(long)]
    pub setting: String,
    /// Mass of each catch, lb with blanks between.
    #[arg(long, required_unless_present = "caught_kg", conflicts_with = "caught_kg")]
    pub caught_lb: Option<String>,
    /// The same in kg.
    #[arg(long)]
    pub caught_kg: Option<String>,
    /// Turns in each catch.
    #[arg(long)]
    pub turns: String,
    /// Turns a minute at that setting.
    #[arg(long)]
    pub per_minute: String,
}
