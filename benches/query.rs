//! Queries against the best hand-written SQL for the same question on the same file, side by side:
//! `cargo bench --bench query [-- FRAMES]`.
//!
//! The archive is made of records, not of files: several bodies and sites, ten years of nights, placed and given
//! their skies by the same code that an ingest runs.

// A benchmark prints its figures, and stops where it cannot measure.
#![allow(clippy::print_stdout, clippy::expect_used)]

use std::path::Path;
use std::time::Duration;
use std::time::Instant;

use framefall::catalogue::derive::Derived;
use framefall::catalogue::open::Catalogue;
use framefall::catalogue::open::Purpose;
use framefall::catalogue::select::Ask;
use framefall::catalogue::select::Detail;
use framefall::catalogue::store::NewFile;
use framefall::pipeline::derive::Deriver;
use framefall::pipeline::frames::compile;
use framefall::pipeline::regroup::regroup;
use framefall::terms::basis::ClockTag;
use framefall::terms::basis::Health;
use framefall::terms::column::ColumnSource;
use framefall::terms::field::field_named;
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

/// An instant as text, which is how an answer gives it.
const START: &str = "strftime('%Y-%m-%dT%H:%M:%fZ', time.start_ms / 1000.0, 'unixepoch')";

/// A question in our words, and the best SQL for the same rows (file and start, ordered by start).
const QUESTIONS: &[(&str, &str)] = &[
    (
        "GEM.alt > 30 and moon.alt < 0",
        "SELECT file.name, START FROM derived_radiant r
         JOIN derived_sky sky ON sky.frame_id = r.frame_id
         JOIN derived_time time ON time.frame_id = r.frame_id
         JOIN written_frame frame ON frame.frame_id = r.frame_id
         JOIN written_file file ON file.file_id = frame.first_file_id
         WHERE r.shower = 'GEM' AND r.alt_deg > 30 AND sky.moon_alt_deg < 0
         ORDER BY time.start_ms, frame.clock_s, frame.frame_id",
    ),
    (
        "night = NIGHT",
        "SELECT file.name, START FROM derived_time time
         JOIN written_frame frame ON frame.frame_id = time.frame_id
         JOIN written_file file ON file.file_id = frame.first_file_id
         WHERE time.night_day = DAY ORDER BY time.start_ms, frame.clock_s, frame.frame_id",
    ),
    (
        "night = NIGHT and radiant.alt > 20",
        "SELECT file.name, START FROM derived_time time
         JOIN written_frame frame ON frame.frame_id = time.frame_id
         JOIN written_file file ON file.file_id = frame.first_file_id
         JOIN derived_sky sky ON sky.frame_id = time.frame_id
         JOIN derived_radiant r ON r.shower = sky.shower AND r.frame_id = time.frame_id
         WHERE time.night_day = DAY AND r.alt_deg > 20 ORDER BY time.start_ms, frame.clock_s, frame.frame_id",
    ),
    (
        "night = NIGHT and PER.alt > 30",
        "SELECT file.name, START FROM derived_time time
         CROSS JOIN derived_radiant r ON r.shower = 'PER' AND r.frame_id = time.frame_id
         CROSS JOIN written_frame frame ON frame.frame_id = time.frame_id
         CROSS JOIN written_file file ON file.file_id = frame.first_file_id
         WHERE time.night_day = DAY AND r.alt_deg > 30 ORDER BY time.start_ms, frame.clock_s, frame.frame_id",
    ),
    (
        "session = 3",
        "SELECT file.name, START FROM derived_time time
         JOIN written_frame frame ON frame.frame_id = time.frame_id
         JOIN written_file file ON file.file_id = frame.first_file_id
         WHERE time.session_id = 3 ORDER BY time.start_ms, frame.clock_s, frame.frame_id",
    ),
    (
        "sun.alt < -18 and moon.alt < 0 and focal in 14..24",
        "SELECT file.name, START FROM written_frame frame
         JOIN derived_sky sky ON sky.frame_id = frame.frame_id
         JOIN derived_time time ON time.frame_id = frame.frame_id
         JOIN written_file file ON file.file_id = frame.first_file_id
         WHERE sky.sun_alt_deg < -18 AND sky.moon_alt_deg < 0 AND frame.focal_mm BETWEEN 14 AND 24
         ORDER BY time.start_ms, frame.clock_s, frame.frame_id",
    ),
    (
        "start in 2019-08..2019-12 and (iso >= 6400 or aperture < 2)",
        "SELECT file.name, START FROM derived_time time
         JOIN written_frame frame ON frame.frame_id = time.frame_id
         JOIN written_file file ON file.file_id = frame.first_file_id
         WHERE time.start_ms BETWEEN 1564617600000 AND 1577836799999
           AND (frame.iso >= 6400 OR frame.f_number < 2)
         ORDER BY time.start_ms, frame.clock_s, frame.frame_id",
    ),
];

fn main() {
    let frames = std::env::args()
        .skip(1)
        .find_map(|a| a.parse().ok())
        .unwrap_or(100_000);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("catalogue.sqlite");
    let begun = Instant::now();
    let night = fill(&path, frames);
    let bytes = path.metadata().expect("the catalogue").len();
    println!(
        "{frames} frames made in {:.1} s; {} bytes a frame",
        begun.elapsed().as_secs_f64(),
        bytes / frames as u64
    );
    let catalogue = Catalogue::open(&path, Purpose::Read).expect("the catalogue");
    let raw = rusqlite::Connection::open(&path).expect("the catalogue");
    raw.pragma_update(None, "cache_size", -16_384)
        .expect("a pragma");
    let day: i64 = raw
        .query_row("SELECT unixepoch(?) / 86400", [&night], |row| row.get(0))
        .expect("a date");
    for (question, sql) in QUESTIONS {
        let (question, sql) = (
            question.replace("NIGHT", &night),
            sql.replace("DAY", &day.to_string()).replace("START", START),
        );
        let (mut ours, mut theirs, mut counts) = (Vec::new(), Vec::new(), (0, 0));
        for _ in 0..ROUNDS {
            let begun = Instant::now();
            counts.0 = ask(&catalogue, &question);
            ours.push(begun.elapsed());
            let begun = Instant::now();
            counts.1 = by_hand(&raw, &sql);
            theirs.push(begun.elapsed());
        }
        assert_eq!(counts.0, counts.1, "{question}");
        let (ours, theirs) = (median(&mut ours), median(&mut theirs));
        println!(
            "{:7.2} ms, by hand {:7.2} ms, ratio {:.2}, {:6} rows: {question}",
            ours.as_secs_f64() * 1e3,
            theirs.as_secs_f64() * 1e3,
            ours.as_secs_f64() / theirs.as_secs_f64(),
            counts.0
        );
    }
}

fn ask(catalogue: &Catalogue, question: &str) -> u64 {
    let compiled = compile(question).expect("a query");
    let columns =
        ["file", "start"].map(|name| ColumnSource::Frame(field_named(name).expect("a field")));
    let mut rows = 0;
    let ask = Ask {
        predicate: &compiled.predicate,
        columns: &columns,
        detail: Detail::Columns,
        order: &[],
        limit: None,
    };
    catalogue
        .fetch(&ask, |row| {
            rows += u64::from(!row.cells.is_empty());
            Ok(true)
        })
        .expect("rows");
    rows
}

fn by_hand(db: &rusqlite::Connection, sql: &str) -> u64 {
    let mut statement = db.prepare(sql).expect("SQL");
    let mut rows = statement.query([]).expect("rows");
    let mut count = 0;
    while let Some(row) = rows.next().expect("a row") {
        let _: (String, Option<String>) =
            (row.get(0).expect("a name"), row.get(1).expect("a start"));
        count += 1;
    }
    count
}

/// Fills a catalogue with nights of frames; one of its nights.
fn fill(path: &Path, frames: usize) -> String {
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
    let mut some_night = String::new();
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
        if night == nights / 2 {
            evening.to_string()[..10].clone_into(&mut some_night);
        }
    }
    let touched = deriver.map(|d| d.touched).unwrap_or_default();
    regroup(&mut catalogue, &touched).expect("sessions");
    catalogue.gather_statistics().expect("statistics");
    some_night
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
