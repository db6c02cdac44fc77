//! Arguments of `demo`, `serve`, `backup` and `restore`.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;

use super::Reading;

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub struct Demo {
    /// Print both plans and exit; do not start the console
    #[arg(long)]
    pub print_only: bool,
    /// Address to listen on [default: 127.0.0.1, port 8417 or the next free one]
    #[arg(long)]
    pub address: Option<SocketAddr>,
    /// Folder for the demo yard [default: a temporary folder, deleted at exit]
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
    /// Ledger file; created if missing
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// Forecast file; repeat for more. The first is shown first
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
    /// Your own certificate chain (PEM), instead of the yard's
    #[arg(long, requires = "key")]
    pub certificate: Option<PathBuf>,
    /// Private key for --certificate (PEM)
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
    /// URL path prefix when behind a proxy, like /brine
    #[arg(long, default_value = "")]
    pub base_path: String,
    /// Procedure file to use instead of the built-in ones; repeatable, main one first (docs/run.md)
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
    /// Modbus TCP address for the practice plant (read only)
    #[arg(long, default_value = "127.0.0.1:0")]
    pub practice_modbus: SocketAddr,
    /// MQTT broker (host:port) to publish the practice plant to
    #[arg(long)]
    pub practice_mqtt: Option<String>,
    #[command(flatten)]
    pub reading: Reading,
    /// Hours to plan.
    #[arg(long, default_value_t = 72)]
    pub hours: usize,
}
