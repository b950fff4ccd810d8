//! A clock fix splits sessions and joins them; after its removal each has its number again.

use crate::world;
use crate::world::World;
use serde_json::Value;

const BODY_B: &str = "2B-00318";

fn salt_ridge(world: &World) {
    world
        .run(&[
            "site",
            "add",
            "Salt Ridge",
            "--lat",
            "38.93",
            "--lon",
            "-116.01",
            "--elevation",
            "1905",
        ])
        .ended(0);
}

/// All values of a catalogue's frames and sessions.
fn whole(world: &World) -> (Value, Value) {
    (
        world.run(&["frames", "--as", "json"]).json(),
        world.run(&["sessions", "--as", "json"]).json(),
    )
}

#[test]
fn sessions_that_a_fix_splits_or_joins_get_their_numbers_back() {
    let world = World::new();
    salt_ridge(&world);
    for (i, reading) in [
        "2023:12:13 13:30:00",
        "2023:12:13 13:30:30",
        "2023:12:13 13:31:00",
        "2023:12:13 13:31:30",
    ]
    .into_iter()
    .enumerate()
    {
        world.write(&format!("card/A_000{i}.DNG"), &world::frame_at(reading));
    }
    world
        .run(&["ingest", "--site", "Salt Ridge", "card"])
        .ended(0);
    let before = whole(&world);
    // It was eleven in the morning, which belongs to the night before; then the clock was set right.
    let first = world.run(&[
        "clock",
        "fix",
        BODY_B,
        "--read",
        "2023-12-13 13:30:45",
        "--true",
        "2023-12-13T19:00:00Z",
    ]);
    first.ended(0);
    let split = world
        .run(&[
            "clock",
            "fix",
            BODY_B,
            "--read",
            "2023-12-13 13:31:30",
            "--true",
            "2023-12-13T21:31:30Z",
            "--reset-before",
        ])
        .ended(0);
    assert_eq!(split.number("sessions split"), 1, "{}", split.out);
    let now = world.run(&["sessions", "--as", "json"]).json();
    assert_eq!(now.as_array().unwrap().len(), 2);
    world.run(&["clock", "remove", "fix-2"]).ended(0);
    world.run(&["clock", "remove", "fix-1"]).ended(0);
    assert_eq!(whole(&world), before);
}

#[test]
fn sessions_that_a_fix_lays_upon_each_other_part_again_under_their_numbers() {
    let world = World::new();
    salt_ridge(&world);
    for (i, reading) in [
        "2023:12:12 22:30:00",
        "2023:12:12 22:30:30",
        "2023:12:13 22:30:10",
        "2023:12:13 22:30:40",
    ]
    .into_iter()
    .enumerate()
    {
        world.write(&format!("card/A_000{i}.DNG"), &world::frame_at(reading));
    }
    world
        .run(&["ingest", "--site", "Salt Ridge", "card"])
        .ended(0);
    let before = whole(&world);
    // The first evening the clock was a day behind; then it was set right.
    let fix = |read: &str, at: &str, more: &[&str]| {
        let mut words = vec!["clock", "fix", BODY_B, "--read", read, "--true", at];
        words.extend(more);
        world.run(&words).ended(0)
    };
    fix("2023-12-12 22:30:00", "2023-12-14T06:30:00Z", &[]);
    let joined = fix(
        "2023-12-13 22:30:40",
        "2023-12-14T06:30:40Z",
        &["--reset-before"],
    );
    assert_eq!(joined.number("sessions joined"), 1, "{}", joined.out);
    let one = world.run(&["sessions", "--as", "json"]).json();
    assert_eq!(one.as_array().unwrap().len(), 1);
    assert_eq!(one[0]["frames"], 4);
    world.run(&["clock", "remove", "fix-1"]).ended(0);
    world.run(&["clock", "remove", "fix-2"]).ended(0);
    assert_eq!(whole(&world), before);
}
