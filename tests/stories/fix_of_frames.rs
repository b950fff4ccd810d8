//! A clock fix that is limited to frames, where others of the body have readings among theirs.

use crate::clock_epochs::card;
use crate::clock_epochs::clock;
use crate::clock_epochs::starts;
use crate::clock_epochs::times;
use crate::world::World;

#[test]
fn a_fix_for_frames_leaves_others_that_have_readings_among_theirs() {
    let world = World::new();
    // Two nights in a row; in the second the clock was a day slow, so that both coincide.
    card(
        &world,
        "a",
        &[
            "2024:08:12 21:00:00",
            "2024:08:12 21:01:00",
            "2024:08:12 21:02:00",
        ],
    );
    card(
        &world,
        "b",
        &[
            "2024:08:12 21:00:20",
            "2024:08:12 21:00:50",
            "2024:08:12 21:01:30",
        ],
    );
    world.site("Here", "46.5", "11.3");
    world.run(&["ingest", "a", "b", "--site", "Here"]);
    let number = |key: &str| -> i64 {
        let sessions = world.run(&["sessions", "--as", "json"]).json();
        sessions[0][key].as_i64().unwrap()
    };
    assert_eq!(number("frames"), 6, "one session");
    let before = ["a", "b"].map(|name| times(&world, name));
    let of_files = ["--files", "b_0000.DNG..B_0002.dng"];
    for only in [&["--dump", "b"][..], &of_files] {
        let session = number("session").to_string();
        let words = ["fix", "--session", &session, "--slow", "24h"];
        let done = world.run(&clock(&words, only)).ended(0);
        assert_eq!(done.number("frames checked"), 3, "{only:?}: {}", done.out);
        assert_eq!(times(&world, "a"), before[0], "{only:?}");
        assert_eq!(
            starts(&world, "b"),
            ["19:00:20", "19:00:50", "19:01:30"].map(|t| format!("2024-08-13T{t}.000Z"))
        );
        let again = world.run(&clock(&words, only)).ended(2);
        assert!(!again.err.is_empty());
        let listed = world.run(&["clock", "list", "--as", "json"]).json();
        assert_eq!(listed[0]["frames"], 3, "{listed}");
        let stated = world.run(&["statement", "list", "--as", "json"]).json();
        let last = stated.as_array().unwrap().last().unwrap();
        assert_eq!(last["frames"], 3, "{last}");
        let fix = listed[0]["statement"].as_str().unwrap();
        if only == of_files {
            break;
        }
        world.run(&["clock", "remove", fix]).ended(0);
        assert_eq!(["a", "b"].map(|name| times(&world, name)), before);
    }
    let right = ["a", "b"].map(|name| times(&world, name));
    // Removed and ingested again, the frames are dated as before.
    world.run(&["dump", "remove", "b", "--yes"]).ended(0);
    assert_eq!(times(&world, "a"), right[0]);
    world.run(&["ingest", "b", "--site", "Here"]);
    assert_eq!(["a", "b"].map(|name| times(&world, name)), right);
    // Likewise in another catalogue that has the statements before it has the frames.
    world.run(&["statement", "save", "said.jsonl"]).ended(0);
    let other = |words: &[&str]| crate::statements::other(&world, words);
    other(&["ingest", "a"]);
    other(&["statement", "take", "said.jsonl"]).ended(1);
    other(&["ingest", "b"]);
    for name in ["a", "b"] {
        let query = format!("file like '{name}_*'");
        let list = ["frames", &query, "--show", "file,start", "--as", "csv"];
        assert_eq!(other(&list).out, world.run(&list).out, "{name}");
    }
    // Removed there, it waits for nothing.
    let names = || -> Vec<String> {
        let listed = other(&["clock", "list", "--as", "json"]).json();
        let rows = listed.as_array().unwrap().iter();
        rows.map(|row| row["statement"].as_str().unwrap().to_owned())
            .collect()
    };
    let stated = names();
    assert_eq!(stated.len(), 1, "{stated:?}");
    other(&["dump", "remove", "b", "--yes"]).ended(0);
    other(&["clock", "remove", &stated[0]]).ended(0);
    other(&["ingest", "b"]);
    assert!(names().is_empty());
    assert_eq!(
        other(&["frames", "night = 2024-08-13", "--count"])
            .out
            .trim(),
        "0"
    );
    let sessions = other(&["sessions", "--as", "json"]).json();
    let session = sessions[0]["session"].as_i64().unwrap().to_string();
    for (limits, reason) in [
        (&["--dump", "c"][..], "no frame of the session"),
        (&["--files", "b..a"], "not a range of file names"),
        (&["--files", "x.DNG"], "no frame of the session"),
    ] {
        let words = ["fix", "--session", &session, "--slow", "24h"];
        let said = other(&clock(&words, limits)).ended(2);
        assert!(said.err.contains(reason), "{reason}: {}", said.err);
    }
}
