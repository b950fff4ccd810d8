//! Writes the demo dumps: `cargo run --example make_demo_data -- demo-data`.
//!
//! Overwrites the demo's files in the named folder; removes nothing, and changes nothing else.

// The large pictures of `demo --look` are not written here.
#[allow(dead_code, unused_imports)]
mod studio;

use std::fs;
use std::path::{Path, PathBuf};

fn main() -> studio::Outcome<()> {
    let root = std::env::args_os()
        .nth(1)
        .map(PathBuf::from)
        .ok_or("say where: cargo run --example make_demo_data -- demo-data")?;
    let mut paths = Vec::new();
    for dump in studio::Dump::ALL {
        for file in studio::dump_files(dump)? {
            write(&root, &file.path, &file.bytes)?;
            paths.push(file.path);
        }
    }
    write(&root, "expected.toml", studio::expected()?.as_bytes())?;
    paths.sort_unstable();
    let list = studio::list(paths.iter().map(String::as_str));
    write(&root, "files.rs", list.as_bytes())
}

fn write(root: &Path, path: &str, bytes: &[u8]) -> studio::Outcome<()> {
    let path = root.join(path);
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    fs::write(&path, bytes).map_err(|error| format!("{}: {error}", path.display()))?;
    Ok(())
}
