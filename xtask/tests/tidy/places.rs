//! Rules about where the project lives and what it may name. Forbidden words are written in pieces, so that this file
//! may be read by its own rules.

use super::{Source, hold, shown};

/// Cargo writes where each crate came from into its lock file; there is no other way to keep one.
const LOCK_FILE: &str = "Cargo.lock";

const MACHINE_FOLDERS: [&str; 5] = [
    concat!("/wo", "rk/"),
    concat!("/ro", "ot/"),
    concat!("/tm", "p/"),
    concat!("/ho", "me/"),
    concat!("/Use", "rs/"),
];

const REGISTRY_HOSTS: [&str; 9] = [
    concat!("crates", ".", "io"),
    concat!("py", "pi.org"),
    concat!("python", "hosted.org"),
    concat!("npm", "js.org"),
    concat!("npm", "js.com"),
    concat!("deb.debian", ".org"),
    concat!("security.debian", ".org"),
    concat!("proxy.go", "lang.org"),
    concat!("repo.maven", ".apache.org"),
];

/// Names that say nothing of what a file holds.
const EMPTY_NAMES: [&str; 4] = ["utils.rs", "helpers.rs", "common.rs", "manager.rs"];

fn no_path_of_one_machine(source: &Source) -> Vec<String> {
    source.lines_that(|line| {
        let folder = MACHINE_FOLDERS.iter().find(|folder| stands_alone(line, folder))?;
        Some(format!("a path of one machine, {folder}"))
    })
}

/// Whether a path begins there, and is not the middle of a longer one or of a web address.
fn stands_alone(line: &str, folder: &str) -> bool {
    line.match_indices(folder).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        !before.is_some_and(|c| c.is_alphanumeric() || matches!(c, '.' | '_' | '-' | '}' | '>' | ')'))
    })
}

fn no_registry_host(source: &Source) -> Vec<String> {
    if source.path == LOCK_FILE {
        return Vec::new();
    }
    source.lines_that(|line| {
        let host = REGISTRY_HOSTS.iter().find(|host| line.contains(*host))?;
        Some(format!("names a package registry, {host}"))
    })
}

fn names_say_something(source: &Source) -> Vec<String> {
    let name = source.path.rsplit('/').next().unwrap_or_default();
    let empty = EMPTY_NAMES.contains(&name);
    empty.then(|| source.fault(0, "name the file by what it holds")).into_iter().collect()
}

#[test]
fn nothing_names_one_machine() {
    hold(no_path_of_one_machine);
    let breaches = MACHINE_FOLDERS.map(|folder| format!("see \"{folder}main\"")).join("\n");
    shown(no_path_of_one_machine, "a.md", &breaches, &[1, 2, 3, 4, 5]);
    let fine = MACHINE_FOLDERS.map(|folder| format!("https://example.org{folder}x")).join("\n");
    shown(no_path_of_one_machine, "a.md", &fine, &[]);
}

#[test]
fn nothing_names_a_package_registry() {
    hold(no_registry_host);
    let breaches = REGISTRY_HOSTS.map(|host| format!("https://{host}/x")).join("\n");
    let every_line: Vec<usize> = (1..=REGISTRY_HOSTS.len()).collect();
    shown(no_registry_host, "a.toml", &breaches, &every_line);
    shown(no_registry_host, LOCK_FILE, &breaches, &[]);
}

#[test]
fn file_names_say_something() {
    hold(names_say_something);
    for name in EMPTY_NAMES {
        shown(names_say_something, &format!("crates/yard/src/{name}"), "", &[1]);
    }
    shown(names_say_something, "crates/yard/src/common_salt.rs", "", &[]);
}
