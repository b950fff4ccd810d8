//! What must hold of any history of fixes, zones, resets, limits and removals: the rules of docs/clocks.md, written down a second
//! time here in the plainest way, give the same instants; order leaves no trace; nothing outside a statement's reach moves.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::OnceLock;

use crate::clock_archive::Numbers;
use crate::clock_archive::copied;
use crate::clock_archive::derived;
use crate::clock_archive::ingest;
use crate::clock_archive::record;
use crate::clock_archive::rows;
use crate::clock_archive::with_site;
use crate::clock_rules::Fix;
use crate::clock_rules::Rules;
use crate::clock_rules::Zone;
use framefall::catalogue::handle::Catalogue;
use framefall::terms::clock::Before;
use framefall::terms::records::CaptureRecord;
use framefall::terms::time::Utc;
use framefall::terms::time::WallTime;
use framefall::usecase::clocks::limits::Limits;
use framefall::usecase::clocks::shown::FixOrder;
use framefall::usecase::clocks::shown::Showed;
use framefall::usecase::clocks::state::ZoneOrder;
use framefall::usecase::clocks::state::state_fix;
use framefall::usecase::clocks::state::state_zone;
use framefall::usecase::clocks::state::take_back;
use framefall::usecase::derive::rederive::Mode;
use proptest::prelude::*;

/// Something stated of body A's clock.
#[derive(Clone, Debug)]
enum Statement {
    Fix(Fix),
    Zone(Zone),
}

/// Readings are counted in seconds from this noon. Summer time ends in Rome a week later.
fn reading(s: i64) -> WallTime {
    WallTime::parse("2024-10-20T12:00:00")
        .unwrap()
        .plus_ms(s * 1000)
        .unwrap()
}

const HOUR: i64 = 3_600;
const DAY: i64 = 24 * HOUR;

/// Evenings on both sides of the change, none on the night itself, by two bodies; B writes its offset.
fn records() -> Vec<CaptureRecord> {
    let mut all = Vec::new();
    for night in [0, 1, 5, 13, 20] {
        for i in 0..6 {
            let at = reading(night * DAY + 10 * HOUR + i * 1_200);
            all.push(record("A", at));
            all.push(CaptureRecord {
                utc_offset_s: Some(7_200),
                ..record("B", at)
            });
        }
    }
    all
}

fn archive(path: &Path) -> Catalogue {
    static KEPT: OnceLock<Vec<u8>> = OnceLock::new();
    copied(&KEPT, path, records)
}

/// States something; its name, or `None` where it is refused.
fn state(catalogue: &mut Catalogue, statement: &Statement) -> Option<String> {
    let quiet = &mut |_, _| {};
    let text = |s: Option<i64>| s.map(|s| reading(s).to_string());
    let stated = match statement {
        Statement::Fix(fix) => {
            let (from, until) = (text(fix.from), text(fix.until));
            let order = FixOrder {
                camera: Some("A"),
                showed: Showed::Reading(&reading(fix.reading).to_string()),
                true_utc: &Utc::from_unix_ms(reading(fix.true_s).reading_ms())
                    .unwrap()
                    .to_string(),
                before: if fix.reset {
                    Before::Reset
                } else {
                    Before::RanOn
                },
                limits: Limits {
                    from: from.as_deref(),
                    until: until.as_deref(),
                    ..Limits::default()
                },
                now: Utc::parse("2030-01-01T00:00:00Z").unwrap(),
            };
            state_fix(catalogue, &order, Mode::Lasting, quiet)
        }
        Statement::Zone(zone) => {
            let (from, until) = (text(zone.from), text(zone.until));
            let order = ZoneOrder {
                camera: "A",
                zone: zone.name,
                limits: Limits {
                    from: from.as_deref(),
                    until: until.as_deref(),
                    ..Limits::default()
                },
            };
            state_zone(catalogue, &order, Mode::Lasting, quiet)
        }
    };
    stated.ok().map(|stated| stated.name)
}

/// Time and night of each frame, and the sky over it, by the name of its file.
fn frames(path: &Path) -> BTreeMap<String, String> {
    rows(
        path,
        "SELECT time.file, time.camera, clock_local, start_utc, time_basis, time_error_s, time.night, lst FROM frame AS time LEFT JOIN derived_sky USING (frame_id)",
    )
    .into_iter()
    .map(|row| (row.split('"').nth(1).unwrap().to_owned(), row))
    .collect()
}

/// Frames of a body: the name of the file, the reading in seconds, the start in seconds on the same count.
fn starts(path: &Path, body: &str) -> Vec<(String, i64, Option<f64>)> {
    let db = rusqlite::Connection::open(path).unwrap();
    let mut statement = db
        .prepare("SELECT written_file.name, clock_s, start_ms FROM derived_time JOIN written_frame USING (frame_id) JOIN written_file USING (frame_id) JOIN written_camera USING (camera_id) WHERE serial = ? ORDER BY 1")
        .unwrap();
    let base = reading(0).seconds();
    let found = statement
        .query_map([body], |row| {
            let start: Option<i64> = row.get(2)?;
            Ok((
                row.get(0)?,
                row.get::<_, i64>(1)? - base,
                start.map(|ms| ms as f64 / 1000.0 - base as f64),
            ))
        })
        .unwrap();
    found.map(Result::unwrap).collect()
}

fn statements() -> impl Strategy<Value = Vec<Statement>> {
    // Fixes near the hours of frames and far from them; right, some seconds off, hours off; of both sides of the change.
    let at = (0_i64..22, 0_i64..48).prop_map(|(day, half)| day * DAY + half * HOUR / 2);
    let offset = prop::sample::select(vec![7_200_i64, 3_600, 0, -3 * HOUR, 20_700]);
    let error = prop_oneof![4 => -40_i64..40, 1 => -5_000_i64..5_000];
    let limits = prop_oneof![
        4 => Just((None, None)),
        1 => (0_i64..5 * DAY).prop_map(|d| (Some(-d), None)),
        1 => (1_i64..5 * DAY).prop_map(|d| (None, Some(d))),
        2 => (-3 * DAY..3 * DAY, 1_i64..4 * DAY).prop_map(|(a, d)| (Some(a), Some(a + d))),
    ];
    let fix = (at.clone(), offset, error, any::<bool>(), limits).prop_map(
        |(reading, offset, error, reset, (from, until))| {
            Statement::Fix(Fix {
                reading,
                true_s: reading - offset - error,
                reset,
                from: from.map(|d| reading + d),
                until: until.map(|d| reading + d),
            })
        },
    );
    let zone = (
        prop::sample::select(vec!["UTC", "America/Santiago", "+05:45", "Europe/Rome"]),
        prop::option::of(at.clone()),
        prop::option::of(1_i64..10 * DAY),
    )
        .prop_map(|(name, from, long)| {
            let until = long.map(|long| from.unwrap_or(0) + long);
            Statement::Zone(Zone { name, from, until })
        });
    prop::collection::vec(prop_oneof![3 => fix, 1 => zone], 1..7)
}

fn rules<'s>(statements: impl Iterator<Item = &'s Statement>) -> Rules {
    let mut rules = Rules::default();
    for statement in statements {
        match statement {
            Statement::Fix(fix) => rules.fixes.push(fix.clone()),
            Statement::Zone(zone) => rules.zones.push(zone.clone()),
        }
    }
    rules
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Instants are those of the rules; removing some statements gives the result of the others alone, and removing all gives
    /// the first state.
    #[test]
    fn instants_are_those_of_the_rules(statements in statements(), keep in any::<u8>()) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("c.sqlite");
        let mut catalogue = archive(&path);
        let before = derived(&path, Numbers::Compared);
        let others = starts(&path, "B");
        let mut stated: Vec<(String, Statement)> = statements
            .into_iter()
            .filter_map(|one| Some((state(&mut catalogue, &one)?, one)))
            .collect();
        for round in 0..3 {
            let rules = rules(stated.iter().map(|(_, one)| one));
            for (file, at, start) in starts(&path, "A") {
                let Some(expected) = rules.instant(at) else { continue };
                let start = start.unwrap_or(f64::NAN);
                prop_assert!((start - expected).abs() < 0.002, "{file} {at}: {start}, not {expected}: {stated:?}");
            }
            prop_assert_eq!(&others, &starts(&path, "B"));
            // Some are removed in the second round, all in the third. One whose removal would leave a contradiction is removed later.
            let mut waiting = stated.len() + 1;
            while waiting > 0 {
                waiting -= 1;
                let leaves = |i: usize| round > 0 || keep >> i & 1 == 0;
                let gone = (0..stated.len()).find(|i| {
                    leaves(*i) && take_back(&mut catalogue, &stated[*i].0, Mode::Lasting, &mut |_, _| {}).is_ok()
                });
                match gone {
                    Some(i) => stated.remove(i),
                    None => break,
                };
            }
        }
        prop_assert!(stated.is_empty(), "cannot be removed: {:?}", stated);
        prop_assert_eq!(before, derived(&path, Numbers::Compared));
    }

    /// The order of statements does not matter, nor whether frames came before them or after.
    #[test]
    fn the_order_of_all_leaves_no_trace(statements in statements(), frames_first in 0_usize..60) {
        let folder = tempfile::tempdir().unwrap();
        let (one, other) = (folder.path().join("1.sqlite"), folder.path().join("2.sqlite"));
        let mut first = archive(&one);
        let accepted: Vec<Statement> =
            statements.into_iter().filter(|one| state(&mut first, one).is_some()).collect();
        let (mut second, site) = with_site(&other, "Europe/Rome");
        let records = records();
        // Two frames at least: the body has to be known.
        let split = frames_first.max(2);
        ingest(&mut second, site, 0, &records[..split]);
        // What is refused for another statement is made after that.
        let mut left: Vec<&Statement> = accepted.iter().rev().collect();
        while !left.is_empty() {
            let count = left.len();
            left.retain(|one| state(&mut second, one).is_none());
            prop_assert!(left.len() < count, "refused in every other order: {:?}", left);
        }
        ingest(&mut second, site, split, &records[split..]);
        prop_assert_eq!(derived(&one, Numbers::LeftOut), derived(&other, Numbers::LeftOut));
    }

    /// A window moves nothing outside it, and a fix moves nothing outside its epoch. (Where the first fix says that there was a
    /// reset before it and not when, an earlier one moves that reset.)
    #[test]
    fn a_fix_moves_nothing_outside_its_reach(statements in statements(), fix in statements()) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("c.sqlite");
        let mut catalogue = archive(&path);
        let mut stated: Vec<Statement> =
            statements.into_iter().filter(|one| state(&mut catalogue, one).is_some()).collect();
        for one in fix {
            let Statement::Fix(fix) = &one else { continue };
            let (before, rules) = (rules(stated.iter()), rules(stated.iter().chain([&one])));
            let kept = |reset: i64| rules.resets().contains(&reset);
            let mut noons = before.resets().into_iter().filter(|reset| reset % DAY == 0);
            let moves_resets = !noons.all(kept);
            let (from, until) = match (fix.from, fix.until, fix.reset) {
                (Some(from), Some(until), _) => (from, until),
                (None, None, false) if !moves_resets => rules.epoch(fix.reading),
                _ => continue,
            };
            let before = frames(&path);
            if state(&mut catalogue, &one).is_none() {
                continue;
            }
            let after = frames(&path);
            for (file, at, _) in starts(&path, "A") {
                if at < from || until <= at {
                    prop_assert_eq!(&before[&file], &after[&file], "{:?}", fix);
                }
            }
            stated.push(one);
        }
    }
}

/// Stamps of a receiver in a body that is set to UTC in Rome.
fn stamped(reading: WallTime, offset_s: i64, late_s: i64) -> CaptureRecord {
    CaptureRecord {
        gps_utc: Utc::from_unix_ms(reading.reading_ms() - (offset_s + late_s) * 1000),
        ..record("A", reading)
    }
}

#[test]
fn stamps_of_an_evening_show_its_zone_setting_in_any_order() {
    // UTC by four stamps, one of them old; frames without a stamp between them.
    let night: Vec<CaptureRecord> = (0..12)
        .map(|i| {
            let at = reading(10 * HOUR + i * 60);
            match i {
                2 | 5 | 9 => stamped(at, 0, i % 2),
                7 => stamped(at, 0, 3_600 * 3 + 77),
                _ => record("A", at),
            }
        })
        .collect();
    let folder = tempfile::tempdir().unwrap();
    let mut seen = Vec::new();
    for order in 0..4 {
        let path = folder.path().join(format!("{order}.sqlite"));
        let (mut catalogue, site) = with_site(&path, "Europe/Rome");
        match order {
            0 => ingest(&mut catalogue, site, 0, &night),
            1 => {
                ingest(&mut catalogue, site, 6, &night[6..]);
                ingest(&mut catalogue, site, 0, &night[..6]);
            }
            _ => {
                for (i, one) in night.iter().enumerate().step_by(2) {
                    ingest(&mut catalogue, site, i, std::slice::from_ref(one));
                }
                for (i, one) in night.iter().enumerate().skip(1).step_by(2) {
                    ingest(&mut catalogue, site, i, std::slice::from_ref(one));
                }
            }
        }
        for (file, at, start) in starts(&path, "A") {
            assert!((start.unwrap() - at as f64).abs() < 0.001, "{order} {file}");
        }
        seen.push(derived(&path, Numbers::LeftOut));
    }
    assert_eq!(seen[0], seen[1]);
    assert_eq!(seen[0], seen[2]);
    let stamp = seen[0].iter().find(|row| row.contains("L_0005")).unwrap();
    assert!(stamp.contains("\"gps\""), "{stamp}");
    let none = seen[0].iter().find(|row| row.contains("L_0000")).unwrap();
    assert!(none.contains("\"body-zone\""), "{none}");
}

#[test]
fn one_stamp_goes_before_the_place_and_not_before_an_offset() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("c.sqlite");
    let (mut catalogue, site) = with_site(&path, "America/Los_Angeles");
    // 1,024 weeks early, at an offset of +8 h to the site's; and beside a written offset.
    let weeks = 1_024 * 7 * DAY;
    ingest(
        &mut catalogue,
        site,
        0,
        &[stamped(reading(10 * HOUR), 0, weeks)],
    );
    assert_eq!(starts(&path, "A")[0].2, Some(10.0 * HOUR as f64));
    let written = CaptureRecord {
        utc_offset_s: Some(-7 * 3_600),
        ..stamped(reading(3 * DAY), 0, 0)
    };
    ingest(&mut catalogue, site, 1, &[written]);
    let start = starts(&path, "A")[1].2;
    assert_eq!(
        start,
        Some((3 * DAY + 7 * HOUR) as f64),
        "a single stamp may be old"
    );
}
