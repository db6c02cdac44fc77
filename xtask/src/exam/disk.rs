//! A disk that fails and a clock that is wrong, by a shim between the program and the system (needs a C compiler).

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use serde_json::Value;

use super::board::{Board, Outcome};
use crate::http::Client;
use crate::running::{self, Finished};
use crate::scratch::Scratch;
use crate::served::Served;
use crate::workspace;

const SHIM: &str = include_str!("shim.c");
const LIMIT: Duration = Duration::from_secs(60);
/// More writes and syncs than one entry makes.
const POINTS_MAX: u32 = 200;

/// Puts disk and clock on the board.
pub fn examine(board: &mut Board) {
    let budget = "an acknowledged entry is there, a refused one is not half there";
    board.put("every Nth write or sync fails once", budget, failing(false));
    board.put("every Nth write or sync fails for good", budget, failing(true));
    board.put("the console's disk is full", "pages and sign-in work, entries say why not", full());
    board.put("a clock 20 days ahead", "asked about; a true dip later wins", clock());
}

fn say(error: impl std::fmt::Display) -> String {
    error.to_string()
}

/// The shim, built into a folder.
fn shim(folder: &Path) -> Result<PathBuf, String> {
    let (source, built) = (folder.join("shim.c"), folder.join("shim.so"));
    std::fs::write(&source, SHIM).map_err(say)?;
    let mut cc = Command::new("cc");
    cc.args(["-shared", "-fPIC", "-O1", "-o"]).arg(&built).arg(&source).arg("-ldl");
    let finished = running::catch(cc, LIMIT)?;
    if finished.code == Some(0) { Ok(built) } else { Err(format!("cc: {}", finished.in_short())) }
}

fn program(folder: &Path, shim: Option<&Path>, words: &[&str]) -> Command {
    let mut command = Command::new(workspace::program());
    command.current_dir(folder).args(words);
    if let Some(shim) = shim {
        command.env("LD_PRELOAD", shim).env("SHIM_FILE", "ledger.db");
    }
    command
}

fn yard(label: &str) -> Result<Scratch, String> {
    let folder = Scratch::new(label)?;
    std::fs::copy(workspace::example_yard(), folder.path().join("yard.toml")).map_err(say)?;
    Ok(folder)
}

fn verified(folder: &Path) -> Result<u64, String> {
    let finished = running::catch(program(folder, None, &["ledger", "verify", "--json"]), LIMIT)?;
    let verdict: Value = serde_json::from_str(&finished.stdout).map_err(|_| finished.in_short())?;
    match (finished.code, verdict["rows"].as_u64()) {
        (Some(0), Some(rows)) => Ok(rows),
        _ => Err(format!("verify: {}", finished.in_short())),
    }
}

fn add(folder: &Path, text: &str) -> Command {
    program(folder, None, &["ledger", "add", "--author", "Pat", "note", &format!("text={text}")])
}

/// An entry for each write and sync that an entry makes; that one fails.
fn failing(for_good: bool) -> Result<Outcome, String> {
    let folder = yard("failing")?;
    let (home, shim) = (folder.path(), shim(folder.path())?);
    running::catch(add(home, "first"), LIMIT)?;
    let (mut acknowledged, mut attempted, mut refused) = (1, 1, 0);
    for point in 1..POINTS_MAX {
        let mark = home.join("struck");
        let _ = std::fs::remove_file(&mark);
        let mut command = add(home, &format!("point {point}"));
        command.env("LD_PRELOAD", &shim).env("SHIM_FILE", "ledger.db").env("SHIM_MARK", &mark);
        command.env("SHIM_FAIL_AT", point.to_string());
        if for_good {
            command.env("SHIM_FOR_GOOD", "1");
        }
        let finished = running::catch(command, LIMIT)?;
        attempted += 1;
        match finished.code {
            Some(0) => acknowledged += 1,
            Some(_) => refused += 1,
            None => return Err(format!("point {point}: it was killed: {}", finished.in_short())),
        }
        let rows = verified(home).map_err(|why| format!("point {point}: {why}"))?;
        if rows < acknowledged || attempted < rows {
            return Err(format!("point {point}: {acknowledged} acknowledged, {rows} rows of {attempted}"));
        }
        // What is there without having been acknowledged counts from now on as there.
        acknowledged = rows;
        if !mark.exists() {
            let said = format!("{} points, {refused} refused, {rows} rows sound", point - 1);
            return Ok(Outcome::new(point > 5 && refused > 0, said));
        }
    }
    Err(format!("an entry makes more than {POINTS_MAX} writes"))
}

fn full() -> Result<Outcome, String> {
    let folder = yard("full")?;
    let (home, shim) = (folder.path(), shim(folder.path())?);
    let no_room = home.join("no-room");
    let mut command = program(home, Some(&shim), &["serve", "--address", "127.0.0.1:0"]);
    // The people's file lies on the same disk.
    command.env("SHIM_FILE", ".db").env("SHIM_FULL", &no_room);
    let server = Served::by(command)?;
    let mut client = Client::to(&server.origin);
    client.post("/first", "name=Ines&password=gravel+otter+lantern&pin=7193")?;
    let sign_in = "name=Ines&password=gravel+otter+lantern&back=";
    let session = client.cookie_of("/sign-in", sign_in)?;
    client.keep(&session);
    let note = || format!("entry_id={}&author=Ines&text=note", uuid::Uuid::now_v7());
    client.post("/ledger/note", &note())?;
    std::fs::write(&no_room, "").map_err(say)?;
    let refused = client.send("/ledger/note", &note())?;
    let says = String::from_utf8_lossy(&refused.body).contains("full");
    // Somebody comes in anew, and sees every page.
    let mut fresh = Client::to(&server.origin);
    let session = fresh.cookie_of("/sign-in", sign_in)?;
    fresh.keep(&session);
    for page in ["/", "/tanks", "/load", "/ledger", "/books", "/alerts", "/people", "/backup"] {
        let reply = fresh.get(page)?;
        if reply.status != 200 {
            return Err(format!("on a full disk {page} answers {}", reply.status));
        }
    }
    std::fs::remove_file(&no_room).map_err(say)?;
    client.post("/ledger/note", &note())?;
    drop(server);
    let rows = verified(home)?;
    let said = format!(
        "entries refused with {}, eight pages shown, {rows} rows after room was made",
        refused.status
    );
    Ok(Outcome::new(refused.status == 507 && says && rows == 2, said))
}

fn clock() -> Result<Outcome, String> {
    let folder = yard("clock")?;
    let (home, shim) = (folder.path(), shim(folder.path())?);
    let dip = |depth: &str, more: &[&str]| {
        let field = format!("depth_ft={depth}");
        let words = [&["ledger", "add", "--author", "Pat"], more, &["dip", "tank=1", &field]].concat();
        program(home, None, &words)
    };
    let done = |finished: Finished| {
        if finished.code == Some(0) { Ok(finished) } else { Err(finished.in_short()) }
    };
    let mut ahead = dip("3", &[]);
    ahead.env("LD_PRELOAD", &shim).env("SHIM_CLOCK_AHEAD_S", "1728000");
    done(running::catch(ahead, LIMIT)?)?;
    let asked = running::catch(dip("5", &[]), LIMIT)?;
    if asked.code == Some(0) || !asked.stderr.contains("clock") {
        return Err(format!("nothing is asked: {}", asked.in_short()));
    }
    done(running::catch(dip("5", &["--confirm"]), LIMIT)?)?;
    let balance = done(running::catch(program(home, None, &["ledger", "balance"]), LIMIT)?)?;
    let there =
        balance.stdout.lines().find(|line| line.contains("there:")).unwrap_or_default().trim().to_owned();
    let mut only = dip("5", &[]);
    let other = yard("clock-alone")?;
    only.current_dir(other.path());
    done(running::catch(only, LIMIT)?)?;
    let alone = done(running::catch(program(other.path(), None, &["ledger", "balance"]), LIMIT)?)?;
    let truly =
        alone.stdout.lines().find(|line| line.contains("there:")).unwrap_or_default().trim().to_owned();
    Ok(Outcome::new(!there.is_empty() && there == truly, format!("{there}; with the true dip alone {truly}")))
}
