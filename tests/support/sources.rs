//! The project's own files, as text.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

pub fn files_under(folder: &str, ending: &str) -> Vec<(String, String)> {
    fn visit(folder: &Path, ending: &str, found: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                visit(&path, ending, found);
            } else if path.to_string_lossy().ends_with(ending) {
                found.push(path);
            }
        }
    }
    let mut found = Vec::new();
    visit(&root().join(folder), ending, &mut found);
    found.sort();
    assert!(!found.is_empty(), "nothing under {folder}");
    found
        .into_iter()
        .map(|path| {
            let name = path
                .strip_prefix(root())
                .unwrap()
                .to_string_lossy()
                .replace('\\', "/");
            (name, fs::read_to_string(&path).unwrap())
        })
        .collect()
}

/// The lines of a file that are code: no comments, and nothing from the first test module on.
pub fn code_lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.lines()
        .enumerate()
        .take_while(|(_, line)| {
            !line.starts_with("#[cfg(test)]") && !line.starts_with("#[cfg(all(test")
        })
        .filter(|(_, line)| !line.trim_start().starts_with("//"))
        .map(|(i, line)| (i + 1, line))
}
