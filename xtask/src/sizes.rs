//! How large the program is, and of how many crates it is made.

use crate::{running, workspace};

/// Bytes of the release program.
pub fn program_bytes() -> Result<u64, String> {
    let path = workspace::program();
    let about = std::fs::metadata(&path).map_err(|e| format!("{}: {e}", path.display()))?;
    Ok(about.len())
}

/// Builds the program and prints its sizes.
pub fn print() -> Result<(), String> {
    running::pass_through(workspace::cargo(&["build", "--release"]))?;
    println!("program: {:.1} MB", program_bytes()? as f64 / 1e6);
    let mut tree = workspace::cargo(&["tree", "--package", "cli", "--edges", "normal"]);
    tree.args(["--prefix", "none", "--format", "{p}"]);
    let tree = running::catch(tree, std::time::Duration::from_secs(60))?;
    if tree.code != Some(0) {
        return Err(tree.in_short());
    }
    let mut crates: Vec<&str> = tree
        .stdout
        .lines()
        .map(|line| line.trim_end_matches(" (*)"))
        .filter(|line| !line.is_empty())
        .collect();
    crates.sort_unstable();
    crates.dedup();
    println!("crates in it: {}", crates.len());
    Ok(())
}
