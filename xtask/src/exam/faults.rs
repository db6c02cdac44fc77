//! What must survive: a full disk, writers killed half-way, a second server on one ledger, a port that is taken.
//! After each, the ledger must verify, and every entry whose command ended well must be in it.

use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

use super::board::{Board, Outcome};
use crate::running::{self, Finished};
use crate::scratch::Scratch;
use crate::served::Served;
use crate::workspace;

const COMMAND_LIMIT: Duration = Duration::from_secs(30);

/// Exit code of "this machine would not let it".
const NOT_LET: i32 = 4;

/// A disk this large, nearly filled beforehand, so that it is full after some dozens of entries.
const DISK_BYTES: u64 = 2_097_152;
const FILLER_BYTES: usize = 1_800_000;
const WRITERS_TIMED: usize = 5;
/// Writers that are killed at once.
const WRITERS: usize = 4;

const WRITES_UNTIL_FULL_MAX: u32 = 5_000;

/// Puts every fault on the board.
pub fn examine(board: &mut Board, kill_rounds: u32) {
    board.put("full disk", "exit 4, nothing half-written", full_disk());
    board.put("killed writers", "ledger verifies, nothing lost", killed_writers(kill_rounds));
    board.put("second server, one ledger", "exit 4, names the first", second_server());
    board.put("port taken", "exit 4, names the port", port_taken());
}

/// A ledger under attack, and what it owes: every entry it acknowledged.
struct Ledger {
    database: PathBuf,
    acknowledged: u64,
    attempted: u64,
}

impl Ledger {
    fn new(folder: &Path) -> Self {
        Self { database: folder.join("ledger.db"), acknowledged: 0, attempted: 0 }
    }

    fn add_command(&self, text: &str) -> Command {
        let mut command = Command::new(workspace::program());
        command.args(["ledger", "add", "--yard"]).arg(workspace::example_yard());
        command.arg("--database").arg(&self.database);
        command.args(["--author", "Pat", "note"]).arg(format!("text={text}"));
        command
    }

    fn add(&mut self, text: &str) -> Result<Finished, String> {
        self.attempted += 1;
        let finished = running::catch(self.add_command(text), COMMAND_LIMIT)?;
        self.acknowledged += u64::from(finished.code == Some(0));
        Ok(finished)
    }

    /// Verifies the chain and the count; gives the count.
    fn verify(&self) -> Result<u64, String> {
        let mut command = Command::new(workspace::program());
        command.args(["ledger", "verify", "--json", "--database"]).arg(&self.database);
        let finished = running::catch(command, COMMAND_LIMIT)?;
        if finished.code != Some(0) {
            return Err(format!("verify: {}", finished.in_short()));
        }
        let count = entry_count(&finished.stdout).ok_or_else(|| {
            format!("verify --json does not say how many entries: {}", finished.stdout.trim())
        })?;
        if count < self.acknowledged {
            return Err(format!("{} entries were acknowledged, {count} are there", self.acknowledged));
        }
        if count > self.attempted {
            return Err(format!("{} entries were tried, {count} are there", self.attempted));
        }
        Ok(count)
    }
}

/// The count in the verdict of `ledger verify --json`.
fn entry_count(json: &str) -> Option<u64> {
    let verdict: Value = serde_json::from_str(json).ok()?;
    verdict["rows"].as_u64()
}

/// A small file system of its own, taken away on drop.
struct SmallDisk(Scratch);

impl SmallDisk {
    fn mount() -> Result<Self, String> {
        let folder = Scratch::new("disk")?;
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &format!("size={DISK_BYTES}"), "tmpfs"]).arg(folder.path());
        let finished = running::catch(mount, COMMAND_LIMIT)?;
        if finished.code == Some(0) {
            return Ok(Self(folder));
        }
        Err(format!("could not mount a small disk (needs root): {}", finished.in_short()))
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let mut unmount = Command::new("umount");
        unmount.arg(self.0.path());
        match running::catch(unmount, COMMAND_LIMIT) {
            Ok(finished) if finished.code == Some(0) => {}
            Ok(finished) => eprintln!("umount: {}", finished.in_short()),
            Err(why) => eprintln!("umount: {why}"),
        }
    }
}

fn full_disk() -> Result<Outcome, String> {
    let disk = SmallDisk::mount()?;
    let filler = disk.0.path().join("filler");
    std::fs::write(&filler, vec![0; FILLER_BYTES]).map_err(|e| format!("filler: {e}"))?;
    let mut ledger = Ledger::new(disk.0.path());
    let refused = write_until_refused(&mut ledger)?;
    if refused.code != Some(NOT_LET) || !names_full_disk(&refused.stderr) {
        return Err(format!("on a full disk: {}", refused.in_short()));
    }
    let kept = ledger.verify().map_err(|why| format!("while the disk is full: {why}"))?;
    // Room again: the ledger goes on where it stopped.
    std::fs::remove_file(&filler).map_err(|e| format!("filler: {e}"))?;
    let added = ledger.add("room again")?;
    if added.code != Some(0) {
        return Err(format!("after room was made: {}", added.in_short()));
    }
    let after = ledger.verify().map_err(|why| format!("after room was made: {why}"))?;
    if after != kept + 1 {
        return Err(format!("{kept} entries on the full disk, {after} after one more"));
    }
    Ok(Outcome::pass(format!("refused after {kept} entries, went on when there was room")))
}

fn write_until_refused(ledger: &mut Ledger) -> Result<Finished, String> {
    let text = "salt ".repeat(180);
    for _ in 0..WRITES_UNTIL_FULL_MAX {
        let finished = ledger.add(&text)?;
        if finished.code != Some(0) {
            return if ledger.acknowledged > 0 { Ok(finished) } else { Err(finished.in_short()) };
        }
    }
    Err(format!("the disk was not full after {WRITES_UNTIL_FULL_MAX} entries"))
}

fn names_full_disk(message: &str) -> bool {
    let message = message.to_lowercase();
    message.contains("disk") && (message.contains("full") || message.contains("no space"))
}

fn killed_writers(rounds: u32) -> Result<Outcome, String> {
    let folder = Scratch::new("kills")?;
    let mut ledger = Ledger::new(folder.path());
    let usual = usual_time(&mut ledger)?;
    let mut killed = 0;
    for round in 0..rounds {
        let count_before = ledger.verify()?;
        // The moment of the kill moves through the life of the writers, one after the other, a little past its end.
        let longest = usual.mul_f64(1.2 * WRITERS as f64);
        let moment = longest.mul_f64(f64::from(round + 1) / f64::from(rounds));
        killed += kill(&mut ledger, &format!("round {round}"), moment, WRITERS)?;
        let count =
            ledger.verify().map_err(|why| format!("round {round}, killed after {moment:?}: {why}"))?;
        if count < count_before {
            return Err(format!("round {round}: {count_before} entries before the kill, {count} after"));
        }
        let added = ledger.add(&format!("after round {round}"))?;
        if added.code != Some(0) {
            return Err(format!("round {round}: the next writer: {}", added.in_short()));
        }
    }
    // Kills that all came too late would prove nothing.
    let enough = killed >= rounds / 2;
    Ok(Outcome::new(
        enough,
        format!(
            "{rounds} rounds of {WRITERS}, {killed} killed in the act, {} entries kept",
            ledger.verify()?
        ),
    ))
}

/// How long a writer takes that is left alone, once the ledger is there: the quickest of a few.
fn usual_time(ledger: &mut Ledger) -> Result<Duration, String> {
    let first = ledger.add("first")?;
    if first.code != Some(0) {
        return Err(first.in_short());
    }
    let mut usual = COMMAND_LIMIT;
    for _ in 0..WRITERS_TIMED {
        let start = Instant::now();
        kill(ledger, "timed", COMMAND_LIMIT, 1)?;
        usual = usual.min(start.elapsed());
    }
    Ok(usual)
}

/// Starts so many writers at once and kills those that still run at that moment; how many that were.
fn kill(ledger: &mut Ledger, text: &str, moment: Duration, writers: usize) -> Result<u32, String> {
    let start = Instant::now();
    let mut children = Vec::with_capacity(writers);
    for number in 0..writers {
        let mut command = ledger.add_command(&format!("{text}, writer {number}"));
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        ledger.attempted += 1;
        children.push(command.spawn().map_err(|e| e.to_string())?);
    }
    // Looked at without a pause: a writer lives for milliseconds, and the moment is the point.
    let mut running = true;
    while running && start.elapsed() < moment {
        running = false;
        for child in &mut children {
            running |= child.try_wait().map_err(|e| e.to_string())?.is_none();
        }
    }
    let mut killed = 0;
    for child in &mut children {
        if child.try_wait().map_err(|e| e.to_string())?.is_none() {
            child.kill().map_err(|e| e.to_string())?;
        }
    }
    for mut child in children {
        let status = child.wait().map_err(|e| e.to_string())?;
        ledger.acknowledged += u64::from(status.success());
        killed += u32::from(status.code().is_none());
    }
    Ok(killed)
}

fn second_server() -> Result<Outcome, String> {
    let folder = Scratch::new("two")?;
    let database = folder.path().join("ledger.db");
    let first = Served::yard(&database)?;
    let second = running::catch(Served::yard_command(&database, "127.0.0.1:0"), COMMAND_LIMIT)?;
    let names = [first.id().to_string(), first.origin.replace("http://", "")];
    let named = names.iter().any(|name| second.stderr.contains(name));
    let said = second.in_short().replace(&format!("{}/", folder.path().display()), "");
    Ok(Outcome::new(second.code == Some(NOT_LET) && named, said))
}

fn port_taken() -> Result<Outcome, String> {
    let folder = Scratch::new("port")?;
    let taken = TcpListener::bind("127.0.0.1:0").and_then(|listener| Ok((listener.local_addr()?, listener)));
    let (address, _listener) = taken.map_err(|e| e.to_string())?;
    let command = Served::yard_command(&folder.path().join("ledger.db"), &address.to_string());
    let refused = running::catch(command, COMMAND_LIMIT)?;
    let named = refused.stderr.contains(&address.port().to_string());
    Ok(Outcome::new(refused.code == Some(NOT_LET) && named, refused.in_short()))
}

#[cfg(test)]
mod tests {
    use super::{entry_count, names_full_disk};

    #[test]
    fn count_is_read_from_the_verdict() {
        assert_eq!(entry_count(r#"{"sound": true, "rows": 12}"#), Some(12));
        assert_eq!(entry_count("12 rows"), None);
        assert_eq!(entry_count(r#"{"sound": true}"#), None);
    }

    #[test]
    fn a_full_disk_must_be_called_that() {
        assert!(names_full_disk("error: the disk is full; nothing was written"));
        assert!(names_full_disk("No space left on the disk"));
        assert!(!names_full_disk("error: disk I/O error"));
        assert!(!names_full_disk("error: the tank is full"));
    }
}
