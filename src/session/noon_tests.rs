//! The night to which the frames of a run across a dark noon belong.

use super::*;

const MINUTE_MS: i64 = 60_000;
const NOON_MIN: i64 = 1440;

/// Frames of a body every ten minutes between two minutes, counted from the noon of day 0.
fn body(camera: i64, focal: f64, from_min: i64, to_min: i64) -> Vec<SiteFrame> {
    (from_min..=to_min)
        .step_by(10)
        .map(|at| SiteFrame {
            frame_id: camera * 100_000 + at,
            camera_id: Some(camera),
            focal_mm: Some(focal),
            lens: None,
            start_ms: at * MINUTE_MS,
            night_day: Some(at.div_euclid(NOON_MIN)),
            own_day: at.div_euclid(NOON_MIN),
        })
        .collect()
}

fn nights(frames: &[SiteFrame], sun_down: bool) -> Vec<i64> {
    nights_of(frames, &mut |_| sun_down)
}

#[test]
fn a_run_over_noon_belongs_to_the_night_where_it_began_while_the_sun_is_down() {
    let frames = body(1, 20.0, 600, 1900);
    assert!(nights(&frames, true).iter().all(|day| *day == 0));
    let own: Vec<i64> = frames.iter().map(|f| f.own_day).collect();
    assert_eq!(nights(&frames, false), own);
    assert!(own.contains(&1));
}

#[test]
fn a_run_of_several_days_is_one_and_a_noon_with_the_sun_up_ends_it() {
    let frames = body(1, 20.0, 600, 4 * NOON_MIN + 300);
    assert!(nights(&frames, true).iter().all(|day| *day == 0));
    let up_once = nights_of(&frames, &mut |day| day != 2);
    for (frame, day) in frames.iter().zip(up_once) {
        assert_eq!(day, if frame.own_day < 2 { 0 } else { 2 });
    }
}

#[test]
fn a_pause_of_more_than_half_an_hour_at_noon_ends_the_night() {
    let paused = |pause_min: i64| {
        let mut frames = body(1, 20.0, 1000, 1430);
        frames.extend(body(1, 20.0, 1430 + pause_min, 1900));
        nights(&frames, true).last().copied()
    };
    assert_eq!(paused(30), Some(0));
    assert_eq!(paused(31), Some(1));
}

#[test]
fn what_begins_while_such_a_run_lasts_is_of_its_night_and_what_begins_later_is_not() {
    let mut frames = body(1, 20.0, 600, 1600);
    // Another body, another lens of the same body, and a body that begins after the run.
    for (camera, focal, from) in [(2, 14.0, 1500), (1, 50.0, 1590), (3, 14.0, 2300)] {
        frames.extend(body(camera, focal, from, 2200.max(from + 100)));
    }
    for (frame, day) in frames.iter().zip(nights(&frames, true)) {
        assert_eq!(day, i64::from(frame.camera_id == Some(3)), "{frame:?}");
    }
}

#[test]
fn another_framing_does_not_carry_a_run_over_noon() {
    let mut frames = body(1, 20.0, 600, 1430);
    frames.extend(body(1, 50.0, 1440, 1900));
    let own: Vec<i64> = frames.iter().map(|f| f.own_day).collect();
    assert_eq!(nights(&frames, true), own);
}

#[test]
fn the_order_of_the_frames_does_not_matter() {
    let mut frames = body(1, 20.0, 600, 1600);
    frames.extend(body(2, 14.0, 1500, 3000));
    let straight = nights(&frames, true);
    frames.reverse();
    let mut turned = nights(&frames, true);
    turned.reverse();
    assert_eq!(straight, turned);
}
