//! A folder that the program is run in.

use std::path::PathBuf;
use std::process::{Child, Command, Output};
use uuid::Uuid;

pub(crate) const YARD: &str = include_str!("../../../../examples/alder_fork.toml");
pub(crate) const WEATHER: &str = include_str!("../../../weather/tests/data/nyc_winter_2013.csv");

pub(crate) struct Folder(pub(crate) PathBuf);

impl Folder {
    pub(crate) fn new() -> Self {
        let path = std::env::temp_dir().join(format!("brinewright-cli-{}", Uuid::now_v7()));
        std::fs::create_dir_all(&path).unwrap();
        std::fs::write(path.join("yard.toml"), YARD).unwrap();
        std::fs::write(path.join("weather.csv"), WEATHER).unwrap();
        Self(path)
    }
    pub(crate) fn write(&self, name: &str, text: &str) -> PathBuf {
        let path = self.0.join(name);
        std::fs::write(&path, text).unwrap();
        path
    }
    pub(crate) fn run(&self, args: &[&str]) -> Output {
        let output =
            Command::new(env!("CARGO_BIN_EXE_brinewright")).current_dir(&self.0).args(args).output().unwrap();
        // A person reads sentences, never the id that a text has in the words files.
        let words = report::Words::of(report::Language::En);
        for word in text(&output.stderr).split_whitespace() {
            let id = word.trim_matches(|c: char| !c.is_alphanumeric());
            assert!(!id.contains('.') || !words.knows(id), "{args:?}: the id of a text is shown: {id}");
        }
        output
    }
    /// Runs and expects an exit code, with what must stand in the error; answers the output.
    pub(crate) fn expect(&self, args: &[&str], code: i32, error: &[&str]) -> String {
        let output = self.run(args);
        let (out, err) = (text(&output.stdout), text(&output.stderr));
        assert_eq!(output.status.code(), Some(code), "{args:?}\n{out}\n{err}");
        for part in error {
            assert!(err.contains(part), "{args:?}: no \"{part}\" in: {err}");
        }
        out
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

pub(crate) fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A demo yard with its ledger, in a folder.
pub(crate) fn demo(folder: &Folder) {
    folder.expect(&["demo", "--print-only", "--folder", "."], 0, &[]);
}

pub(crate) const FEBRUARY: [&str; 7] =
    ["plan", "--forecast", "weather.csv", "--issued", "2013-02-07T18:00:00Z", "--hours", "48"];

pub(crate) const JANUARY: [&str; 7] =
    ["plan", "--forecast", "weather.csv", "--issued", "2013-01-24T18:00:00Z", "--hours", "48"];

/// A console that is killed at the end.
pub(crate) struct Console {
    pub(crate) child: Child,
    pub(crate) address: String,
}

impl Drop for Console {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
