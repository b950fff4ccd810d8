//! `framefall export` of many frames as CSV, the disk left unlooked at, against writing the same bytes:
//! `cargo bench --bench export [-- FRAMES]`. Both reach the disk before the clock stops.
//!
//! The archive is made of records, not of files, as in the bench of queries.

// A benchmark prints its figures, and stops where it cannot measure.
#![allow(clippy::print_stdout, clippy::expect_used)]

use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::time::Duration;
use std::time::Instant;

use framefall::catalogue::derive::Derived;
use framefall::catalogue::open::Catalogue;
use framefall::catalogue::open::Purpose;
use framefall::catalogue::store::NewFile;
use framefall::pipeline::derive::Deriver;
use framefall::pipeline::regroup::regroup;
use framefall::terms::basis::ClockTag;
use framefall::terms::basis::Health;
use framefall::terms::records::CaptureRecord;
use framefall::terms::records::Extent;
use framefall::terms::records::FileReading;
use framefall::terms::records::FrameFacts;
use framefall::terms::site::Place;
use framefall::terms::site::Site;
use framefall::terms::site::SiteOrigin;
use framefall::terms::time::Utc;
use framefall::terms::time::WallTime;

const ROUNDS: usize = 7;
const NIGHT_FRAMES: usize = 1_500;

/// What is measured, and the words of its command.
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
    let path = folder.path().join("catalogue.sqlite");
    fill(&path, frames);
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

/// Fills a catalogue with nights of frames.
fn fill(path: &Path, frames: usize) {
    let mut catalogue = Catalogue::open(path, Purpose::ChangeOrMake).expect("a catalogue");
    let places = [
        (38.93, -116.01, 1905.0),
        (-30.78, 139.2, 85.0),
        (63.05, 13.35, 640.0),
    ];
    let mut sites = Vec::new();
    for (i, (lat, lon, elev)) in places.into_iter().enumerate() {
        sites.push(
            catalogue
                .add_site(&Site {
                    id: 0,
                    name: format!("Site {i}"),
                    place: Place::new(lat, lon, elev).expect("a place"),
                    zone: Some("UTC".into()),
                    origin: SiteOrigin::Stated,
                    brightness: None,
                })
                .expect("a site"),
        );
    }
    let nights = frames.div_ceil(NIGHT_FRAMES);
    let mut deriver = None;
    for night in 0..nights {
        let mut batch = catalogue.batch().expect("a batch");
        let deriver = deriver.get_or_insert_with(|| Deriver::new(&batch).expect("a deriver"));
        let dump = batch
            .ensure_dump(Path::new("/bench"), evening(0))
            .expect("a dump");
        let folder = batch
            .ensure_folder(
                dump.dump_id,
                Path::new(&format!("DCIM/{:03}NITES", 100 + night)),
            )
            .expect("a folder");
        let evening = evening(night);
        for i in 0..NIGHT_FRAMES.min(frames - night * NIGHT_FRAMES) {
            let start = evening.plus_s(i as f64 * 22.0).expect("an instant");
            let body = night % 3;
            let record = CaptureRecord {
                // Two digits of the fraction, as most bodies write them.
                clock_local: WallTime::parse(&start.to_string()[..22]),
                utc_offset_s: (body == 1).then_some(0),
                clock_source: Some(ClockTag::Original),
                make: Some("Nocturne".into()),
                model: Some("N6".into()),
                serial: Some(format!("{body}")),
                exposure_s: Some(15.0 + (night % 2) as f64 * 5.0),
                f_number: Some([1.8, 2.8][i % 2]),
                iso: Some([1600.0, 3200.0, 6400.0][night % 3]),
                lens: Some(["Nova 14mm", "Nova 20mm", "Nova 35mm"][night / 2 % 3].into()),
                width_px: Some(6048),
                height_px: Some(4024),
                orientation: Some(1),
                shutter_count: Some(40_000 + i as u64),
                focal_mm: Some([14.0, 20.0, 35.0][night / 2 % 3]),
                ..CaptureRecord::default()
            };
            let reading = reading(&record, night * NIGHT_FRAMES + i);
            let camera = batch.ensure_camera(&record).expect("a body");
            let name = format!("NITE{i:04}.DNG");
            let file = NewFile {
                folder_id: folder,
                name: name.as_ref(),
                bytes: 50_000_000 + (i * 977 % 3_000_000) as u64,
                modified_ns: start.unix_ms() * 1_000_000 + 123_456_789,
                reading: &reading,
            };
            let frame_id = batch.add_frame(camera, file).expect("a frame");
            let facts = FrameFacts {
                frame_id,
                camera_id: camera,
                clock_local: record.clock_local,
                exposure_s: record.exposure_s,
                stated_site: Some(sites[night % sites.len()]),
                ..FrameFacts::default()
            };
            deriver
                .derive(&batch, &facts, Derived::FirstTime)
                .expect("a sky");
        }
        batch.commit().expect("a batch");
    }
    let touched = deriver.map(|d| d.touched).unwrap_or_default();
    regroup(&mut catalogue, &touched).expect("sessions");
    catalogue.gather_statistics().expect("statistics");
}

/// The evenings of six great showers, year after year from 2015; then the nights after them.
fn evening(night: usize) -> Utc {
    const PEAKS: [&str; 6] = ["01-03", "04-22", "05-05", "08-12", "10-21", "12-13"];
    const YEARS: usize = 11;
    let (peak, year, later) = (night % 6, night / 6 % YEARS, night / 6 / YEARS);
    Utc::parse(&format!("{}-{}T19:00:00Z", 2015 + year, PEAKS[peak]))
        .and_then(|evening| evening.plus_s(86_400.0 * later as f64))
        .expect("an evening")
}

fn reading(record: &CaptureRecord, number: usize) -> FileReading {
    let mut fingerprint = [0; 16];
    fingerprint[..8].copy_from_slice(&number.to_le_bytes());
    // Spread like a hash, so that its index grows as in life.
    let spread = blake3::hash(&fingerprint);
    fingerprint.copy_from_slice(&spread.as_bytes()[..16]);
    FileReading {
        format: "dng",
        record: record.clone(),
        health: Health::Sound,
        fingerprint: Some(fingerprint),
        thumbnail: Some(Extent {
            offset: 1_000 + number as u64 % 3,
            length: 14_000 + number as u64 % 3_000,
        }),
        preview: Some(Extent {
            offset: 170_000 + number as u64 % 7,
            length: 1_500_000 + number as u64 * 31 % 400_000,
        }),
        findings: Vec::new(),
        bytes_read: 0,
    }
}

fn median(times: &mut [Duration]) -> Duration {
    times.sort();
    times[times.len() / 2]
}
