//! Worlds with lights and their calibration frames, and the exported lists.

// Each test uses a part of this.
#![allow(dead_code)]

use std::collections::BTreeMap;
use std::fs;

use serde_json::Value;

use crate::frames::Taken;
use crate::frames::raw;
use crate::frames::reading;
use crate::world::World;

/// All lights.
pub const LIGHTS: &str = "kind = light";

/// The night, as clocks write its second half.
pub const NIGHT: &str = "2023:12:14";
/// A later night.
pub const LATER: &str = "2024:01:20";

/// Writes a run of frames, 20 s from start to start.
pub fn run(world: &World, folder: &str, day: &str, from_s: u32, count: u32, taken: Taken) {
    for i in 0..count {
        let bytes = raw(&reading(day, from_s + i * 20), taken);
        world.write(&format!("card/{folder}/N7_{:04}.DNG", 1000 + i), &bytes);
    }
}

/// Ingests it.
pub fn ingest(world: &World) {
    world.run(&["ingest", "card"]).ended(0);
}

/// Writes a temperature into the frames of a folder, as a body with a sensor for it would.
pub fn warm(world: &World, folder: &str, from_c: f64, step_c: f64) {
    let catalogue = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    let changed = catalogue
        .execute(
            "UPDATE written_frame AS frame SET temperature_c = ?2 + ?3 * (
                 SELECT count(*) FROM written_file AS before JOIN written_file AS own USING (folder_id)
                 WHERE own.file_id = frame.first_file_id AND before.name < own.name)
             WHERE first_file_id IN (SELECT file_id FROM written_file JOIN written_folder AS folder USING (folder_id)
                                     WHERE folder.path = ?1)",
            (folder, from_c, step_c),
        )
        .unwrap();
    assert!(changed > 0, "{folder}");
}

/// The rows of a list.
pub fn rows(world: &World, list: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_path(world.path(list)).unwrap();
    reader.deserialize().map(Result::unwrap).collect()
}

/// The manifest of a list.
pub fn manifest(world: &World, list: &str) -> Value {
    let text = fs::read_to_string(world.path(&format!("{list}.manifest.json"))).unwrap();
    serde_json::from_str(&text).unwrap()
}
