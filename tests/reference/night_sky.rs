//! A night's windows and what the turning sky does to pictures: against tables computed by independent libraries, the
//! trade's facts, and the almanacs' definitions.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a test stops at the first surprise

use crate::reference_table::{Row, table};
use framefall::sky::look::Looker;
use framefall::sky::trail::{Sensor, rule_500_s, trail_px, turn};
use framefall::sky::window::night_sky;
use framefall::terms::angle::Angle;
use framefall::terms::basis::TWILIGHTS_DEG;
use framefall::terms::night::{NightSky, Stretch};
use framefall::terms::shower::ShowerCode;
use framefall::terms::site::Place;
use framefall::terms::time::Utc;

fn at(text: &str) -> Utc {
    Utc::parse(text).unwrap()
}

fn sky(place: Place, from: &str, to: &str, codes: &[&str]) -> NightSky {
    let codes: Vec<_> = codes
        .iter()
        .map(|c| ShowerCode::parse(c).unwrap())
        .collect();
    let whole = Stretch {
        from: at(from),
        to: at(to),
    };
    night_sky(&mut Looker::new(), place, whole, &codes).unwrap()
}

fn place(lat_deg: f64, lon_deg: f64) -> Place {
    Place::new(lat_deg, lon_deg, 0.0).unwrap()
}

fn within(stretches: &[Stretch], at: Utc) -> bool {
    stretches.iter().any(|s| s.from <= at && at <= s.to)
}

/// Reads `name=value` out of a row's inputs; units behind the number are left off.
fn input<'r>(row: &'r Row, name: &str) -> &'r str {
    row.text("inputs")
        .split_whitespace()
        .find_map(|pair| pair.strip_prefix(name)?.strip_prefix('='))
        .unwrap_or_else(|| panic!("no {name} in {:?}", row.cells))
}

/// `tests/data/reference/geometry.csv`: turn of the sky, trails, the 500 rule (20 mm: 25 s).
#[test]
fn trails_turns_and_the_rule_are_as_computed_elsewhere() {
    let mut seen = [0; 3];
    for row in table("geometry") {
        let number = |name: &str| input(&row, name).parse::<f64>().unwrap();
        let ours = match row.text("kind") {
            "sky_rotation" => {
                seen[0] += 1;
                turn(at(input(&row, "t1")), at(input(&row, "t2"))).deg()
            }
            "star_trail" => {
                seen[1] += 1;
                let dec = Angle::from_deg(number("dec"));
                trail_px(number("f"), number("t"), dec, number("pitch"))
            }
            "rule_500" => {
                seen[2] += 1;
                rule_500_s(number("f"), number("crop")).unwrap()
            }
            _ => continue,
        };
        let apart = (ours - row.number("value")).abs();
        assert!(apart <= row.number("tolerance"), "{ours} {:?}", row.cells);
    }
    assert_eq!(seen, [20, 8, 7]);
    // The trade's own figure: 20 mm, 25 s, 5.95 micrometres leave 6.13 pixels (common practice, no source).
    let full = Sensor::told_by(20.0, 20.0, 6048, 4032).unwrap();
    let px = trail_px(20.0, 25.0, Angle::from_deg(0.0), full.pitch_um);
    assert!((px - 6.13).abs() < 0.01, "{px}");
}

/// `tests/data/reference/sunmoon.csv`: on which side of each limit Sun and Moon stand at its instants.
#[test]
fn windows_hold_the_instants_that_other_libraries_put_into_them() {
    let mut checked = 0;
    for row in table("sunmoon").iter().step_by(7) {
        let Some(instant) = Utc::parse(row.text("utc")) else {
            continue;
        };
        let (Some(from), Some(to)) = (instant.plus_s(-7_000.0), instant.plus_s(9_000.0)) else {
            continue;
        };
        let whole = Stretch { from, to };
        let Some(sky) = night_sky(&mut Looker::new(), row.place(), whole, &[]) else {
            continue;
        };
        let (sun, moon) = (row.number("sun_alt_de421"), row.number("moon_alt_de421"));
        for (limit, below) in TWILIGHTS_DEG.into_iter().zip(&sky.sun_below) {
            // A crossing is found to a second, in which the Sun moves by 0.004°.
            if (sun - limit).abs() > 0.01 {
                assert_eq!(within(below, instant), sun < limit, "{:?}", row.cells);
                checked += 1;
            }
        }
        if (moon + 0.8333).abs() > 0.01 {
            assert_eq!(
                within(&sky.moon_up, instant),
                moon > -0.8333,
                "{:?}",
                row.cells
            );
            let dark = sun < -18.0 && moon <= -0.8333;
            assert!(!dark || within(&sky.dark, instant), "{:?}", row.cells);
            checked += 1;
        }
    }
    assert!(checked > 200, "{checked}");
}

/// About June 21 the Sun never sinks below -18° north of 48.6° (trade facts; -18° + 90° - 23.4°).
#[test]
fn twilight_lasts_all_night_in_june_north_of_48_6() {
    let june = |lat| {
        sky(
            place(lat, 0.0),
            "2024-06-20T12:00:00Z",
            "2024-06-21T12:00:00Z",
            &[],
        )
    };
    assert!(june(48.8).sun_below[2].is_empty());
    let short = &june(48.3).sun_below[2];
    assert_eq!(short.len(), 1);
    assert!(short[0].length_s() < 2.0 * 3600.0);
}

/// London, 2024-06-21: sunrise 04:43, sunset 21:22 summer time (published tables, from memory, whole minutes).
#[test]
fn sunrise_and_sunset_are_those_of_the_tables() {
    let london = sky(
        place(51.5, -0.12),
        "2024-06-20T12:00:00Z",
        "2024-06-21T12:00:00Z",
        &[],
    );
    let night = london.sun_down[0];
    for (ours, table) in [
        (night.to, "2024-06-21T03:43:00Z"),
        (night.from, "2024-06-20T20:21:30Z"),
    ] {
        let apart = ours.seconds_since(at(table)).abs();
        assert!(apart < 90.0, "{ours} {table}");
    }
}

/// At full Moon the Moon rises about sunset and sets about sunrise; at new Moon it is up with the Sun. Instants of
/// the phases: 2024-10-17 11:26 and 2024-10-02 18:49 UTC (published, from memory).
#[test]
fn the_full_moon_is_up_all_night_and_the_new_moon_is_not() {
    let here = place(40.0, 0.0);
    let full = sky(here, "2024-10-17T12:00:00Z", "2024-10-18T12:00:00Z", &[]);
    let shared: f64 = full.sun_below[2]
        .iter()
        .flat_map(|n| full.moon_up.iter().filter_map(|m| n.shared(*m)))
        .map(Stretch::length_s)
        .sum();
    assert!((shared - full.sun_below[2][0].length_s()).abs() < 1.0);
    assert!(full.dark.is_empty());
    let new = sky(here, "2024-10-02T12:00:00Z", "2024-10-03T12:00:00Z", &[]);
    assert_eq!(new.dark, new.sun_below[2]);
    assert!(new.points.iter().all(|p| p.moon_lit < 0.01));
}

/// IMO 2025: the Geminids culminate near 2h local time; at 45° north 78° high (trade facts). Their maximum is on
/// December 14 about 8h UT in 2025 (IMO 2025 calendar, Table 5).
#[test]
fn the_geminids_culminate_at_two() {
    let night = sky(
        place(45.0, 0.0),
        "2025-12-13T12:00:00Z",
        "2025-12-14T12:00:00Z",
        &["GEM"],
    );
    let track = &night.tracks[0];
    assert!((track.culmination.alt_deg - 78.0).abs() < 0.5);
    assert!(
        track
            .culmination
            .at
            .seconds_since(at("2025-12-14T02:00:00Z"))
            .abs()
            < 600.0
    );
    assert!(
        track
            .points
            .iter()
            .all(|p| p.alt_deg <= track.culmination.alt_deg + 1e-6)
    );
    // Printed as 262.2: half of the last digit is 1.2 hours.
    let peak = track.peak.unwrap();
    assert!((peak.error_h - 1.22).abs() < 0.01, "{peak:?}");
    let peak = peak.at;
    assert!(
        peak.seconds_since(at("2025-12-14T08:00:00Z")).abs() < 3_600.0,
        "{peak}"
    );
}

#[test]
fn polar_day_and_polar_night_are_what_they_are() {
    let north = place(78.2, 15.6);
    let summer = sky(
        north,
        "2024-06-20T11:00:00Z",
        "2024-06-21T11:00:00Z",
        &["PER"],
    );
    assert!(summer.sun_down.is_empty() && summer.dark.is_empty());
    let winter = sky(
        north,
        "2024-12-20T11:00:00Z",
        "2024-12-21T11:00:00Z",
        &["URS"],
    );
    assert_eq!(winter.sun_down, [winter.whole], "the Sun does not rise");
    let empty = Stretch {
        from: at("2024-12-20T11:00:00Z"),
        to: at("2024-12-20T11:00:00Z"),
    };
    assert_eq!(night_sky(&mut Looker::new(), north, empty, &[]), None);
    let late = Stretch {
        from: at("2120-12-20T11:00:00Z"),
        to: at("2120-12-21T11:00:00Z"),
    };
    assert_eq!(night_sky(&mut Looker::new(), north, late, &[]), None);
}
