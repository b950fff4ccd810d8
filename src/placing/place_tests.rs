use super::*;
use crate::terms::basis::TimeBasis;
use crate::terms::clock::Before;
use crate::terms::clock::ClockFix;
use crate::terms::clock::ZoneStated;
use crate::terms::site::Place;
use crate::terms::site::SiteOrigin;
use crate::terms::time::WallTime;

fn book() -> SiteBook {
    SiteBook::new(vec![Site {
        id: 1,
        name: "Salt Ridge".into(),
        place: Place::new(45.0, 7.0, 1500.0).unwrap(),
        zone: Some("Europe/Rome".into()),
        origin: SiteOrigin::Stated,
        brightness: None,
    }])
}

fn placed(facts: &FrameFacts) -> PlacedFrame {
    placed_by(facts, &BodyClock::default(), None)
}

fn placed_by(facts: &FrameFacts, clock: &BodyClock, settled_s: Option<i32>) -> PlacedFrame {
    let book = book();
    let assigned = assign_site(facts, &book);
    let time = date_frame(facts, None, &assigned, &book, clock, settled_s);
    place_frame(facts, assigned, time, &book)
}

fn facts(clock: &str) -> FrameFacts {
    FrameFacts {
        clock_local: WallTime::parse(clock),
        exposure_s: Some(15.0),
        stated_site: Some(1),
        ..FrameFacts::default()
    }
}

#[test]
fn the_written_offset_is_believed_before_the_zone() {
    let frame = placed(&FrameFacts {
        utc_offset_s: Some(0),
        ..facts("2023-12-14T01:12:07.25")
    });
    assert_eq!(frame.time_basis, TimeBasis::Offset);
    assert_eq!(
        frame.start_utc.unwrap().to_string(),
        "2023-12-14T01:12:07.250Z"
    );
    assert_eq!(
        frame.mid_utc.unwrap().to_string(),
        "2023-12-14T01:12:14.750Z"
    );
    assert_eq!(
        frame.end_utc.unwrap().to_string(),
        "2023-12-14T01:12:22.250Z"
    );
    assert_eq!(frame.night.as_deref(), Some("2023-12-13"));
}

#[test]
fn the_zone_is_believed_where_it_is_clear() {
    let frame = placed(&facts("2023-12-14T01:12:07"));
    assert_eq!(frame.time_basis, TimeBasis::SiteZone);
    assert_eq!(
        frame.start_utc.unwrap().to_string(),
        "2023-12-14T00:12:07.000Z"
    );
    let twice = placed(&facts("2024-10-27T02:31:10"));
    assert_eq!((twice.start_utc, twice.time_basis), (None, TimeBasis::None));
    assert_eq!(twice.findings[0].code, "clock-twice");
    assert_eq!(
        twice.night.as_deref(),
        Some("2024-10-26"),
        "still in its night"
    );
    assert_eq!(
        placed(&facts("2024-03-31T02:31:10")).findings[0].code,
        "clock-never"
    );
}

#[test]
fn nothing_is_guessed_without_a_site() {
    let frame = placed(&FrameFacts {
        stated_site: None,
        ..facts("2023-12-14T01:12:07")
    });
    assert_eq!(frame.start_utc, None);
    assert_eq!(frame.place_basis, PlaceBasis::None);
    let codes: Vec<_> = frame.findings.iter().map(|f| f.code).collect();
    assert_eq!(codes, ["no-zone", "no-place"]);
    assert_eq!(
        frame.night.as_deref(),
        Some("2023-12-13"),
        "by the body's own evening"
    );
}

#[test]
fn evidence_is_believed_in_its_order() {
    let stated = BodyClock::new(
        vec![],
        vec![ZoneStated {
            id: 0,
            zone: "UTC".into(),
            from: None,
            until: None,
        }],
    );
    let none = BodyClock::default();
    let stamp = |utc: &str| Utc::parse(utc);
    for (clock, offset, body_zone, gps, basis, start) in [
        (
            &none,
            None,
            None,
            None,
            TimeBasis::SiteZone,
            "00:12:07.000Z",
        ),
        (
            &stated,
            None,
            None,
            None,
            TimeBasis::StatedZone,
            "01:12:07.000Z",
        ),
        (
            &stated,
            None,
            Some(7200),
            None,
            TimeBasis::BodyZone,
            "23:12:07.000Z",
        ),
        (
            &stated,
            Some(3600),
            Some(7200),
            None,
            TimeBasis::Offset,
            "00:12:07.000Z",
        ),
        (
            &stated,
            Some(3600),
            None,
            stamp("2023-12-14T00:12:08Z"),
            TimeBasis::Gps,
            "00:12:07.000Z",
        ),
        // An old stamp is only a hint.
        (
            &stated,
            Some(3600),
            None,
            stamp("2023-12-14T00:09:08Z"),
            TimeBasis::Offset,
            "00:12:07.000Z",
        ),
    ] {
        let facts = FrameFacts {
            utc_offset_s: offset,
            body_zone_s: body_zone,
            gps_utc: gps,
            ..facts("2023-12-14T01:12:07")
        };
        let frame = placed_by(&facts, clock, None);
        assert_eq!(frame.time_basis, basis);
        assert!(frame.start_utc.unwrap().to_string().ends_with(start));
        let sigma = frame.time_error_s.unwrap();
        assert!(if basis == TimeBasis::Gps {
            sigma < 1.2
        } else {
            sigma > 59.0
        });
    }
}

#[test]
fn a_fix_dates_a_frame_that_nobody_else_dates() {
    let fix = ClockFix {
        id: 0,
        reading: WallTime::parse("2023-12-13T14:14:07").unwrap(),
        true_utc: Utc::parse("2023-12-13T22:14:55Z").unwrap(),
        written_offset_s: None,
        before: Before::RanOn,
        from: None,
        until: None,
        frames: None,
    };
    let clock = BodyClock::new(vec![fix], vec![]);
    let nowhere = FrameFacts {
        stated_site: None,
        ..facts("2023-12-13T15:00:00")
    };
    let frame = placed_by(&nowhere, &clock, None);
    assert_eq!(
        frame.start_utc.unwrap().to_string(),
        "2023-12-13T23:00:48.000Z"
    );
    assert_eq!(frame.time_basis, TimeBasis::StatedZone);
    assert!(frame.time_error_s.unwrap() < 1.1);
}

#[test]
fn the_order_of_the_frames_settles_an_hour_that_was_twice() {
    let facts = facts("2024-10-27T02:31:10");
    let frame = placed_by(&facts, &BodyClock::default(), Some(7200));
    assert_eq!(
        frame.start_utc.unwrap().to_string(),
        "2024-10-27T00:31:10.000Z"
    );
    assert_eq!(frame.findings[0].code, "clock-twice");
    assert!(frame.findings[0].did.contains("UTC+02:00"), "still flagged");
    let by_gps = FrameFacts {
        gps_utc: Utc::parse("2024-10-27T01:31:10Z"),
        ..facts
    };
    let frame = placed(&by_gps);
    assert_eq!(
        frame.start_utc.unwrap().to_string(),
        "2024-10-27T01:31:10.000Z"
    );
    assert_eq!(frame.time_basis, TimeBasis::Gps);
}
