//! Folders that change places, and the list of dumps afterwards.

use std::fs;

use serde_json::Value;

use crate::world::Said;
use crate::world::World;

/// Takes a folder to another place.
pub fn go(world: &World, from: &str, to: &str) {
    let to = world.path(to);
    fs::create_dir_all(to.parent().unwrap()).unwrap();
    fs::rename(world.path(from), to).unwrap();
}

/// The dumps: label, the end of the root, presence, files.
pub fn dumps(world: &World) -> Vec<(String, String, String, i64)> {
    let sheet = world.run(&["dump", "list", "--as", "json"]).ended(0).json();
    let above = world.path("").canonicalize().unwrap();
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let rows = sheet.as_array().unwrap().iter();
    rows.map(|row| {
        let root = text(&row["root"]);
        let root = root.strip_prefix(above.to_str().unwrap()).unwrap();
        (
            text(&row["dump"]),
            root.trim_start_matches('/').to_owned(),
            text(&row["status"]),
            row["files"].as_i64().unwrap(),
        )
    })
    .collect()
}

/// One of these rows.
pub fn dump(label: &str, root: &str, presence: &str, files: i64) -> (String, String, String, i64) {
    (label.into(), root.into(), presence.into(), files)
}

/// Nothing was read, nothing is new.
pub fn only_moved(said: &Said, files: u64) {
    assert_eq!(said.number("unchanged, not read again"), files);
    for label in ["frames new", "known, read again", "further copies"] {
        assert_eq!(said.number(label), 0, "{label}");
    }
}
