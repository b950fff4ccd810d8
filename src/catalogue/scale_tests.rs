use super::*;
use crate::catalogue::open::MIGRATIONS;
use crate::terms::basis::Twilight;
use crate::terms::basis::Twilight::Astronomical;
use crate::terms::basis::Twilight::Civil;
use crate::terms::basis::Twilight::Day;
use crate::terms::basis::Twilight::Nautical;
use crate::terms::basis::Twilight::Night;
use rusqlite::Connection;

fn tables() -> Connection {
    let db = Connection::open_in_memory().unwrap();
    for (_, sql) in MIGRATIONS {
        db.execute_batch(sql).unwrap();
    }
    db.execute_batch("PRAGMA foreign_keys = OFF").unwrap();
    db
}

#[test]
fn every_word_comes_back_as_it_went_in() {
    let db = tables();
    let word = |sql: &str| -> Option<String> { db.query_row(sql, [], |row| row.get(0)).unwrap() };
    for basis in TimeBasis::ALL {
        let no = basis.number().unwrap();
        db.execute_batch(&format!(
            "REPLACE INTO derived_time (frame_id, time_basis_no, place_basis_no, maker_id) VALUES (1, {no}, 0, 1)"
        ))
        .unwrap();
        let came = word("SELECT time_basis FROM derived_time");
        assert_eq!(came.as_deref(), Some(basis.word()));
    }
    for basis in PlaceBasis::ALL {
        let no = basis.number().unwrap();
        db.execute_batch(&format!("UPDATE derived_time SET place_basis_no = {no}"))
            .unwrap();
        let came = word("SELECT place_basis FROM derived_time");
        assert_eq!(came.as_deref(), Some(basis.word()));
    }
    for kind in Kind::ALL {
        let no = kind.number().unwrap();
        db.execute_batch(&format!("UPDATE derived_time SET kind_no = {no}"))
            .unwrap();
        assert_eq!(
            word("SELECT kind FROM derived_time").as_deref(),
            Some(kind.word())
        );
    }
    for health in Health::ALL {
        let no = health.number().unwrap();
        db.execute_batch(&format!(
            "REPLACE INTO written_file (file_id, folder_id, name, frame_id, format, bytes, modified_ns, undated, health_no)
             VALUES (1, 1, 'a', 1, 'dng', 1, 1, 0, {no})"
        ))
        .unwrap();
        assert_eq!(
            word("SELECT health FROM written_file").as_deref(),
            Some(health.word())
        );
    }
    for tag in ClockTag::ALL {
        let no = tag.number().unwrap();
        db.execute_batch(&format!(
            "REPLACE INTO written_frame (frame_id, first_file_id, clock_source_no) VALUES (1, 1, {no})"
        ))
        .unwrap();
        assert_eq!(
            word("SELECT clock_source FROM written_frame").as_deref(),
            Some(tag.word())
        );
    }
    let unknown = "REPLACE INTO written_frame (frame_id, first_file_id) VALUES (1, 1)";
    db.execute_batch(unknown).unwrap();
    assert_eq!(word("SELECT clock_source FROM written_frame"), None);
}

#[test]
fn twilight_follows_the_altitude_that_is_kept() {
    let db = tables();
    let mut seen = Vec::new();
    for sun_deg in [
        40.0, -0.8333, -0.834, -6.0, -6.0001, -12.0, -12.0001, -18.0, -18.0001, -60.0,
    ] {
        db.execute(
            "REPLACE INTO derived_sky (frame_id, sun_alt) VALUES (1, ?)",
            [tenths(sun_deg)],
        )
        .unwrap();
        let word: String = db
            .query_row("SELECT twilight FROM derived_sky", [], |row| row.get(0))
            .unwrap();
        seen.push(Twilight::from_word(&word).unwrap());
    }
    assert_eq!(
        seen,
        [
            Day,
            Civil,
            Civil,
            Civil,
            Nautical,
            Nautical,
            Astronomical,
            Astronomical,
            Night,
            Night
        ],
        "-0.8333° is kept as -0.83331°"
    );
}

#[test]
fn an_angle_comes_back_to_a_twentieth_of_an_arcsecond() {
    let db = tables();
    for step in 0..=3_600 {
        let az = f64::from(step) / 10.0 + 0.012_345;
        let alt = f64::from(step) / 20.0 - 90.0;
        db.execute(
            "REPLACE INTO derived_radiant (shower, frame_id, alt, az, seen_alt, seen_az, moon_sep, rate_milli)
             VALUES ('GEM', 1, ?1, ?2, ?1, ?2, ?1, 0)",
            [tenths(alt), tenths_round(az)],
        )
        .unwrap();
        let (alt_back, az_back): (f64, f64) = db
            .query_row("SELECT alt_deg, az_deg FROM derived_radiant", [], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })
            .unwrap();
        let off = (az_back - az + 180.0).rem_euclid(360.0) - 180.0;
        assert!((alt_back - alt).abs() <= 0.05 / 3600.0 + 1e-12, "{alt}");
        assert!(off.abs() <= 0.05 / 3600.0 + 1e-12, "{az}");
        assert!((0.0..360.0).contains(&az_back), "{az}");
    }
}

#[test]
fn dates_and_readings_come_back() {
    for date in [
        "0001-01-01",
        "1969-12-31",
        "1970-01-01",
        "2024-02-29",
        "9999-12-31",
    ] {
        assert_eq!(day_of(date).and_then(date_of).as_deref(), Some(date));
    }
    for reading in [
        "2023-12-14T01:12:07",
        "2023-12-14T01:12:07.250",
        "1904-01-01T00:00:00.123456789",
    ] {
        let clock = WallTime::parse(reading).unwrap();
        let back = reading_of(clock.seconds(), clock.fraction().as_deref()).unwrap();
        assert_eq!(back.to_string(), reading);
    }
}
