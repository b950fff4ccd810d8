//! Counts for each value of a key are those of the frames themselves, frames without a value included, whatever index
//! serves them.
#![allow(clippy::unwrap_used)] // Tests may panic.

use crate::archive;
use std::collections::BTreeMap;
use std::fs;

use framefall::catalogue::count::Per;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::catalogue::select::Ask;
use framefall::catalogue::select::Detail;
use framefall::terms::records::Cell;
use framefall::usecase::listings::answers;
use framefall::usecase::listings::frames::compile;
use rusqlite::Connection;

/// The values of a column over the frames of a query, each with its count; unknown values last.
fn counted(catalogue: &Catalogue, query: &str, column: &str) -> Vec<(Cell, i64)> {
    let mut known: BTreeMap<(String, i64), (Cell, i64)> = BTreeMap::new();
    let mut unknown = 0;
    let ask = Ask {
        query: &compile(query).unwrap().tree,
        columns: &answers::columns(column).unwrap(),
        detail: Detail::Columns,
        order: &[],
        limit: None,
    };
    let each = |row: framefall::terms::records::FrameRow| {
        let key = match &row.cells[0] {
            Cell::Text(text) => (text.clone(), 0),
            Cell::Whole(whole) => (String::new(), *whole),
            _ => {
                unknown += 1;
                return Ok(true);
            }
        };
        let cell = row.cells[0].clone();
        known.entry(key).or_insert((cell, 0)).1 += 1;
        Ok(true)
    };
    catalogue.fetch(&ask, each).unwrap();
    let mut rows: Vec<(Cell, i64)> = known.into_values().collect();
    rows.extend((unknown > 0).then_some((Cell::Unknown, unknown)));
    rows
}

#[test]
fn counts_are_those_of_the_frames() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    fs::copy(archive::archive(3_000), &path).unwrap();
    // Frames that lack one thing or another, and a body of the same name as another.
    Connection::open(&path)
        .unwrap()
        .execute_batch(
            "UPDATE derived_time SET session_id = NULL WHERE frame_id % 11 = 0;
             UPDATE derived_time SET session_id = NULL, night_day = NULL WHERE frame_id % 13 = 0;
             UPDATE derived_time SET site_id = NULL WHERE frame_id % 17 = 0;
             UPDATE written_frame SET camera_id = NULL WHERE frame_id % 19 = 0;
             DELETE FROM derived_sky WHERE frame_id % 23 = 0;
             DELETE FROM derived_radiant WHERE frame_id % 23 = 0;
             UPDATE derived_sky SET active_id = NULL WHERE frame_id % 31 = 0;
             DELETE FROM derived_radiant WHERE frame_id % 31 = 0;
             INSERT INTO written_camera (make, model, serial, name) SELECT 'another', model, serial, name FROM written_camera;
             UPDATE written_frame SET camera_id = (SELECT max(camera_id) FROM written_camera) WHERE frame_id % 29 = 0",
        )
        .unwrap();
    let catalogue = Catalogue::open(&path, Purpose::Read).unwrap();
    for query in [
        "",
        "iso > 0",
        "moon.alt < 0",
        "kind = dark",
        "night is unknown",
        "iso > 1e9",
    ] {
        let asked = &compile(query).unwrap().tree;
        for (per, column) in [
            (Per::Session, "session"),
            (Per::Night, "night"),
            (Per::Site, "site"),
            (Per::Camera, "camera"),
        ] {
            let counts = catalogue.count_per(asked, per).unwrap();
            assert_eq!(
                counts,
                counted(&catalogue, query, column),
                "{query} per {column}"
            );
        }
        let years = catalogue.count_per(asked, Per::Year).unwrap();
        let sum = |counts: &[(Cell, i64)]| counts.iter().map(|(_, frames)| frames).sum::<i64>();
        let nights = counted(&catalogue, query, "night");
        assert_eq!(sum(&years), sum(&nights), "{query}");
        assert_eq!(
            years.last().filter(|(key, _)| *key == Cell::Unknown),
            nights.last().filter(|(key, _)| *key == Cell::Unknown),
            "{query}"
        );
        for (shower, frames) in catalogue.count_per(asked, Per::Shower).unwrap() {
            let asked = match &shower {
                Cell::Text(code) => format!("shower = {code}"),
                _ => "shower is unknown".to_owned(),
            };
            let both = if query.is_empty() {
                asked
            } else {
                format!("{query} and {asked}")
            };
            let expected = catalogue.count(&compile(&both).unwrap().tree).unwrap();
            assert_eq!(frames.unsigned_abs(), expected, "{both}");
        }
    }
}

/// A session is searched for in its night; the result is the frames with its number, and no others of the night.
#[test]
fn questions_of_sessions_find_the_frames_that_bear_their_numbers() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    fs::copy(archive::archive(3_000), &path).unwrap();
    let db = Connection::open(&path).unwrap();
    // Another session in the night of the first, and frames of no session there.
    db.execute_batch(
        "INSERT INTO derived_session (session_id, camera_id, night_day, frames, missing)
         SELECT 9, camera_id, night_day, 0, 0 FROM derived_session WHERE session_id = 1;
         UPDATE derived_time SET session_id = 9 WHERE session_id = 1 AND frame_id % 3 = 0;
         UPDATE derived_time SET session_id = NULL WHERE frame_id % 11 = 0",
    )
    .unwrap();
    let catalogue = Catalogue::open(&path, Purpose::Read).unwrap();
    for (query, plain) in [
        ("session = 1", "session_id = 1"),
        ("session = 9 and iso > 0", "session_id = 9"),
        ("session in (2, 9)", "session_id IN (2, 9)"),
        ("session in 1..2", "session_id BETWEEN 1 AND 2"),
        ("session > 2", "session_id > 2"),
        ("session != 2", "session_id <> 2"),
        ("not session = 2", "session_id <> 2"),
        ("session = 1 or session = 2", "session_id IN (1, 2)"),
        ("session is known", "session_id IS NOT NULL"),
        ("session is unknown", "session_id IS NULL"),
        ("session = 999", "session_id = 999"),
    ] {
        let expect: i64 = db
            .query_row(
                &format!("SELECT count(*) FROM derived_time WHERE {plain}"),
                [],
                |row| row.get(0),
            )
            .unwrap();
        let found: i64 = counted(&catalogue, query, "session")
            .iter()
            .map(|(_, frames)| frames)
            .sum();
        assert_eq!(found, expect, "{query}");
    }
}
