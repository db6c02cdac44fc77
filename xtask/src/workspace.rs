//! Where things of this workspace are.

use std::path::{Path, PathBuf};
use std::process::Command;

/// The folder of the workspace's own Cargo.toml.
pub fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent().unwrap_or(here).to_path_buf()
}

/// The target folder cargo uses.
pub fn target() -> PathBuf {
    // `join` keeps an absolute folder as it is.
    std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root().join("target"), |folder| root().join(folder))
}

/// The cargo that started this chore, at the workspace root.
pub fn cargo(arguments: &[&str]) -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.args(arguments).current_dir(root());
    command
}

/// The release program.
pub fn program() -> PathBuf {
    target().join("release").join(format!("brinewright{}", std::env::consts::EXE_SUFFIX))
}

/// The yard file the checks run on.
pub fn example_yard() -> PathBuf {
    root().join("examples").join("alder_fork.toml")
}
