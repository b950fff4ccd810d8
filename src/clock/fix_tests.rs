use super::*;
use crate::terms::clock::Before;
use crate::terms::time::Utc;
use proptest::prelude::*;

fn fix(reading: &str, true_utc: &str) -> ClockFix {
    ClockFix {
        id: 0,
        reading: WallTime::parse(reading).unwrap(),
        true_utc: Utc::parse(true_utc).unwrap(),
        written_offset_s: None,
        before: Before::RanOn,
        from: None,
        until: None,
        frames: None,
    }
}

fn error(clock: &BodyClock, reading: &str, setting: Setting<'_>) -> ClockError {
    let reading = WallTime::parse(reading).unwrap();
    clock.correction(0, reading, setting).error.unwrap()
}

fn fast_s(clock: &BodyClock, reading: &str, setting: Setting<'_>) -> f64 {
    error(clock, reading, setting).fast_ms as f64 / 1000.0
}

#[test]
fn one_fix_shifts_and_grows_less_sure() {
    let rome = Zone::named("Europe/Rome").unwrap();
    let rule = Setting::Place(Some(&rome));
    let clock = BodyClock::new(
        vec![fix("2023-12-13T23:14:07", "2023-12-13T22:14:55Z")],
        vec![],
    );
    // 23:14:07 in Rome is 22:14:07 UTC, and it was 22:14:55: 48 seconds slow.
    for reading in [
        "2023-12-01T12:00:00",
        "2023-12-13T23:14:07",
        "2024-07-01T00:00:00",
    ] {
        assert!(
            (fast_s(&clock, reading, rule) + 48.0).abs() < 1e-9,
            "{reading}"
        );
    }
    let sigma = |reading: &str| error(&clock, reading, rule).sigma_s;
    assert!((sigma("2023-12-13T23:14:07") - 1.0).abs() < 1e-9);
    // Ten days at 1.7 s a day, plus the second of the comparison itself.
    assert!((sigma("2023-12-23T23:14:07") - (1.0_f64 + 17.0 * 17.0).sqrt()).abs() < 1e-9);
    assert!((sigma("2023-12-03T23:14:07") - (1.0_f64 + 17.0 * 17.0).sqrt()).abs() < 1e-9);
}

#[test]
fn two_fixes_give_a_straight_line_that_goes_on_outside() {
    let clock = BodyClock::new(
        vec![
            fix("2023-12-20T00:00:40", "2023-12-20T00:00:00Z"),
            fix("2023-12-10T00:00:10", "2023-12-10T00:00:00Z"),
        ],
        vec![],
    );
    let utc = Setting::Written(0);
    assert!((fast_s(&clock, "2023-11-30T00:00:10", utc) + 20.0).abs() < 0.01);
    assert!((fast_s(&clock, "2023-12-15T00:00:25", utc) - 25.0).abs() < 1e-3);
    assert!((fast_s(&clock, "2024-01-19T00:00:40", utc) - 130.0).abs() < 0.01);
    // Thirty days on: the drift of ten days, each end good to a second, and half a second a day of wandering.
    let sigma_s = error(&clock, "2024-01-19T00:00:40", utc).sigma_s;
    assert!((sigma_s - 5.0_f64.hypot(15.0)).abs() < 0.01, "{sigma_s}");
    let drifts = clock.drifts();
    assert!((drifts[0].1 - 3.0).abs() < 1e-9, "30 seconds in ten days");
    assert!(clock.impossible().is_none());
}

#[test]
fn a_break_is_no_drift() {
    let mut second = fix("2023-12-14T12:00:00", "2023-12-14T12:00:00Z");
    let first = fix("2023-12-13T12:00:00", "2023-12-13T11:00:00Z");
    let drifting = BodyClock::new(vec![first, second], vec![]);
    let (_, _, gained_s, days) = drifting.impossible().unwrap();
    assert!((gained_s + 3600.0).abs() < 1e-9);
    assert!((days - 25.0 / 24.0).abs() < 1e-9);
    second.before = Before::Reset;
    let clock = BodyClock::new(vec![first, second], vec![]);
    assert!(clock.impossible().is_none() && clock.drifts().is_empty());
    let utc = Setting::Written(0);
    assert!((fast_s(&clock, "2023-12-13T23:59:59", utc) - 3600.0).abs() < 1e-9);
    assert!(fast_s(&clock, "2023-12-14T00:00:01", utc).abs() < 1e-9);
}

#[test]
fn without_any_zone_the_whole_difference_counts() {
    let clock = BodyClock::new(
        vec![fix("2023-12-13T14:14:07", "2023-12-13T22:14:07Z")],
        vec![],
    );
    assert!(
        (fast_s(&clock, "2023-12-13T15:00:00", Setting::Place(None)) + 8.0 * 3600.0).abs() < 1e-9
    );
    let la = Zone::named("America/Los_Angeles").unwrap();
    assert!(fast_s(&clock, "2023-12-13T15:00:00", Setting::Place(Some(&la))).abs() < 1e-9);
}

#[test]
fn a_fix_is_read_by_its_own_offset_or_zone_first() {
    let mut winter = fix("2023-12-13T23:14:07", "2023-12-13T22:14:55Z");
    winter.written_offset_s = Some(3600);
    let clock = BodyClock::new(vec![winter], vec![]);
    // In summer the same body writes +02:00 beside its readings; its clock is as slow as before.
    assert!((fast_s(&clock, "2024-07-13T23:00:00", Setting::Written(7200)) + 48.0).abs() < 1e-9);
    let zone = |zone: &str, from: Option<&str>| ZoneStated {
        id: 0,
        zone: zone.to_owned(),
        from: from.and_then(WallTime::parse),
        until: None,
    };
    let clock = BodyClock::new(
        vec![fix("2023-12-13T22:14:07", "2023-12-13T22:14:55Z")],
        vec![
            zone("UTC", None),
            zone("+02:00", Some("2024-06-01T00:00:00")),
        ],
    );
    let name = |reading: &str| {
        clock
            .zone_at(WallTime::parse(reading).unwrap())
            .unwrap()
            .name()
            .to_owned()
    };
    assert_eq!(name("2023-12-14T00:00:00"), "UTC");
    assert_eq!(name("2024-06-01T00:00:00"), "+02:00");
    let summer = clock
        .zone_at(WallTime::parse("2024-07-01T00:00:00").unwrap())
        .unwrap();
    assert!(
        (fast_s(
            &clock,
            "2024-07-01T00:00:00",
            Setting::Known(Rule::Zone(summer))
        ) + 48.0)
            .abs()
            < 1e-9
    );
}

proptest! {
    #[test]
    fn true_time_runs_on_where_the_clock_did(
        steps in prop::collection::vec((3_600_000_i64..864_000_000, -100_000_i64..100_000), 1..6),
        readings in prop::collection::vec(-2_000_000_000_i64..6_000_000_000, 2..40),
    ) {
        let start = Utc::parse("2023-12-01T00:00:00Z").unwrap().unix_ms();
        let base = WallTime::parse("2023-12-01T00:00:00").unwrap();
        let (mut at, mut fast) = (0, 0);
        let fixes: Vec<ClockFix> = steps
            .iter()
            .map(|(step, gained)| {
                at += step;
                // No more than a running clock can gain in that time.
                fast += gained.clamp(&(-step / 8640), &(step / 8640));
                ClockFix {
                    id: 0,
                    reading: base.plus_ms(at + fast).unwrap(),
                    true_utc: Utc::from_unix_ms(start + at).unwrap(),
                    written_offset_s: None,
                    before: Before::RanOn,
                    from: None,
                    until: None,
                    frames: None,
                }
            })
            .collect();
        let clock = BodyClock::new(fixes, vec![]);
        prop_assert!(clock.impossible().is_none());
        let mut readings = readings;
        readings.sort_unstable();
        let truths: Vec<i64> = readings
            .iter()
            .map(|ms| {
                let reading = base.plus_ms(*ms).unwrap();
                ms - clock.correction(0, reading, Setting::Written(0)).error.unwrap().fast_ms
            })
            .collect();
        prop_assert!(truths.is_sorted(), "{truths:?}");
    }
}

/// Two nights of one body with the same readings; in the second the clock was a day slow.
#[test]
fn a_fix_for_frames_applies_to_no_other_frame_with_the_same_reading() {
    let reading = |text: &str| WallTime::parse(text).unwrap();
    let set = [7; 16];
    let limited = ClockFix {
        from: Some(reading("2023-12-13T21:00:00")),
        until: Some(reading("2023-12-14T05:00:01")),
        frames: Some(set),
        ..fix("2023-12-13T22:00:00", "2023-12-14T22:00:00Z")
    };
    let whole = fix("2023-12-13T20:00:00", "2023-12-13T19:59:50Z");
    let alone = BodyClock::new(vec![whole], vec![]);
    let clock = BodyClock::new(vec![limited, whole], vec![]);
    let fast_ms = |clock: &BodyClock, frame_id| {
        let at = reading("2023-12-13T22:30:00");
        let error = clock.correction(frame_id, at, Setting::Written(0)).error;
        error.map(|error| error.fast_ms)
    };
    // Before its frames arrive it applies to none.
    assert_eq!(fast_ms(&clock, 2), Some(10_000));
    assert_eq!(clock.frames_of(set), 0);
    let both = clock.with_frames([(set, 2), (set, 3)]);
    assert_eq!(fast_ms(&both, 1), Some(10_000));
    assert_eq!(fast_ms(&both, 2), Some(-86_400_000));
    assert_eq!(both.frames_of(set), 2);
    assert!(both.differs(&alone).is_empty(), "no reading of others");
    assert_eq!(both.frames_that_differ(&alone), [2, 3]);
    let fewer = BodyClock::new(vec![limited, whole], vec![]).with_frames([(set, 3)]);
    assert_eq!(both.frames_that_differ(&fewer), [2]);
    // Outside its readings the frame is of the whole epoch.
    let late = both.correction(2, reading("2023-12-14T20:00:00"), Setting::Written(0));
    assert_eq!(late.error.map(|error| error.fast_ms), Some(10_000));
}
