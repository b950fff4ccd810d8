//! Card dumps for benchmarks: sparse raw files of 50 MB that begin with the first bytes of real camera files.

// Benchmarks may panic.
#![allow(clippy::expect_used)]

use std::fs;
use std::fs::File;
use std::io::Read;
use std::ops::Range;
use std::os::unix::fs::FileExt;
use std::path::Path;
use std::path::PathBuf;

/// The size of each file.
pub const FILE_BYTES: u64 = 50_000_000;

/// The raw files of the repository, and the larger set beside the checkout if there is one.
const HEADS: &[&str] = &[
    "tests/data/frames",
    "../shared/frames/nef",
    "../shared/frames/arw",
    "../shared/frames/cr2",
    "../shared/frames/pef",
];

/// With longer heads the files would take up many gigabytes.
const LONGEST_HEAD: u64 = 256 * 1024;

/// The heads, and the extensions of the files they come from.
pub fn heads() -> Vec<(Vec<u8>, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut heads = Vec::new();
    for folder in HEADS {
        let Ok(entries) = fs::read_dir(root.join(folder)) else {
            continue;
        };
        let mut paths: Vec<PathBuf> = entries.filter_map(|e| Some(e.ok()?.path())).collect();
        paths.sort();
        for path in paths {
            let raw = path.extension().is_some_and(|e| {
                ["nef", "arw", "cr2", "dng", "pef"]
                    .iter()
                    .any(|raw| e.eq_ignore_ascii_case(raw))
            });
            if !raw || path.metadata().is_ok_and(|m| m.len() > 8 * LONGEST_HEAD) {
                continue;
            }
            let mut head = Vec::new();
            let read = File::open(&path).and_then(|f| f.take(LONGEST_HEAD).read_to_end(&mut head));
            if read.is_ok() && reading_at(&head).is_some() {
                let ending = path.extension().unwrap_or_default().to_string_lossy();
                heads.push((head, ending.into_owned()));
            }
        }
    }
    assert!(
        !heads.is_empty(),
        "no raw file with a clock reading in its head"
    );
    heads
}

/// The position of the first clock reading.
fn reading_at(bytes: &[u8]) -> Option<usize> {
    bytes.windows(19).position(|w| {
        w.iter().enumerate().all(|(i, b)| match i {
            4 | 7 | 13 | 16 => *b == b':',
            10 => *b == b' ',
            _ => b.is_ascii_digit(),
        }) && &w[..2] == b"20"
    })
}

/// Writes the files with these numbers, 1,500 per night: sparse, each with a real head and its own clock reading.
pub fn lay_out(dump: &Path, heads: &[(Vec<u8>, String)], files: Range<usize>) {
    for i in files {
        let folder = dump.join(format!("DCIM/{:03}NITES", 100 + i / 1000));
        if !folder.exists() {
            fs::create_dir_all(&folder).expect("a folder");
        }
        let (mut head, ending) = heads[i % heads.len()].clone();
        // Every reading in the head is replaced by this file's own, so that no two files are taken for one frame.
        let night = i / 1500;
        let second = 72_000 + (i % 1500) * 20;
        let reading = format!(
            "2023:{:02}:{:02} {:02}:{:02}:{:02}",
            1 + night / 28 % 12,
            1 + night % 28 + second / 86_400,
            second / 3600 % 24,
            second / 60 % 60,
            second % 60
        );
        let mut from = 0;
        while let Some(at) = reading_at(&head[from..]) {
            head[from + at..from + at + 19].copy_from_slice(reading.as_bytes());
            from += at + 19;
        }
        let file =
            File::create(folder.join(format!("NITE{:04}.{ending}", i % 10_000))).expect("a file");
        file.write_all_at(&head, 0).expect("a head");
        file.set_len(FILE_BYTES).expect("a sparse file");
    }
}
