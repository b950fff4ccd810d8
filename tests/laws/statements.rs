//! Laws for any statements about clocks: removed, they leave no trace, and their order does not matter.

use std::path::Path;
use std::sync::OnceLock;

use crate::clock_archive::Numbers;
use crate::clock_archive::copied;
use crate::clock_archive::derived;
use crate::clock_archive::record;
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

/// Something stated of the first body's clock.
#[derive(Clone, Debug)]
enum Statement {
    Fix {
        /// Minutes of the reading after the first evening's noon.
        minute: i64,
        /// By how much the clock was fast, in seconds.
        fast_s: i64,
        reset: bool,
    },
    Zone {
        zone: &'static str,
        /// Days after the first evening.
        from: Option<i64>,
    },
}

fn noon() -> WallTime {
    WallTime::parse("2023-12-12T12:00:00").unwrap()
}

fn reading(minute: i64) -> WallTime {
    noon().plus_ms(minute * 60_000).unwrap()
}

/// Three nights in Rome by two bodies; the second writes its offset.
fn archive(path: &Path) -> Catalogue {
    static KEPT: OnceLock<Vec<u8>> = OnceLock::new();
    copied(&KEPT, path, records)
}

/// Twelve frames a night, from ten in the evening on, twenty minutes apart.
fn records() -> Vec<CaptureRecord> {
    (0..36_i64)
        .map(|i| {
            let second = i % 4 == 3;
            let at = reading((i / 12) * 1_440 + 600 + (i % 12) * 20);
            CaptureRecord {
                utc_offset_s: second.then_some(3600),
                ..record(if second { "B" } else { "A" }, at)
            }
        })
        .collect()
}

/// States something; its name, or `None` where it is refused.
fn state(catalogue: &mut Catalogue, statement: &Statement) -> Option<String> {
    let quiet = &mut |_, _| {};
    let stated = match statement {
        Statement::Fix {
            minute,
            fast_s,
            reset,
        } => {
            let shown = reading(*minute);
            // What an untouched clock in Rome's winter would have shown is an hour ahead of UTC.
            let at = Utc::from_unix_ms(shown.reading_ms() - 3_600_000 - fast_s * 1000).unwrap();
            let order = FixOrder {
                camera: Some("A"),
                showed: Showed::Reading(&shown.to_string()),
                true_utc: &at.to_string(),
                before: if *reset { Before::Reset } else { Before::RanOn },
                limits: Limits::default(),
                now: Utc::parse("2030-01-01T00:00:00Z").unwrap(),
            };
            state_fix(catalogue, &order, Mode::Lasting, quiet)
        }
        Statement::Zone { zone, from } => {
            let from = from.map(|day| reading(day * 1_440).to_string());
            let order = ZoneOrder {
                camera: "A",
                zone,
                limits: Limits {
                    from: from.as_deref(),
                    ..Limits::default()
                },
            };
            state_zone(catalogue, &order, Mode::Lasting, quiet)
        }
    };
    stated.ok().map(|stated| stated.name)
}

fn statements() -> impl Strategy<Value = Vec<Statement>> {
    let fix =
        (0_i64..4_300, -5_000_i64..5_000, any::<bool>()).prop_map(|(minute, fast_s, reset)| {
            Statement::Fix {
                minute,
                // Small errors too, that a drift can explain.
                fast_s: if minute % 2 == 0 {
                    fast_s / 100
                } else {
                    fast_s
                },
                reset,
            }
        });
    let zone = (
        prop::sample::select(vec!["UTC", "America/Santiago", "+05:45"]),
        prop::option::of(0_i64..3),
    )
        .prop_map(|(zone, from)| Statement::Zone { zone, from });
    prop::collection::vec(prop_oneof![3 => fix, 1 => zone], 1..5)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn taken_back_in_any_order_they_leave_no_trace(statements in statements(), turn in 0_usize..4) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("c.sqlite");
        let mut catalogue = archive(&path);
        let before = derived(&path, Numbers::Compared);
        let mut names: Vec<String> =
            statements.iter().filter_map(|s| state(&mut catalogue, s)).collect();
        if !names.is_empty() {
            let turn = turn % names.len();
            names.rotate_left(turn);
        }
        // Taking one back may leave two fixes that no clock explains; then another must go first.
        while !names.is_empty() {
            let went = names
                .iter()
                .position(|name| take_back(&mut catalogue, name, Mode::Lasting, &mut |_, _| {}).is_ok());
            prop_assert!(went.is_some(), "none of {:?} can be taken back", names);
            names.remove(went.unwrap());
        }
        prop_assert_eq!(before, derived(&path, Numbers::Compared));
    }

    #[test]
    fn their_order_does_not_matter(statements in statements()) {
        let folder = tempfile::tempdir().unwrap();
        let (one, other) = (folder.path().join("1.sqlite"), folder.path().join("2.sqlite"));
        let (mut first, mut second) = (archive(&one), archive(&other));
        // Breaks only: refusals depend on earlier statements.
        let statements: Vec<Statement> = statements
            .into_iter()
            .map(|statement| match statement {
                Statement::Fix { minute, fast_s, .. } => Statement::Fix { minute, fast_s, reset: true },
                zone @ Statement::Zone { .. } => zone,
            })
            .collect();
        let stated = statements.iter().filter(|s| state(&mut first, s).is_some()).count();
        let again = statements.iter().rev().filter(|s| state(&mut second, s).is_some()).count();
        prop_assert_eq!(stated, again);
        if stated == statements.len() {
            prop_assert_eq!(derived(&one, Numbers::LeftOut), derived(&other, Numbers::LeftOut));
        }
    }
}

/// Of a frame that is derived again only what changed is written; whether that is enough does not depend on what is there.
#[test]
fn other_showers_and_rows_dropped_by_hand_leave_no_trace() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("c.sqlite");
    let mut catalogue = archive(&path);
    let before = derived(&path, Numbers::Compared);
    let db = rusqlite::Connection::open(&path).unwrap();
    let of_body =
        "WHERE frame_id IN (SELECT frame_id FROM written_frame WHERE utc_offset_s IS NULL)";
    // Over two months the showers are others, within a minute they stay.
    let fast = |fast_s| Statement::Fix {
        minute: 0,
        fast_s,
        reset: true,
    };
    let orionids = |rows: &[String]| rows.iter().any(|row| row.contains("ORI"));
    assert!(!orionids(&before));
    for (fast_s, tables) in [
        (60 * 86_400, &[][..]),
        (60 * 86_400, &["derived_radiant"]),
        (60 * 86_400, &["derived_sky"]),
        (60, &["derived_radiant"]),
        (60, &["derived_sky"]),
        (60, &["derived_radiant", "derived_sky"]),
    ] {
        for table in tables {
            let dropped = db
                .execute(&format!("DELETE FROM {table} {of_body}"), [])
                .unwrap();
            assert!(dropped > 20, "{table}: {dropped}");
        }
        let name = state(&mut catalogue, &fast(fast_s)).unwrap();
        let moved = derived(&path, Numbers::Compared);
        assert_eq!(orionids(&moved), fast_s > 60, "{fast_s} {tables:?}");
        assert!(moved.len() > 100 && moved != before, "{fast_s} {tables:?}");
        take_back(&mut catalogue, &name, Mode::Lasting, &mut |_, _| {}).unwrap();
        let after = derived(&path, Numbers::Compared);
        assert_eq!(before, after, "{fast_s} {tables:?}");
    }
}
