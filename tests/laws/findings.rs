//! What is odd about a frame's time and place comes out of the catalogue as it was found, whether it is kept there or told
//! from the frame's row.

#![allow(clippy::unwrap_used)] // Tests may panic.

use std::collections::BTreeMap;
use std::path::Path;

use framefall::catalogue::file_rows::NewFile;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::migrations::MIGRATIONS;
use framefall::catalogue::purpose::Purpose;
use framefall::clock::fix::BodyClock;
use framefall::placing::book::SiteBook;
use framefall::placing::place::assign_site;
use framefall::placing::place::date_frame;
use framefall::placing::place::place_frame;
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
use rusqlite::Connection;

/// Code, what was found, how it was handled.
type Odd = (String, String, String);

fn rome() -> Site {
    Site {
        id: 0,
        name: "Colle".into(),
        place: Place::new(41.9, 12.5, 300.0).unwrap(),
        zone: Some("Europe/Rome".into()),
        origin: SiteOrigin::Stated,
        brightness: None,
    }
}

/// Readings of every kind, with and without each thing that may help to read them; and whether the site is stated.
fn records() -> Vec<(CaptureRecord, bool)> {
    let mut all = Vec::new();
    // A plain one, one that Rome's clocks showed twice, one that they never showed, and none.
    for reading in [
        Some("2023-12-14T01:12:07.25"),
        Some("2024-10-27T02:31:10"),
        Some("2024-03-31T02:31:10"),
        None,
    ] {
        for offset in [None, Some(3_600)] {
            for body_zone in [None, Some(7_200)] {
                for stamp in [None, Some("2024-10-27T01:31:10Z")] {
                    for (stated, gps) in [(false, None), (true, None), (false, Some((41.9, 12.5)))]
                    {
                        let record = CaptureRecord {
                            clock_local: reading.and_then(WallTime::parse),
                            clock_source: reading.map(|_| ClockTag::Original),
                            utc_offset_s: offset,
                            body_zone_s: body_zone,
                            gps_utc: stamp.and_then(Utc::parse),
                            gps_lat_deg: gps.map(|g| g.0),
                            gps_lon_deg: gps.map(|g| g.1),
                            exposure_s: Some(15.0),
                            ..CaptureRecord::default()
                        };
                        all.push((record, stated));
                    }
                }
            }
        }
    }
    all
}

/// The codes that a frame must have, from docs/clocks.md alone: the offset that the body wrote, the body's zone setting and a
/// GPS stamp whole quarter-hours from the reading date a frame before the zone of its place does.
fn codes_by_rule(record: &CaptureRecord, stated: bool) -> Vec<&'static str> {
    let Some(reading) = record.clock_local.as_ref().map(ToString::to_string) else {
        return Vec::new();
    };
    let placed = stated || record.gps_lat_deg.is_some();
    let twice = reading.starts_with("2024-10-27T02:31:10");
    // The stamp is of the reading that Rome's clocks showed twice, an hour before it.
    let agrees = twice && record.gps_utc.is_some();
    let by_place = record.utc_offset_s.is_none() && record.body_zone_s.is_none() && !agrees;
    match (placed, by_place) {
        (false, true) => vec!["no-place", "no-zone"],
        (false, false) => vec!["no-place"],
        (true, true) if twice => vec!["clock-twice"],
        (true, true) if reading.starts_with("2024-03-31") => vec!["clock-never"],
        (true, _) => Vec::new(),
    }
}

fn told(catalogue: &Catalogue) -> BTreeMap<String, Vec<Odd>> {
    let mut told: BTreeMap<String, Vec<Odd>> = BTreeMap::new();
    catalogue
        .findings(|row| {
            told.entry(row.file)
                .or_default()
                .push((row.code, row.saw, row.did));
            Ok(())
        })
        .unwrap();
    told
}

#[test]
fn findings_come_out_as_they_were_found() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
    let site = catalogue.add_site(&rome()).unwrap();
    let book = SiteBook::new(vec![Site { id: site, ..rome() }]);
    let mut expected: BTreeMap<String, Vec<Odd>> = BTreeMap::new();
    let mut batch = catalogue.batch().unwrap();
    let seen = Utc::parse("2024-12-01T00:00:00Z").unwrap();
    let dump = batch.ensure_dump(Path::new("/laws"), seen).unwrap();
    let at = batch
        .ensure_folder(dump.dump_id, Path::new("DCIM"))
        .unwrap();
    let mut deriver = Deriver::new(&batch).unwrap();
    for (i, (record, stated)) in records().into_iter().enumerate() {
        let name = format!("L_{i:04}.DNG");
        let by_rule = codes_by_rule(&record, stated);
        let file = FileReading {
            format: "dng",
            record,
            health: Health::Sound,
            fingerprint: None,
            thumbnail: None,
            preview: None,
            findings: Vec::new(),
            bytes_read: 0,
        };
        let new = NewFile {
            folder_id: at,
            name: name.as_ref(),
            bytes: 1,
            modified_ns: 0,
            reading: &file,
        };
        let frame_id = batch.add_frame(None, new).unwrap();
        if stated {
            batch.state_place(frame_id, site).unwrap();
        }
        deriver.derive(&batch, &[frame_id], &mut |_, _| {}).unwrap();
        let evening = batch.evening_of(frame_id).unwrap().unwrap().evening;
        let facts = batch.evening_frames(evening).unwrap().facts;
        let facts = facts.iter().find(|f| f.frame_id == frame_id).unwrap();
        let assigned = assign_site(facts, &book);
        let time = date_frame(facts, None, &assigned, &book, &BodyClock::default(), None);
        let found = place_frame(facts, assigned, time, &book).findings;
        let mut codes: Vec<&str> = found.iter().map(|f| f.code).collect();
        codes.sort_unstable();
        assert_eq!(codes, by_rule, "{facts:?}");
        if !found.is_empty() {
            let mut words: Vec<Odd> = found
                .into_iter()
                .map(|f| (f.code.to_owned(), f.saw, f.did))
                .collect();
            words.sort();
            expected.insert(name, words);
        }
    }
    batch.commit().unwrap();
    assert_eq!(told(&catalogue), expected);
    drop(catalogue);

    // An earlier catalogue stores them all; they are listed once, too.
    let old = Connection::open(&path).unwrap();
    for code in ["no-zone", "no-place"] {
        old.execute(
            "INSERT INTO derived_finding (frame_id, code, saw, did) SELECT frame_id, ?, 'as kept', 'before' FROM derived_time",
            [code],
        )
        .unwrap();
    }
    let (_, sql) = MIGRATIONS
        .iter()
        .find(|(name, _)| *name == "0011_told")
        .unwrap();
    old.execute_batch(sql).unwrap();
    drop(old);
    let catalogue = Catalogue::open(&path, Purpose::Read).unwrap();
    assert_eq!(told(&catalogue), expected);
}
