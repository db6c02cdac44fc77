//! Aim: the crates keep to their layers; an arrow between two of them only points down.
//! Method: ask cargo which crate depends on which, and compare with the table below.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

/// From the bottom up. A crate may use any crate of a lower row.
const LAYERS: [(&str, &[&str]); 5] = [
    ("numbers", &["quantity", "message"]),
    ("science", &["chemistry", "bench", "plant", "weather", "road"]),
    ("decisions", &["site", "event", "yard", "accounts", "entry", "planner"]),
    ("edges", &["store", "link", "report"]),
    ("faces", &["console", "cli"]),
];

/// The arrows allowed within a row.
const SIDEWAYS: [(&str, &str); 19] = [
    ("message", "quantity"),
    ("bench", "chemistry"),
    ("plant", "chemistry"),
    ("weather", "chemistry"),
    ("road", "chemistry"),
    ("road", "weather"),
    ("yard", "site"),
    ("yard", "event"),
    ("accounts", "event"),
    ("entry", "event"),
    ("planner", "event"),
    ("accounts", "site"),
    ("accounts", "yard"),
    ("entry", "site"),
    ("entry", "yard"),
    ("entry", "accounts"),
    ("planner", "site"),
    ("planner", "yard"),
    ("cli", "console"),
];

/// Chores and the laboratory stand beside the layers: they may use every crate below, chores the laboratory too; no
/// crate of the program may use them.
const BESIDE: [&str; 2] = ["laboratory", "xtask"];

/// Only for tests: any crate's tests may use it, and it uses none of ours.
const FOR_TESTS: &str = "any_bytes";

/// One crate using another.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Edge {
    from: String,
    to: String,
    /// Only for tests, examples and benches.
    dev: bool,
}

fn edge(from: &str, to: &str, dev: bool) -> Edge {
    Edge { from: from.to_string(), to: to.to_string(), dev }
}

fn layer(name: &str) -> Option<usize> {
    LAYERS.iter().position(|(_, crates)| crates.contains(&name))
}

/// What is wrong with an edge, if anything.
fn fault(edge: &Edge) -> Option<String> {
    let Edge { from, to, dev } = edge;
    if to == FOR_TESTS && *dev {
        return None;
    }
    if let Some(place) = BESIDE.iter().position(|name| name == from) {
        let is_above = BESIDE.iter().position(|name| name == to).is_none_or(|other| other < place);
        return (!is_above).then(|| format!("{from} -> {to}: chores use the laboratory, not it them"));
    }
    let (Some(above), Some(below)) = (layer(from), layer(to)) else {
        return Some(format!("{from} -> {to}: not both are in the table of layers"));
    };
    let sideways = *dev || SIDEWAYS.contains(&(from, to));
    if below < above || (below == above && sideways) {
        return None;
    }
    Some(format!("{from} ({}) -> {to} ({})", LAYERS[above].0, LAYERS[below].0))
}

/// Names of the workspace's crates, and the edges between them.
fn read_metadata(metadata: &Value) -> (Vec<String>, Vec<Edge>) {
    let packages = metadata["packages"].as_array().expect("cargo metadata lists packages");
    let name = |value: &Value| value["name"].as_str().expect("a package has a name").to_string();
    let names: Vec<String> = packages.iter().map(name).collect();
    let mut edges = Vec::new();
    for package in packages {
        for dependency in package["dependencies"].as_array().expect("a package lists its dependencies") {
            // A path marks a crate of this workspace; one from outside may share a name with ours.
            if dependency["path"].is_string() {
                edges.push(Edge {
                    from: name(package),
                    to: name(dependency),
                    dev: dependency["kind"] == "dev",
                });
            }
        }
    }
    (names, edges)
}

fn metadata() -> Value {
    let root: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let output = Command::new(cargo)
        .args(["metadata", "--format-version", "1", "--no-deps", "--offline"])
        .current_dir(root)
        .output()
        .expect("cargo starts");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("cargo metadata is JSON")
}

#[test]
fn every_arrow_points_down() {
    let (names, edges) = read_metadata(&metadata());
    let is_beside = |name: &str| BESIDE.contains(&name) || name == FOR_TESTS;
    let unknown: Vec<&String> =
        names.iter().filter(|name| !is_beside(name) && layer(name).is_none()).collect();
    assert!(unknown.is_empty(), "not in the table of layers: {unknown:?}");
    // The reading itself must not have missed the edges.
    assert!(edges.contains(&edge("planner", "chemistry", false)), "edges read: {edges:?}");
    let faults: Vec<String> = edges.iter().filter_map(fault).collect();
    assert!(faults.is_empty(), "arrows that point up or aside:\n{}", faults.join("\n"));
}

#[test]
fn a_wrong_arrow_is_found_out() {
    let wrong = [
        edge("chemistry", "yard", false),
        edge("chemistry", "console", true),
        edge("chemistry", "bench", false),
        edge("weather", "road", false),
        edge("yard", "planner", false),
        edge("yard", "store", false),
        edge("store", "report", false),
        edge("console", "cli", false),
        edge("report", "console", false),
        edge("cli", "xtask", false),
        edge("planner", "laboratory", true),
        edge("laboratory", "xtask", false),
        edge("cli", "surprise", false),
        edge("surprise", "chemistry", false),
        edge("cli", "any_bytes", false),
        edge("any_bytes", "chemistry", true),
    ];
    for edge in wrong {
        assert!(fault(&edge).is_some(), "{edge:?}");
    }
    let right = [
        edge("bench", "chemistry", false),
        edge("chemistry", "bench", true),
        edge("yard", "bench", false),
        edge("planner", "yard", false),
        edge("store", "yard", false),
        edge("report", "bench", false),
        edge("cli", "console", false),
        edge("xtask", "cli", false),
        edge("chemistry", "any_bytes", true),
        edge("xtask", "laboratory", false),
        edge("laboratory", "plant", false),
    ];
    for edge in right {
        assert_eq!(fault(&edge), None);
    }
}

#[test]
fn a_made_up_workspace_is_read_rightly() {
    let metadata = serde_json::json!({ "packages": [
        { "name": "chemistry", "dependencies": [
            { "name": "planner", "kind": null, "path": "crates/planner" },
            { "name": "yard", "kind": "dev", "path": "crates/yard" },
            { "name": "road", "kind": null },
        ] },
    ] });
    let (names, edges) = read_metadata(&metadata);
    assert_eq!(names, ["chemistry"]);
    assert_eq!(edges, [edge("chemistry", "planner", false), edge("chemistry", "yard", true)]);
    assert_eq!(edges.iter().filter_map(fault).count(), 2);
}
