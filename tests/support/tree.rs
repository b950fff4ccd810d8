//! A tree of links, looked at from outside.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::path::PathBuf;

use serde_json::Value;

use crate::world::World;
use crate::world::files_of;

/// The record's file name.
pub const RECORD: &str = "framefall-links.json";

/// The demo's first body.
pub fn night() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "a", |_| true);
    world.run(&["ingest", "a"]);
    world
}

/// What is below a folder: paths and contents.
pub fn contents(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    files_of(folder)
        .into_iter()
        .map(|file| (file.clone(), fs::read(&file).unwrap()))
        .collect()
}

/// The links of a tree below its root, after making sure that its record names each of them and no other, and that each
/// gives the bytes of its file.
pub fn links(tree: &Path) -> Vec<String> {
    let text = fs::read_to_string(tree.join(RECORD)).unwrap();
    let record: Value = serde_json::from_str(&text).unwrap();
    let recorded: BTreeSet<String> = record["links"]
        .as_array()
        .unwrap()
        .iter()
        .map(|link| {
            let below = link["link"].as_str().unwrap();
            let source = link["source"].as_str().unwrap();
            if !source.contains("\\x") {
                assert_eq!(
                    fs::read(tree.join(below)).unwrap(),
                    fs::read(source).unwrap()
                );
            }
            below.to_owned()
        })
        .collect();
    let there: BTreeSet<String> = files_of(tree)
        .iter()
        .map(|file| {
            file.strip_prefix(tree)
                .unwrap()
                .to_str()
                .unwrap()
                .to_owned()
        })
        .filter(|below| below != RECORD)
        .collect();
    assert_eq!(recorded, there);
    there.into_iter().collect()
}

/// No temporary files are left.
pub fn no_parts(world: &World) {
    let left: Vec<_> = fs::read_dir(world.path(""))
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .filter(|name| name.to_string_lossy().starts_with(".framefall"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}
