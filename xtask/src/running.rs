//! Commands run to their end: with their output passed on, or caught, and never longer than they may.

use std::io::Read;
use std::process::{Child, Command, Stdio};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use crate::workspace;

const POLL: Duration = Duration::from_millis(5);

/// Runs a step under its name and says how long it took.
pub fn step<T>(name: &str, act: impl FnOnce() -> Result<T, String>) -> Result<T, String> {
    println!("\n== {name}");
    let start = Instant::now();
    let done = act();
    let word = if done.is_ok() { "ok" } else { "FAILED" };
    println!("== {name}: {word}, {:.1} s", start.elapsed().as_secs_f64());
    done.map_err(|why| format!("{name}: {why}"))
}

/// Runs a command whose output goes straight to the terminal.
pub fn pass_through(mut command: Command) -> Result<(), String> {
    let shown = show(&command);
    println!("$ {shown}");
    let status = command.status().map_err(|e| format!("could not start `{shown}`: {e}"))?;
    if status.success() { Ok(()) } else { Err(format!("`{shown}` ended with {status}")) }
}

/// Python with some packages of its registry, in an environment of its own below the target folder.
pub fn python(name: &str, packages: &[&str]) -> Result<Command, String> {
    let home = workspace::target().join(name);
    let python = home.join("bin").join("python");
    if !python.exists() {
        let mut make = Command::new("python3");
        make.args(["-m", "venv"]).arg(&home);
        pass_through(make)?;
    }
    let mut install = Command::new(&python);
    install.args(["-m", "pip", "install", "-q", "--disable-pip-version-check"]).args(packages);
    pass_through(install)?;
    let mut command = Command::new(python);
    // What packages keep for the next time goes by where they lie; another checkout's must not be found.
    command.env("XDG_CACHE_HOME", home.join("cache"));
    Ok(command)
}

/// How a command ended.
#[derive(Debug)]
pub struct Finished {
    /// Exit code; none when a signal ended it.
    pub code: Option<i32>,
    /// What it wrote to standard output.
    pub stdout: String,
    /// What it wrote to standard error.
    pub stderr: String,
}

impl Finished {
    /// One line for a report: the code and the first line said on standard error.
    pub fn in_short(&self) -> String {
        let said = self.stderr.lines().find(|line| !line.trim().is_empty()).unwrap_or("nothing on stderr");
        match self.code {
            Some(code) => format!("exit {code}: {said}"),
            None => format!("ended by a signal: {said}"),
        }
    }
}

/// Runs a command to its end and keeps its output. Past the time limit it is killed, which is an error.
pub fn catch(mut command: Command, limit: Duration) -> Result<Finished, String> {
    let shown = show(&command);
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().map_err(|e| format!("could not start `{shown}`: {e}"))?;
    let stdout = drain(child.stdout.take());
    let stderr = drain(child.stderr.take());
    let code = wait(&mut child, limit).map_err(|why| format!("`{shown}`: {why}"))?;
    Ok(Finished { code, stdout: collected(stdout), stderr: collected(stderr) })
}

/// Waits for a child, at most so long; kills it then.
pub fn wait(child: &mut Child, limit: Duration) -> Result<Option<i32>, String> {
    let start = Instant::now();
    loop {
        match child.try_wait() {
            Ok(Some(status)) => return Ok(status.code()),
            Ok(None) if start.elapsed() < limit => std::thread::sleep(POLL),
            Ok(None) => {
                end(child);
                return Err(format!("did not end within {} s", limit.as_secs()));
            }
            Err(e) => return Err(e.to_string()),
        }
    }
}

/// Kills a child and reaps it. It may have ended by itself already: then there is nothing to do.
pub fn end(child: &mut Child) {
    let _ = child.kill();
    let _ = child.wait();
}

/// Reads a child's output to its end on a thread of its own, so that a full pipe never stops the child.
pub fn drain(source: Option<impl Read + Send + 'static>) -> JoinHandle<Vec<u8>> {
    std::thread::spawn(move || {
        let mut bytes = Vec::new();
        if let Some(mut source) = source {
            // A broken pipe ends the text; what came before it is still worth having.
            let _ = source.read_to_end(&mut bytes);
        }
        bytes
    })
}

fn collected(reader: JoinHandle<Vec<u8>>) -> String {
    String::from_utf8_lossy(&reader.join().unwrap_or_default()).into_owned()
}

fn show(command: &Command) -> String {
    let name = std::path::Path::new(command.get_program()).file_name().unwrap_or(command.get_program());
    let mut text = name.to_string_lossy().into_owned();
    for argument in command.get_args() {
        text.push(' ');
        text.push_str(&argument.to_string_lossy());
    }
    text
}
