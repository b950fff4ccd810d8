//! Frames come in one order, whoever asks for them; and what several threads make of them is what one would have made, of
//! one state of the catalogue.
#![allow(clippy::unwrap_used)] // Tests may panic.

use crate::archive;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::usecase::listings::frames::compile;

/// More than several stretches of rows.
const FRAMES: usize = 3_000;

/// A copy of an archive, some frames of which have neither UTC nor a clock, some only a clock, some a fraction of its second.
fn partly_undated(folder: &Path) -> PathBuf {
    let path = folder.join("catalogue.sqlite");
    std::fs::copy(archive::archive(FRAMES), &path).unwrap();
    let db = rusqlite::Connection::open(&path).unwrap();
    db.execute_batch(
        "UPDATE derived_time SET start_ms = NULL WHERE frame_id % 5 = 0;
         UPDATE written_frame SET clock_s = NULL WHERE frame_id % 15 = 0;
         UPDATE written_frame SET clock_s = 1700000000, clock_fraction = frame_id % 9 WHERE frame_id % 25 = 5;",
    )
    .unwrap();
    path
}

fn said(catalogue: &Path, words: &[&str]) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_framefall"))
        .args(words)
        .arg("--catalogue")
        .arg(catalogue)
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "{words:?}: {told}");
    String::from_utf8(out.stdout).unwrap()
}

#[test]
fn frames_and_lists_have_one_order_and_the_unknown_comes_last() {
    let folder = tempfile::tempdir().unwrap();
    let path = partly_undated(folder.path());
    for form in ["csv", "json", "jsonl"] {
        let list = folder.path().join("list");
        for query in ["", "iso > 0"] {
            // The keys that order frames of one instant are left out.
            let words = ["--as", form, "--show", "start,clock"];
            let frames = said(&path, &[&["frames", query][..], &words[..]].concat());
            let to = list.to_str().unwrap();
            let export = [
                "export",
                query,
                "--overwrite",
                "--check",
                "none",
                "--to",
                to,
            ];
            said(&path, &[&export[..], &words[..]].concat());
            let exported = std::fs::read_to_string(&list).unwrap();
            assert!(frames == exported, "{form} of {query:?}");
            if form == "csv" {
                let end = exported.trim_end().lines().last().unwrap();
                assert_eq!(end, ",", "neither UTC nor a clock");
            }
        }
    }
}

#[test]
fn rows_of_several_threads_are_those_of_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = partly_undated(folder.path());
    let list = folder.path().join("list");
    let to = list.to_str().unwrap();
    // Frames with UTC are ordered by it alone here.
    let query = "start is known";
    for form in ["csv", "json", "jsonl", "paths"] {
        let frames = said(&path, &["frames", query, "--as", form, "--limit", "2500"]);
        let mut export = vec![
            "export",
            query,
            "--overwrite",
            "--check",
            "none",
            "--to",
            to,
        ];
        export.extend(["--as", form, "--limit", "2500"]);
        said(&path, &export);
        let exported = std::fs::read_to_string(&list).unwrap();
        let (frames, exported) = (lines(&frames), lines(&exported));
        assert_eq!(frames.len(), exported.len(), "{form}");
        for (one, other) in frames.iter().zip(&exported) {
            // A list that is handed on has two columns more, the last in a row of CSV.
            let same = match form {
                "csv" => other.starts_with(one.as_str()),
                "paths" => one == other,
                _ => other.starts_with(one.split(",\"files\"").next().unwrap()),
            };
            assert!(same, "{form}\n{one}\n{other}");
        }
    }
}

fn lines(text: &str) -> Vec<String> {
    text.lines()
        .map(|line| line.trim_end().to_owned())
        .collect()
}

#[test]
fn other_connections_stay_at_the_state_that_is_held() {
    let folder = tempfile::tempdir().unwrap();
    let path = partly_undated(folder.path());
    let catalogue = Catalogue::open(&path, Purpose::Read).unwrap();
    let dated = compile("start is known").unwrap().tree;
    let mut still = catalogue.snapshot(2).unwrap();
    let before = still.catalogue().count(&dated).unwrap();
    rusqlite::Connection::open(&path)
        .unwrap()
        .execute_batch("UPDATE derived_time SET start_ms = NULL")
        .unwrap();
    assert_eq!(still.catalogue().count(&dated).unwrap(), before);
    assert_eq!(still.others().len(), 2);
    for other in still.others() {
        assert_eq!(other.count(&dated).unwrap(), before);
    }
    drop(still);
    assert_eq!(catalogue.count(&dated).unwrap(), 0);
}
