//! Times that must not depend on the archive's size: `cargo bench --bench scale [-- FRAMES …]`.
//!
//! Start-up of the program against a program that does nothing, with an empty answer from the archive; and adding one
//! night of 1,500 real heads to the archive against adding it to an empty catalogue, alternately.

// A benchmark prints its figures, and may panic.
#![allow(clippy::print_stdout, clippy::expect_used)]

mod archive;
mod dump;

use std::fs;
use std::path::Path;
use std::process::Command;
use std::process::Stdio;
use std::time::Instant;

const STARTS: usize = 41;
const ADDINGS: usize = 5;
const NIGHT: usize = 1_500;

/// The evenings of the added dumps count from here; no night of the archives is among them.
const FIRST_NIGHT: usize = 18;

/// Queries with empty answers, each by another path.
const EMPTY: &[&[&str]] = &[
    &["frames", "night = 1999-12-13"],
    &["frames", "session = 100000000"],
    &["frames", "start = 1999", "--count"],
    &["frames", "GEM.alt > 30 and night = 1999-12-13"],
    &["frames", "", "--limit", "1"],
];

fn main() {
    for frames in archive::sizes() {
        let path = archive::archive(frames);
        println!("{frames} frames");
        start_up(&path);
        add_a_night(&path);
    }
}

fn start_up(archive: &Path) {
    let mut commands: Vec<Vec<&str>> = vec![vec!["--version"]];
    commands.extend(EMPTY.iter().map(|words| words.to_vec()));
    for words in commands {
        let (mut nothing, mut ours) = (Vec::new(), Vec::new());
        for _ in 0..STARTS {
            nothing.push(milliseconds(&mut Command::new("true")));
            ours.push(milliseconds(&mut program(archive, &words)));
        }
        let (nothing, ours) = (median(&mut nothing), median(&mut ours));
        println!(
            "{ours:6.1} ms, a program that does nothing {nothing:.1} ms: {}",
            words.join(" ")
        );
    }
}

/// The duration of a command; an empty answer is allowed.
fn milliseconds(command: &mut Command) -> f64 {
    let begun = Instant::now();
    let status = command.status().expect("a program");
    let took = begun.elapsed().as_secs_f64() * 1e3;
    assert!(status.code().is_some_and(|code| code < 2), "{command:?}");
    took
}

fn add_a_night(archive: &Path) {
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a temporary folder");
    let large = folder.path().join("large.sqlite");
    fs::copy(archive, &large).expect("a copy");
    add_site(&large);
    let heads = dump::heads();
    let (mut to_large, mut to_empty) = (Vec::new(), Vec::new());
    for round in 0..ADDINGS {
        // Another night each time: a night ingested twice would only be recognised.
        let night = FIRST_NIGHT + round;
        let card = folder.path().join(format!("card-{night}"));
        dump::lay_out(&card, &heads, night * NIGHT..(night + 1) * NIGHT);
        let empty = folder.path().join(format!("empty-{night}.sqlite"));
        add_site(&empty);
        to_empty.push(ingest(&empty, &card));
        to_large.push(ingest(&large, &card));
        fs::remove_dir_all(&card).expect("a card");
    }
    let (large, empty) = (median(&mut to_large), median(&mut to_empty));
    println!(
        "adding a night of {NIGHT} frames: {large:.0} ms, to an empty catalogue {empty:.0} ms, ratio {:.2}",
        large / empty
    );
}

fn ingest(catalogue: &Path, card: &Path) -> f64 {
    let before = frames(catalogue);
    let card = card.to_string_lossy();
    let took = milliseconds(&mut program(
        catalogue,
        &["ingest", "--quiet", "--site", "Bench", &card],
    ));
    assert_eq!(frames(catalogue) - before, NIGHT, "all of the night is new");
    took
}

fn frames(catalogue: &Path) -> usize {
    let counted = program(catalogue, &["frames", "--count"])
        .stdout(Stdio::piped())
        .output()
        .expect("the program");
    let text = String::from_utf8(counted.stdout).expect("a count");
    text.trim().parse().expect("a count")
}

fn add_site(catalogue: &Path) {
    let place = ["--lat", "38.93", "--lon", "-115.01", "--elevation", "1905"];
    let status = program(catalogue, &["site", "add", "Bench"])
        .args(place)
        .status()
        .expect("the program");
    assert!(status.success(), "{status}");
}

fn program(catalogue: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_framefall"));
    command
        .args(words)
        .env("FRAMEFALL_CATALOGUE", catalogue)
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    command
}

fn median(times: &mut [f64]) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}
