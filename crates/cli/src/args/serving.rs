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
    /// Stop the demo's clock at its first moment, for screenshots.
    #[arg(long)]
    pub standing_clock: bool,
}

/// Arguments of `backup`.
#[derive(Debug, Args)]
pub struct BackupArgs {
    /// Folder that backups go to.
    pub folder: PathBuf,
    /// Yard file to back up.
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
    /// Yard file that the console runs on.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Ledger; made when it is not there.
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// Forecast files, the first shown first.
    #[arg(long)]
    pub forecast: Vec<PathBuf>,
    /// Address and port to listen on: this computer only, or every address (0.0.0.0:8420), which requires encryption
    /// (docs/people.md).
    #[arg(long, default_value = "127.0.0.1:8420")]
    pub address: SocketAddr,
    /// File that holds people, devices and sign-ins; people.db beside the ledger when not given.
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
    /// A proxy in front of the console does the encryption.
    #[arg(long, conflicts_with_all = ["certificate", "trust_address"])]
    pub behind_proxy: bool,
    /// Address and port for an unencrypted page that tells how a device comes to trust this console, and nothing else.
    #[arg(long)]
    pub trust_address: Option<SocketAddr>,
    /// Host name that browsers may use for the console, besides its address and localhost; may be given several times.
    #[arg(long)]
    pub host: Vec<String>,
    /// Path before every address, such as /brine, behind a proxy.
    #[arg(long, default_value = "")]
    pub base_path: String,
    /// Procedures that guided runs follow, in place of those that ship (docs/run.md); the usual one first.
    #[arg(long)]
    pub procedure: Vec<PathBuf>,
    /// File for what the plant's sensors show, where the yard file names points to read (docs/live.md); telemetry.db
    /// beside the ledger when not given.
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
