//! Time against the outside: zones on published dates, real files with offsets and GPS time stamps, and what must hold
//! for any clock.

// Tests may panic, and print what they skipped.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::path::Path;
use std::path::PathBuf;

use framefall::capture::one::read_one;
use framefall::clock::fix::BodyClock;
use framefall::clock::night::night_by_zone;
use framefall::clock::resolve::Resolved;
use framefall::clock::resolve::resolve_by_zone;
use framefall::clock::zone::Zone;
use framefall::placing::book::SiteBook;
use framefall::placing::place::assign_site;
use framefall::placing::place::date_frame;
use framefall::terms::basis::TimeBasis;
use framefall::terms::records::FrameFacts;
use framefall::terms::time::Utc;
use framefall::terms::time::WallTime;
use proptest::prelude::*;
use serde_json::Value;

fn at(utc: &str) -> Utc {
    Utc::parse(utc).unwrap()
}

fn in_zone(zone: &str, reading: &str) -> Resolved {
    resolve_by_zone(
        WallTime::parse(reading).unwrap(),
        &Zone::named(zone).unwrap(),
    )
}

fn twice(earlier: &str, later: &str) -> Resolved {
    Resolved::Twice {
        earlier: at(earlier),
        later: at(later),
    }
}

/// Changes of summer time on published dates.
///
/// Sources: Directive 2000/84/EC (Rome); 15 U.S.C. § 260a (New York); Standard Time Act 1987 of New South Wales for
/// Lord Howe Island, and South Australia's Daylight Saving Act 1971 with its regulation of 2008: from 2:00 on the
/// first Sunday of October to 3:00 on the first of April (Adelaide); Chile's decree 224 of 2022 (Santiago); Chatham
/// Islands by New Zealand's Daylight Time Order 2007: 45 minutes before New Zealand's. All from memory.
#[test]
fn summer_time_on_published_dates() {
    for (zone, reading, resolved) in [
        (
            "Europe/Rome",
            "2024-10-27T02:30:00",
            twice("2024-10-27T00:30:00Z", "2024-10-27T01:30:00Z"),
        ),
        ("Europe/Rome", "2024-03-31T02:00:00", Resolved::Never),
        (
            "Europe/Rome",
            "2024-03-31T03:00:00",
            Resolved::Once(at("2024-03-31T01:00:00Z")),
        ),
        (
            "America/New_York",
            "2023-11-05T01:30:00",
            twice("2023-11-05T05:30:00Z", "2023-11-05T06:30:00Z"),
        ),
        ("America/New_York", "2023-03-12T02:59:59", Resolved::Never),
        // The southern summer begins in October and ends in April; the zone is half an hour off.
        (
            "Australia/Adelaide",
            "2024-04-07T02:30:00",
            twice("2024-04-06T16:00:00Z", "2024-04-06T17:00:00Z"),
        ),
        ("Australia/Adelaide", "2023-10-01T02:30:00", Resolved::Never),
        (
            "Australia/Adelaide",
            "2024-05-05T05:14:00",
            Resolved::Once(at("2024-05-04T19:44:00Z")),
        ),
        // Half an hour of summer time.
        (
            "Australia/Lord_Howe",
            "2024-04-07T01:45:00",
            twice("2024-04-06T14:45:00Z", "2024-04-06T15:15:00Z"),
        ),
        (
            "Australia/Lord_Howe",
            "2023-10-01T02:15:00",
            Resolved::Never,
        ),
        (
            "Australia/Lord_Howe",
            "2023-10-01T02:31:00",
            Resolved::Once(at("2023-09-30T15:31:00Z")),
        ),
        // Midnight itself is skipped.
        ("America/Santiago", "2023-09-03T00:30:00", Resolved::Never),
        (
            "America/Santiago",
            "2023-04-01T23:30:00",
            twice("2023-04-02T02:30:00Z", "2023-04-02T03:30:00Z"),
        ),
        // Three quarters of an hour.
        ("Pacific/Chatham", "2023-09-24T03:00:00", Resolved::Never),
        (
            "Pacific/Chatham",
            "2023-12-14T12:45:00",
            Resolved::Once(at("2023-12-13T23:00:00Z")),
        ),
        (
            "Asia/Kathmandu",
            "2023-12-14T05:45:00",
            Resolved::Once(at("2023-12-14T00:00:00Z")),
        ),
    ] {
        assert_eq!(in_zone(zone, reading), resolved, "{zone} {reading}");
    }
}

/// Zones that changed their offset for good, and a day that never was.
///
/// Sources, all from memory: Venezuela's decree of 2016, half an hour forward at 2:30 on 1 May; North Korea's, half an
/// hour back at the start of 15 August 2015 and forward at 23:30 on 4 May 2018; Turkey's of 2016, no more winter time;
/// Samoa's International Date Line Act 2011: no 30 December.
#[test]
fn zones_that_changed_in_the_archives_years() {
    for (zone, reading, resolved) in [
        (
            "America/Caracas",
            "2016-04-30T23:00:00",
            Resolved::Once(at("2016-05-01T03:30:00Z")),
        ),
        ("America/Caracas", "2016-05-01T02:45:00", Resolved::Never),
        (
            "America/Caracas",
            "2016-05-01T23:00:00",
            Resolved::Once(at("2016-05-02T03:00:00Z")),
        ),
        (
            "Asia/Pyongyang",
            "2015-08-13T22:00:00",
            Resolved::Once(at("2015-08-13T13:00:00Z")),
        ),
        (
            "Asia/Pyongyang",
            "2017-08-13T22:00:00",
            Resolved::Once(at("2017-08-13T13:30:00Z")),
        ),
        (
            "Asia/Pyongyang",
            "2018-08-13T22:00:00",
            Resolved::Once(at("2018-08-13T13:00:00Z")),
        ),
        (
            "Europe/Istanbul",
            "2015-12-14T01:00:00",
            Resolved::Once(at("2015-12-13T23:00:00Z")),
        ),
        (
            "Europe/Istanbul",
            "2016-12-14T01:00:00",
            Resolved::Once(at("2016-12-13T22:00:00Z")),
        ),
        ("Pacific/Apia", "2011-12-30T12:00:00", Resolved::Never),
        (
            "Pacific/Apia",
            "2011-12-31T00:00:00",
            Resolved::Once(at("2011-12-30T10:00:00Z")),
        ),
    ] {
        assert_eq!(in_zone(zone, reading), resolved, "{zone} {reading}");
    }
}

/// On either side of the date line one instant belongs to nights of two dates.
#[test]
fn the_night_is_the_sites_own_on_either_side_of_the_date_line() {
    let night =
        |zone: &str, utc: &str| night_by_zone(at(utc), &Zone::named(zone).unwrap()).unwrap();
    // Kiritimati keeps UTC+14, Niue UTC-11 (from memory).
    assert_eq!(
        night("Pacific/Kiritimati", "2023-12-13T08:00:00Z"),
        "2023-12-13"
    );
    assert_eq!(night("Pacific/Niue", "2023-12-13T08:00:00Z"), "2023-12-12");
    assert_eq!(night("Pacific/Fiji", "2023-12-13T11:59:59Z"), "2023-12-13");
}

fn folders() -> Vec<PathBuf> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let shared = here.join("../shared/frames");
    let mut folders = vec![here.join("tests/data/frames")];
    if shared.join("oracle.jsonl").is_file() {
        folders.push(shared);
    } else {
        println!(
            "skipped the larger set of camera files: {} is absent",
            shared.display()
        );
    }
    folders
}

/// Real files: the instant is the reading less the offset beside it, both as independent metadata libraries read
/// them, whatever the site's zone is; a GPS time stamp within two seconds confirms it, an older one does not.
#[test]
fn real_files_with_offsets_are_dated_by_them() {
    let (mut by_offset, mut by_gps, mut old_stamps) = (0, 0, 0);
    for folder in folders() {
        let lines = std::fs::read_to_string(folder.join("oracle.jsonl")).unwrap();
        for line in lines.lines() {
            let line: Value = serde_json::from_str(line).unwrap();
            let told = |field: &str| line["fields"][field]["value"].as_str().map(str::to_owned);
            let (Some(reading), Some(offset)) = (
                told("DateTimeOriginal"),
                told("OffsetTimeOriginal").or_else(|| told("OffsetTime")),
            ) else {
                continue;
            };
            let Some(expected) = Utc::parse(&format!("{reading}{offset}")) else {
                continue;
            };
            let path = folder.join(line["path"].as_str().unwrap());
            let Some(read) = read_one(&path).unwrap() else {
                continue;
            };
            let record = read.record;
            // Containers that are recognised and not read give no time.
            let Some(clock_local) = record.clock_local else {
                continue;
            };
            let facts = FrameFacts {
                clock_local: Some(clock_local),
                utc_offset_s: record.utc_offset_s,
                body_zone_s: record.body_zone_s,
                gps_utc: record.gps_utc,
                ..FrameFacts::default()
            };
            let book = SiteBook::default();
            let clock = BodyClock::default();
            let time = date_frame(
                &facts,
                None,
                &assign_site(&facts, &book),
                &book,
                &clock,
                None,
            );
            let start = time.start_utc.unwrap();
            let since = start.seconds_since(expected);
            assert!(
                (0.0..1.0).contains(&since),
                "{}: {start}, not {expected}",
                path.display()
            );
            let stamp = told("GPSDateTimeUTC").and_then(|t| Utc::parse(&t));
            match stamp.map(|stamp| stamp.seconds_since(start).abs() <= 2.0) {
                Some(true) => {
                    assert_eq!(time.basis, TimeBasis::Gps, "{}", path.display());
                    assert!(time.error_s.unwrap() < 1.3);
                    by_gps += 1;
                }
                borne_out => {
                    assert_eq!(time.basis, TimeBasis::Offset, "{}", path.display());
                    assert!(time.error_s.unwrap() >= 60.0, "nobody compared this clock");
                    by_offset += 1;
                    old_stamps += usize::from(borne_out.is_some());
                }
            }
        }
    }
    println!("{by_offset} by offset, {by_gps} borne out by GPS, {old_stamps} with an old stamp");
    assert!(by_offset > 0 && by_gps > 0);
}

proptest! {
    /// A reading that happened once comes back from its instant; the clocks of no zone run backwards but once a year.
    #[test]
    fn a_reading_and_its_instant_agree(
        zone in prop::sample::select(vec![
            "Europe/Rome", "America/Santiago", "Australia/Lord_Howe", "Asia/Kathmandu", "Pacific/Chatham", "UTC", "-03:30",
        ]),
        minutes in 0_i64..40 * 365 * 24 * 60,
    ) {
        let reading = WallTime::parse("1990-01-01T00:00:00").unwrap().plus_ms(minutes * 60_000).unwrap();
        let zone = Zone::named(zone).unwrap();
        match resolve_by_zone(reading, &zone) {
            Resolved::Once(at) => {
                let offset_s = framefall::clock::resolve::offset_at(at, &zone).unwrap();
                prop_assert_eq!(at.unix_ms() + i64::from(offset_s) * 1000, reading.reading_ms());
            }
            Resolved::Twice { earlier, later } => {
                let apart = later.seconds_since(earlier);
                prop_assert!((1_800.0..=7_200.0).contains(&apart), "{}", apart);
            }
            Resolved::Never => {}
        }
    }
}
