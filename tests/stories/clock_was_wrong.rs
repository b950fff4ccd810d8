//! A body's clock was an hour fast, and the photographer finds out after the trip: one command puts it right, another
//! takes it back, and nothing is lost on the way.

use crate::world;
use crate::world::World;
use serde_json::Value;

const BODY_B: &str = "2B-00318";
/// When body B's clock read 22:30:21 at Salt Ridge, it was 21:30:21 Pacific standard time.
const FIX: &[&str] = &[
    "clock",
    "fix",
    BODY_B,
    "--read",
    "2023-12-13 22:30:21",
    "--true",
    "2023-12-14T05:30:21Z",
];

/// Salt Ridge and Snow Fell, and body B's two dumps.
fn both_nights() -> World {
    let world = World::new();
    sites(&world);
    world.dump("geminids-body-b", "gem", |_| true);
    world.dump("quadrantids", "qua", |_| true);
    world.run(&["ingest", "--site", "Salt Ridge", "gem"]);
    world.run(&["ingest", "--site", "Snow Fell", "qua"]);
    world
}

fn sites(world: &World) {
    for (name, lat, lon) in [
        ("Salt Ridge", "38.93", "-116.01"),
        ("Snow Fell", "63.05", "13.35"),
    ] {
        world.site_with(name, lat, lon, &["--elevation", "1905"]);
    }
}

/// All values of a catalogue's frames and sessions.
fn whole(world: &World) -> (Value, Value) {
    (
        world.run(&["frames", "--as", "json"]).json(),
        world.run(&["sessions", "--as", "json"]).json(),
    )
}

fn start_of(world: &World, file: &str) -> String {
    let frames = world
        .run(&["frames", &format!("file = '{file}'"), "--as", "json"])
        .json();
    frames[0]["start_utc"].as_str().unwrap_or("none").to_owned()
}

#[test]
fn one_fix_puts_the_night_right_and_says_what_moved() {
    let world = World::new();
    sites(&world);
    world.dump("geminids-body-b", "gem", |_| true);
    world.run(&["ingest", "--site", "Salt Ridge", "gem"]);
    let before = whole(&world);
    assert_eq!(start_of(&world, "N2M_2207.DNG"), "2023-12-14T06:30:21.000Z");
    let mut dry = FIX.to_vec();
    dry.push("--dry-run");
    let foretold = world.run(&dry).ended(0);
    assert_eq!(whole(&world), before, "a dry run changes nothing");
    assert!(
        world
            .run(&["clock", "list"])
            .out
            .contains("no clock statements")
    );

    let done = world.run(FIX).ended(0);
    assert_eq!(done.out, foretold.out, "the dry run said the same");
    assert!(done.out.contains("1 h earlier"), "{}", done.out);
    // An hour is fifteen degrees of the sky's turn; away from the equator and the pole a little less of the sky.
    let moved = done.out.split("GEM by up to ").nth(1).unwrap();
    let degrees: f64 = moved.split('°').next().unwrap().parse().unwrap();
    assert!((10.0..15.05).contains(&degrees), "{degrees}");
    assert_eq!(start_of(&world, "N2M_2207.DNG"), "2023-12-14T05:30:21.000Z");
    assert_eq!(start_of(&world, "N2M_2226.DNG"), "2023-12-14T05:37:57.000Z");
    let listed = world.run(&["clock", "list", "--as", "json"]).json();
    assert_eq!(listed[0]["statement"], "fix-1");
    assert_eq!(listed[0]["fast_s"], 3600.0);

    let back = world.run(&["clock", "remove", "fix-1"]).ended(0);
    assert!(back.out.contains("later"), "{}", back.out);
    assert_eq!(whole(&world), before, "to the last bit");
}

#[test]
fn a_clock_set_anew_between_two_trips_is_a_break() {
    let world = both_nights();
    // Two years later at Snow Fell the clock was right, by that place's time.
    let second = [
        "clock",
        "fix",
        BODY_B,
        "--read",
        "2026-01-03 23:56:00",
        "--true",
        "2026-01-03T22:56:00Z",
    ];
    world.run(FIX).ended(0);
    let drift = world.run(&second).ended(2);
    assert!(drift.err.contains("--reset-before"), "{}", drift.err);
    let mut reset = second.to_vec();
    reset.push("--reset-before");
    world.run(&reset).ended(0);
    assert_eq!(start_of(&world, "N2M_2207.DNG"), "2023-12-14T05:30:21.000Z");
    assert_eq!(start_of(&world, "N2M_0018.DNG"), "2026-01-03T23:02:36.000Z");
    let errors = world
        .run(&[
            "frames",
            &format!("time_error < 2 and serial = '{BODY_B}'"),
            "--count",
        ])
        .out;
    assert_eq!(errors.trim(), "54", "both nights are sure to two seconds");
}

#[test]
fn the_order_of_cards_and_statements_does_not_matter() {
    let zone = [
        "clock",
        "zone",
        BODY_B,
        "Europe/Stockholm",
        "--from",
        "2026-01-01",
    ];
    let ingest_gem = ["ingest", "--site", "Salt Ridge", "gem"];
    let ingest_qua = ["ingest", "--site", "Snow Fell", "qua"];
    let orders: [&[&[&str]]; 3] = [
        &[&ingest_gem, &ingest_qua, FIX, &zone],
        &[&ingest_qua, &zone, FIX, &ingest_gem],
        &[&ingest_gem, FIX, &zone, &ingest_qua],
    ];
    let mut ends = Vec::new();
    for order in orders {
        let world = World::new();
        sites(&world);
        world.dump("geminids-body-b", "gem", |name| name != "N6A_0430.DNG");
        world.dump("quadrantids", "qua", |_| true);
        for words in order {
            assert!(world.run(words).code < 2);
        }
        let frames = world.run(&["frames", "--as", "json"]).json();
        let end: Vec<Value> = frames
            .as_array()
            .unwrap()
            .iter()
            .map(|frame| {
                let mut frame = frame.clone();
                let all = frame.as_object_mut().unwrap();
                // Numbers are given in the order of arrival, and each world has its own folder.
                for key in ["session", "path", "files"] {
                    all.remove(key);
                }
                frame
            })
            .collect();
        ends.push(end);
    }
    assert_eq!(ends[0].len(), 55);
    assert_eq!(ends[0], ends[1]);
    assert_eq!(ends[0], ends[2]);
}

#[test]
fn a_picture_of_a_true_clock_is_a_fix_and_dates_frames_without_any_zone() {
    let world = World::new();
    world.write(
        "card/DCIM/A_0001.DNG",
        &world::frame_at("2023:12:13 22:30:21"),
    );
    world.write(
        "card/DCIM/A_0002.DNG",
        &world::frame_at("2023:12:13 22:31:21"),
    );
    world.run(&["ingest", "card"]).ended(0);
    let fix = world
        .run(&[
            "clock",
            "fix",
            "--frame",
            "card/DCIM/A_0001.DNG",
            "--true",
            "2023-12-13T21:30:09-08:00",
        ])
        .ended(0);
    assert_eq!(fix.number("newly dated"), 2);
    assert_eq!(start_of(&world, "A_0002.DNG"), "2023-12-14T05:31:09.000Z");
    let frames = world.run(&["frames", "--as", "json"]).json();
    assert_eq!(frames[0]["time_basis"], "stated-zone");
    assert_eq!(frames[0]["session"], 1, "one session, the number kept");
}

#[test]
fn a_body_left_on_universal_time_says_so_once() {
    let world = both_nights();
    let before = whole(&world);
    let done = world
        .run(&["clock", "zone", BODY_B, "UTC", "--until", "2024-06-30"])
        .ended(0);
    assert_eq!(done.number("frames checked"), 20);
    assert_eq!(start_of(&world, "N2M_2207.DNG"), "2023-12-13T22:30:21.000Z");
    let frame = world
        .run(&["frames", "file = 'N2M_2207.DNG'", "--as", "json"])
        .json();
    assert_eq!(frame[0]["time_basis"], "stated-zone");
    world.run(&["clock", "remove", "zone-1"]).ended(0);
    assert_eq!(whole(&world), before);
}

#[test]
fn what_cannot_be_is_refused_and_changes_nothing() {
    let world = both_nights();
    let before = whole(&world);
    let fix = |camera: &str, read: &str, at: &str| {
        world
            .run(&["clock", "fix", camera, "--read", read, "--true", at])
            .ended(2)
    };
    for (camera, read, at, reason) in [
        (
            "2B-00319",
            "2023-12-13 22:30:21",
            "2023-12-14T05:30:21Z",
            "did you mean",
        ),
        (
            "N9",
            "2023-12-13 22:30:21",
            "2023-12-14T05:30:21Z",
            "the bodies are",
        ),
        (
            "Nocturne",
            "2023-12-13 22:30:21",
            "2023-12-14T05:30:21Z",
            "fits 2 bodies",
        ),
        (
            BODY_B,
            "half past ten",
            "2023-12-14T05:30:21Z",
            "not a clock reading",
        ),
        (
            BODY_B,
            "2023-12-13 22:30:21",
            "2023-12-14 05:30:21",
            "add the zone",
        ),
        (
            BODY_B,
            "2023-12-13 22:30:21",
            "1969-12-14T05:30:21Z",
            "before any digital camera",
        ),
        (
            BODY_B,
            "2023-12-13 22:30:21",
            "2323-12-14T05:30:21Z",
            "in the future",
        ),
    ] {
        let said = fix(camera, read, at);
        assert!(
            said.err.contains(reason),
            "{camera} {read} {at}: {}",
            said.err
        );
    }
    world.run(FIX).ended(0);
    let twice = world.run(FIX).ended(2);
    assert!(twice.err.contains("fix-1"), "{}", twice.err);
    // Ten minutes in a day.
    let drift = fix(BODY_B, "2023-12-14 22:40:21", "2023-12-15T05:30:21Z");
    assert!(drift.err.contains("gained 600 s"), "{}", drift.err);
    for (zone, more, reason) in [
        ("Europe/Stokholm", &[][..], "did you mean Europe/Stockholm"),
        (
            "UTC",
            &["--from", "2024-01-02", "--until", "2024-01-01"][..],
            "the start must be before the end",
        ),
    ] {
        let mut words = vec!["clock", "zone", BODY_B, zone];
        words.extend(more);
        let said = world.run(&words).ended(2);
        assert!(said.err.contains(reason), "{}", said.err);
    }
    let nothing = world.run(&["clock", "remove", "fix-7"]).ended(2);
    assert!(nothing.err.contains("clock list"), "{}", nothing.err);
    world.run(&["clock", "remove", "fix-1"]).ended(0);
    assert_eq!(whole(&world), before);
}
