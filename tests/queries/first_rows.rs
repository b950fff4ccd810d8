//! The first frames under a radiant come before all of them are found and sorted, and are the same frames: by the days
//! that an ingest notes, and by those that a catalogue of before is given.
#![allow(clippy::unwrap_used)] // Tests may panic.

use crate::archive;
use std::collections::BTreeSet;
use std::fs;

use framefall::catalogue::explain::Served;
use framefall::catalogue::explain::Step;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::migrations::MIGRATIONS;
use framefall::catalogue::purpose::Purpose;
use framefall::catalogue::select::Ask;
use framefall::catalogue::select::Detail;
use framefall::catalogue::select::Order;
use framefall::terms::records::Cell;
use framefall::usecase::listings::answers;
use framefall::usecase::listings::frames::compile;
use rusqlite::Connection;

/// Frames of a few nights, years apart.
const FRAMES: usize = 3_000;

/// What a question is asked with, and its rows.
fn rows(catalogue: &Catalogue, query: &str, order: &[Order], limit: Option<u64>) -> Vec<Vec<Cell>> {
    let query = &compile(query).unwrap().tree;
    let ask = Ask {
        query,
        columns: &answers::columns("path,start").unwrap(),
        detail: Detail::Columns,
        order,
        limit,
    };
    let mut rows = Vec::new();
    let each = |row: framefall::terms::records::FrameRow| {
        rows.push(row.cells);
        Ok(true)
    };
    catalogue.fetch(&ask, each).unwrap();
    rows
}

/// Asks for frames under radiants: they come as when all of them are found and sorted, wherever they are cut.
fn come_in_order(catalogue: &Catalogue) {
    // A query with another order is answered by sorting all rows.
    let by_start = answers::order("start").unwrap();
    let (mut most, mut none) = (0, 0);
    let mut asked: Vec<String> = [
        "QUA.alt > 30 or PER.alt > 30",
        "moon.alt < 5 and (GEM.alt > 20 or CAP.alt > 10 or QUA.alt > 60)",
        "(PER.alt > 40 or SDA.az in 90..270) and not (moon.lit > 0.5 or iso > 3200)",
        "shower = PER",
        "shower = ANT and radiant.alt > 20",
        "shower in (QUA, CAP) and camera like '*K2*'",
        "(shower = GEM or PER.alt > 50) and night in 2010..2030",
        "QUA.alt > -90 and start > 2014-01-03T23:00Z",
        "(QUA.alt > -90 or GEM.alt > 0) and start in 2014-01-03T23:30Z..2014-01-04T02:00Z",
        "(QUA.alt > -90 or GEM.alt > 0) and start < 2014-01-04 and moon.alt < 40",
    ]
    .map(str::to_owned)
    .to_vec();
    for shower in ["QUA", "PER", "CAP", "SDA", "ANT", "GEM"] {
        for words in [
            "alt > 30",
            "alt > -90 and moon.alt < 0",
            "alt > 30 and iso > 3200",
            "alt > 75",
            "alt > 89.9",
        ] {
            asked.push(format!("{shower}.{words}"));
        }
    }
    for query in asked {
        let sorted = rows(catalogue, &query, &by_start, None);
        most = most.max(sorted.len());
        none += usize::from(sorted.is_empty());
        assert_eq!(rows(catalogue, &query, &[], None), sorted, "{query}");
        for few in [0, 1, 63, 64, 65, 400] {
            let cut = &sorted[..sorted.len().min(few)];
            let limit = Some(few as u64);
            assert_eq!(rows(catalogue, &query, &[], limit), cut, "{query}, {few}");
        }
    }
    assert!(most > 500 && none > 0, "{most} rows, {none} without any");
}

#[test]
fn frames_under_a_radiant_come_in_the_order_of_their_starts_wherever_they_are_cut() {
    come_in_order(&Catalogue::open(&archive::archive(FRAMES), Purpose::Read).unwrap());
}

#[test]
fn so_do_frames_whose_numbers_lie_far_apart() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    fs::copy(archive::archive(FRAMES), &path).unwrap();
    // Of ten frames nine are moved behind all others.
    let db = Connection::open(&path).unwrap();
    let moved =
        "UPDATE derived_time SET start_ms = start_ms + 1000000000000 WHERE frame_id % 10 <> 0";
    assert!(db.execute(moved, []).unwrap() > FRAMES / 2);
    drop(db);
    let catalogue = Catalogue::open(&path, Purpose::Read).unwrap();
    come_in_order(&catalogue);
}

#[test]
fn the_first_are_looked_for_on_a_showers_first_days_and_the_others_among_its_radiants() {
    let catalogue = Catalogue::open(&archive::archive(FRAMES), Purpose::Read).unwrap();
    let explained = |query: &str, order: &[Order]| {
        let ask = Ask {
            query: &compile(query).unwrap().tree,
            columns: &answers::columns("file,start").unwrap(),
            detail: Detail::Columns,
            order,
            limit: None,
        };
        let told = catalogue.explain(&ask).unwrap();
        // Rows that were found already do not count as a table scan.
        let walks = |step: &Step| step.served == Served::EveryRow;
        assert!(!told.steps.iter().any(walks), "{query}: {:?}", told.steps);
        assert_eq!(told.sql.matches('?').count(), told.values.len(), "{query}");
        told.sql
    };
    let sql = explained("QUA.alt > 30 and moon.alt < 0", &[]);
    let (opening, rest) = sql.rsplit_once(";\n").unwrap();
    assert!(
        opening.contains("INDEXED BY derived_time_start") && opening.contains("time.start_ms <")
    );
    assert!(rest.contains("FROM derived_radiant AS r_QUA") && rest.contains("time.start_ms >="));
    for union in ["QUA.alt > 30 or PER.alt > 30", "shower = QUA"] {
        let sql = explained(union, &[]);
        let (opening, rest) = sql.rsplit_once(";\n").unwrap();
        assert!(opening.contains("INDEXED BY derived_time_start"), "{sql}");
        assert!(
            rest.contains(") AS hit") && rest.contains("time.start_ms >="),
            "{sql}"
        );
    }
    // Where another order is asked for, or the words lead elsewhere, there is one SELECT.
    let by_start = answers::order("start").unwrap();
    assert!(!explained("QUA.alt > 30", &by_start).contains(";\n"));
    assert!(!explained("QUA.alt > 30 and night in 2010..2020", &[]).contains(";\n"));
    assert!(!explained("QUA.alt > 30 and start < 2010", &[]).contains(";\n"));
    assert!(explained("QUA.alt > 30 and start > 2010", &[]).contains(";\n"));
    assert!(!explained("QUA.alt > 30 and night = 2014-01-03", &[]).contains(";\n"));
}

#[test]
fn frames_without_a_place_are_not_missed_before_the_first_days() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    fs::copy(archive::archive(FRAMES), &path).unwrap();
    // A frame under the shower that has lost its place comes long before all others.
    let db = Connection::open(&path).unwrap();
    let changed: usize = [
        "CREATE TEMP TABLE one AS SELECT frame_id FROM derived_radiant
         WHERE shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'QUA') LIMIT 1",
        "UPDATE derived_sky SET active_id = NULL, shower_id = (SELECT shower_id FROM derived_shower WHERE code = 'QUA')
         WHERE frame_id IN one",
        "DELETE FROM derived_radiant WHERE frame_id IN one",
        "UPDATE derived_time SET start_ms = 86400000 WHERE frame_id IN one",
    ]
    .map(|sql| db.execute(sql, []).unwrap())
    .iter()
    .sum();
    assert!(changed > 2);
    drop(db);
    let catalogue = Catalogue::open(&path, Purpose::Read).unwrap();
    let by_start = answers::order("start").unwrap();
    for query in [
        "shower = QUA",
        "shower = QUA or ANT.alt > -90",
        "QUA.alt > -90 or ANT.alt > -90",
    ] {
        let sorted = rows(&catalogue, query, &by_start, None);
        assert_eq!(rows(&catalogue, query, &[], None), sorted, "{query}");
        assert_eq!(
            rows(&catalogue, query, &[], Some(3)),
            sorted[..3],
            "{query}"
        );
    }
    let first = &rows(&catalogue, "shower = QUA", &[], Some(1))[0][1];
    assert_eq!(*first, Cell::Text("1970-01-02T00:00:00.000Z".to_owned()));
}

/// Pairs of numbers.
fn pairs(db: &Connection, sql: &str) -> BTreeSet<(i64, i64)> {
    let mut read = db.prepare(sql).unwrap();
    let rows = read
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap();
    rows.collect::<Result<_, _>>().unwrap()
}

fn noted(db: &Connection) -> BTreeSet<(i64, i64)> {
    pairs(db, "SELECT day, active_id FROM derived_day")
}

/// Days and sets of showers, computed from the frames.
fn borne_out(db: &Connection) -> BTreeSet<(i64, i64)> {
    let frames = "SELECT start_ms, active_id FROM derived_time JOIN derived_sky USING (frame_id)
                  WHERE start_ms IS NOT NULL AND active_id IS NOT NULL";
    pairs(db, frames)
        .into_iter()
        .map(|(ms, active)| (ms.div_euclid(86_400_000), active))
        .collect()
}

#[test]
fn a_catalogue_of_before_is_given_its_days() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    fs::copy(archive::archive(FRAMES), &path).unwrap();
    // Frames are put around the first moment of 1970 too, where a division rounds the other way.
    Connection::open(&path)
        .unwrap()
        .execute_batch(
            "UPDATE derived_time SET start_ms = (frame_id % 5 - 2) * 43200000 - frame_id % 2 WHERE frame_id % 7 = 0;
             DROP TABLE derived_day",
        )
        .unwrap();
    let (_, days_noted) = MIGRATIONS
        .iter()
        .find(|(name, _)| *name == "0012_days")
        .unwrap();
    let db = Connection::open(&path).unwrap();
    db.execute_batch(days_noted).unwrap();
    let days: BTreeSet<i64> = noted(&db).into_iter().map(|(day, _)| day).collect();
    assert!(
        days.is_superset(&BTreeSet::from([-2, -1, 0, 1])),
        "{days:?}"
    );
    assert_eq!(noted(&db), borne_out(&db));
}

#[test]
fn an_ingest_notes_every_day_that_its_frames_bear_out() {
    let db = Connection::open(archive::archive(FRAMES)).unwrap();
    assert!(borne_out(&db).len() > 1);
    assert!(noted(&db).is_superset(&borne_out(&db)));
}
