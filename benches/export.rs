//! `framefall export` of many frames as CSV, without checking files, against writing the same bytes:
//! `cargo bench --bench export [-- FRAMES]`. Both are synced to the disk within the measured time.
//!
//! The archive is the one of the query benchmark: records without files.

// A benchmark prints its figures, and may panic.
#![allow(clippy::print_stdout, clippy::expect_used)]

mod archive;

use std::fs::File;
use std::io::Write;
use std::process::Command;
use std::time::Duration;
use std::time::Instant;

const ROUNDS: usize = 7;

/// The name of a measurement, and its command.
const FORMS: &[(&str, &[&str])] = &[
    ("csv, every column", &["--as", "csv"]),
    (
        "csv, ten columns",
        &[
            "--as",
            "csv",
            "--show",
            "path,start,mid,exposure,aperture,iso,focal,radiant.alt,radiant.az,reference_turn",
        ],
    ),
    ("paths", &["--as", "paths"]),
];

fn main() {
    let frames = std::env::args()
        .skip(1)
        .find_map(|a| a.parse().ok())
        .unwrap_or(100_000);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = archive::archive(frames);
    for (form, words) in FORMS {
        let list = folder.path().join("list");
        let manifest = folder.path().join("list.manifest.json");
        let copy = folder.path().join("copy");
        let (mut ours, mut plain, mut bytes) = (Vec::new(), Vec::new(), 0);
        for _ in 0..ROUNDS {
            let begun = Instant::now();
            let status = Command::new(env!("CARGO_BIN_EXE_framefall"))
                .args([
                    "export",
                    "iso > 0",
                    "--overwrite",
                    "--check",
                    "none",
                    "--quiet",
                ])
                .args(*words)
                .arg("--to")
                .arg(&list)
                .arg("--catalogue")
                .arg(&path)
                .status()
                .expect("the program");
            ours.push(begun.elapsed());
            assert!(status.success());
            let both: Vec<Vec<u8>> = [&list, &manifest]
                .into_iter()
                .filter_map(|file| std::fs::read(file).ok())
                .collect();
            bytes = both.iter().map(Vec::len).sum();
            let begun = Instant::now();
            for contents in &both {
                let mut file = File::create(&copy).expect("a file");
                file.write_all(contents).expect("room");
                file.sync_all().expect("a disk");
            }
            plain.push(begun.elapsed());
        }
        let (ours, plain) = (median(&mut ours), median(&mut plain));
        println!(
            "{form}: {frames} frames, {:.1} MB, {:.0} ms; the same bytes written {:.0} ms; ratio {:.2}",
            bytes as f64 / 1e6,
            ours.as_secs_f64() * 1e3,
            plain.as_secs_f64() * 1e3,
            ours.as_secs_f64() / plain.as_secs_f64(),
        );
    }
}

fn median(times: &mut [Duration]) -> Duration {
    times.sort();
    times[times.len() / 2]
}
