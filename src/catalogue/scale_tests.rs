use super::*;
use crate::catalogue::migrations::MIGRATIONS;
use crate::catalogue::words;
use crate::terms::basis::ClockTag;
use crate::terms::basis::Health;
use crate::terms::basis::Kind;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::basis::Twilight;
use crate::terms::basis::Twilight::Astronomical;
use crate::terms::basis::Twilight::Civil;
use crate::terms::basis::Twilight::Day;
use crate::terms::basis::Twilight::Nautical;
use crate::terms::basis::Twilight::Night;
use crate::terms::time::day_of_date;
use rusqlite::Connection;

fn tables() -> Connection {
    let db = Connection::open_in_memory().unwrap();
    for (_, sql) in MIGRATIONS {
        db.execute_batch(sql).unwrap();
    }
    words::fill(&db).unwrap();
    db.execute_batch("PRAGMA foreign_keys = OFF").unwrap();
    db
}

fn of<N: Numbered>(all: &[N], word: fn(N) -> &'static str) -> Vec<(i64, &'static str)> {
    all.iter()
        .map(|one| (one.number().unwrap(), word(*one)))
        .collect()
}

#[test]
fn every_word_comes_back_as_it_went_in() {
    let db = tables();
    let word = |sql: &str| -> Option<String> { db.query_row(sql, [], |row| row.get(0)).unwrap() };
    for (words, put, get) in [
        (
            of(TimeBasis::ALL, TimeBasis::word),
            "REPLACE INTO derived_time (frame_id, time_basis_no, place_basis_no, maker_id) VALUES (1, NO, 0, 1)",
            "SELECT time_basis FROM derived_time JOIN word_time_basis USING (time_basis_no)",
        ),
        (
            of(PlaceBasis::ALL, PlaceBasis::word),
            "UPDATE derived_time SET place_basis_no = NO",
            "SELECT place_basis FROM derived_time JOIN word_place_basis USING (place_basis_no)",
        ),
        (
            of(Kind::ALL, Kind::word),
            "UPDATE derived_time SET kind_no = NO",
            "SELECT kind FROM derived_time JOIN word_kind USING (kind_no)",
        ),
        (
            of(Health::ALL, Health::word),
            "REPLACE INTO written_file (file_id, folder_id, name, frame_id, format_no, bytes, modified_ns, undated, health_no)
             VALUES (1, 1, 'a', 1, 13, 1, 2, 0, NO)",
            "SELECT health FROM written_file JOIN word_health USING (health_no)",
        ),
        (
            of(ClockTag::ALL, ClockTag::word),
            "REPLACE INTO written_frame (frame_id, first_file_id, clock_source_no) VALUES (1, 1, NO)",
            "SELECT clock_source FROM written_frame LEFT JOIN word_clock_source USING (clock_source_no)",
        ),
    ] {
        for (no, expect) in words {
            db.execute_batch(&put.replace("NO", &no.to_string())).unwrap();
            assert_eq!(word(get).as_deref(), Some(expect));
        }
    }
    let unknown = "REPLACE INTO written_frame (frame_id, first_file_id) VALUES (1, 1)";
    db.execute_batch(unknown).unwrap();
    assert_eq!(
        word(
            "SELECT clock_source FROM written_frame LEFT JOIN word_clock_source USING (clock_source_no)"
        ),
        None
    );
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
            "REPLACE INTO derived_radiant (shower_id, frame_id, stood, seen, moon_sep, rates)
             VALUES (1, 1, ?1, ?1, 0, 0)",
            [direction(alt, az)],
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
fn a_direction_a_hair_short_of_north_does_not_come_round() {
    let db = tables();
    for (alt, az) in [
        (90.0, 359.999_999_9),
        (-90.0, -0.000_000_1),
        (0.0, 720.0),
        (-0.000_01, 0.0),
    ] {
        db.execute(
            "REPLACE INTO derived_radiant (shower_id, frame_id, stood, seen, moon_sep, rates)
             VALUES (1, 1, ?1, ?1, 0, 0)",
            [direction(alt, az)],
        )
        .unwrap();
        let back: [f64; 4] = db
            .query_row(
                "SELECT alt_deg, az_deg, seen_alt_deg, seen_az_deg FROM derived_radiant",
                [],
                |row| Ok([row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?]),
            )
            .unwrap();
        assert!((back[0] - alt).abs() < 2e-5 && back[1] == 0.0, "{back:?}");
        assert_eq!(back[..2], back[2..]);
    }
}

#[test]
fn containers_come_back_by_their_names() {
    let db = tables();
    db.execute(
        "INSERT INTO written_file (file_id, folder_id, name, frame_id, format_no, bytes, modified_ns, undated, health_no)
         VALUES (1, 1, 'a', 1, 0, 1, 0, 0, 0)",
        [],
    )
    .unwrap();
    for word in FORMATS {
        db.execute(
            "UPDATE written_file SET format_no = ?",
            [format_number(word)],
        )
        .unwrap();
        let back: String = db
            .query_row(
                "SELECT format FROM written_file JOIN word_format USING (format_no)",
                [],
                |row| row.get(0),
            )
            .unwrap();
        assert_eq!(back, *word);
    }
    assert_eq!(format_number("no such container"), format_number("unknown"));
}

#[test]
fn offsets_and_apertures_come_back() {
    let db = tables();
    for (offset_s, text) in [
        (3_600, "+01:00"),
        (0, "+00:00"),
        (-16_200, "-04:30"),
        (20_700, "+05:45"),
        (-3_661, "-01:01:01"),
        (-1_800, "-00:30"),
    ] {
        db.execute(
            "REPLACE INTO written_frame (frame_id, first_file_id, utc_offset_s) VALUES (1, 1, ?)",
            [offset_s],
        )
        .unwrap();
        let back: String = db
            .query_row("SELECT utc_offset FROM written_frame", [], |row| row.get(0))
            .unwrap();
        assert_eq!(back, text);
    }
    for f_number in [1.4, 1.8, 2.8, 3.5, 0.95, 5.6, 11.0, 22.0, 0.0] {
        db.execute(
            "REPLACE INTO written_frame (frame_id, first_file_id, f_number_millionths) VALUES (1, 1, ?)",
            [millionths(f_number)],
        )
        .unwrap();
        let back: f64 = db
            .query_row("SELECT f_number FROM written_frame", [], |row| row.get(0))
            .unwrap();
        assert_eq!(
            back.to_bits(),
            f_number.to_bits(),
            "the very number of the file"
        );
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
        assert_eq!(day_of_date(date).and_then(date_of).as_deref(), Some(date));
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

#[test]
fn two_rates_in_one_number_come_back() {
    let db = tables();
    for (rate, seen_rate) in [
        (0.0, 0.0),
        (0.004, 0.0),
        (117.123, 117.123),
        (117.123, 0.001),
        (200.0, 41.5),
        // A site darker than the sky of the ZHR.
        (31.999, 44.25),
    ] {
        db.execute(
            "REPLACE INTO derived_radiant (shower_id, frame_id, stood, seen, moon_sep, rates) VALUES (1, 1, 0, 0, 0, ?)",
            [rates(rate, seen_rate)],
        )
        .unwrap();
        let back: [f64; 4] = db
            .query_row(
                "SELECT rate, seen_rate, rate_milli, seen_rate_milli FROM derived_radiant",
                [],
                |row| {
                    Ok([
                        row.get(0)?,
                        row.get(1)?,
                        f64::from(row.get::<_, i32>(2)?),
                        f64::from(row.get::<_, i32>(3)?),
                    ])
                },
            )
            .unwrap();
        for (back, put) in back
            .into_iter()
            .zip([rate, seen_rate, rate * 1e3, seen_rate * 1e3])
        {
            assert!((back - put).abs() < 1e-9, "{rate} {seen_rate}: {back}");
        }
    }
    assert_eq!(
        rates(47.5, 47.5),
        47_500,
        "on a dark night no more than the rate"
    );
    assert_eq!(rates(1e9, 0.0) & 0xf_ffff, 0xf_ffff);
}
