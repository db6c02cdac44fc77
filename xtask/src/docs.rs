//! Documents that are made from the code, so that they cannot disagree with it.

use std::path::PathBuf;

fn yard_file_page() -> (PathBuf, String) {
    (crate::workspace::root().join("docs/yard-file.md"), yard::yard_file::yard_file_reference())
}

/// Writes them.
pub fn write() -> Result<(), String> {
    let (path, text) = yard_file_page();
    std::fs::write(&path, text).map_err(|e| format!("{}: {e}", path.display()))?;
    println!("wrote {}", path.display());
    Ok(())
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_yard_file_page_is_what_the_reader_accepts() {
        let (path, text) = super::yard_file_page();
        let kept = std::fs::read_to_string(path).unwrap();
        assert!(kept == text, "docs/yard-file.md is not current; run `cargo xtask docs`");
    }
}
