//! Arguments of the verbs of brine and bench: `properties`, `impurities`, `measure`, `trim`, `correct`.

use std::path::PathBuf;

use clap::Args;

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
    /// Temperature of the brine, °F.
    #[arg(long, conflicts_with = "temp_c", allow_negative_numbers = true)]
    pub temp_f: Option<f64>,
    /// Temperature of the brine, °C.
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

/// Arguments of `impurities`.
#[derive(Debug, Args)]
pub struct Impurities {
    /// Sodium chloride in the dry rock salt, percent by mass: its purity. What is left to 100 is insoluble.
    #[arg(long)]
    pub nacl_pct: f64,
    /// Calcium sulfate in it: gypsum and anhydrite.
    #[arg(long, default_value_t = 0.0)]
    pub caso4_pct: f64,
    /// Calcium chloride in it.
    #[arg(long, default_value_t = 0.0)]
    pub cacl2_pct: f64,
    /// Magnesium chloride in it.
    #[arg(long, default_value_t = 0.0)]
    pub mgcl2_pct: f64,
    /// Hardness of the water, mg/L as CaCO3; 0 to 2,000.
    #[arg(long, default_value_t = 0.0)]
    pub hardness_mg_l: f64,
    /// Sodium chloride in the brine, per cent by mass.
    #[arg(long, default_value_t = 23.3)]
    pub strength_pct: f64,
    /// Temperature of the sample, °F; 60 when nothing is said.
    #[arg(long, conflicts_with = "temp_c", allow_negative_numbers = true)]
    pub temp_f: Option<f64>,
    /// Temperature of the sample, °C.
    #[arg(long, allow_negative_numbers = true)]
    pub temp_c: Option<f64>,
    /// Print as JSON.
    #[arg(long)]
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
    /// Reading; repeat for several readings of one sample
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
    /// Thermometer error, ± °C
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
    /// Accepted chance of a wrong result, percent
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
    /// Target strength of the product, per cent by mass.
    #[arg(long, default_value_t = 23.3)]
    pub target_pct: f64,
    /// Highest strength in spec, per cent by mass.
    #[arg(long, default_value_t = 23.8)]
    pub top_pct: f64,
    /// Largest step of the trim setting, per cent of the setting.
    #[arg(long, default_value_t = 2.0)]
    pub largest_step_pct: f64,
    /// Chance of over-strength that a step may bring, per cent.
    #[arg(long, default_value_t = 5.0)]
    pub risk_pct: f64,
    /// Smallest step the controller takes, in units of the trim setting.
    #[arg(long, default_value_t = 0.001)]
    pub resolution: f64,
    /// Plant lag: minutes for 63% of a change to show at the tap
    #[arg(long, default_value_t = 10.0)]
    pub lag_min: f64,
    /// 95 % interval of the panel's reading, ± per cent by mass, where the file does not say.
    #[arg(long, default_value_t = 0.15)]
    pub panel_u_pct: f64,
    /// 95 % interval of the bench strength, ± per cent by mass, where the file does not say.
    #[arg(long, default_value_t = 0.26)]
    pub bench_u_pct: f64,
    /// Print the advice of the last row as JSON instead.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `correct`.
#[derive(Debug, Args)]
pub struct Correct {
    /// What to add: water, salt, tank=ID (from the yard), or lot=PERCENT (brine of that strength)
    #[arg(long)]
    pub with: String,
    /// Yard file; then --tank names the tank, and what is not given is taken from its books.
    #[arg(long, requires = "tank")]
    pub yard: Option<PathBuf>,
    /// Ledger to read inventory from [default: the yard file's opening amounts]
    #[arg(long, requires = "yard")]
    pub ledger: Option<PathBuf>,
    /// Tank of the yard to correct, by its id.
    #[arg(long, requires = "yard")]
    pub tank: Option<String>,
    /// What the tank holds, US gallons at 60 °F.
    #[arg(long, conflicts_with = "volume_l")]
    pub volume_gal: Option<f64>,
    /// Volume in the tank, liters at 60 °F
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
    /// Flow of the pump that brings what is put in, gallons a minute.
    #[arg(long, conflicts_with = "yard")]
    pub pump_gpm: Option<f64>,
    /// Flow of the pump that circulates the tank, gallons a minute.
    #[arg(long, conflicts_with = "yard")]
    pub circulation_gpm: Option<f64>,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}
