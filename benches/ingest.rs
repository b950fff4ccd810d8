//! A whole ingest against its lower bound, and without sampling pictures, side by side: `cargo bench --bench ingest [-- FILES]`.
//!
//! Writes sparse raw files of 50 MB with the real heads of camera files, each with its own clock reading, and
//! times the program's whole ingest (sky and catalogue included) beside one thread that walks, opens, reads 64 KiB and
//! closes. Warm, and cold where the page cache can be dropped (Linux, as root). Peak memory is the ingest's own.

// A benchmark prints its figures, and may panic.
#![allow(clippy::print_stdout, clippy::expect_used)]

mod dump;

use std::fs;
use std::fs::File;
use std::os::unix::fs::FileExt;
use std::path::Path;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

const WINDOW: usize = 64 * 1024;
const ROUNDS: usize = 5;

fn main() {
    let files = std::env::args()
        .skip(1)
        .find_map(|a| a.parse().ok())
        .unwrap_or(10_000);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let dump = folder.path().join("card");
    let heads = dump::heads();
    println!(
        "{files} sparse files of {} MB with {} real heads",
        dump::FILE_BYTES / 1_000_000,
        heads.len()
    );
    dump::lay_out(&dump, &heads, 0..files);
    // The same in a folder whose name says their kind, so that no picture is sampled.
    let named = folder.path().join("named");
    dump::lay_out(&named.join("lights"), &heads, 0..files);
    for cold in [false, true] {
        if cold && !drop_caches() {
            println!("cold: the page cache cannot be dropped here");
            continue;
        }
        let name = if cold { "cold" } else { "warm" };
        let (mut bounds, mut ingests, mut unsampled, mut memory) = (vec![], vec![], vec![], 0);
        for _ in 0..ROUNDS {
            if cold {
                drop_caches();
            }
            bounds.push(lower_bound(&dump));
            if cold {
                drop_caches();
            }
            let (time, peak) = ingest(folder.path(), &dump);
            ingests.push(time);
            memory = memory.max(peak);
            if cold {
                drop_caches();
            }
            unsampled.push(ingest(folder.path(), &named).0);
        }
        let [bound, ingest, unsampled] =
            [&mut bounds, &mut ingests, &mut unsampled].map(|times| median(times));
        let rate = |time: Duration| files as f64 / time.as_secs_f64();
        println!(
            "{name}: lower bound {:.0} files/s, ingest {:.0} files/s, ratio {:.2}, peak memory {:.0} MB",
            rate(bound),
            rate(ingest),
            bound.as_secs_f64() / ingest.as_secs_f64(),
            memory as f64 / 1e6
        );
        println!(
            "{name}: without sampling pictures {:.0} files/s; sampling takes {:.3} ms a frame, {:.0} % of the ingest",
            rate(unsampled),
            (ingest.as_secs_f64() - unsampled.as_secs_f64()) * 1000.0 / files as f64,
            (1.0 - unsampled.as_secs_f64() / ingest.as_secs_f64()) * 100.0
        );
    }
}

fn lower_bound(dump: &Path) -> Duration {
    let begun = Instant::now();
    let mut buffer = vec![0; WINDOW];
    let mut bytes = 0;
    for entry in walkdir::WalkDir::new(dump).sort_by_file_name() {
        let entry = entry.expect("an entry");
        if entry.file_type().is_file() {
            let file = File::open(entry.path()).expect("a file");
            bytes += file.read_at(&mut buffer, 0).expect("a head");
        }
    }
    assert!(bytes > 0);
    begun.elapsed()
}

/// Runs the program's ingest into a new catalogue; its time and its peak memory in bytes.
fn ingest(folder: &Path, dump: &Path) -> (Duration, u64) {
    let catalogue = folder.join("catalogue.sqlite");
    for ending in ["", "-wal", "-shm", ".lock"] {
        let _ = fs::remove_file(folder.join(format!("catalogue.sqlite{ending}")));
    }
    let program = |words: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_framefall"));
        command
            .args(words)
            .env("FRAMEFALL_CATALOGUE", &catalogue)
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        command
    };
    let site = [
        "site",
        "add",
        "Bench",
        "--lat",
        "38.93",
        "--lon",
        "-116.01",
        "--elevation",
        "1905",
    ];
    assert!(program(&site).status().expect("the program").success());
    let begun = Instant::now();
    let mut child = program(&[
        "ingest",
        "--quiet",
        "--site",
        "Bench",
        &dump.to_string_lossy(),
    ])
    .spawn()
    .expect("the program");
    let mut peak = 0;
    loop {
        if let Ok(status) = fs::read_to_string(format!("/proc/{}/status", child.id())) {
            let high = status.lines().find_map(|l| {
                l.strip_prefix("VmHWM:")?
                    .split_whitespace()
                    .next()?
                    .parse::<u64>()
                    .ok()
            });
            peak = peak.max(high.unwrap_or(0) * 1024);
        }
        if let Some(ended) = child.try_wait().expect("the program") {
            assert!(ended.code().is_some_and(|code| code < 2), "{ended}");
            return (begun.elapsed(), peak);
        }
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn drop_caches() -> bool {
    let _ = Command::new("sync").status();
    fs::write("/proc/sys/vm/drop_caches", "3").is_ok()
}

fn median(times: &mut [Duration]) -> Duration {
    times.sort();
    times[times.len() / 2]
}
