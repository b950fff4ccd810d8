//! What was stated in one catalogue is kept in a file and taken over into another one.

use std::collections::BTreeMap;
use std::fs;

use rusqlite::Connection;
use serde_json::Value;

use crate::world::Said;
use crate::world::World;
use framefall::catalogue::migrations::APPLICATION_ID;
use framefall::catalogue::migrations::MIGRATIONS;

const CARDS: [&str; 3] = ["geminids-body-a", "geminids-body-b", "quadrantids"];

/// Three cards on disk, and a catalogue of them with something of everything stated.
pub fn stated() -> World {
    let world = World::new();
    for card in CARDS {
        world.dump(card, card, |_| true);
    }
    world.site("Salt Ridge", "38.93", "-116.01");
    world.site("Snow Fell", "63.05", "13.35");
    world.run(&["ingest", "--site", "Salt Ridge", CARDS[0], CARDS[1]]);
    world.run(&["ingest", CARDS[2]]);
    for words in [
        &["site", "assign", "Snow Fell", "--dump", CARDS[2]][..],
        &["clock", "zone", "6004127", "America/Los_Angeles"],
        &[
            "clock",
            "zone",
            "6004127",
            "UTC",
            "--from",
            "2020-01-01",
            "--until",
            "2020-02-01",
        ],
        &["clock", "remove", "zone-2"],
        &[
            "sessions", "mark", "2", "--kind", "flat", "--frames", "1..3",
        ],
        &["sessions", "mark", "3", "--focal", "24", "--frames", "2..4"],
        &["sessions", "mark", "2", "--clear", "--frames", "1"],
        &[
            "frames",
            "mark",
            "file like 'N6A_042?.DNG'",
            "--looked",
            "yes",
        ],
        &[
            "frames",
            "mark",
            "file in (N6A_0421.DNG, N6A_0422.DNG, N6A_0423.DNG)",
            "--chosen",
            "yes",
            "--note",
            "fireball, low",
        ],
        &["frames", "mark", "file = N6A_0422.DNG", "--clear", "chosen"],
        &[
            "frames",
            "mark",
            "file = N6A_0430.DNG",
            "--chosen",
            "no",
            "--looked",
            "no",
        ],
        &["query", "save", "dark-sky", "moon.alt < 0"],
        &["query", "save", "long", "exposure > 10 s"],
        &["query", "remove", "long"],
        &["dump", "rename", CARDS[1], "second body"],
        &[
            "site",
            "change",
            "Salt Ridge",
            "--name",
            "Ridge",
            "--sky-brightness",
            "21.7",
        ],
    ] {
        world.run(words).ended(0);
    }
    world.run(&["statement", "save", "log.jsonl"]).ended(0);
    world
}

/// Runs the program with another catalogue of the same world.
pub fn other(world: &World, words: &[&str]) -> Said {
    let at = world.path("other.sqlite");
    world.run(&[&["--catalogue", at.to_str().unwrap()], words].concat())
}

/// The frames by their paths, without the numbers of sessions.
fn frames(said: &Said) -> BTreeMap<String, Value> {
    let mut all = BTreeMap::new();
    for mut frame in said.json().as_array().unwrap().clone() {
        let of = frame.as_object_mut().unwrap();
        of.remove("session");
        of.remove("frame_id");
        all.insert(of["path"].as_str().unwrap().to_owned(), frame);
    }
    all
}

/// Every frame.
pub const ALL: [&str; 3] = ["frames", "--as", "json"];

#[test]
fn a_new_catalogue_of_the_same_dumps_gives_the_same_answers() {
    let world = stated();
    let had = frames(&world.run(&ALL));
    assert!(had.len() > 60 && had.values().any(|f| f["kind"] == "flat"));
    for (key, value) in [
        ("looked", "yes"),
        ("looked", "no"),
        ("chosen", "yes"),
        ("chosen", "no"),
        ("note", "fireball, low"),
    ] {
        assert!(had.values().any(|f| f[key] == value), "{key} {value}");
    }
    // In another order, and nothing stated.
    other(&world, &["ingest", CARDS[2], CARDS[0], CARDS[1]]);
    assert_ne!(frames(&other(&world, &ALL)), had);
    let said = other(&world, &["statement", "take", "log.jsonl"]).ended(0);
    let lines = fs::read_to_string(world.path("log.jsonl")).unwrap();
    assert_eq!(
        said.number("statements taken"),
        lines.lines().count() as u64
    );
    assert!(!said.out.contains("known before"), "{}", said.out);
    let has = frames(&other(&world, &ALL));
    for (path, frame) in &had {
        assert_eq!(has[path], *frame, "{path}");
    }
    assert_eq!(has.len(), had.len());
    for words in [
        &["query", "list", "--as", "json"][..],
        &["clock", "list", "--as", "json"],
        &["site", "list", "--as", "json"],
        &["statement", "list", "--as", "json"],
    ] {
        assert_eq!(
            other(&world, words).json(),
            world.run(words).json(),
            "{words:?}"
        );
    }
    let labels = other(&world, &["dump", "list", "--as", "json"]).out;
    assert!(labels.contains("second body"), "{labels}");

    // None twice, in either catalogue.
    let again = other(&world, &["statement", "take", "log.jsonl"]).ended(0);
    assert_eq!(again.number("statements taken"), 0);
    let own = world.run(&["statement", "take", "log.jsonl"]).ended(0);
    assert_eq!(own.number("statements taken"), 0);
    assert_eq!(frames(&world.run(&ALL)), had);
    // The same lines come out again.
    other(&world, &["statement", "save", "again.jsonl"]).ended(0);
    assert_eq!(
        fs::read_to_string(world.path("again.jsonl")).unwrap(),
        lines
    );
}

#[test]
fn the_list_says_what_was_stated_when_about_how_many_frames_and_what_was_taken_back() {
    let world = stated();
    let list = world.run(&["statement", "list", "--as", "json"]).json();
    let of = |what: &str| -> Vec<&Value> {
        list.as_array()
            .unwrap()
            .iter()
            .filter(|s| s["what"] == what)
            .collect()
    };
    assert!(
        list.as_array()
            .unwrap()
            .iter()
            .all(|s| s["stated_utc"].is_string())
    );
    let zones = of("zone");
    assert_eq!(zones.len(), 2);
    assert!(zones[0]["taken_back_by"].is_null());
    assert_eq!(zones[1]["taken_back_by"], of("zone-removal")[0]["number"]);
    assert_eq!(of("zone-removal")[0]["takes_back"], zones[1]["number"]);
    let kinds: Vec<&Value> = of("kind").iter().map(|s| &s["frames"]).collect();
    assert_eq!(kinds, [3, 1]);
    let places = of("place");
    assert_eq!(places[0]["content"], "Salt Ridge");
    assert!(places[0]["frames"].as_u64().unwrap() > 20);
    assert_eq!(of("query-removal")[0]["content"], "@long");
    let shown = world.run(&["statement", "list"]).ended(0).out;
    assert!(
        shown.contains("6004127 set to America/Los_Angeles"),
        "{shown}"
    );
}

#[test]
fn frames_that_are_not_here_are_waited_for() {
    let world = stated();
    let had = frames(&world.run(&ALL));
    // Before anything is ingested.
    let said = other(&world, &["statement", "take", "log.jsonl"]).ended(1);
    assert!(said.number("  not here".trim()) > 60, "{}", said.out);
    assert!(
        said.err.contains("frames of dump quadrantids"),
        "{}",
        said.err
    );
    let listed = |key: &str| -> u64 {
        let list = other(&world, &["statement", "list", "--as", "json"]).json();
        list.as_array()
            .unwrap()
            .iter()
            .filter_map(|s| s[key].as_u64())
            .sum()
    };
    assert!(listed("frames_not_here") > 60);
    for card in CARDS {
        let said = other(&world, &["ingest", card]);
        assert!(
            said.out.contains("frames that statements waited for"),
            "{}",
            said.out
        );
    }
    assert_eq!(listed("frames_not_here"), 0);
    let has = frames(&other(&world, &ALL));
    for (path, frame) in &had {
        assert_eq!(has[path], *frame, "{path}");
    }
}

#[test]
fn a_frame_is_known_whatever_its_files_are_called() {
    let world = stated();
    let (from, to) = (world.path("quadrantids"), world.path("renamed"));
    for (nth, file) in crate::world::files_of(&from).into_iter().enumerate() {
        let extension = file.extension().unwrap().to_string_lossy().into_owned();
        fs::create_dir_all(&to).unwrap();
        fs::copy(&file, to.join(format!("P{nth:05}.{extension}"))).unwrap();
    }
    other(&world, &["ingest", "renamed"]);
    let said = other(&world, &["statement", "take", "log.jsonl"]).ended(1);
    assert!(!said.err.contains("quadrantids"), "{}", said.err);
    let placed = other(&world, &["frames", "site = \"Snow Fell\"", "--as", "json"]);
    let there = world.run(&["frames", "site = \"Snow Fell\"", "--as", "json"]);
    assert_eq!(
        placed.json().as_array().unwrap().len(),
        there.json().as_array().unwrap().len()
    );
    assert!(placed.json().as_array().unwrap().len() > 5);
}

#[test]
fn a_statement_is_never_changed_or_deleted() {
    let world = stated();
    let db = Connection::open(world.path("catalogue.sqlite")).unwrap();
    for sql in [
        "DELETE FROM stated_log",
        "UPDATE stated_log SET content = '{}'",
        "DELETE FROM stated_frames",
        "UPDATE stated_frames SET frames = 1",
    ] {
        let refused = db.execute(sql, []).unwrap_err().to_string();
        assert!(refused.contains("a statement is never"), "{refused}");
    }
    let (shown, frames): (i64, i64) = db
        .query_row(
            "SELECT count(*), sum(frames) FROM statement WHERE what <> ''",
            [],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .unwrap();
    assert!(shown > 12 && frames > 60, "{shown} {frames}");
}

/// The version before the log.
const BEFORE: usize = 19;

#[test]
fn what_an_earlier_catalogue_held_is_in_the_log_and_goes_on_to_another() {
    let world = World::new();
    for name in CARDS {
        world.dump(name, name, |_| true);
    }
    let path = world.path("catalogue.sqlite");
    let db = Connection::open(&path).unwrap();
    for (_, sql) in &MIGRATIONS[..BEFORE] {
        db.execute_batch(sql).unwrap();
    }
    let frames = "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 9)";
    db.execute_batch(&format!(
        "INSERT INTO written_dump (dump_id, label, root, first_seen_utc, last_seen_utc) VALUES (1, 'old', '/nowhere', 'x', 'x');
         INSERT INTO written_folder (folder_id, dump_id, path) VALUES (1, 1, 'DCIM');
         INSERT INTO written_camera (camera_id, make, model, serial, name) VALUES (1, 'Umbra', 'N7', '0077', 'N7 0077');
         {frames} INSERT INTO written_frame (frame_id, first_file_id, camera_id, clock_s) SELECT i, i, 1, 1544736000 + i FROM n;
         INSERT INTO written_file (file_id, folder_id, name, frame_id, format_no, bytes, modified_ns, fingerprint, undated, health_no)
         SELECT frame_id, 1, 'N' || frame_id, frame_id, 6, 9, 1, -1 - frame_id, 0, 0 FROM written_frame;
         INSERT INTO stated_site (site_id, name, lat_deg, lon_deg, elev_m, zone, origin, sqm_mag)
         VALUES (1, 'Upper Fell', 54, -3, 300, 'Europe/London', 'stated', NULL), (2, '36.00N 117.00W', 36, -117, 10, NULL, 'exif', 21.5);
         INSERT INTO stated_clock_zone (camera_id, zone, from_local) VALUES (1, 'Europe/Rome', '2018-12-01T00:00:00');
         INSERT INTO stated_clock_fix (camera_id, reading, true_utc, reset_before) VALUES (1, '2018-12-13T22:00:00', '2018-12-13T21:00:09Z', 1);
         INSERT INTO stated_track (track_id, name, first_utc, last_utc, points) VALUES (1, 'walk.gpx', '2018-12-13T21:00:00Z', '2018-12-13T22:00:00Z', 2);
         INSERT INTO stated_track_point VALUES (1, '2018-12-13T21:00:00Z', 0, 54, -3, NULL), (1, '2018-12-13T22:00:00Z', 0, 54.01, -3, 12.5);
         INSERT INTO stated_query VALUES ('dark', 'moon.alt < 0', '2024-01-01T00:00:00Z');
         INSERT INTO stated_place VALUES (1, 4, 1), (6, 7, 1), (8, 9, 2);
         INSERT INTO stated_kind VALUES (2, 'dark'), (3, 'dark'), (5, 'flat');
         INSERT INTO stated_focal VALUES (4, 14.5);
         PRAGMA user_version = {BEFORE}; PRAGMA application_id = {APPLICATION_ID}"
    ))
    .unwrap();
    drop(db);
    let list = world.run(&["statement", "list", "--as", "json"]).json();
    let told: Vec<(String, String, Option<u64>)> = list
        .as_array()
        .unwrap()
        .iter()
        .map(|s| {
            assert!(s["stated_utc"].is_null());
            let text = |key: &str| s[key].as_str().unwrap().to_owned();
            (text("what"), text("content"), s["frames"].as_u64())
        })
        .collect();
    let of = |what: &str, content: &str, frames| (what.to_owned(), content.to_owned(), frames);
    assert_eq!(
        told,
        [
            of("site", "Upper Fell: 54.00000, -3.00000, 300 m", None),
            of(
                "site-change",
                "36.00N 117.00W is 36.00N 117.00W: 36.00000, -117.00000, 10 m",
                None
            ),
            of(
                "zone",
                "N7 0077 set to Europe/Rome from 2018-12-01T00:00:00",
                None
            ),
            of(
                "fix",
                "N7 0077 read 2018-12-13T22:00:00 at 2018-12-13T21:00:09.000Z, reset before",
                None
            ),
            of("track", "walk.gpx, 2 points", None),
            of("query", "@dark: moon.alt < 0", None),
            of("place", "Upper Fell", Some(6)),
            of("place", "36.00N 117.00W", Some(2)),
            of("kind", "dark", Some(2)),
            of("kind", "flat", Some(1)),
            of("focal", "14.5 mm", Some(1)),
        ]
    );
    world.run(&["statement", "save", "log.jsonl"]).ended(0);
    let said = other(&world, &["statement", "take", "log.jsonl"]).ended(1);
    assert_eq!(said.number("statements taken"), 11);
    assert_eq!(said.number("not here"), 9);
    // In its own catalogue they are known.
    let own = world.run(&["statement", "take", "log.jsonl"]).ended(0);
    assert_eq!(
        (own.number("statements taken"), own.number("known before")),
        (0, 11)
    );
}
