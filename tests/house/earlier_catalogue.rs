//! A catalogue from before the tables were made smaller gives the same answers after its upgrade.
#![allow(clippy::unwrap_used)] // Tests may panic.

use std::path::Path;
use std::process::Command;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::make::WHOLE;
use framefall::catalogue::migrations::MIGRATIONS;
use framefall::catalogue::purpose::Purpose;
use framefall::terms::picture::Look;
use rusqlite::Connection;
use rusqlite::params;
use rusqlite::types::Value;

mod asked;

use self::asked::ASKED;
use self::asked::ASKED_OF_SKY;

/// The last version whose radiants have their shower's code.
const BEFORE: usize = 12;

/// Frames of that version: with and without each thing that has its new form. Numbers leave gaps for second files.
const FRAMES: i64 = 60;

fn earlier(path: &Path, frames: i64) -> Connection {
    let db = Connection::open(path).unwrap();
    db.pragma_update(None, "foreign_keys", true).unwrap();
    db.execute_batch("BEGIN").unwrap();
    for (_, sql) in &MIGRATIONS[..BEFORE] {
        db.execute_batch(sql).unwrap();
    }
    db.execute_batch(
        "INSERT INTO written_dump (dump_id, label, root, first_seen_utc, last_seen_utc) VALUES (1, 'a', '/cards/a', 'x', 'x');
         INSERT INTO written_folder (folder_id, dump_id, path) VALUES (1, 1, 'DCIM/100NIGHT');
         INSERT INTO stated_site (site_id, name, lat_deg, lon_deg, elev_m, origin)
         VALUES (1, 'Upper Fell', 54, -3, 300, 'stated'), (2, 'Dry Lake', 36, -117, 10, 'stated');
         INSERT INTO derived_active (active_id, showers) VALUES (1, 'GEM'), (2, 'ANT GEM MON');
         INSERT INTO derived_maker (maker_id, program, shower_table) VALUES (1, 'p', 's');
         INSERT INTO derived_evidence (evidence_id, words) VALUES (1, 'a cover over the lens');
         INSERT INTO derived_session (session_id, night, frames, missing) VALUES (3, '2018-12-13', 0, 0), (5, '2018-12-14', 0, 0);
         INSERT INTO derived_session (session_id, night, frames, missing) VALUES (9, '1969-12-30', 0, 0);",
    )
    .unwrap();
    for frame in (1..=frames).map(|n| n * 2) {
        fill(&db, frame).unwrap();
    }
    db.execute_batch("COMMIT").unwrap();
    db.pragma_update(None, "user_version", i64::try_from(BEFORE).unwrap())
        .unwrap();
    db.pragma_update(
        None,
        "application_id",
        framefall::catalogue::migrations::APPLICATION_ID,
    )
    .unwrap();
    db
}

fn fill(db: &Connection, frame: i64) -> rusqlite::Result<()> {
    let nth = frame / 2;
    let pick = |list: &[&str], every: i64| -> Option<String> {
        let at = usize::try_from(nth).unwrap();
        (nth % every != 0).then(|| list[at % list.len()].to_owned())
    };
    db.execute(
        "INSERT INTO written_frame (frame_id, first_file_id, clock_s, clock_fraction, utc_offset, exposure_s, f_number, iso,
           temperature_c, gps_lat_deg) VALUES (?1, ?1, ?2, ?3, ?4, 15.5, ?5, 1600, 21.0, ?6)",
        params![
            frame,
            (nth % 9 != 0).then_some(1_544_736_000 + nth),
            pick(&["25", "5"], 3),
            pick(&["+01:00", "-04:30", "-00:30", "+05:45:30", "+00:00"], 4),
            [Some(1.4), Some(2.8), Some(0.95), None, Some(11.0), Some(1.8)][usize::try_from(nth % 6).unwrap()],
            (nth % 5 == 0).then_some(36.25),
        ],
    )?;
    for (file, format) in [(frame, "nef"), (frame + 1, "jpeg")] {
        if file != frame && nth % 3 != 0 {
            continue;
        }
        let format = if nth == 7 { "unknown" } else { format };
        db.execute(
            "INSERT INTO written_file (file_id, folder_id, name, frame_id, format, bytes, modified_ns, fingerprint, undated,
               health_no, preview_bytes) VALUES (?1, 1, 'N' || ?1, ?2, ?3, 1000 + ?1, ?4, ?5, 0, ?1 % 4, 77)",
            params![
                file,
                frame,
                format,
                1_544_736_000_000_000_000 + nth * 50_000_001 * (nth % 2) - (nth % 7) * 400_000_000_000_000_000,
                (nth % 61 - 30) * 0x0123_4567_89ab_cdef / 31,
            ],
        )?;
        db.execute(
            "INSERT INTO written_finding (file_id, code, saw, did) VALUES (?1, 'c', 's', 'd')",
            [file],
        )?;
        db.execute(
            "INSERT INTO written_content (file_id, bytes, modified_ns, blake3, taken_utc) VALUES (?1, 1, 1, zeroblob(32),
               '2024-02-03T04:05:06.789Z')",
            [file],
        )?;
    }
    // Runs of one site, of the other, and gaps between.
    if nth % 11 != 0 {
        db.execute(
            "INSERT INTO stated_place (frame_id, site_id) VALUES (?1, ?2)",
            [frame, 1 + i64::from(nth % 20 > 12)],
        )?;
    }
    let session = [Some(3), Some(5), None][usize::try_from(nth % 3).unwrap()];
    db.execute(
        "INSERT INTO derived_time (frame_id, start_ms, time_basis_no, time_error_ms, site_id, lat_deg, place_basis_no, night_day,
           session_id, seq, kind_no, maker_id, evidence_id, turn)
         VALUES (?1, ?2, 1, 500, 1, ?3, 2, ?4, ?5, ?6, ?6 % 5, 1, ?7, ?8)",
        params![
            frame,
            (nth % 8 != 0).then_some(1_544_736_000_000 + nth),
            (nth % 5 == 0).then_some(36.25),
            (nth % 10 != 0).then_some(17_878 + nth % 3),
            session,
            nth,
            (nth % 4 == 0).then_some(1),
            nth * 1_000 - 30_000,
        ],
    )?;
    let active = [Some(1), Some(2), None][usize::try_from(nth % 3).unwrap()];
    db.execute(
        "INSERT INTO derived_sky (frame_id, sun_alt, moon_alt, moon_az, moon_lit_ppm, lst, solar_lon, shower, active_id)
         VALUES (?1, -?1 * 30000, ?1 - 60, -?1, 5, 6, 7, ?2, ?3)",
        params![frame, pick(&["GEM", "URS", "GEM"], 10), active],
    )?;
    let codes: &[&str] = match active {
        Some(1) => &["GEM"],
        Some(_) => &["ANT", "GEM", "MON"],
        None => &[],
    };
    for (at, code) in (1_i64..).zip(codes) {
        let az = (nth * 431_999 + at) % 12_960_000 - 6_480_000;
        db.execute(
            "INSERT INTO derived_radiant (shower, frame_id, alt, az, seen_alt, seen_az, moon_sep, rate_milli)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            params![code, frame, nth * 107_000 - 3_240_000, az, 3_240_000 - nth, -az, nth, nth * 999],
        )?;
    }
    Ok(())
}

fn rows(db: &Connection, sql: &str) -> Vec<Vec<Value>> {
    let mut statement = db.prepare(sql).unwrap();
    let columns = statement.column_count();
    statement
        .query_map([], |row| (0..columns).map(|at| row.get(at)).collect())
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap()
}

#[test]
fn a_catalogue_of_before_says_the_same_in_less_room() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    let db = earlier(&path, FRAMES);
    let before: Vec<_> = ASKED.iter().map(|(sql, _)| rows(&db, sql)).collect();
    drop(db);
    drop(Catalogue::open(&path, Purpose::ChangeOrMake).unwrap());

    let db = Connection::open(&path).unwrap();
    for ((sql, now), before) in ASKED.iter().zip(before) {
        let now = rows(&db, if now.is_empty() { sql } else { now });
        assert!(before.len() >= 60, "{} rows: {sql}", before.len());
        for (now, before) in now.iter().zip(&before) {
            assert_eq!(now, before, "{sql}");
        }
        assert_eq!(now.len(), before.len(), "{sql}");
    }
    for check in ["PRAGMA foreign_key_check", "PRAGMA integrity_check"] {
        let odd: Vec<_> = rows(&db, check)
            .into_iter()
            .filter(|row| row != &[Value::Text("ok".to_owned())])
            .collect();
        assert!(odd.is_empty(), "{check}: {odd:?}");
    }
    let runs: i64 = db
        .query_row("SELECT count(*) FROM stated_place", [], |row| row.get(0))
        .unwrap();
    // Frames 1 to 60 without every eleventh, the second site from 13 to 19 of each twenty.
    assert_eq!(runs, 11);
}

#[test]
fn smaller_rows_of_the_sky_say_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let db = earlier(&folder.path().join("catalogue.sqlite"), FRAMES);
    db.pragma_update(None, "foreign_keys", false).unwrap();
    let asked = |now: fn(&(&'static str, &'static str)) -> &'static str| -> Vec<_> {
        ASKED_OF_SKY
            .iter()
            .map(|pair| rows(&db, now(pair)))
            .collect()
    };
    let before = asked(|(sql, _)| sql);
    db.execute_batch(MIGRATIONS[BEFORE].1).unwrap();
    let now = asked(|(sql, now)| if now.is_empty() { sql } else { now });
    assert!(before.iter().all(|rows| rows.len() >= 60));
    assert_eq!(now, before);
}

/// Rows that a migration dropped are missed by every answer, and a rebuild makes them all: no row of an earlier shower table
/// stays.
#[test]
fn the_sky_of_an_earlier_shower_table_is_missed_and_computed_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    drop(earlier(&path, FRAMES));
    let run = |words: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_framefall"))
            .args(words)
            .env("FRAMEFALL_CATALOGUE", &path)
            .output()
            .unwrap();
        // 1: an answer without rows.
        assert!(output.status.code() < Some(2), "{words:?}: {output:?}");
        (
            String::from_utf8(output.stdout).unwrap(),
            String::from_utf8(output.stderr).unwrap(),
        )
    };
    // The first answer does not wait for the sky; a message says that it is missing.
    let first = run(&["frames", "GEM.alt is known or sun.alt is known", "--count"]);
    assert_eq!(first.0.trim(), "0");
    for told in [
        "shower table s and formulas 1",
        "rows of some frames are missing",
        "framefall rebuild",
    ] {
        assert_eq!(first.1.matches(told).count(), 1, "{told}: {}", first.1);
    }
    run(&["rebuild"]);
    let db = Connection::open(&path).unwrap();
    let editions = rows(&db, "SELECT DISTINCT shower_table FROM derived_maker");
    assert_eq!(editions, [[Value::Text("2025-2".to_owned())]]);
    let sky = "SELECT frame_id, sun_alt_deg, moon_alt_deg, solar_lon_deg, shower_id, main_shower_id FROM derived_sky ORDER BY 1";
    let radiants = "SELECT code, frame_id, alt_deg, rate, seen_rate FROM derived_radiant JOIN derived_shower USING (shower_id) ORDER BY 1, 2";
    let (skies, stood) = (rows(&db, sky), rows(&db, radiants));
    // Of 60 frames every ninth has no reading, every fourth no offset; all others are dated.
    assert_eq!(skies.len(), 60 - 6 - 15 + 1);
    let odd = rows(&db, "PRAGMA foreign_key_check");
    assert!(odd.is_empty(), "{odd:?}");
    let whole = run(&["frames", "GEM.alt is known", "--count"]);
    // Of those every eleventh is at no site.
    assert_eq!(whole, ("36\n".to_owned(), String::new()));

    // The second rebuild has nothing to change.
    run(&["rebuild"]);
    assert_eq!(
        (rows(&db, sky), rows(&db, radiants)),
        (skies.clone(), stood.clone())
    );

    // Rows of another edition, some of them changed and some missing, are written over.
    db.execute_batch(
        "UPDATE derived_maker SET shower_table = '2024-9';
         UPDATE derived_radiant SET rates = 7, stood = 7;
         UPDATE derived_sky SET shower_id = NULL, main_shower_id = NULL WHERE frame_id < 40;
         DELETE FROM derived_radiant WHERE frame_id > 100;",
    )
    .unwrap();
    let third = run(&["sessions"]);
    assert!(third.1.contains("shower table 2024-9"), "{}", third.1);
    run(&["rebuild"]);
    assert_eq!(rows(&db, sky), skies);
    assert_eq!(rows(&db, radiants), stood);
}

#[test]
fn a_catalogue_of_before_comes_to_the_schema_of_a_new_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    drop(earlier(&path, FRAMES));
    drop(Catalogue::open(&path, Purpose::ChangeOrMake).unwrap());
    let new = Connection::open_in_memory().unwrap();
    new.execute_batch(WHOLE).unwrap();
    let schema = "SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite\\_stat%' ESCAPE '\\' ORDER BY 1, 2";
    assert_eq!(
        rows(&Connection::open(path).unwrap(), schema),
        rows(&new, schema)
    );
}

#[test]
fn a_catalogue_of_before_gives_the_room_of_its_old_tables_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    // Enough frames that the pages of tables that are new and empty do not count.
    drop(earlier(&path, 8_000));
    let before = std::fs::metadata(&path).unwrap().len();
    drop(Catalogue::open(&path, Purpose::ChangeOrMake).unwrap());
    let empty: i64 = Connection::open(&path)
        .unwrap()
        .pragma_query_value(None, "freelist_count", |row| row.get(0))
        .unwrap();
    assert_eq!(empty, 0);
    let after = std::fs::metadata(&path).unwrap().len();
    assert!(after < before, "{before} bytes became {after}");
}

#[test]
fn opened_again_a_catalogue_holds_its_foreign_keys() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    drop(earlier(&path, FRAMES));
    let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
    let batch = catalogue.batch().unwrap();
    assert!(
        batch.restate_place(2, 99).is_err(),
        "there is no site of that number"
    );
}

/// Pictures of dumps that are away cannot be looked at again.
#[test]
fn what_earlier_versions_measured_of_pictures_is_carried_over() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    let db = earlier(&path, FRAMES);
    db.execute_batch(
        "INSERT INTO derived_look (frame_id, median, spread, glint)
         VALUES (2, 0.02, 0.01, 0), (64, 0.4, 0.5, 0.01), (66, 0.9, 1, 0)",
    )
    .unwrap();
    drop(db);
    drop(Catalogue::open(&path, Purpose::ChangeOrMake).unwrap());

    let db = Connection::open(&path).unwrap();
    let of = |frame: i64| {
        let sql =
            "SELECT substr(looks, ?1 % 32 * 6 + 1, 6) FROM measured_look WHERE block = ?1 / 32";
        let six: Vec<u8> = db.query_row(sql, [frame], |row| row.get(0)).unwrap();
        let number = six.iter().fold(0, |sum, byte| sum << 8 | i64::from(*byte));
        (number != 0).then(|| Look::unpacked(number))
    };
    assert_eq!(of(4), None, "it was never looked at");
    // Levels, the darkest parts, bright points, and the spread as unevenness; nothing was known of the lens's shading.
    for (frame, level, floor, stars, uneven_stops) in [
        (2, 0.02, 0.015, 0.0, 0.0),
        (64, 0.4, 0.15, 16.0, 0.125),
        (66, 0.9, 63.0 / 255.0, 0.0, 0.25),
    ] {
        let look = of(frame).unwrap();
        assert!((look.level - level).abs() < 0.001, "{look:?}");
        assert!((look.floor - floor).abs() < 0.002, "{look:?}");
        assert!((look.stars - stars).abs() < 0.01, "{look:?}");
        assert!((look.uneven_stops - uneven_stops).abs() < 0.011, "{look:?}");
        assert_eq!((look.falloff_stops, look.tilt_stops), (0.0, 0.0));
        assert_eq!(look.measures, 0, "an edition that is measured again");
    }
}
