//! Statements that are not taken over: broken files, and what contradicts the catalogue.

use std::fs;

use serde_json::Value;

use crate::statements::ALL;
use crate::statements::other;
use crate::statements::stated;
use crate::world::World;

#[test]
fn a_broken_file_changes_nothing_and_is_told_by_its_line() {
    let world = stated();
    let log = fs::read_to_string(world.path("log.jsonl")).unwrap();
    let lines: Vec<&str> = log.lines().collect();
    other(&world, &["ingest", "quadrantids"]);
    let before = other(&world, &ALL).json();
    let elsewhere = lines[0].replace("38.93", "-38.93");
    for (bytes, words) in [
        (
            log.as_bytes()[..log.len() - 20].to_vec(),
            format!("line {} is not", lines.len()),
        ),
        (
            format!("{}\n{{}}\n", lines[0]).into_bytes(),
            "line 2 is not a statement: 'schema'".into(),
        ),
        (
            log.replace("framefall.statement/1", "framefall.statement/2")
                .into_bytes(),
            "its schema is".into(),
        ),
        (
            log.replacen("\"lat_deg\":38.93", "\"lat_deg\":138.93", 1)
                .into_bytes(),
            "line 1 is not".into(),
        ),
        (
            log.replacen("\"what\":\"zone\"", "\"what\":\"zonne\"", 1)
                .into_bytes(),
            "'zonne' is not a type".into(),
        ),
        (
            log.replacen("America/Los_Angeles\",\"from", "Mars/Tharsis\",\"from", 1)
                .into_bytes(),
            "Mars/Tharsis".into(),
        ),
        (
            log.replacen("\"marks\":\"", "\"marks\":\"00", 1)
                .into_bytes(),
            "is not a statement".into(),
        ),
        (Vec::new(), "contains no statements".into()),
        (vec![0xFF, 0xFE, 0x00], "not a file of statements".into()),
        // One name for two places.
        (
            format!(
                "{}\n{}\n",
                lines[0],
                elsewhere
                    .replacen("\"identity\":\"", "\"identity\":\"00", 1)
                    .replacen("\",\"stated", "X\",\"stated", 1)
            )
            .into_bytes(),
            "line 2".into(),
        ),
    ] {
        world.write("broken.jsonl", &bytes);
        let said = other(&world, &["statement", "take", "broken.jsonl"]).ended(2);
        assert!(said.err.contains(&words), "{words}: {}", said.err);
        assert_eq!(other(&world, &ALL).json(), before, "{words}");
        let list = other(&world, &["statement", "list", "--as", "json"]).json();
        assert_eq!(list, Value::Array(Vec::new()), "{words}");
    }
    // A folder, a file that is not there; a file that is there and is not to be replaced.
    for name in ["quadrantids", "nothing.jsonl"] {
        other(&world, &["statement", "take", name]).ended(2);
    }
    let said = world.run(&["statement", "save", "log.jsonl"]).ended(2);
    assert!(said.err.contains("--overwrite"), "{}", said.err);
    world
        .run(&["statement", "save", "log.jsonl", "--overwrite"])
        .ended(0);
    // A dry run changes nothing either.
    other(&world, &["statement", "take", "log.jsonl", "--dry-run"]).ended(1);
    assert_eq!(other(&world, &ALL).json(), before);
}

#[test]
fn what_contradicts_this_catalogue_is_refused_and_what_agrees_is_in_force_once() {
    let world = stated();
    other(
        &world,
        &[
            "site",
            "add",
            "Ridge",
            "--lat",
            "10",
            "--lon",
            "10",
            "--elevation",
            "5",
        ],
    )
    .ended(0);
    other(
        &world,
        &[
            "site",
            "add",
            "Salt Ridge",
            "--lat",
            "-10",
            "--lon",
            "10",
            "--elevation",
            "5",
        ],
    )
    .ended(0);
    let said = other(&world, &["statement", "take", "log.jsonl"]).ended(2);
    assert!(
        said.err.contains("statement 1 of the file (site)"),
        "{}",
        said.err
    );
    assert!(
        said.err.contains("km from the one in the statement"),
        "{}",
        said.err
    );
    assert_eq!(
        other(&world, &["site", "list", "--as", "json"])
            .json()
            .as_array()
            .unwrap()
            .len(),
        2
    );

    // The same site stated here: it stays when the other's statement is removed.
    let alike = World::new();
    alike.site("Here", "38.9", "-116");
    alike.run(&["statement", "save", "one.jsonl"]).ended(0);
    let take = |words: &[&str]| {
        let at = alike.path("other.sqlite");
        alike.run(&[&["--catalogue", at.to_str().unwrap()], words].concat())
    };
    take(&[
        "site",
        "add",
        "here",
        "--lat",
        "38.9001",
        "--lon",
        "-116",
        "--elevation",
        "600",
    ])
    .ended(0);
    let said = take(&["statement", "take", "one.jsonl"]).ended(0);
    assert_eq!(said.number("without effect"), 1);
    alike.run(&["site", "remove", "Here", "--yes"]).ended(0);
    alike.run(&["statement", "save", "two.jsonl"]).ended(0);
    take(&["statement", "take", "two.jsonl"]).ended(0);
    assert!(take(&["site", "list"]).out.contains("38.9001"));
}
