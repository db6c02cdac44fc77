//! Arguments of `ledger`.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

use super::Table;

/// Arguments of `ledger`.
#[derive(Debug, Args)]
pub struct Ledger {
    /// Command to run
    #[command(subcommand)]
    pub act: LedgerAct,
}

/// What to do with a ledger.
#[derive(Debug, Subcommand)]
pub enum LedgerAct {
    /// Add an entry: its kind, then fields as name=value with the unit in the name
    #[command(
        after_help = "Example:\n  brinewright ledger add --author Pat making_run tank=1 volume_gal=2000 strength_pct=23.3\n\n\
        Kinds and fields: brinewright ledger kinds"
    )]
    Add(LedgerAdd),
    /// Void an event, by its row: it stays in the ledger, with who voided it and why.
    #[command(after_help = "Example:\n  brinewright ledger void 214 --author Pat --reason \"wrong tank\"")]
    Void(LedgerVoid),
    /// List events, newest last.
    #[command(after_help = "Example:\n  brinewright ledger list --tank 1 --limit 20")]
    List(LedgerList),
    /// Add up the events: what each tank holds, the rock salt, and the totals.
    #[command(after_help = "Example:\n  brinewright ledger balance --yard yard.toml --database ledger.db")]
    Balance(LedgerBalance),
    /// Check that no entry was changed since it was saved; exit code 1 when one was.
    #[command(after_help = "Example:\n  brinewright ledger verify --database ledger.db --expect 214:9f2c…")]
    Verify(LedgerVerify),
    /// Export every event of the ledger.
    #[command(after_help = "Example:\n  brinewright ledger export --format jsonl --output ledger.jsonl")]
    Export(LedgerExport),
    /// Import a table of events of one kind: all of its rows, or none.
    #[command(after_help = "Example:\n  brinewright ledger import application treated.csv --author Lou\n\n\
        The first line names the fields of the kind, with their units, as `ledger kinds` lists them; at says when\n\
        (2027-01-14 05:40 in the yard's time, or UTC with a Z), author who. The same file read twice is\n\
            recorded once.")]
    Import(LedgerImport),
    /// List the kinds of event and their fields; of one kind, what each field takes.
    #[command(after_help = "Example:\n  brinewright ledger kinds load_out")]
    Kinds(LedgerKinds),
}

/// Arguments of `ledger kinds`.
#[derive(Debug, Args)]
pub struct LedgerKinds {
    /// Kind of event to describe.
    pub kind: Option<String>,
}

/// Arguments of `ledger add`.
#[derive(Debug, Args)]
pub struct LedgerAdd {
    /// Yard file that names the tanks, trucks and routes an entry may use.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Ledger file; created if missing
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// Name of the person who makes the entry.
    #[arg(long)]
    pub author: String,
    /// Name of the device it is entered on, kept with the entry.
    #[arg(long, default_value = "command line")]
    pub device: String,
    /// When it happened (UTC like 2026-01-14T06:00Z, or yard time like 2026-01-14T01:00); now when not given.
    #[arg(long)]
    pub at: Option<String>,
    /// Id of the event, to send it twice and record it once; a new one when not given.
    #[arg(long)]
    pub id: Option<String>,
    /// Save it even if it looks unlikely.
    #[arg(long)]
    pub confirm: bool,
    /// Kind of event.
    pub kind: String,
    /// Fields as name=value.
    pub fields: Vec<String>,
}

/// Arguments of `ledger void`.
#[derive(Debug, Args)]
pub struct LedgerVoid {
    /// Yard file that the ledger belongs to.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Ledger file that holds the entry.
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// Name of the person who voids the entry.
    #[arg(long)]
    pub author: String,
    /// Name of the device it is voided on, kept with the entry.
    #[arg(long, default_value = "command line")]
    pub device: String,
    /// Reason for the void, kept in the ledger.
    #[arg(long)]
    pub reason: String,
    /// Void it even if the program asks whether you are sure.
    #[arg(long)]
    pub confirm: bool,
    /// Row of the ledger, as `ledger list` numbers them.
    pub row: u64,
}

/// Arguments of `ledger import`.
#[derive(Debug, Args)]
pub struct LedgerImport {
    /// Yard file that names the tanks, trucks and routes an entry may use.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Ledger file; created if missing
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// Name of the person who makes the entries, for rows that do not name one.
    #[arg(long)]
    pub author: Option<String>,
    /// Name of the device it is entered on, kept with the entries.
    #[arg(long, default_value = "command line")]
    pub device: String,
    /// Save all rows even if some look unlikely.
    #[arg(long)]
    pub confirm: bool,
    /// Kind of event.
    pub kind: String,
    /// Table of events to import, CSV.
    pub file: PathBuf,
}

/// Arguments of `ledger list`.
#[derive(Debug, Args)]
pub struct LedgerList {
    /// Yard file that the ledger belongs to.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Ledger file to list.
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// List only entries that touched this tank, by its id.
    #[arg(long)]
    pub tank: Option<String>,
    /// Number of entries to list, counted back from the newest.
    #[arg(long, default_value_t = 50)]
    pub limit: usize,
    /// Print as JSON.
    #[arg(long, conflicts_with = "table")]
    pub json: bool,
    /// Print as a table.
    #[arg(long, value_enum)]
    pub table: Option<Table>,
}

/// Arguments of `ledger balance`.
#[derive(Debug, Args)]
pub struct LedgerBalance {
    /// Yard file that the ledger belongs to.
    #[arg(long, default_value = "yard.toml")]
    pub yard: PathBuf,
    /// Ledger file to add up.
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// Print as JSON.
    #[arg(long, conflicts_with = "table")]
    pub json: bool,
    /// Print as a table.
    #[arg(long, value_enum)]
    pub table: Option<Table>,
}

/// Arguments of `ledger verify`.
#[derive(Debug, Args)]
pub struct LedgerVerify {
    /// Ledger file to check.
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// End of the ledger as it was printed or mailed earlier, ROW:HASH, to check that nothing was cut off since.
    #[arg(long)]
    pub expect: Option<String>,
    /// Accept the ledger's present end as correct, after an older copy was put back on purpose.
    #[arg(long)]
    pub accept_end: bool,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `ledger export`.
#[derive(Debug, Args)]
pub struct LedgerExport {
    /// Ledger file to export.
    #[arg(long, default_value = "ledger.db")]
    pub database: PathBuf,
    /// Format of the exported file.
    #[arg(long, value_enum, default_value_t = ExportFormat::Jsonl)]
    pub format: ExportFormat,
    /// File, written whole or not at all; standard output when not given.
    #[arg(long)]
    pub output: Option<PathBuf>,
}

/// Format of an export.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum ExportFormat {
    /// One JSON object a line.
    Jsonl,
    /// Comma-separated values, one row an event.
    Csv,
}
