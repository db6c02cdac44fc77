//! `backup` and `restore`: copies of everything a yard keeps, and their way back.

use jiff::Timestamp;
use store::backup::{self, Made, Sources};
use store::telemetry::{Telemetry, TelemetryFile};

use crate::args::{BackupArgs, RestoreArgs};
use crate::outcome::{Done, Failure, Outcome, print};

/// Makes a backup.
pub fn run(args: &BackupArgs) -> Outcome {
    if !args.database.exists() {
        let shown = args.database.display();
        return Err(Failure::Input(format!("{shown}: there is no such ledger; accepted: --database FILE")));
    }
    let beside = |name: &str| args.database.with_file_name(name);
    let sources = Sources {
        ledger: args.database.clone(),
        people: Some(beside("people.db")),
        yard: Some(args.yard.clone()),
        keys: args.keys.then(|| beside("tls")),
    };
    // Where a console holds it, its own nightly copy has it.
    let telemetry = beside("telemetry.db");
    let opened = telemetry.exists().then(|| TelemetryFile::open(&telemetry).ok()).flatten();
    let held = telemetry.exists() && opened.is_none();
    let made = backup::make(
        &sources,
        opened.as_ref().map(|file| file as &dyn Telemetry),
        &args.folder,
        Timestamp::now(),
    )?;
    print(&format!("Backed up and read back: {}\n{}", made.folder.display(), listed(&made)))?;
    if held {
        print("telemetry.db is in use by a console, or cannot be read: it is not in this copy.")?;
    }
    Ok(Done::Yes)
}

/// Puts a backup back.
pub fn restore(args: &RestoreArgs) -> Outcome {
    let (false, Some(into)) = (args.check, &args.into) else {
        let found = backup::check(&args.backup)?;
        print(&format!("Whole: {}\n{}", args.backup.display(), listed(&found)))?;
        return Ok(Done::Yes);
    };
    let made = backup::restore(&args.backup, into)?;
    let folder = made.folder.display();
    print(&format!(
        "Restored into {folder}\n{}\nStart it with: brinewright serve --yard {folder}/yard.toml --database {folder}/ledger.db",
        listed(&made)
    ))?;
    Ok(Done::Yes)
}

fn listed(made: &Made) -> String {
    format!("{}\nThe ledger ends at {}", made.files.join(", "), made.end)
}
