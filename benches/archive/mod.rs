//! Synthetic archives: many years of nights by several bodies at several sites, stored by the code of an ingest. For
//! benchmarks and tests; made of records, without files.
//!
//! The contents of an archive depend only on its size. Memory does not grow with it.

// Benchmarks and tests may panic; each uses a part of this.
#![allow(clippy::expect_used, dead_code)]

mod frame;
mod plan;

use std::ffi::OsStr;
use std::fs;
use std::fs::File;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

use framefall::catalogue::batch::Batch;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::migrations::MIGRATIONS;
use framefall::catalogue::purpose::Purpose;
use framefall::terms::records::FileReading;
use framefall::terms::site::Place;
use framefall::terms::site::Site;
use framefall::terms::site::SiteOrigin;
use framefall::terms::time::Utc;
use framefall::usecase::derive::evenings::Deriver;
use framefall::usecase::derive::maker::PROGRAM;
use framefall::usecase::derive::pending::derive_pending;
use framefall::usecase::derive::regroup::regroup;
use framefall::usecase::ingest::ingest_file::Before;
use framefall::usecase::ingest::ingest_file::Ingested;
use framefall::usecase::ingest::ingest_file::ReadFile;
use framefall::usecase::ingest::ingest_file::ingest_file;

use frame::Frame;
use plan::BodyNight;
use plan::nights;

/// Raised when archives of the same size get other contents.
const EDITION: u32 = 2;

/// Nights of a body in one transaction.
const NIGHTS_A_BATCH: usize = 8;

/// The sizes of archives on the command line; 100,000 frames by default.
pub fn sizes() -> Vec<usize> {
    let named: Vec<usize> = std::env::args()
        .skip(1)
        .filter_map(|a| a.parse().ok())
        .collect();
    if named.is_empty() {
        vec![100_000]
    } else {
        named
    }
}

/// The archive of so many frames, made once and kept with the build's temporary files. Other threads and programs wait
/// until it is made.
pub fn archive(frames: usize) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("archives");
    fs::create_dir_all(&folder).expect("a folder");
    let turn = File::create(folder.join("turn")).expect("a file");
    turn.lock().expect("a turn");
    let mut state = blake3::Hasher::new();
    state.update(format!("{EDITION} {PROGRAM}").as_bytes());
    for (_, sql) in MIGRATIONS {
        state.update(sql.as_bytes());
    }
    let name = format!("{frames}-{}.sqlite", &state.finalize().to_hex()[..16]);
    let path = folder.join(&name);
    if path.exists() {
        return path;
    }
    // Archives of other schemas, and the rests of interrupted runs.
    for entry in fs::read_dir(&folder).expect("a folder").flatten() {
        if entry
            .file_name()
            .to_string_lossy()
            .starts_with(&format!("{frames}-"))
        {
            let _ = fs::remove_file(entry.path());
        }
    }
    let growing = folder.join(format!("{name}.part"));
    fill(&growing, frames);
    let _ = fs::remove_file(folder.join(format!("{name}.part.lock")));
    fs::rename(&growing, &path).expect("a name");
    path
}

/// Fills a new catalogue.
pub fn fill(path: &Path, frames: usize) {
    let mut catalogue = Catalogue::open(path, Purpose::ChangeOrMake).expect("a catalogue");
    let sites: Vec<i64> = plan::SITES
        .iter()
        .map(|(name, lat, lon, elev, zone)| {
            let site = Site {
                id: 0,
                name: (*name).into(),
                place: Place::new(*lat, *lon, *elev).expect("a place"),
                zone: Some((*zone).into()),
                origin: SiteOrigin::Stated,
                brightness: None,
            };
            catalogue.add_site(&site).expect("a site")
        })
        .collect();
    let all = nights(frames);
    let mut deriver = None;
    for some in all.chunks(NIGHTS_A_BATCH) {
        let mut batch = catalogue.batch().expect("a batch");
        let deriver = deriver
            .get_or_insert_with(|| Deriver::new(&batch).expect("a deriver").with_new_frames(0));
        for night in some {
            add_night(&mut batch, night, sites[night.site]);
        }
        batch.commit().expect("a batch");
        let stop = AtomicBool::new(false);
        derive_pending(
            &mut catalogue,
            deriver,
            &stop,
            &mut |_, _| {},
            &mut |_, _| {},
        )
        .expect("skies");
        let touched = std::mem::take(&mut deriver.touched);
        regroup(&mut catalogue, &touched, None).expect("sessions");
    }
    catalogue
        .settle(frames as u64)
        .expect("the end of an ingest");
}

fn add_night(batch: &mut Batch<'_>, night: &BodyNight, site: i64) {
    let body = &plan::BODIES[night.body];
    let now = Utc::parse("2026-01-01T00:00:00Z").expect("an instant");
    let dump = batch
        .ensure_dump(Path::new(&night.dump()), now)
        .expect("a dump");
    let folder = PathBuf::from(night.folder());
    let folder_id = batch
        .ensure_folder(dump.dump_id, &folder)
        .expect("a folder");
    let mut looks = Vec::new();
    let mut add = |frame: &Frame<'_>, name: String, bytes: u64, mut reading: FileReading| {
        let taken = ingest_file(
            batch,
            &mut ReadFile {
                folder_id,
                folder: &folder,
                name: OsStr::new(&name),
                bytes,
                modified_ns: frame.modified_ns(),
                before: Before::New,
                reading: &mut reading,
            },
        )
        .expect("a frame");
        let frame_id = match taken {
            Ingested::NewFrame(frame_id) | Ingested::Joined(frame_id) => frame_id,
            other => panic!("{name} of {}: {other:?}", night.dump()),
        };
        batch.state_place(frame_id, site).expect("a place");
        batch.mark_frames_pending(&[frame_id]).expect("a note");
        frame_id
    };
    for number in 0..night.frames {
        let frame = Frame::new(night, number);
        // In the order of names: the JPEG comes before its raw file.
        if body.jpeg {
            add(&frame, frame.name("JPG"), frame.jpeg_bytes(), frame.jpeg());
        }
        let frame_id = add(
            &frame,
            frame.name(body.ending),
            frame.raw_bytes(),
            frame.raw(),
        );
        looks.push((frame_id, frame.look()));
    }
    batch.put_looks(&looks).expect("looks");
}
