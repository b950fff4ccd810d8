//! A photographer looks through a night, chooses frames and writes notes.

use serde_json::Value;

use crate::world::World;

const CARD: &str = "geminids-body-a";

fn night() -> World {
    let world = World::new();
    world.dump(CARD, CARD, |_| true);
    world.site("Salt Ridge", "38.93", "-116.01");
    world
        .run(&["ingest", "--site", "Salt Ridge", CARD])
        .ended(0);
    world
}

fn count(world: &World, query: &str) -> u64 {
    let said = world.run(&["frames", query, "--count"]);
    said.out.trim().parse().unwrap()
}

fn mark(world: &World, words: &[&str]) -> (u64, u64) {
    let said = world.run(&[&["frames", "mark"], words].concat()).ended(0);
    (said.number("frames of the query"), said.number("changed"))
}

#[test]
fn what_is_said_of_frames_is_found_listed_counted_and_exported() {
    let world = night();
    let all = count(&world, "start is known or start is unknown");
    assert!(all > 12, "{all}");
    assert_eq!(count(&world, "looked = no"), all);
    assert_eq!(count(&world, "chosen is unknown and note is unknown"), all);

    assert_eq!(
        mark(&world, &["session = 2", "--looked", "yes"]).0,
        count(&world, "session = 2")
    );
    assert_eq!(
        mark(
            &world,
            &[
                "session = 2 and seq in 2..5",
                "--chosen",
                "yes",
                "--note",
                "  low, bright "
            ]
        ),
        (4, 4)
    );
    assert_eq!(
        mark(&world, &["session = 2 and seq = 3", "--chosen", "no"]),
        (1, 1)
    );
    // Known statements are not stated again.
    assert_eq!(
        mark(
            &world,
            &[
                "session = 2 and seq in 2..6",
                "--looked",
                "yes",
                "--note",
                "low, bright"
            ]
        ),
        (5, 1)
    );

    for (query, frames) in [
        ("chosen = yes", 3),
        ("chosen = no", 1),
        ("chosen in (yes, no)", 4),
        ("not chosen = yes", 1),
        ("chosen != yes", 1),
        ("chosen is unknown", all - 4),
        ("chosen = yes or note = 'LOW, bright'", 5),
        ("note like '*bright'", 5),
        ("looked = yes and chosen = yes and session = 2", 3),
        ("looked = no and chosen = yes", 0),
        ("not looked = no and note is known", 5),
        ("looked is unknown", 0),
    ] {
        assert_eq!(count(&world, query), frames, "{query}");
    }
    let per = world
        .run(&["frames", "chosen = yes", "--per", "session", "--as", "json"])
        .ended(0);
    assert_eq!(per.json()[0]["frames"], 3);
    let listed = world
        .run(&[
            "frames",
            "note is known",
            "--by",
            "chosen desc,seq",
            "--as",
            "json",
        ])
        .ended(0)
        .json();
    let listed = listed.as_array().unwrap();
    let chosen: Vec<Option<&str>> = listed.iter().map(|f| f["chosen"].as_str()).collect();
    assert_eq!(
        chosen,
        [Some("yes"), Some("yes"), Some("yes"), Some("no"), None]
    );
    assert!(
        listed
            .iter()
            .all(|f| f["looked"] == "yes" && f["note"] == "low, bright")
    );
    let table = world
        .run(&["frames", "chosen = no", "--show", "file,looked,chosen,note"])
        .ended(0)
        .out;
    assert!(table.contains("low, bright"), "{table}");

    let exported = world
        .run(&["export", "chosen = yes", "--to", "chosen.csv"])
        .ended(0);
    assert!(exported.err.contains("3 frames"), "{}", exported.err);
    let lines = std::fs::read_to_string(world.path("chosen.csv")).unwrap();
    assert_eq!(lines.lines().count(), 4, "{lines}");
}

#[test]
fn what_was_said_can_be_removed_and_tried_without_a_change() {
    let world = night();
    mark(
        &world,
        &[
            "session = 2 and seq in 2..5",
            "--looked",
            "yes",
            "--chosen",
            "yes",
            "--note",
            "dew",
        ],
    );
    let statements = || {
        world
            .run(&["statement", "list", "--as", "json"])
            .json()
            .as_array()
            .unwrap()
            .len()
    };
    let before = statements();
    let dry = world
        .run(&[
            "frames",
            "mark",
            "chosen = yes",
            "--clear",
            "chosen,note",
            "--dry-run",
        ])
        .ended(0);
    assert_eq!(dry.number("changed"), 4);
    assert!(dry.err.contains("nothing was changed"), "{}", dry.err);
    assert_eq!((statements(), count(&world, "chosen = yes")), (before, 4));

    assert_eq!(
        mark(&world, &["chosen = yes and seq = 2", "--clear", "chosen"]),
        (1, 1)
    );
    assert_eq!(
        mark(&world, &["note = dew and seq = 3", "--note", ""]),
        (1, 1)
    );
    assert_eq!(
        mark(
            &world,
            &[
                "looked = yes and seq = 4",
                "--clear",
                "looked,note",
                "--chosen",
                "no"
            ]
        ),
        (1, 1)
    );
    let of = |seq: u64| -> Value {
        let query = format!("session = 2 and seq = {seq}");
        world.run(&["frames", &query, "--as", "json"]).json()[0].clone()
    };
    let said = |seq: u64| {
        let frame = of(seq);
        ["looked", "chosen", "note"].map(|key| frame[key].as_str().unwrap_or("-").to_owned())
    };
    assert_eq!(said(2), ["yes", "-", "dew"]);
    assert_eq!(said(3), ["yes", "yes", "-"]);
    assert_eq!(said(4), ["no", "no", "-"]);
    assert_eq!(said(5), ["yes", "yes", "dew"]);
    let shown = world.run(&["statement", "list"]).ended(0).out;
    assert!(
        shown.contains("chosen") && shown.contains("none"),
        "{shown}"
    );
}

#[test]
fn a_command_that_says_nothing_of_nobody_or_too_much_is_refused() {
    let world = night();
    let refused = |words: &[&str], code: i32, part: &str| {
        let said = world
            .run(&[&["frames", "mark"], words].concat())
            .ended(code);
        assert!(said.err.contains(part), "{words:?}: {}", said.err);
    };
    refused(&["session = 2"], 2, "--looked");
    refused(&["session = 2", "--looked", "maybe"], 2, "maybe");
    refused(&["session = 2", "--note", "a\nb"], 2, "one line");
    refused(&["sesion = 1", "--chosen", "yes"], 2, "did you mean");
    refused(
        &["iso = 7", "--chosen", "yes"],
        1,
        "none of the 72 frames has iso = 7",
    );
    refused(&["session = 2", "--clear", "kind"], 2, "kind");
    let long = "x".repeat(1_001);
    refused(&["session = 2", "--note", &long], 2, "1000");
    assert_eq!(count(&world, "note is known or chosen is known"), 0);
}
