//! `audit` answers what must be done: one line for each kind of finding and session or dump, the worst first.

use crate::world;
use crate::world::World;

/// A dump of one night in which the clocks were put back by hand: a frame a minute, the hour that was twice settled by order.
fn night_of_two_hours(world: &World) {
    world.site("Lago", "45.9N", "8.9E");
    // Files of one body and reading would be copies: the second hour is half a minute off.
    let before = (110..180).map(|minute| (minute, 0));
    let readings = before.chain((120..190).map(|minute| (minute, 30)));
    for (i, (minute, second)) in readings.enumerate() {
        let (hour, minute) = (minute / 60, minute % 60);
        let reading = format!("2024:10:27 {hour:02}:{minute:02}:{second:02}");
        world.write(&format!("card/L_{i:04}.DNG"), &world::frame_at(&reading));
    }
    world.run(&["ingest", "--site", "Lago", "card"]).ended(0);
}

#[test]
fn a_night_of_settled_frames_is_one_line_and_needs_nobody() {
    let world = World::new();
    night_of_two_hours(&world);
    let said = world.run(&["audit"]).ended(0);
    assert_eq!(said.out, "notes: clock-twice 120\n");
    let rows = world
        .run(&["audit", "--all", "--code", "clock-twice"])
        .ended(0);
    assert_eq!(rows.out.matches("clock-twice").count(), 120);
    // Lists for programs hold every row with or without --all.
    let data = world.run(&["audit", "--as", "json"]).ended(0).json();
    assert_eq!(data.as_array().unwrap().len(), 120);
    assert_eq!(data[0]["weight"], "note");
    assert_eq!(data[0]["session"], 1);
    assert!(
        data[0]["what_to_do"]
            .as_str()
            .unwrap()
            .starts_with("nothing")
    );
    let one = world.run(&["audit", "--weight", "note"]).ended(0);
    let line = "  120 frames  session 1\n";
    assert!(one.out.ends_with(line), "{}", one.out);
}

#[test]
fn kinds_come_the_worst_first_with_a_command_for_each_session() {
    let world = World::new();
    night_of_two_hours(&world);
    world.write("other/N_0001.DNG", &world::frame_at("2023:12:13 22:31:00"));
    world.write("other/N_0002.DNG", &world::frame_at("2023:12:13 22:31:30"));
    world.write("other/N_0003.DNG", &world::frame_at("2023:12:20 22:31:30"));
    world.write("other/N_0004.DNG", b"this is no picture");
    world.run(&["ingest", "other"]).ended(1);
    let said = world.run(&["audit"]).ended(1);
    let lines: Vec<&str> = said.out.lines().collect();
    let headings: Vec<&str> = lines
        .iter()
        .filter(|line| line.starts_with(|c: char| c.is_ascii_lowercase()))
        .map(|line| {
            line.match_indices(": ")
                .nth(1)
                .map_or("notes", |(at, _)| &line[..at])
        })
        .collect();
    let expected = [
        "damage: not-understood",
        "warning: no-place",
        "warning: no-zone",
        "notes",
    ];
    assert_eq!(headings, expected, "{}", said.out);
    for line in [
        "  1 file  dump other",
        "  2 frames  session 2  framefall site assign NAME --session 2",
        "  1 frame   session 3  framefall site assign NAME --session 3",
    ] {
        assert!(lines.contains(&line), "{line}:\n{}", said.out);
    }
    // Each filter leaves what it names, and the exit code is that of what is left.
    let count = |words: &[&str], code: i32| {
        let all = [&["audit", "--as", "json"], words].concat();
        world.run(&all).ended(code).json().as_array().unwrap().len()
    };
    assert_eq!(count(&["--session", "3"], 1), 2);
    assert_eq!(count(&["--dump", "other", "--weight", "damage"], 1), 1);
    assert_eq!(count(&["--dump", "card"], 0), 120);
    assert_eq!(count(&["--code", "no-place", "--code", "no-zone"], 1), 6);
    let unknown = world.run(&["audit", "--code", "no-plase"]).ended(2);
    assert!(
        unknown.err.contains("did you mean no-place?"),
        "{}",
        unknown.err
    );
}
