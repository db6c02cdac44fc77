//! Arguments of the verbs about blends.

use std::path::PathBuf;

use clap::Args;

/// Arguments of `blend`.
#[derive(Debug, Args)]
pub struct Blend {
    /// A liquid at hand: its salts in per cent by mass, then usd_gal (or usd_l), gal (or l) and name where known:
    /// nacl=23.3,usd_gal=0.12,gal=5000. Water is "water". Given once for each.
    #[arg(long, value_name = "LIQUID", required_unless_present = "yard", conflicts_with = "yard")]
    pub lot: Vec<String>,
    /// Yard file; then the liquids at hand are its tanks and its water.
    #[arg(long)]
    pub yard: Option<PathBuf>,
    /// Ledger to read inventory from [default: the yard file's opening amounts]
    #[arg(long, requires = "yard")]
    pub ledger: Option<PathBuf>,
    /// Tank of the yard that the blend is made in, on top of what it holds.
    #[arg(long, requires = "yard")]
    pub tank: Option<String>,
    /// Use only these sources: tank=ID or water, given once for each; all that is at hand when not given.
    #[arg(long, value_name = "SOURCE", requires = "yard")]
    pub from: Vec<String>,
    /// No ice above this, °F.
    #[arg(long, conflicts_with = "ice_c", required_unless_present = "ice_c", allow_negative_numbers = true)]
    pub ice_f: Option<f64>,
    /// No ice above this, °C.
    #[arg(long, allow_negative_numbers = true)]
    pub ice_c: Option<f64>,
    /// No ice or salt above this, °F [default: same as --ice-f]
    #[arg(long, conflicts_with = "clear_c", allow_negative_numbers = true)]
    pub clear_f: Option<f64>,
    /// No solid at all above this, °C.
    #[arg(long, allow_negative_numbers = true)]
    pub clear_c: Option<f64>,
    /// Total volume to make, US gallons at 60 °F; with a tank and without this, the least that does it.
    #[arg(long, conflicts_with = "volume_l", required_unless_present_any = ["volume_l", "tank"])]
    pub volume_gal: Option<f64>,
    /// Total volume to make, litres at 60 °F.
    #[arg(long)]
    pub volume_l: Option<f64>,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `phase-diagram`.
#[derive(Debug, Args)]
pub struct PhaseDiagram {
    /// Dry salts by mass, at every strength: nacl=90,mgcl2=10.
    #[arg(long, value_name = "SALTS", required_unless_present = "liquid", conflicts_with = "liquid")]
    pub salts: Option<String>,
    /// Two liquids, at every share of the second: nacl=23.3, then mgcl2=30.
    #[arg(long, value_name = "LIQUID", num_args = 1)]
    pub liquid: Vec<String>,
    /// How many points; 2 to 5,000.
    #[arg(long, default_value_t = 200)]
    pub points: usize,
    /// Also draw it into this file, as SVG.
    #[arg(long)]
    pub svg: Option<PathBuf>,
}
