//! The reader of an answer goes away, or is a full disk.

use std::fs::File;
use std::io::BufRead;
use std::io::BufReader;
use std::process::Stdio;

use crate::kills_of_ingest::program;
use crate::many::SecondBody;
use crate::many::card;
use crate::world::World;

fn filled() -> World {
    let world = World::new();
    card(
        &world.path("card"),
        1_200,
        "2023:12",
        SecondBody::WritesNone,
    );
    world.site("Here", "38.9", "-116.0");
    let said = world.run(&["ingest", "--quiet", "--site", "Here", "card"]);
    assert!(said.code < 2, "{}", said.err);
    world
}

const ANSWERS: [&[&str]; 12] = [
    &["frames"],
    &["frames", "--as", "csv"],
    &["frames", "--as", "json"],
    &["frames", "--as", "jsonl"],
    &["frames", "--as", "paths"],
    &["frames", "--as", "paths0"],
    &["frames", "--fields"],
    &["sessions"],
    &["sessions", "1"],
    &["audit"],
    &["audit", "--codes"],
    &["showers", "--all", "--on", "2023-12-14"],
];

#[test]
fn a_reader_that_goes_away_ends_an_answer_quietly() {
    let world = filled();
    for words in ANSWERS {
        for after_a_line in [true, false] {
            let mut child = program(&world, words)
                .stdout(Stdio::piped())
                .stderr(Stdio::piped())
                .spawn()
                .unwrap();
            let mut reader = BufReader::new(child.stdout.take().unwrap());
            if after_a_line {
                let mut line = Vec::new();
                let end = if words.contains(&"paths0") { 0 } else { b'\n' };
                reader.read_until(end, &mut line).unwrap();
                assert!(!line.is_empty(), "{words:?}");
            }
            drop(reader);
            let output = child.wait_with_output().unwrap();
            let err = String::from_utf8(output.stderr).unwrap();
            assert!(
                output.status.code().is_some_and(|code| code < 2),
                "{words:?}: {} {err}",
                output.status
            );
            assert!(
                !err.contains("framefall:") && !err.contains("pipe"),
                "{words:?}: {err}"
            );
        }
    }
}

#[test]
fn a_full_standard_output_is_told() {
    let Ok(full) = File::options().write(true).open("/dev/full") else {
        println!("skipped: there is no /dev/full here");
        return;
    };
    let world = filled();
    for words in ANSWERS.into_iter().chain([
        &["--version"][..],
        &["--help"],
        &["export", "--help"],
        &["ingest", "card"],
    ]) {
        let output = program(&world, words)
            .stdout(full.try_clone().unwrap())
            .output()
            .unwrap();
        let err = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{words:?}: {err}");
        assert!(
            err.contains("the disk is full") && err.contains("elsewhere"),
            "{words:?}: {err}"
        );
    }
}
