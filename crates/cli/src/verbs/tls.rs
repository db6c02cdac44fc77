//! `tls`: the yard's own certificates.

use console::tls::{authority, init};
use jiff::Timestamp;
use serde_json::json;

use super::serve::tls_failure;
use crate::args;
use crate::input;
use crate::outcome::{Done, Outcome, print};

/// Runs the verb.
pub fn run(args: &args::Tls) -> Outcome {
    match &args.act {
        args::TlsAct::Init { folder, yard, host, again } => {
            let yard = input::yard(yard)?;
            let made = init(folder, &yard.name, host, *again, Timestamp::now()).map_err(tls_failure)?;
            print(&format!(
                "Made the yard's authority in {}, for {}.\nFingerprint: {}\nNext: brinewright serve --address 0.0.0.0:8420 --trust-address 0.0.0.0:8480 --host {}\nKeep {} where no one but this program reads it, and in no backup that leaves the yard.",
                folder.display(),
                host.join(", "),
                made.fingerprint,
                host.join(" --host "),
                folder.join("authority.key").display(),
            ))?;
        }
        args::TlsAct::Show { folder, json } => {
            let found = authority(folder).map_err(tls_failure)?;
            if *json {
                let told =
                    json!({ "fingerprint_sha256": found.fingerprint, "good_until": found.until.to_string() });
                print(&told.to_string())?;
            } else {
                print(&format!("Fingerprint: {}\nGood until {}.", found.fingerprint, found.until))?;
            }
        }
    }
    Ok(Done::Yes)
}
