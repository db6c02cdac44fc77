//! Aim: the small rules that nobody should have to say in a review.
//! Method: read every file git knows (or would take), and look for what may not be there. Each rule is also shown a
//! made-up breach, so that no rule passes because it sees nothing.

mod contrast;
mod docs;
mod physics;
mod places;
mod rust_code;
mod templates;
mod words;

use std::path::{Path, PathBuf};
use std::process::Command;

/// A text file of the project.
struct Source {
    /// From the root, with `/`.
    path: String,
    text: String,
}

impl Source {
    fn new(path: &str, text: &str) -> Self {
        Self { path: path.to_string(), text: text.to_string() }
    }

    fn is_rust(&self) -> bool {
        self.path.ends_with(".rs")
    }

    fn is_template(&self) -> bool {
        self.path.starts_with("crates/console/templates/")
    }

    /// A fault at a line of this file, as `path:line: what`; the index counts from 0, the line from 1.
    fn fault(&self, line_index: usize, what: &str) -> String {
        format!("{}:{}: {what}", self.path, line_index + 1)
    }

    /// One fault for each line that a check has something to say about.
    fn lines_that(&self, check: impl Fn(&str) -> Option<String>) -> Vec<String> {
        let lines = self.text.lines().enumerate();
        lines.filter_map(|(index, line)| Some(self.fault(index, &check(line)?))).collect()
    }
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Every text file of the project.
fn sources() -> Vec<Source> {
    let root = root();
    let mut sources = Vec::new();
    for path in paths_by_git(&root).unwrap_or_else(|| paths_by_walking(&root)) {
        // Deleted but not yet told to git, or not text: nothing to read.
        if let Ok(text) = std::fs::read_to_string(root.join(&path)) {
            sources.push(Source { path, text });
        }
    }
    for expected in ["Cargo.toml", "xtask/src/main.rs", "crates/chemistry/src/freezing.rs"] {
        assert!(
            sources.iter().any(|source| source.path == expected),
            "{expected} was not among the files read"
        );
    }
    sources
}

/// What git tracks, and what it would take if asked to add everything. None without git.
fn paths_by_git(root: &Path) -> Option<Vec<String>> {
    let arguments = ["ls-files", "-z", "--cached", "--others", "--exclude-standard"];
    let output = Command::new("git").args(arguments).current_dir(root).output().ok()?;
    if !output.status.success() {
        return None;
    }
    let text = String::from_utf8(output.stdout).ok()?;
    Some(text.split('\0').filter(|path| !path.is_empty()).map(str::to_string).collect())
}

fn paths_by_walking(root: &Path) -> Vec<String> {
    let mut paths = Vec::new();
    let mut folders = vec![root.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).expect("a folder of the project is readable").flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            if name == ".git" || name == ".shots" || name.starts_with("target") {
                continue;
            }
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let inside = path.strip_prefix(root).expect("found below the root");
                paths.push(inside.to_string_lossy().replace('\\', "/"));
            }
        }
    }
    paths
}

/// Runs a rule over the project.
fn hold(rule: fn(&Source) -> Vec<String>) {
    let faults: Vec<String> = sources().iter().flat_map(rule).collect();
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}

/// Shows a rule a made-up file and compares what it says, line by line, with the lines that are wrong.
fn shown(rule: fn(&Source) -> Vec<String>, path: &str, text: &str, wrong_lines: &[usize]) {
    let faults = rule(&Source::new(path, text));
    let expected: Vec<String> = wrong_lines.iter().map(|line| format!("{path}:{line}: ")).collect();
    let same = faults.len() == expected.len() && faults.iter().zip(&expected).all(|(f, e)| f.starts_with(e));
    assert!(same, "faults {faults:#?}, wrong lines {wrong_lines:?} of\n{text}");
}

#[test]
fn walking_finds_what_git_lists() {
    let walked = paths_by_walking(&root());
    for source in sources() {
        assert!(walked.contains(&source.path), "{} was not walked", source.path);
    }
}
