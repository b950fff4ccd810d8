//! Names whose texts look alike: a byte that is not UTF-8 beside the signs it is written as. Each file keeps its frame, and
//! JSON names each exactly.

#![cfg(target_os = "linux")]

use crate::world;
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt;

use crate::frames::LIGHT;
use crate::frames::raw;
use crate::world::World;
use serde_json::Value;

/// Below `cards`: two folders and in each two files that look alike, eight frames of two sets of readings.
const FOLDERS: &[&[u8]] = &[b"a\xFF", br"a\xFF", br"a\x5CxFF"];
const FILES: &[&[u8]] = &[b"n\xFF.DNG", br"n\xFF.DNG", b"n.DNG"];

fn alike() -> World {
    let world = World::new();
    let mut second = 0;
    for folder in FOLDERS {
        let folder = world.path("cards").join(OsStr::from_bytes(folder));
        fs::create_dir_all(&folder).unwrap();
        for file in FILES {
            let reading = format!("2023:12:13 22:40:{second:02}");
            second += 1;
            fs::write(folder.join(OsStr::from_bytes(file)), raw(&reading, LIGHT)).unwrap();
        }
    }
    world
}

/// The bytes of every path that an object in JSON names.
fn bytes_of(object: &Value, key: &str) -> Vec<u8> {
    match object[format!("{key}_hex")].as_str() {
        Some(hex) => (0..hex.len() / 2)
            .map(|at| u8::from_str_radix(&hex[2 * at..2 * at + 2], 16).unwrap())
            .collect(),
        None => object[key].as_str().unwrap().as_bytes().to_vec(),
    }
}

fn on_disk(world: &World) -> BTreeSet<Vec<u8>> {
    world::files_of(&world.path("cards").canonicalize().unwrap())
        .iter()
        .map(|path| path.as_os_str().as_bytes().to_vec())
        .collect()
}

fn in_json(list: &Value) -> BTreeSet<Vec<u8>> {
    let rows = list.as_array().unwrap();
    let all: BTreeSet<_> = rows.iter().map(|row| bytes_of(row, "path")).collect();
    assert_eq!(all.len(), rows.len());
    all
}

#[test]
fn names_that_look_alike_never_turn_into_each_other() {
    let world = alike();
    let first = world.run(&["ingest", "cards"]).ended(0);
    assert_eq!(first.number("frames new"), 9);
    for _ in 0..2 {
        let again = world.run(&["ingest", "cards"]).ended(0);
        assert_eq!(again.number("frames new"), 0);
        assert_eq!(again.number("unchanged, not read again"), 9);
    }
    let there = on_disk(&world);
    let frames = world.run(&["frames", "--as", "json"]).json();
    assert_eq!(in_json(&frames), there);
    for frame in frames.as_array().unwrap() {
        let path = bytes_of(frame, "path");
        assert!(path.ends_with(&bytes_of(frame, "file")));
        assert_eq!(bytes_of(&frame["files"][0], "path"), path);
    }
    let audit = world.run(&["audit", "--disk"]);
    assert!(
        !audit.out.contains("missing") && !audit.out.contains("changed"),
        "{}",
        audit.out
    );
    world
        .run(&["export", "", "--to", "list.json", "--check", "content"])
        .ended(0);
    let list = fs::read(world.path("list.json")).unwrap();
    assert_eq!(in_json(&serde_json::from_slice(&list).unwrap()), there);
    let manifest = fs::read(world.path("list.json.manifest.json")).unwrap();
    let manifest: Value = serde_json::from_slice(&manifest).unwrap();
    assert_eq!(in_json(&manifest["files"]), there);
    world
        .run(&["export", "--again", "list.json.manifest.json"])
        .ended(0);
}

#[test]
fn each_of_two_dumps_that_look_alike_keeps_its_frames() {
    let world = alike();
    for folder in FOLDERS {
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_framefall"))
            .arg("ingest")
            .arg(world.path("cards").join(OsStr::from_bytes(folder)))
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .output()
            .unwrap();
        assert!(output.status.success());
    }
    let dumps = world.run(&["dump", "list", "--as", "json"]).json();
    let dumps = dumps.as_array().unwrap();
    assert_eq!(dumps.len(), FOLDERS.len());
    for dump in dumps {
        assert_eq!(
            (&dump["status"], &dump["files"]),
            (&"present".into(), &3.into())
        );
        assert!(
            fs::metadata(OsStr::from_bytes(&bytes_of(dump, "root")))
                .unwrap()
                .is_dir()
        );
    }
    let frames = world.run(&["frames", "--as", "json"]).json();
    assert_eq!(in_json(&frames), on_disk(&world));
}

/// A catalogue of before knew the literal name by the text that the other has now.
#[test]
fn an_earlier_catalogue_tells_them_apart_from_now_on() {
    let world = World::new();
    let folder = world.path("cards").join(OsStr::from_bytes(br"a\xFF"));
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("n.DNG"), raw("2023:12:13 22:40:00", LIGHT)).unwrap();
    world.run(&["ingest", "cards"]).ended(0);
    let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    let text: String = db
        .query_row(
            "SELECT path FROM written_folder WHERE path <> ''",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert_eq!(text, r"a\x5CxFF");
    // As the migration finds it, and as it leaves it.
    db.execute_batch(
        r"UPDATE written_folder SET path = 'a\xFF', path_bytes = NULL WHERE path <> '';",
    )
    .unwrap();
    let (_, names) = framefall::catalogue::migrations::MIGRATIONS
        .iter()
        .find(|(name, _)| name.ends_with("_names"))
        .unwrap();
    let updates = names.split("ALTER TABLE").next().unwrap();
    db.execute_batch(updates).unwrap();
    drop(db);
    let again = world.run(&["ingest", "cards"]).ended(0);
    assert_eq!(again.number("unchanged, not read again"), 1);
}
