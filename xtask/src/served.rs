//! The program under test, serving its console, ended when the value goes.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use crate::{running, workspace};

const READY_LIMIT: Duration = Duration::from_secs(60);

/// The start of the line by which the program says that it is ready.
const READY: &str = "console: ";

/// A running server. Dropping it kills the server.
#[derive(Debug)]
pub struct Served {
    child: Child,
    /// `http://host:port`, no slash at the end.
    pub origin: String,
    /// From the start of the process to the ready line.
    pub ready_in: Duration,
}

impl Served {
    /// The demo yard, in a fresh folder.
    pub fn demo(folder: &Path) -> Result<Self, String> {
        let mut command = Command::new(workspace::program());
        command.args(["demo", "--standing-clock", "--address", "127.0.0.1:0", "--folder"]).arg(folder);
        Self::start(command)
    }

    /// The example yard on a database.
    pub fn yard(database: &Path) -> Result<Self, String> {
        Self::start(Self::yard_command(database, "127.0.0.1:0"))
    }

    /// Another yard file on a database.
    pub fn yard_file(yard: &Path, database: &Path) -> Result<Self, String> {
        let mut command = Command::new(workspace::program());
        command.arg("serve").arg("--yard").arg(yard);
        command.arg("--database").arg(database).args(["--address", "127.0.0.1:0"]);
        Self::start(command)
    }

    /// The command that serves the example yard on a database at an address.
    pub fn yard_command(database: &Path, address: &str) -> Command {
        let mut command = Command::new(workspace::program());
        command.arg("serve").arg("--yard").arg(workspace::example_yard());
        command.arg("--database").arg(database).args(["--address", address]);
        command
    }

    /// A yard's console by a command made elsewhere.
    pub fn by(command: Command) -> Result<Self, String> {
        Self::start(command)
    }

    /// Process id, as the operating system and the program's own messages have it.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    fn start(mut command: Command) -> Result<Self, String> {
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let start = Instant::now();
        let mut child = command.spawn().map_err(|e| format!("could not start the program: {e}"))?;
        let errors = running::drain(child.stderr.take());
        let lines = lines_of(child.stdout.take());
        match ready_origin(&lines, start) {
            Ok(origin) => Ok(Self { child, origin, ready_in: start.elapsed() }),
            Err(why) => {
                running::end(&mut child);
                let said = errors.join().unwrap_or_default();
                Err(format!("{why}; it said:\n{}", String::from_utf8_lossy(&said)))
            }
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        running::end(&mut self.child);
    }
}

fn ready_origin(lines: &Receiver<String>, start: Instant) -> Result<String, String> {
    loop {
        match lines.recv_timeout(READY_LIMIT.saturating_sub(start.elapsed())) {
            Ok(line) => {
                if let Some(origin) = origin_in(&line) {
                    return Ok(origin);
                }
            }
            Err(RecvTimeoutError::Timeout) => {
                return Err(format!("the server was not ready within {} s", READY_LIMIT.as_secs()));
            }
            Err(RecvTimeoutError::Disconnected) => {
                return Err("the server ended before it was ready".to_string());
            }
        }
    }
}

fn origin_in(line: &str) -> Option<String> {
    let address = line.strip_prefix(READY)?.split_whitespace().next()?;
    ["http://", "https://"]
        .iter()
        .any(|scheme| address.starts_with(scheme))
        .then(|| address.trim_end_matches('/').to_string())
}

/// The lines of a child's output. The thread reads on after the last receiver is gone, so that the child never meets
/// a full or a broken pipe.
fn lines_of(source: Option<ChildStdout>) -> Receiver<String> {
    let (sender, receiver) = channel();
    if let Some(source) = source {
        std::thread::spawn(move || {
            for line in BufReader::new(source).lines().map_while(Result::ok) {
                let _ = sender.send(line);
            }
        });
    }
    receiver
}

#[cfg(test)]
mod tests {
    use super::origin_in;

    #[test]
    fn ready_line_gives_the_origin() {
        assert_eq!(origin_in("console: http://127.0.0.1:4411/").as_deref(), Some("http://127.0.0.1:4411"));
        assert_eq!(
            origin_in("console: http://127.0.0.1:4411/ (close with Ctrl-C)").as_deref(),
            Some("http://127.0.0.1:4411")
        );
        assert_eq!(origin_in("the console: http://127.0.0.1:4411/"), None);
        assert_eq!(origin_in("console: starting"), None);
        assert_eq!(origin_in("console: "), None);
    }
}
