//! Starting and ending a headless Chromium of our own.

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::json;

use super::protocol::Connection;
use super::tab::Tab;
use super::view::Scheme;
use crate::running;
use crate::scratch::Scratch;

const START_LIMIT: Duration = Duration::from_secs(60);
const CLOSE_LIMIT: Duration = Duration::from_secs(5);

/// The last five keep it from asking anything of hosts outside; the first three let it run in a bare container.
const FLAGS: [&str; 9] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--remote-debugging-port=0",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
];

/// A browser. Dropping it ends it and removes its profile.
pub struct Chromium {
    connection: Connection,
    process: Process,
    /// The profile, removed last: fields drop in order.
    _profile: Option<Scratch>,
}

/// The browser's process, killed on drop if it did not end by itself.
struct Process(Child);

impl Chromium {
    /// Starts one with a fresh profile.
    pub fn start() -> Result<Self, String> {
        let profile = Scratch::new("browser")?;
        let mut command = Command::new("chromium");
        command.args(FLAGS).arg(format!("--user-data-dir={}", profile.path().display())).arg("about:blank");
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        let child = command.spawn().map_err(|e| {
            format!("could not start `chromium`: {e}; on Debian: apt-get install chromium fonts-dejavu-core")
        })?;
        let mut process = Process(child);
        let (port, path) = end_point(&mut process.0, profile.path())?;
        Ok(Self { connection: Connection::open(port, &path)?, process, _profile: Some(profile) })
    }

    /// Starts one on a profile that is there already or is to be, in a home of its own, where names lead to this
    /// machine: as a device of the yard that is switched off and on again.
    pub fn on_device(home: &Path, name: &str) -> Result<Self, String> {
        let profile = home.join("profile");
        let _ = std::fs::remove_file(profile.join("DevToolsActivePort"));
        let mut command = Command::new("chromium");
        command.args(FLAGS).arg(format!("--user-data-dir={}", profile.display()));
        command
            .arg(format!("--host-resolver-rules=MAP {name} 127.0.0.1"))
            .arg("about:blank")
            .env("HOME", home);
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        let child = command.spawn().map_err(|e| format!("could not start `chromium`: {e}"))?;
        let mut process = Process(child);
        let (port, path) = end_point(&mut process.0, &profile)?;
        Ok(Self { connection: Connection::open(port, &path)?, process, _profile: None })
    }

    /// Opens an empty tab as a device of that width would show it.
    pub fn open(&mut self, width_px: u32, scheme: Scheme) -> Result<Tab<'_>, String> {
        Tab::open(&mut self.connection, width_px, scheme)
    }
}

impl Drop for Chromium {
    fn drop(&mut self) {
        // Asked to close, it takes its helper processes with it. If it does not, `wait` kills it.
        let _ = self.connection.call(None, "Browser.close", json!({}));
        let _ = running::wait(&mut self.process.0, CLOSE_LIMIT);
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        running::end(&mut self.0);
    }
}

/// The port and path it listens on, from the file it writes into its profile.
fn end_point(child: &mut Child, profile: &Path) -> Result<(u16, String), String> {
    let file = profile.join("DevToolsActivePort");
    let start = Instant::now();
    while start.elapsed() < START_LIMIT {
        if let Some(found) = std::fs::read_to_string(&file).ok().and_then(|text| parse_end_point(&text)) {
            return Ok(found);
        }
        if let Ok(Some(status)) = child.try_wait() {
            return Err(format!("chromium ended at once: {status}"));
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    Err(format!("chromium did not open its port within {} s", START_LIMIT.as_secs()))
}

/// None while the file is only half written.
fn parse_end_point(text: &str) -> Option<(u16, String)> {
    let (port, path) = text.split_once('\n')?;
    let path = path.trim();
    (path.starts_with("/devtools/browser/") && path.len() > 50).then_some(())?;
    Some((port.trim().parse().ok()?, path.to_string()))
}

#[cfg(test)]
mod tests {
    use super::parse_end_point;

    #[test]
    fn end_point_is_read_only_when_whole() {
        let path = "/devtools/browser/0f1a2b3c-0000-1111-2222-333344445555";
        assert_eq!(parse_end_point(&format!("41234\n{path}")), Some((41234, path.to_string())));
        assert_eq!(parse_end_point("41234"), None);
        assert_eq!(parse_end_point("41234\n/devtools/browser/0f1a"), None);
        assert_eq!(parse_end_point(&format!("nothing\n{path}")), None);
    }
}
