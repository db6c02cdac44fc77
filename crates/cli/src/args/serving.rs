//! Arguments of `demo`, `serve`, `backup` and `restore`.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;

use super::Reading;

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
    /// Copy the keys of the yard's authority too: anyone who has them can pose as the console.
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
