//! A catalogue of frames whose clocks are stated otherwise and otherwise, and all that is derived in it.

use std::path::Path;
use std::sync::OnceLock;
use std::sync::atomic::AtomicBool;

use framefall::catalogue::file_rows::NewFile;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::terms::basis::ClockTag;
use framefall::terms::basis::Health;
use framefall::terms::records::CaptureRecord;
use framefall::terms::records::FileReading;
use framefall::terms::site::Place;
use framefall::terms::site::Site;
use framefall::terms::site::SiteOrigin;
use framefall::terms::time::Utc;
use framefall::terms::time::WallTime;
use framefall::usecase::derive::evenings::Deriver;
use framefall::usecase::derive::pending::derive_pending;
use framefall::usecase::derive::regroup::regroup;

/// An empty catalogue with one site, and the site's number.
pub fn with_site(path: &Path, zone: &str) -> (Catalogue, i64) {
    let catalogue = Catalogue::open(path, Purpose::ChangeOrMake).unwrap();
    let site = catalogue
        .add_site(&Site {
            id: 0,
            name: "Colle".into(),
            place: Place::new(41.9, 12.5, 300.0).unwrap(),
            zone: Some(zone.into()),
            origin: SiteOrigin::Stated,
            brightness: None,
        })
        .unwrap();
    (catalogue, site)
}

/// A catalogue with these frames at a site in Rome. It is made once for each `kept`, and copied from then on.
pub fn copied(
    kept: &OnceLock<Vec<u8>>,
    path: &Path,
    records: impl FnOnce() -> Vec<CaptureRecord>,
) -> Catalogue {
    let bytes = kept.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("c.sqlite");
        let (mut catalogue, site) = with_site(&path, "Europe/Rome");
        ingest(&mut catalogue, site, 0, &records());
        drop(catalogue);
        std::fs::read(path).unwrap()
    });
    std::fs::write(path, bytes).unwrap();
    Catalogue::open(path, Purpose::Change).unwrap()
}

/// What a body wrote into a frame.
pub fn record(serial: &str, reading: WallTime) -> CaptureRecord {
    CaptureRecord {
        clock_local: Some(reading),
        clock_source: Some(ClockTag::Original),
        make: Some("Nocturne".into()),
        serial: Some(serial.into()),
        exposure_s: Some(15.0),
        focal_mm: Some(20.0),
        ..CaptureRecord::default()
    }
}

/// Brings frames in, as an ingest does; their names are numbered from `first` on.
pub fn ingest(catalogue: &mut Catalogue, site: i64, first: usize, records: &[CaptureRecord]) {
    let mut batch = catalogue.batch().unwrap();
    let seen = Utc::parse("2025-01-01T00:00:00Z").unwrap();
    let dump = batch.ensure_dump(Path::new("/laws"), seen).unwrap();
    let folder = batch
        .ensure_folder(dump.dump_id, Path::new("DCIM"))
        .unwrap();
    let mut deriver = Deriver::new(&batch).unwrap();
    for (i, record) in records.iter().enumerate() {
        let file = FileReading {
            format: "dng",
            record: record.clone(),
            health: Health::Sound,
            fingerprint: None,
            thumbnail: None,
            preview: None,
            findings: Vec::new(),
            bytes_read: 0,
        };
        let camera = batch.ensure_camera(record).unwrap();
        let name = format!("L_{:04}.DNG", first + i);
        let new = NewFile {
            folder_id: folder,
            name: name.as_ref(),
            bytes: 1,
            modified_ns: 0,
            reading: &file,
        };
        let frame_id = batch.add_frame(camera, new).unwrap();
        batch.state_place(frame_id, site).unwrap();
        batch.mark_frames_pending(&[frame_id]).unwrap();
    }
    deriver.mark_read_otherwise(&batch).unwrap();
    batch.commit().unwrap();
    derive_and_group(catalogue, deriver);
}

/// Derives the frames that have come in, and groups them: the end of an ingest.
pub fn derive_and_group(catalogue: &mut Catalogue, mut deriver: Deriver) {
    let never = AtomicBool::new(false);
    derive_pending(
        catalogue,
        &mut deriver,
        &never,
        &mut |_, _| {},
        &mut |_, _| {},
    )
    .unwrap();
    regroup(catalogue, &deriver.touched, None).unwrap();
}

/// Whether the numbers of sessions are compared; they are given in the order in which sessions are found.
#[derive(Clone, Copy, PartialEq)]
pub enum Numbers {
    Compared,
    LeftOut,
}

/// Every derived row, frames known by the names of their files.
pub fn derived(path: &Path, numbers: Numbers) -> Vec<String> {
    let session = match numbers {
        Numbers::Compared => "session, seq",
        Numbers::LeftOut => "seq",
    };
    let mut sql = vec![
        format!(
            "SELECT file, start_utc, mid_utc, end_utc, time_basis, time_error_s, night, kind, {session} FROM frame ORDER BY 1"
        ),
        "SELECT name, sun_alt, moon_alt, moon_az, moon_lit_ppm, lst, solar_lon, code, (SELECT code FROM derived_shower WHERE shower_id = main_shower_id), showers FROM derived_sky AS sky JOIN written_file USING (frame_id) LEFT JOIN derived_active USING (active_id) LEFT JOIN derived_shower USING (shower_id) ORDER BY 1".to_owned(),
        "SELECT code, name, stood, seen, moon_sep, rates FROM derived_radiant JOIN written_file USING (frame_id) JOIN derived_shower USING (shower_id) ORDER BY 1, 2".to_owned(),
        "SELECT name, code, saw, did FROM derived_finding JOIN written_file USING (frame_id) ORDER BY 1, 2".to_owned(),
    ];
    if numbers == Numbers::Compared {
        sql.push("SELECT * FROM derived_session ORDER BY 1".to_owned());
    }
    sql.iter().flat_map(|sql| rows(path, sql)).collect()
}

/// The rows of a query, each as a text.
pub fn rows(path: &Path, sql: &str) -> Vec<String> {
    let db = rusqlite::Connection::open(path).unwrap();
    let mut statement = db.prepare(sql).unwrap();
    let columns = statement.column_count();
    let found = statement
        .query_map([], |row| {
            let cells: rusqlite::Result<Vec<rusqlite::types::Value>> =
                (0..columns).map(|i| row.get(i)).collect();
            Ok(format!("{:?}", cells?))
        })
        .unwrap();
    found.map(Result::unwrap).collect()
}
