//! Damaged and malicious files: no panic, bounded reads, a clear state; and TIFF blocks of every shape read alike.

// Tests may panic, and print what they skipped and measured.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use crate::containers;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use framefall::capture::class::FileClass;
use framefall::capture::read::FileReader;
use framefall::capture::walk::{Walked, walk};
use framefall::terms::basis::Health;
use framefall::terms::records::{CaptureRecord, FileReading};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

use crate::tiff_block::{Made, lay_out, made_directories};

fn committed() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/frames")
}

fn files(root: &Path) -> Vec<PathBuf> {
    walk(root)
        .filter_map(|step| match step.unwrap() {
            Walked::File(file) => Some(root.join(file.folder).join(file.name)),
            Walked::Odd { .. } => None,
        })
        .collect()
}

/// Reads bytes as a picture; the state must be one that its findings explain.
fn read(reader: &mut FileReader, name: &OsStr, bytes: Vec<u8>) -> FileReading {
    let reading = reader.read_bytes(name, bytes, FileClass::Picture).unwrap();
    let name = name.display();
    assert!(reading.bytes_read <= 128 * 1024, "{name}: {reading:?}");
    let says = |codes: &[&str]| reading.findings.iter().any(|f| codes.contains(&f.code));
    let explained = match reading.health {
        Health::Sound => reading.record.clock_local.is_some(),
        Health::Truncated => says(&["truncated"]),
        Health::NoMetadata => says(&["no-time", "time-blank", "time-absurd"]),
        Health::Unreadable => says(&["not-understood", "blank-file", "empty-file"]),
    };
    assert!(explained, "{name}: {reading:?}");
    reading
}

fn check_folder(folder: &Path) {
    let mut reader = FileReader::new();
    let all = files(folder);
    assert!(!all.is_empty());
    for file in &all {
        let bytes = std::fs::read(file).unwrap();
        let reading = read(&mut reader, file.file_name().unwrap(), bytes);
        println!(
            "{:<70} {:<8} {:<12} {:>7} bytes read",
            file.file_name().unwrap().display(),
            reading.format,
            reading.health.word(),
            reading.bytes_read
        );
    }
}

#[test]
fn committed_hostile_files_have_clear_states() {
    check_folder(&committed().join("hostile"));
}

#[test]
fn shared_hostile_files_have_clear_states() {
    let shared = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/frames/hostile");
    if shared.is_dir() {
        check_folder(&shared);
    } else {
        println!("skipped: the shared frames are not here");
    }
}

/// Files whose every step is allowed and whose steps would go on and on: minutes, if nothing bounded them.
fn tireless() -> Vec<(&'static str, Vec<u8>)> {
    // JPEG: markers without a segment, with as many bytes between them as are allowed.
    let mut jpeg = vec![0xFF, 0xD8, 0xFF, 0x01];
    for _ in 0..512 {
        jpeg.extend([0; 4000]);
        jpeg.extend([0xFF, 0x01]);
    }
    // PNG: small texts that unpack to large ones.
    let mut png = b"\x89PNG\r\n\x1A\n".to_vec();
    let bomb = miniz_oxide::deflate::compress_to_vec_zlib(&vec![b'\n'; 250_000], 9);
    for _ in 0..400 {
        let text = [b"Raw profile type exif\0\0", &bomb[..]].concat();
        png.extend(u32::try_from(text.len()).unwrap().to_be_bytes());
        png.extend(b"zTXt");
        png.extend(text);
        png.extend([0; 4]);
    }
    // HEIF: a thousand items of 65,535 pieces that take no bytes to list.
    let boxed = |kind: &[u8; 4], body: Vec<u8>| {
        let size = u32::try_from(body.len() + 8).unwrap().to_be_bytes();
        [&size[..], kind, &body].concat()
    };
    let mut iloc = vec![0, 0, 0, 0, 0, 0, 4, 0];
    for id in 0..1024_u16 {
        iloc.extend(id.to_be_bytes());
        iloc.extend([0, 0, 0xFF, 0xFF]);
    }
    let meta = [vec![0; 4], boxed(b"iloc", iloc)].concat();
    let heif = [
        boxed(b"ftyp", b"heic\0\0\0\0".to_vec()),
        boxed(b"meta", meta),
    ]
    .concat();
    vec![("a.jpg", jpeg), ("a.png", png), ("a.heic", heif)]
}

/// Prints how long each takes; that it ends is the test.
#[test]
fn files_that_go_on_and_on_end() {
    let mut reader = FileReader::new();
    for (name, bytes) in tireless() {
        let start = Instant::now();
        let reading = read(&mut reader, OsStr::new(name), bytes);
        println!(
            "{name}: {:?}, {} bytes read",
            start.elapsed(),
            reading.bytes_read
        );
    }
}

/// A small generator with a seed, so that a failing case can be named and repeated.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        // SplitMix64, public domain (Vigna 2015).
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        usize::try_from((z ^ (z >> 31)) % (sides.max(1) as u64)).unwrap()
    }
}

/// Spoils a file: bytes set to telling values, pieces copied over others, the end cut off.
fn spoil(dice: &mut Dice, bytes: &mut Vec<u8>) {
    const TELLING: [u8; 8] = [0x00, 0x01, 0x7F, 0x80, 0xFF, 0xFE, 0x08, 0x2A];
    for _ in 0..=dice.roll(12) {
        if bytes.len() < 16 {
            return;
        }
        // Most structure is at the start.
        let reach = if dice.roll(3) == 0 {
            bytes.len()
        } else {
            bytes.len().min(2048)
        };
        let at = dice.roll(reach);
        match dice.roll(8) {
            0 => bytes.truncate(at.max(8)),
            1 => {
                let len = dice.roll(64).min(bytes.len() - at);
                let from = dice.roll(bytes.len() - len);
                bytes.copy_within(from..from + len, at);
            }
            2 => {
                let len = 4.min(bytes.len() - at);
                bytes[at..at + len].fill(TELLING[dice.roll(8)]);
            }
            3 => bytes[at] ^= 1 << dice.roll(8),
            _ => bytes[at] = TELLING[dice.roll(8)],
        }
    }
}

/// Files to spoil: the committed ones, cut to their metadata, and one of every raw container.
fn seeds() -> Vec<(String, Vec<u8>)> {
    let committed = files(&committed()).into_iter().filter_map(|path| {
        let name = path.file_name()?.to_str()?.to_owned();
        let mut bytes = std::fs::read(&path).unwrap();
        bytes.truncate(48 * 1024);
        let is_frame = !name.contains(".tsv") && !name.contains(".jsonl");
        is_frame.then_some((name, bytes))
    });
    let made = containers::all()
        .into_iter()
        .map(|(extension, bytes)| (format!("made.{extension}"), bytes));
    committed.chain(made).collect()
}

/// Set `FRAMEFALL_MUTATIONS` for more cases than the usual 12,000. The slowest case is printed, not judged.
#[test]
fn spoilt_files_never_panic() {
    const SEED: u64 = 20_231_214;
    const MOST_HELD: usize = 1024 * 1024;
    let cases: usize = std::env::var("FRAMEFALL_MUTATIONS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(12_000);
    let all = seeds();
    let mut reader = FileReader::new();
    let (mut slowest, mut held) = ((Duration::ZERO, 0, String::new()), 0);
    for case in 0..cases {
        let mut dice = Dice(SEED.wrapping_add(case as u64));
        let (name, bytes) = &all[dice.roll(all.len())];
        let mut bytes = bytes.clone();
        spoil(&mut dice, &mut bytes);
        if bytes.is_empty() {
            continue;
        }
        let start = Instant::now();
        read(&mut reader, OsStr::new(name), bytes);
        let took = start.elapsed();
        if took > slowest.0 {
            slowest = (took, case, name.clone());
        }
        held = held.max(reader.held_memory());
        assert!(held <= MOST_HELD, "case {case}, {name}: {held} bytes held");
    }
    println!(
        "{cases} cases of {} files from seed {SEED}: at most {held} bytes held; slowest {:?}, case {}, {}",
        all.len(),
        slowest.0,
        slowest.1,
        slowest.2
    );
}

fn record_of(bytes: Vec<u8>) -> CaptureRecord {
    let mut reader = FileReader::new();
    let reading = reader
        .read_bytes(OsStr::new("a.tif"), bytes, FileClass::Picture)
        .unwrap();
    assert!(reading.findings.is_empty(), "{:?}", reading.findings);
    reading.record
}

#[test]
fn a_hand_made_block_reads_as_it_was_meant() {
    let record = record_of(lay_out(true, 0, &made_directories()));
    assert_eq!(
        record.clock_local.unwrap().to_string(),
        "2023-12-14T01:12:07.25"
    );
    assert_eq!(record.utc_offset_s, Some(-12_600));
    assert_eq!(record.exposure_s, Some(15.0));
    assert_eq!(record.f_number, Some(2.8));
    assert_eq!(record.iso, Some(3200.0));
    assert_eq!(record.focal_mm, Some(20.0));
    assert_eq!(record.serial.as_deref(), Some("0042"));
    assert_eq!(record.lens.as_deref(), Some("20mm f/1.8"));
    assert_eq!(record.gps_lat_deg, Some(-31.45));
    assert!((record.gps_lon_deg.unwrap() + 70.72).abs() < 1e-12);
    assert_eq!(record.gps_elev_m, Some(2400.5));
    assert_eq!(
        record.gps_utc.unwrap().to_string(),
        "2023-12-14T04:42:06.000Z"
    );
    assert_eq!(
        (record.width_px, record.height_px),
        (Some(6000), Some(4000))
    );
    assert_eq!(record.orientation, Some(6));
}

proptest! {
    #![proptest_config(Config {
        cases: 200,
        rng_seed: RngSeed::Fixed(20_231_214),
        failure_persistence: None,
        ..Config::default()
    })]

    /// Byte order, the order of entries and gaps between them do not matter.
    #[test]
    fn blocks_of_every_shape_read_alike(
        big in any::<bool>(),
        gap in 0_usize..9_000,
        order0 in Just((0..8_usize).collect::<Vec<_>>()).prop_shuffle(),
        order1 in Just((0..9_usize).collect::<Vec<_>>()).prop_shuffle(),
        order2 in Just((0..8_usize).collect::<Vec<_>>()).prop_shuffle(),
    ) {
        let plain = made_directories();
        let pick = |d: &Vec<Made>, order: &[usize]| -> Vec<Made> {
            order.iter().map(|i| d[*i].clone()).collect()
        };
        let shuffled = [pick(&plain[0], &order0), pick(&plain[1], &order1), pick(&plain[2], &order2)];
        prop_assert_eq!(
            record_of(lay_out(big, gap, &shuffled)),
            record_of(lay_out(true, 0, &plain))
        );
    }
}
