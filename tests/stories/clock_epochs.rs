//! Epochs of a body's clock, and statements limited to some of its readings: nothing outside them moves.

use crate::world;
use crate::world::World;
use serde_json::Value;

const BODY_B: &str = "2B-00318";

/// Writes frames of body B that show these readings.
pub fn card(world: &World, name: &str, readings: &[&str]) {
    for (i, reading) in readings.iter().enumerate() {
        world.write(
            &format!("{name}/{name}_{i:04}.DNG"),
            &world::frame_at(reading),
        );
    }
}

/// Start, error and basis of each frame of a card, in the order of the names.
pub fn times(world: &World, card: &str) -> Vec<(String, f64, String)> {
    let query = format!("file like '{card}_*'");
    let frames = world.run(&["frames", &query, "--as", "json"]).json();
    let mut frames: Vec<&Value> = frames.as_array().unwrap().iter().collect();
    frames.sort_by_key(|f| f["file"].as_str().unwrap().to_owned());
    let text = |f: &Value, key: &str| f[key].as_str().unwrap_or("none").to_owned();
    let time = |f: &&Value| {
        let error_s = f["time_error_s"].as_f64().unwrap_or(f64::NAN);
        (text(f, "start_utc"), error_s, text(f, "time_basis"))
    };
    frames.iter().map(time).collect()
}

pub fn starts(world: &World, card: &str) -> Vec<String> {
    times(world, card)
        .into_iter()
        .map(|(start, ..)| start)
        .collect()
}

pub fn clock<'w>(words: &[&'w str], more: &[&'w str]) -> Vec<&'w str> {
    [&["clock"], words, more].concat()
}

/// A fix of body B.
fn fix<'w>(read: &'w str, at: &'w str) -> Vec<&'w str> {
    clock(&["fix", BODY_B, "--read", read, "--true", at], &[])
}

#[test]
fn a_fix_after_a_reset_leaves_what_was_before_it() {
    let old = ["2023:12:13 22:00:00", "2023:12:13 22:00:30"];
    let new = [
        "2026:08:12 22:00:00",
        "2026:08:12 22:00:30",
        "2026:08:13 01:00:00",
    ];
    let zone = [
        "clock",
        "zone",
        BODY_B,
        "America/Los_Angeles",
        "--until",
        "2024-06-30",
    ];
    // The clock shows Rome's summer time and is ten seconds fast.
    let mut reset = fix("2026-08-12 22:30:10", "2026-08-12T20:30:00Z");
    reset.push("--reset-before");
    let world = World::new();
    card(&world, "old", &old);
    card(&world, "new", &new);
    world.run(&["ingest", "old", "new"]);
    world.run(&zone).ended(0);
    let before = times(&world, "old");
    assert_eq!(before[0].0, "2023-12-14T06:00:00.000Z");
    let done = world.run(&reset).ended(0);
    assert_eq!(done.number("frames checked"), 3);
    assert!(
        done.out.contains("taken as reset at 2026-08-12T12:00:00"),
        "{}",
        done.out
    );
    assert_eq!(times(&world, "old"), before, "to the bit");
    assert_eq!(starts(&world, "new")[0], "2026-08-12T19:59:50.000Z");
    let listed = world.run(&["clock", "list", "--as", "json"]).json();
    let counts: Vec<&Value> = listed
        .as_array()
        .unwrap()
        .iter()
        .map(|row| &row["frames"])
        .collect();
    assert_eq!(counts, [2, 3]);

    // Stated before the frames came, it is the same.
    let other = World::new();
    card(&other, "old", &old);
    card(&other, "new", &new);
    other.run(&["ingest", "old"]);
    other.run(&reset).ended(0);
    other.run(&zone).ended(0);
    other.run(&["ingest", "new"]);
    for name in ["old", "new"] {
        assert_eq!(times(&world, name), times(&other, name));
    }
    // Without a reset the fix applies to all readings, and those whose zone is stated take its error only.
    world.run(&["clock", "remove", "fix-1"]).ended(0);
    world
        .run(&fix("2026-08-12 22:30:10", "2026-08-12T20:30:00Z"))
        .ended(0);
    assert_eq!(starts(&world, "old")[0], "2023-12-14T05:59:50.000Z");
}

#[test]
fn statements_that_contradict_each_other_are_refused_with_both_named() {
    let world = World::new();
    card(&world, "card", &["2024:08:12 22:00:00"]);
    world.run(&["ingest", "card"]);
    world.run(&["clock", "zone", BODY_B, "UTC"]).ended(0);
    let an_hour = fix("2024-08-12 22:30:00", "2024-08-12T21:30:00Z");
    let refused = world.run(&an_hour).ended(2);
    for words in ["zone-1", "this fix", "1 h 0 min", "--reset-before"] {
        assert!(refused.err.contains(words), "{words}: {}", refused.err);
    }
    // Seven minutes are an error of the clock, and no other zone.
    let minutes = fix("2024-08-12 22:30:00", "2024-08-12T22:23:00Z");
    world.run(&minutes).ended(0);
    world.run(&["clock", "remove", "fix-1"]).ended(0);
    // As a new epoch the whole hour is the clock's error.
    let mut reset = an_hour.clone();
    reset.push("--reset-before");
    world.run(&reset).ended(0);
    assert_eq!(starts(&world, "card"), ["2024-08-12T21:00:00.000Z"]);

    // The other way round.
    let world = World::new();
    card(&world, "card", &["2024:08:12 22:00:00"]);
    world.run(&["ingest", "card"]);
    world.run(&an_hour).ended(0);
    let refused = world.run(&["clock", "zone", BODY_B, "UTC"]).ended(2);
    for words in ["fix-1", "this zone", "--from and --until"] {
        assert!(refused.err.contains(words), "{words}: {}", refused.err);
    }
    world
        .run(&["clock", "zone", BODY_B, "UTC", "--until", "2024-08-01"])
        .ended(0);
    world.run(&["clock", "zone", BODY_B, "+01:00"]).ended(0);
}

#[test]
fn a_limited_statement_leaves_all_other_nights() {
    let world = World::new();
    world.site("Lago", "45.9N", "8.9E");
    for (name, day) in [("a", "11"), ("b", "12"), ("c", "13")] {
        let readings = ["21:00:00", "21:00:30", "21:01:00"].map(|t| format!("2024:08:{day} {t}"));
        card(&world, name, &readings.each_ref().map(String::as_str));
    }
    world
        .run(&["ingest", "--site", "Lago", "a", "b", "c"])
        .ended(0);
    let sessions = world.run(&["sessions", "--as", "json"]).json();
    assert_eq!(sessions.as_array().unwrap().len(), 3);
    // The clock gains a second a day, and is compared on either side of the second night.
    world
        .run(&fix("2024-08-10 12:00:00", "2024-08-10T10:00:00Z"))
        .ended(0);
    world
        .run(&fix("2024-08-20 12:00:10", "2024-08-20T10:00:00Z"))
        .ended(0);
    let before = ["a", "b", "c"].map(|name| times(&world, name));
    let five = [
        "--read",
        "2024-08-12 21:00:00",
        "--true",
        "2024-08-12T14:00:00Z",
    ];
    for limits in [
        &["--session", "2"][..],
        &["--from", "2024-08-12", "--until", "2024-08-12"],
        &[
            "--from",
            "2024-08-12 21:00:00",
            "--until",
            "2024-08-12 21:01:01",
        ],
    ] {
        let mut words = vec!["clock", "fix", BODY_B];
        words.extend(five);
        words.extend(limits);
        let done = world.run(&words).ended(0);
        assert_eq!(done.number("frames checked"), 3, "{limits:?}");
        assert_eq!(
            starts(&world, "b"),
            ["14:00:00", "14:00:30", "14:01:00"].map(|t| format!("2024-08-12T{t}.000Z"))
        );
        assert_eq!(times(&world, "a"), before[0], "{limits:?}");
        assert_eq!(times(&world, "c"), before[2], "{limits:?}");
        let listed = world.run(&["clock", "list", "--as", "json"]).json();
        let statement = listed[1]["statement"].as_str().unwrap().to_owned();
        assert_eq!(listed[1]["frames"], 3, "{listed}");
        world.run(&["clock", "remove", &statement]).ended(0);
        assert_eq!(["a", "b", "c"].map(|name| times(&world, name)), before);
    }
    // The zone of one session.
    world
        .run(&["clock", "zone", BODY_B, "UTC", "--session", "2"])
        .ended(0);
    assert_eq!(starts(&world, "b")[0], "2024-08-12T20:59:57.625Z");
    assert_eq!(times(&world, "a"), before[0]);
    assert_eq!(times(&world, "c"), before[2]);
    for (limits, reason) in [
        (&["--session", "9"][..], "there is no session 9"),
        (
            &["--session", "2", "--from", "2024-08-12"],
            "cannot be used with",
        ),
        (&["--from", "2024-08-13"], "before --from"),
        (&["--until", "2024-08-11"], "not before --until"),
        (
            &["--from", "2024-08-13", "--until", "2024-08-12"],
            "before the end",
        ),
    ] {
        let mut words = vec!["clock", "fix", BODY_B];
        words.extend(five);
        words.extend(limits);
        let said = world.run(&words).ended(2);
        assert!(said.err.contains(reason), "{reason}: {}", said.err);
    }
}

#[test]
fn a_measured_drift_goes_on_and_grows_less_sure() {
    let world = World::new();
    card(
        &world,
        "card",
        &["2024:01:31 12:04:00", "2023:12:12 11:57:20"],
    );
    world.run(&["ingest", "card"]);
    world.run(&["clock", "zone", BODY_B, "UTC"]).ended(0);
    // Eight seconds a day.
    world
        .run(&fix("2024-01-01 12:00:00", "2024-01-01T12:00:00Z"))
        .ended(0);
    world
        .run(&fix("2024-01-11 12:01:20", "2024-01-11T12:00:00Z"))
        .ended(0);
    let found = times(&world, "card");
    let noons = ["2024-01-31T12:00:00", "2023-12-12T12:00:00"];
    for ((start, error_s, _), noon) in found.iter().zip(noons) {
        assert!(
            start.starts_with(&noon[..16]) || start.starts_with("2023-12-12T11:59:59"),
            "{start}"
        );
        assert!((8.0..20.0).contains(error_s), "{error_s}");
    }
    assert_eq!(found[0].0, "2024-01-31T12:00:00.000Z");
}

// Summer time ended in Italy on 2024-10-27 at 3:00 (Directive 2000/84/EC).
#[test]
fn fixes_on_either_side_of_the_end_of_summer_time_agree() {
    let readings = [
        "2024:10:26 22:00:00",
        "2024:11:02 22:00:00",
        "2024:10:28 22:00:00",
    ];
    let fixes = [
        fix("2024-10-20 22:00:00", "2024-10-20T20:00:00Z"),
        fix("2024-11-10 22:00:01", "2024-11-10T21:00:00Z"),
    ];
    let world = World::new();
    world.site("Lago", "45.9N", "8.9E");
    card(&world, "card", &readings);
    world.run(&["ingest", "--site", "Lago", "card"]).ended(0);
    for words in &fixes {
        world.run(words).ended(0);
    }
    let hours = |world: &World| -> Vec<String> {
        let starts = starts(world, "card");
        starts.iter().map(|start| start[..13].to_owned()).collect()
    };
    // A third of a second to a second fast: the hour before the full one.
    assert_eq!(
        hours(&world),
        ["2024-10-26T19", "2024-11-02T20", "2024-10-28T20"]
    );
    // Without a place the nearer fix says it; the zone is known again where one is stated.
    let world = World::new();
    card(&world, "card", &readings);
    world.run(&["ingest", "card"]);
    for words in &fixes {
        world.run(words).ended(0);
    }
    assert_eq!(
        hours(&world),
        ["2024-10-26T19", "2024-11-02T20", "2024-10-28T19"]
    );
    world
        .run(&["clock", "zone", BODY_B, "Europe/Rome"])
        .ended(0);
    assert_eq!(
        hours(&world),
        ["2024-10-26T19", "2024-11-02T20", "2024-10-28T20"]
    );
    // Nothing else explains an hour.
    world.run(&["clock", "remove", "zone-1"]).ended(0);
    let refused = world
        .run(&fix("2024-12-10 22:00:01", "2024-12-10T20:00:00Z"))
        .ended(2);
    assert!(
        refused.err.contains("fix-2") && refused.err.contains("gained"),
        "{}",
        refused.err
    );
}

#[test]
fn after_a_pause_across_the_end_of_summer_time_the_zone_is_believed() {
    let world = World::new();
    world.site("Lago", "45.9N", "8.9E");
    let readings = [
        "01:50", "01:55", "02:00", "02:05", "02:10", "02:15", "02:20", "02:25", "02:30", "02:50",
        "02:55", "03:00", "03:05", "03:10",
    ]
    .map(|t| format!("2024:10:27 {t}:00"));
    card(&world, "card", &readings.each_ref().map(String::as_str));
    world.run(&["ingest", "--site", "Lago", "card"]).ended(0);
    let starts = starts(&world, "card");
    assert_eq!(starts[8], "2024-10-27T00:30:00.000Z", "before the pause");
    assert_eq!(
        starts[9], "2024-10-27T01:50:00.000Z",
        "runs on to where it is clear"
    );
    assert_eq!(starts[13], "2024-10-27T02:10:00.000Z");
}
