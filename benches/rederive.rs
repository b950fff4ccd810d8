//! Recomputing an archive after a clock fix, against inserting the same finished rows into an empty catalogue:
//! `cargo bench --bench rederive [-- FRAMES]`.
//!
//! One body took every frame; the fix moves all of them. The bound is inserting the derived rows alone (time, sky, radiants)
//! from memory, with prepared statements in one transaction; the written rows are there already.

// A benchmark prints its figures, and may panic.
#![allow(clippy::print_stdout, clippy::expect_used)]

use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use framefall::catalogue::file_rows::NewFile;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::terms::basis::ClockTag;
use framefall::terms::basis::Health;
use framefall::terms::clock::Before;
use framefall::terms::records::CaptureRecord;
use framefall::terms::records::FileReading;
use framefall::terms::site::Place;
use framefall::terms::site::Site;
use framefall::terms::site::SiteOrigin;
use framefall::terms::time::Utc;
use framefall::terms::time::WallTime;
use framefall::usecase::clocks::limits::Limits;
use framefall::usecase::clocks::shown::FixOrder;
use framefall::usecase::clocks::shown::Showed;
use framefall::usecase::clocks::state::state_fix;
use framefall::usecase::derive::evenings::Deriver;
use framefall::usecase::derive::pending::derive_pending;
use framefall::usecase::derive::rederive::Mode;
use framefall::usecase::derive::regroup::regroup;
use rusqlite::types::Value;

const ROUNDS: usize = 3;
const NIGHT_FRAMES: usize = 1_500;

/// The derived tables.
const TABLES: &[&str] = &["derived_time", "derived_sky", "derived_radiant"];

fn main() {
    let frames = std::env::args()
        .skip(1)
        .find_map(|a| a.parse().ok())
        .unwrap_or(100_000);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("catalogue.sqlite");
    fill(&path, frames);
    let (mut ours, mut ready) = (Vec::new(), Vec::new());
    for round in 0..ROUNDS {
        let memory = memory_kib();
        let mut catalogue = Catalogue::open(&path, Purpose::Change).expect("the catalogue");
        let order = FixOrder {
            camera: Some("N6"),
            showed: Showed::Reading(
                [
                    "2014-12-30 12:00:00",
                    "2014-12-31 12:00:00",
                    "2015-01-01 12:00:00",
                ][round],
            ),
            true_utc: [
                "2014-12-30T12:01:00Z",
                "2014-12-31T12:02:00Z",
                "2015-01-01T12:01:30Z",
            ][round],
            before: Before::Reset,
            limits: Limits::default(),
            now: Utc::parse("2030-01-01T00:00:00Z").expect("an instant"),
        };
        let begun = Instant::now();
        let stated =
            state_fix(&mut catalogue, &order, Mode::Lasting, &mut |_, _| {}).expect("a fix");
        ours.push(begun.elapsed().as_secs_f64());
        assert_eq!(stated.done.moved, frames as u64, "every frame moved");
        drop(catalogue);
        let peak = memory_kib() - memory;
        ready.push(insert_ready_made(
            &path,
            &folder.path().join("ready.sqlite"),
        ));
        println!(
            "derived anew {:.2} s (memory +{} MB), ready-made {:.2} s, ratio {:.2}",
            ours[round],
            peak / 1024,
            ready[round],
            ours[round] / ready[round]
        );
    }
    let (ours, ready) = (median(&mut ours), median(&mut ready));
    println!(
        "{frames} frames: {ours:.2} s against {ready:.2} s, ratio {:.2}, at most 2 asked",
        ours / ready
    );
}

/// Inserts the derived rows of one catalogue into another that has all but them; how long that took.
fn insert_ready_made(full: &Path, empty: &Path) -> f64 {
    let _ = std::fs::remove_file(empty);
    let from = rusqlite::Connection::open(full).expect("the catalogue");
    from.execute("VACUUM INTO ?", [empty.to_string_lossy()])
        .expect("a copy");
    let mut into = rusqlite::Connection::open(empty).expect("the copy");
    into.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))
        .expect("a pragma");
    into.pragma_update(None, "synchronous", "NORMAL")
        .expect("a pragma");
    into.pragma_update(None, "foreign_keys", true)
        .expect("a pragma");
    into.pragma_update(None, "cache_size", -16_384)
        .expect("a pragma");
    for table in TABLES {
        into.execute(&format!("DELETE FROM {table}"), [])
            .expect("an empty table");
    }
    let rows: Vec<Vec<Vec<Value>>> = TABLES
        .iter()
        .map(|table| {
            let order = if *table == "derived_radiant" {
                "frame_id, shower_id"
            } else {
                "frame_id"
            };
            let mut select = from
                .prepare(&format!(
                    "SELECT {} FROM {table} ORDER BY {order}",
                    stored(&from, table)
                ))
                .expect("SQL");
            let columns = select.column_count();
            select
                .query_map([], |row| (0..columns).map(|i| row.get(i)).collect())
                .expect("rows")
                .collect::<rusqlite::Result<_>>()
                .expect("rows")
        })
        .collect();
    let begun = Instant::now();
    let tx = into.transaction().expect("a transaction");
    {
        let mut inserts: Vec<_> = TABLES
            .iter()
            .zip(&rows)
            .map(|(table, rows)| {
                let marks = vec!["?"; rows[0].len()].join(", ");
                tx.prepare(&format!("INSERT INTO {table} VALUES ({marks})"))
                    .expect("SQL")
            })
            .collect();
        let mut radiant = 0;
        for (time, sky) in rows[0].iter().zip(&rows[1]) {
            inserts[0]
                .execute(rusqlite::params_from_iter(time))
                .expect("a row");
            inserts[1]
                .execute(rusqlite::params_from_iter(sky))
                .expect("a row");
            while rows[2].get(radiant).is_some_and(|r| r[1] == time[0]) {
                inserts[2]
                    .execute(rusqlite::params_from_iter(&rows[2][radiant]))
                    .expect("a row");
                radiant += 1;
            }
        }
    }
    tx.commit().expect("a commit");
    begun.elapsed().as_secs_f64()
}

/// The columns of a table that are kept, not generated.
fn stored(db: &rusqlite::Connection, table: &str) -> String {
    db.query_row(
        "SELECT group_concat(name, ', ') FROM pragma_table_xinfo(?) WHERE hidden = 0",
        [table],
        |row| row.get(0),
    )
    .expect("columns")
}

fn median(times: &mut [f64]) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

/// The peak memory of this process, in KiB; 0 if the system does not report it.
fn memory_kib() -> i64 {
    std::fs::read_to_string("/proc/self/status")
        .ok()
        .and_then(|status| {
            let line = status.lines().find(|l| l.starts_with("VmHWM"))?.to_owned();
            line.split_whitespace().nth(1)?.parse().ok()
        })
        .unwrap_or(0)
}

/// Fills a catalogue with nights of one body over ten years.
fn fill(path: &Path, frames: usize) {
    let mut catalogue = Catalogue::open(path, Purpose::ChangeOrMake).expect("a catalogue");
    let site = catalogue
        .add_site(&Site {
            id: 0,
            name: "Site".into(),
            place: Place::new(38.93, -116.01, 1905.0).expect("a place"),
            zone: Some("UTC".into()),
            origin: SiteOrigin::Stated,
            brightness: None,
        })
        .expect("a site");
    let first_evening = Utc::parse("2015-01-03T03:00:00Z").expect("an instant");
    let nights = frames.div_ceil(NIGHT_FRAMES);
    for night in 0..nights {
        let mut batch = catalogue.batch().expect("a batch");
        let dump = batch
            .ensure_dump(Path::new("/bench"), first_evening)
            .expect("a dump");
        let folder = batch
            .ensure_folder(
                dump.dump_id,
                Path::new(&format!("DCIM/{:03}NITES", 100 + night)),
            )
            .expect("a folder");
        let evening = first_evening
            .plus_s(86_400.0 * (night as f64 * 3650.0 / nights as f64).floor())
            .expect("an evening");
        for i in 0..NIGHT_FRAMES.min(frames - night * NIGHT_FRAMES) {
            let start = evening.plus_s(i as f64 * 22.0).expect("an instant");
            let record = CaptureRecord {
                clock_local: WallTime::parse(start.to_string().trim_end_matches('Z')),
                clock_source: Some(ClockTag::Original),
                make: Some("Nocturne".into()),
                model: Some("N6".into()),
                serial: Some("1".into()),
                exposure_s: Some(15.0),
                focal_mm: Some(20.0),
                ..CaptureRecord::default()
            };
            let mut fingerprint = [0; 16];
            fingerprint[..8].copy_from_slice(&(night * NIGHT_FRAMES + i).to_le_bytes());
            let spread = blake3::hash(&fingerprint);
            fingerprint.copy_from_slice(&spread.as_bytes()[..16]);
            let reading = FileReading {
                format: "dng",
                record: record.clone(),
                health: Health::Sound,
                fingerprint: Some(fingerprint),
                thumbnail: None,
                preview: None,
                findings: Vec::new(),
                bytes_read: 0,
            };
            let camera = batch.ensure_camera(&record).expect("a body");
            let name = format!("NITE{i:04}.DNG");
            let file = NewFile {
                folder_id: folder,
                name: name.as_ref(),
                bytes: 50_000_000,
                modified_ns: 0,
                reading: &reading,
            };
            let frame_id = batch.add_frame(camera, file).expect("a frame");
            batch.state_place(frame_id, site).expect("a statement");
            batch.mark_frames_pending(&[frame_id]).expect("a note");
        }
        batch.commit().expect("a batch");
    }
    let batch = catalogue.batch().expect("a batch");
    let mut deriver = Deriver::new(&batch).expect("a deriver").with_new_frames(0);
    batch.commit().expect("a batch");
    let stop = AtomicBool::new(false);
    derive_pending(
        &mut catalogue,
        &mut deriver,
        &stop,
        &mut |_, _| {},
        &mut |_, _| {},
    )
    .expect("skies");
    regroup(&mut catalogue, &deriver.touched, None).expect("sessions");
}
