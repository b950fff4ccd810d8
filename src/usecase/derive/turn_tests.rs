use super::*;
use crate::pointing::elapsed::TURN_RAD_S;
use crate::pointing::law::Law;
use crate::pointing::lens::Lens;
use crate::pointing::vector::turned_about;
use crate::pointing::vector::turned_further;

const POLE: Vector = [0.0, 0.0, 1.0];
const STILL: [Vector; 3] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// Frames two minutes apart: how far the clock is wrong, by how many seconds the sky really turned, whether stars were matched.
fn frames(of: &[(f64, Option<f64>)]) -> Vec<Facing> {
    let begun = Utc::parse("2023-12-14T09:00:00Z").unwrap();
    let first = turned_further(&STILL, [1.3, -0.4, 0.9]);
    (0_u32..)
        .zip(of)
        .map(|(number, (wrong_s, turned_s))| Facing {
            mid: begun.plus_s(f64::from(number) * 120.0 + wrong_s),
            reading: begun.plus_s(f64::from(number) * 120.0 + wrong_s),
            is_light: true,
            camera: turned_s.map(|seconds| Camera {
                lens: Lens::plain(Law::Rectilinear, 2_300.0, (6000.0, 4000.0)),
                rows: first.map(|row| turned_about(row, POLE, TURN_RAD_S * seconds)),
            }),
            tracked: false,
        })
        .collect()
}

fn told(frames: &[Facing]) -> Vec<(i64, TurnBasis)> {
    #[allow(clippy::cast_possible_truncation)] // thousandths of a degree
    let one = |turn: Option<Turn>| {
        let turn = turn.unwrap();
        ((turn.deg * 1000.0).round() as i64, turn.basis)
    };
    turns(frames, Some(POLE)).into_iter().map(one).collect()
}

use TurnBasis::{Clock, Mount, Stars};

#[test]
fn a_tripod_turns_with_the_earth_by_stars_and_by_the_clock_alike() {
    let all: Vec<(f64, Option<f64>)> = (0..5).map(|k| (0.0, Some(f64::from(k) * 120.0))).collect();
    let by_stars = told(&frames(&all));
    assert_eq!(
        by_stars,
        [
            (-1003, Stars),
            (-501, Stars),
            (0, Stars),
            (501, Stars),
            (1003, Stars)
        ]
    );
    let none: Vec<(f64, Option<f64>)> = (0..5).map(|_| (0.0, None)).collect();
    let by_clock = told(&frames(&none));
    for (stars, clock) in by_stars.iter().zip(&by_clock) {
        assert_eq!((stars.0, Clock), *clock);
    }
}

#[test]
fn a_clock_that_was_set_between_frames_does_not_turn_the_sky() {
    let mut all: Vec<(f64, Option<f64>)> =
        (0..5).map(|k| (0.0, Some(f64::from(k) * 120.0))).collect();
    all[3].0 = 3_600.0;
    all[4].0 = 3_600.0;
    assert_eq!(told(&frames(&all))[3..], [(501, Stars), (1003, Stars)]);
    // Cloud: nothing but the clock tells it.
    all[4].1 = None;
    assert_eq!(told(&frames(&all))[3..], [(501, Stars), (16_044, Clock)]);
}

#[test]
fn a_mount_that_follows_the_stars_does_not_turn_under_cloud_either() {
    // A drift of half an arcsecond a second.
    let drift = |k: i32| Some(f64::from(k) * 4.0);
    let mut all: Vec<(f64, Option<f64>)> = (0..8).map(|k| (0.0, drift(k))).collect();
    all[1].1 = None;
    assert_eq!(told(&frames(&all)), [(0, Mount); 8]);
    // It was switched off before the last two.
    all[6].1 = Some(140.0);
    all[7].1 = Some(260.0);
    let turned = told(&frames(&all));
    assert_eq!(turned[..6], [(0, Mount); 6]);
    assert_eq!(turned[6..], [(518, Stars), (1019, Stars)]);
    // Stated, in a session that is too short to show it.
    let mut short = frames(&[(0.0, Some(0.0)), (0.0, None)]);
    assert_eq!(told(&short), [(-501, Stars), (0, Clock)]);
    short[0].tracked = true;
    assert_eq!(told(&short), [(0, Mount); 2]);
}

#[test]
fn a_camera_that_was_moved_says_nothing_of_the_sky() {
    let all: Vec<(f64, Option<f64>)> = (0..5).map(|k| (0.0, Some(f64::from(k) * 120.0))).collect();
    let mut frames = frames(&all);
    let camera = frames[4].camera.as_mut().unwrap();
    camera.rows = camera
        .rows
        .map(|row| turned_about(row, [0.0, 1.0, 0.0], 0.05));
    assert_eq!(told(&frames)[3..], [(501, Stars), (1003, Clock)]);
}

#[test]
fn stars_tell_it_without_any_clock_if_the_middle_light_shows_them() {
    let mut all = frames(&[(0.0, Some(0.0)), (0.0, Some(120.0)), (0.0, None)]);
    for one in &mut all {
        one.mid = None;
    }
    let turns = turns(&all, Some(POLE));
    assert!((turns[0].unwrap().deg + 0.501).abs() < 0.001);
    assert_eq!(turns[2], None);
    all[1].camera = None;
    assert_eq!(super::turns(&all, Some(POLE)), [None; 3]);
    // A mount is told by the readings.
    let mut all = frames(&[(0.0, Some(0.0)); 4]);
    for one in &mut all {
        one.mid = None;
    }
    assert_eq!(told(&all), [(0, Mount); 4]);
}
