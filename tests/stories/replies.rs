//! Replies of changes: which sessions and nights moved and by how much; nothing about unchanged ones.

use crate::world::Said;
use crate::world::World;

const BODY_B: &str = "2B-00318";

/// Its frames, but for a damaged one and one of another body.
fn is_of_body_b(name: &str) -> bool {
    name != "N2M_2219.DNG" && !name.starts_with("N6A")
}

fn home() -> World {
    let world = World::new();
    world.site_with("Salt Ridge", "38.93N", "116.01W", &["--elevation", "1905"]);
    world.dump("geminids-body-b", "card", is_of_body_b);
    world
        .run(&["ingest", "--site", "Salt Ridge", "card"])
        .ended(0);
    world
}

fn says(said: &Said, words: &str) {
    assert!(said.out.contains(words), "no '{words}' in\n{}", said.out);
}

#[test]
fn a_fix_of_no_error_changes_no_frame() {
    let world = home();
    let first = &world.run(&["frames", "--as", "json"]).json()[0];
    let (reading, start) = (
        first["clock_local"].as_str().unwrap().replace('T', " "),
        first["start_utc"].as_str().unwrap().to_owned(),
    );
    let said = world
        .run(&["clock", "fix", BODY_B, "--read", &reading, "--true", &start])
        .ended(0);
    says(&said, "No frame changed.");
    for zero in [
        "frames changed",
        "moved",
        "newly dated",
        "sessions split",
        " 0",
    ] {
        assert!(!said.out.contains(zero), "{zero}: {}", said.out);
    }
    let gone = world.run(&["clock", "remove", "fix-1"]).ended(0);
    says(&gone, "No frame changed.");
}

#[test]
fn a_clock_that_was_an_hour_fast_is_put_right_by_that_hour() {
    let world = home();
    let starts = |world: &World| -> Vec<String> {
        let frames = world.run(&["frames", "--as", "json"]).json();
        let all = frames.as_array().unwrap().iter();
        all.map(|f| f["start_utc"].as_str().unwrap().to_owned())
            .collect()
    };
    let before = starts(&world);
    let said = world
        .run(&["clock", "fix", BODY_B, "--fast", "1h"])
        .ended(0);
    says(&said, "added");
    says(&said, "1 h earlier");
    says(&said, "session 1");
    says(&said, "night 2023-12-13");
    says(&said, "main radiant moved");
    let listed = world.run(&["clock", "list", "--as", "json"]).json();
    assert_eq!(listed[0]["fast_s"], 3600.0);
    let fast = starts(&world);
    assert_eq!(fast.len(), before.len());
    let hour = |text: &str| text[11..13].parse::<i32>().unwrap();
    for (was, is) in before.iter().zip(&fast) {
        assert_eq!((hour(was) - hour(is)).rem_euclid(24), 1, "{was} {is}");
        assert_eq!(was[13..], is[13..]);
    }
    world.run(&["clock", "remove", "fix-1"]).ended(0);
    assert_eq!(starts(&world), before);
    world
        .run(&["clock", "fix", BODY_B, "--slow", "90s", "--session", "1"])
        .ended(0);
    let listed = world.run(&["clock", "list", "--as", "json"]).json();
    assert_eq!(listed[0]["fast_s"], -90.0);
    for (words, why) in [
        (
            &["--fast", "1h", "--true", "2023-12-14T05:00:00Z"][..],
            "cannot be used with",
        ),
        (&["--fast", "1h", "--slow", "1h"][..], "cannot be used with"),
        (&["--fast", "90"][..], "say the unit: 90s"),
        (
            &["--fast", "1h", "--from", "2030-01-01"][..],
            "has a clock reading there",
        ),
    ] {
        let said = world
            .run(&[&["clock", "fix", BODY_B][..], words].concat())
            .ended(2);
        assert!(said.err.contains(why), "{}", said.err);
    }
}

#[test]
fn an_error_needs_a_zone() {
    let world = World::new();
    world.dump("geminids-body-b", "card", is_of_body_b);
    world.run(&["ingest", "card"]).ended(0);
    let said = world
        .run(&["clock", "fix", BODY_B, "--fast", "1h"])
        .ended(2);
    assert!(said.err.contains("which zone"), "{}", said.err);
    assert!(said.err.contains("clock zone"), "{}", said.err);
}

#[test]
fn steps_that_are_not_alike_are_told_apart() {
    let world = World::new();
    world.site_with("Salt Ridge", "38.93N", "116.01W", &["--elevation", "1905"]);
    world.site_with("Dry Lake", "31.45S", "70.72W", &["--elevation", "600"]);
    for (dump, reading) in [
        ("one", "2023:12:12 22:30:00"),
        ("two", "2023:12:14 22:30:10"),
    ] {
        world.write(
            &format!("{dump}/DCIM/A_0001.DNG"),
            &crate::world::frame_at(reading),
        );
    }
    world
        .run(&["ingest", "--site", "Salt Ridge", "one"])
        .ended(0);
    world.run(&["ingest", "--site", "Dry Lake", "two"]).ended(0);
    let said = world.run(&["clock", "zone", BODY_B, "UTC"]).ended(0);
    says(&said, "session 1");
    says(&said, "session 2");
    assert!(
        said.err
            .contains("Not all frames moved by the same amount: 1 8 h earlier; 1 3 h earlier."),
        "{}",
        said.err
    );
}

#[test]
fn marks_say_what_they_marked() {
    let world = home();
    let mark = |words: &[&str]| world.run(&[&["sessions", "mark", "1"][..], words].concat());
    let said = mark(&["--kind", "dark", "--frames", "1..11"]).ended(0);
    assert_eq!(said.out, "11 frames marked as dark\n");
    let said = mark(&["--kind", "dark", "--frames", "1..12"]).ended(0);
    assert_eq!(said.out, "1 of 12 frames marked as dark\n");
    let said = mark(&["--kind", "dark", "--frames", "3"]).ended(0);
    assert_eq!(said.out, "No frame changed.\n");
    let said = mark(&["--clear"]).ended(0);
    says(&said, "12 of 19 frames no longer marked");
    let said = mark(&["--focal", "14mm", "--frames", "1"]).ended(0);
    says(&said, "1 frame marked with a focal length of 14 mm");
    for (words, why) in [
        (
            &["--focal", "99999"][..],
            "between 1 and 20000 mm, not 99999",
        ),
        (&["--focal", "-14"][..], "between 1 and 20000 mm, not -14"),
        (&["--kind", "dark", "--frames", "9..99"][..], "out of range"),
        (
            &["--kind", "dark", "--frames", "abc"][..],
            "is not a frame number of session",
        ),
        (&["--unsaid"][..], "--clear"),
    ] {
        let said = mark(words).ended(2);
        assert!(said.err.contains(why), "{}", said.err);
    }
}

#[test]
fn a_site_is_removed_only_when_that_was_confirmed() {
    let world = home();
    let said = world.run(&["site", "remove", "Salt Ridge"]).ended(2);
    says(&said, "would be removed");
    says(&said, "no longer placed");
    assert!(
        said.err.contains("19 frames are at this site"),
        "{}",
        said.err
    );
    assert!(said.err.contains("add --yes"), "{}", said.err);
    assert_eq!(
        world.run(&["frames", "--count", "site is known"]).out,
        "19\n"
    );
    world
        .run(&["site", "remove", "Salt Ridge", "--dry-run"])
        .ended(0);
    assert_eq!(
        world.run(&["frames", "--count", "site is known"]).out,
        "19\n"
    );
    let said = world
        .run(&["site", "remove", "Salt Ridge", "--yes"])
        .ended(0);
    says(&said, "no longer placed");
    world.run(&["frames", "--count", "site is known"]).ended(1);
}

#[test]
fn a_site_without_an_elevation_is_at_sea_level() {
    let world = World::new();
    let said = world
        .run(&["site", "add", "Shore", "--lat", "31.45S", "--lon", "70.72W"])
        .ended(0);
    says(&said, "0 m (sea level: no elevation was stated)");
    let said = world
        .run(&["site", "change", "Shore", "--elevation", "1905m"])
        .ended(0);
    says(&said, "1905 m");
    for (words, why) in [
        (
            &["site", "change", "Shore"][..],
            "nothing of 'Shore' is to change",
        ),
        (
            &["site", "change", "Shore", "--elevation", "1905"][..],
            "'Shore' is like that already; nothing was changed",
        ),
        (
            &["site", "change", "Shore", "--elevation", "6250ft"][..],
            "write 1905",
        ),
        (
            &["site", "change", "Shore", "--sqm", "21.4"][..],
            "--sky-brightness",
        ),
        (
            &[
                "site",
                "change",
                "Shore",
                "--sky-brightness",
                "21",
                "--limiting-magnitude",
                "6",
            ][..],
            "cannot be used with",
        ),
    ] {
        let said = world.run(words).ended(2);
        assert!(said.err.contains(why), "{}", said.err);
    }
}

#[test]
fn a_year_in_the_place_of_a_night_is_told_how_to_ask_for_its_seasons() {
    let said = home().run(&["report", "2019", "--to", "a.html"]).ended(2);
    assert!(
        said.err.contains("before a year write --season"),
        "{}",
        said.err
    );
}

#[test]
fn a_folder_that_is_not_there_is_told_without_the_name_of_a_temporary_file() {
    let world = home();
    for words in [
        &["report", "2023-12-13", "--to", "nowhere/a.html"][..],
        &[
            "export",
            "iso > 0",
            "--with-damaged",
            "--to",
            "nowhere/a.csv",
        ],
        &["backup", "nowhere/a.sqlite"],
    ] {
        let said = world.run(words).ended(2);
        assert!(said.err.contains("there is no such folder"), "{}", said.err);
        assert!(said.err.contains("os error 2"), "{}", said.err);
        assert!(!said.err.contains(".part"), "{}", said.err);
    }
}

#[test]
fn a_query_without_quotes_is_given_them() {
    let world = World::new();
    for (words, command) in [
        (
            &["frames", "kind", "=", "light"][..],
            "frames 'kind = light'",
        ),
        (
            &["export", "kind", "=", "light", "--to", "a.csv"][..],
            "export 'kind = light' --to a.csv",
        ),
        (
            &["query", "save", "bright", "moon.lit", "=", "1"][..],
            "query save bright 'moon.lit = 1'",
        ),
    ] {
        let said = world.run(words).ended(2);
        assert!(said.err.contains(command), "{}", said.err);
        assert!(!said.err.contains("unexpected argument"), "{}", said.err);
    }
    for (words, why) in [
        (&["frames", "--limit", "-1"][..], "a count of frames"),
        (&["frames", "--by", "-PER.alt"][..], "PER.alt desc"),
        (
            &["sessions", "four"][..],
            "a session is named by its number",
        ),
        (&["sessions", "-1"][..], "a session is named by its number"),
        (
            &["clock", "fix", BODY_B, "--fast", "-1h"][..],
            "--slow behind it",
        ),
        (&["showers", "--date", "2023-12-13"][..], "--on 2026-12-14"),
        (&["showers", "--when", "2023-12-13"][..], "'--when'"),
    ] {
        let said = world.run(words).ended(2);
        assert!(said.err.contains(why), "{}", said.err);
        assert!(!said.err.contains("-- -"), "{}", said.err);
    }
}
