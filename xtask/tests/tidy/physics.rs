//! Every function that states physics says by what equation, within what range, with what error and from what source.

use super::{Source, hold, shown, sources};

/// Folder with the files in it that state physics, statistics or a method.
const FILES: [(&str, &[&str]); 2] = [
    (
        "crates/chemistry/src/",
        &[
            "freezing.rs",
            "phases.rs",
            "density.rs",
            "viscosity.rs",
            "heat_capacity.rs",
            "enthalpy.rs",
            "conductivity.rs",
            "refraction.rs",
            "water_activity.rs",
            "water.rs",
            "salometer.rs",
            "recipe.rs",
            "correction.rs",
            "impurities.rs",
            "inverse.rs",
            "properties.rs",
        ],
    ),
    (
        "crates/bench/src/",
        &[
            "agreement.rs",
            "consensus.rs",
            "control.rs",
            "drift.rs",
            "line.rs",
            "measure.rs",
            "sugar.rs",
            "trim.rs",
            "uncertainty.rs",
            "wet_methods.rs",
        ],
    ),
];

const HEADINGS: [&str; 4] = ["# Equation", "# Range", "# Error", "# Source"];

fn is_about_physics(source: &Source) -> bool {
    FILES
        .iter()
        .any(|(folder, names)| source.path.strip_prefix(folder).is_some_and(|name| names.contains(&name)))
}

/// Free functions only: a method of a result hands out what a function has found. One without arguments names a fixed
/// value and computes nothing.
fn states_physics(line: &str) -> bool {
    line.starts_with("pub fn ") && !line.contains("()")
}

fn physics_is_documented(source: &Source) -> Vec<String> {
    if !is_about_physics(source) {
        return Vec::new();
    }
    let lines: Vec<&str> = source.text.lines().collect();
    let mut faults = Vec::new();
    for (index, line) in lines.iter().enumerate().filter(|(_, line)| states_physics(line)) {
        let above =
            lines[..index].iter().rev().take_while(|line| line.starts_with("///") || line.starts_with("#["));
        let said: Vec<&str> = above.map(|line| line.trim_start_matches("///").trim()).collect();
        let missing: Vec<&str> = HEADINGS.into_iter().filter(|heading| !said.contains(heading)).collect();
        if !missing.is_empty() {
            faults.push(source.fault(index, &format!("`{line}` lacks {missing:?}")));
        }
    }
    faults
}

#[test]
fn every_physical_function_has_its_headings() {
    hold(physics_is_documented);
    let headings = HEADINGS.map(|heading| format!("/// {heading}\n/// x.\n"));
    let whole = headings.concat() + "#[must_use]\npub fn whole(x: f64) -> f64 {\n";
    let path = "crates/chemistry/src/density.rs";
    shown(physics_is_documented, path, &whole, &[]);
    for heading in HEADINGS {
        let lacking = whole.replace(&format!("/// {heading}\n"), "/// # Other\n");
        shown(physics_is_documented, path, &lacking, &[10]);
        shown(physics_is_documented, "crates/chemistry/src/brine.rs", &lacking, &[]);
    }
    shown(physics_is_documented, path, "/// A constant.\npub fn fixed() -> f64 {\n", &[]);
    shown(physics_is_documented, path, "pub fn bare(\n    x: f64,\n", &[1]);
}

#[test]
fn the_files_with_physics_are_where_the_rule_looks() {
    let sources = sources();
    let paths =
        FILES.iter().flat_map(|(folder, names)| names.iter().map(move |name| format!("{folder}{name}")));
    for path in paths {
        let source = sources.iter().find(|source| source.path == path);
        let source = source.unwrap_or_else(|| panic!("{path} is gone"));
        assert!(source.text.lines().any(states_physics), "{path} states no physics");
    }
}
