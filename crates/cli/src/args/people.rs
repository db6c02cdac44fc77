//! Arguments of `user` and `tls`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

/// Arguments of `user`.
#[derive(Debug, Args)]
pub struct User {
    /// File that holds people, devices and sign-ins.
    #[arg(long, default_value = "people.db", global = true)]
    pub people: PathBuf,
    /// Command to run
    #[command(subcommand)]
    pub act: UserAct,
}

/// What `user` does.
#[derive(Debug, Subcommand)]
pub enum UserAct {
    /// List people and devices.
    #[command(after_help = "Example:\n  brinewright user list --json")]
    List {
        /// Print as JSON.
        #[arg(long)]
        json: bool,
    },
    /// Add a person.
    #[command(after_help = "Example:\n  brinewright user add \"Lou\" --role operator --pin")]
    Add {
        /// Name to show in the ledger
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
    /// Set a new password, and sign the person out everywhere.
    #[command(after_help = "Example:\n  brinewright user password \"Ines\"")]
    Password {
        /// Name of the person whose password is reset.
        name: String,
    },
    /// Set a new PIN.
    #[command(after_help = "Example:\n  brinewright user pin \"Lou\"")]
    Pin {
        /// Name of the person whose PIN is reset.
        name: String,
    },
    /// Change a person's role
    #[command(after_help = "Example:\n  brinewright user role \"Lou\" trainer")]
    Role {
        /// Name of the person whose role changes.
        name: String,
        /// viewer, operator, trainer or supervisor.
        role: String,
    },
    /// Remove a person who has left; the name is kept but can no longer sign in.
    #[command(after_help = "Example:\n  brinewright user leave \"Lou\"")]
    Leave {
        /// Name of the person to remove.
        name: String,
    },
}

/// Arguments of `tls`.
#[derive(Debug, Args)]
pub struct Tls {
    /// Command to run
    #[command(subcommand)]
    pub act: TlsAct,
}

/// What `tls` does.
#[derive(Debug, Subcommand)]
pub enum TlsAct {
    /// Create the yard's certificate authority and a certificate for this computer
    #[command(after_help = "Example:\n  brinewright tls init --host brine.local --host 192.168.1.20")]
    Init {
        /// Folder to write the authority and its certificate to.
        #[arg(long, default_value = "tls")]
        folder: PathBuf,
        /// Yard file, for the yard's name.
        #[arg(long, default_value = "yard.toml")]
        yard: PathBuf,
        /// Name or address tablets use for this computer; repeatable
        #[arg(long, required = true)]
        host: Vec<String>,
        /// Replace the authority; every device must be set up to trust it again
        #[arg(long)]
        again: bool,
    },
    /// Show the fingerprint of the authority, to compare with what a device shows.
    #[command(after_help = "Example:\n  brinewright tls show")]
    Show {
        /// Folder that holds the authority.
        #[arg(long, default_value = "tls")]
        folder: PathBuf,
        /// Print as JSON.
        #[arg(long)]
        json: bool,
    },
}
