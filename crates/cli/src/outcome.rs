//! How a verb ends: 0 done, 1 the answer is no, 2 bad input, 3 could not reach something, 4 this machine would not
//! let it.

use std::fs;
use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;

use store::StoreError;

/// Why a verb did not do what was asked.
#[derive(Debug)]
pub enum Failure {
    /// The answer is no, and nothing was done: a damaged ledger. Exit code 1.
    No(String),
    /// Something given cannot be used. Exit code 2.
    Input(String),
    /// The machine would not let it: disk full, port taken, database in use. Exit code 4.
    Machine(String),
}

/// How a verb ended well.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Done {
    /// Done, or the answer is yes. Exit code 0.
    Yes,
    /// Done, and the answer is no. Exit code 1.
    No,
}

/// What a verb answers.
pub type Outcome = Result<Done, Failure>;

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        let text = crate::errors::sentence(&error);
        match error {
            StoreError::DiskFull
            | StoreError::InUse { .. }
            | StoreError::Access { .. }
            | StoreError::Database(_) => Failure::Machine(text),
            StoreError::Damaged { .. } | StoreError::Unreadable { .. } | StoreError::Replaced { .. } => {
                Failure::No(text)
            }
            _ => Failure::Input(text),
        }
    }
}

/// Writes to standard output, whole, and flushes. A reader that stopped listening is no failure.
///
/// # Errors
/// [`Failure::Machine`] when the output cannot be written, as on a full disk.
pub fn print(text: &str) -> Result<(), Failure> {
    print_bytes(text.as_bytes())?;
    if text.ends_with('\n') { Ok(()) } else { print_bytes(b"\n") }
}

/// Writes a part of a long output, as it is, and flushes.
///
/// # Errors
/// As [`print()`].
pub fn print_bytes(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        Err(error) => Err(Failure::Machine(format!("the output could not be written: {error}"))),
    }
}

/// Writes a file whole or not at all: to a name beside it, to the disk, then into place.
///
/// # Errors
/// [`Failure::Machine`] when it cannot be written; what stood there before still stands.
pub fn write_file(path: &Path, text: &str) -> Result<(), Failure> {
    write_bytes(path, text.as_bytes())
}

/// As [`write_file`], of bytes.
pub fn write_bytes(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let mut beside = path.as_os_str().to_owned();
    beside.push(".part");
    let beside = Path::new(&beside);
    let write = || -> io::Result<()> {
        let mut file = fs::File::create(beside)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        fs::rename(beside, path)
    };
    write().map_err(|error| {
        let _ = fs::remove_file(beside);
        Failure::Machine(format!("{}: could not be written: {error}", path.display()))
    })
}

/// Writes a note to standard error, beside what is answered.
pub fn note(text: &str) {
    // A note that nobody can see is no failure.
    let _ = writeln!(io::stderr(), "brinewright: {text}");
}

/// Turns an outcome into an exit code, saying on standard error what went wrong.
pub fn finish(outcome: Outcome) -> ExitCode {
    let (code, message) = match outcome {
        Ok(Done::Yes) => return ExitCode::SUCCESS,
        Ok(Done::No) => return ExitCode::from(1),
        Err(Failure::No(message)) => (1, message),
        Err(Failure::Input(message)) => (2, message),
        Err(Failure::Machine(message)) => (4, message),
    };
    // When even this cannot be written, the exit code still says it.
    let _ = writeln!(io::stderr(), "brinewright: {message}");
    ExitCode::from(code)
}
