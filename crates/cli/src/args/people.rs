//! Arguments of `user` and `tls`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

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
    /// Add a person.
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
    /// Remove a person who has left: the name is kept, and may do nothing.
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
