//! Frames that settings and a glance do not tell: what the body's other frames, the pause before them and their constancy do.

use super::tests::*;
use crate::terms::basis::Kind;
use crate::terms::picture::Look;
use crate::terms::records::SessionFrame;

const STILL_LIGHT: Look = Look {
    level: 1.2 / 255.0,
    floor: 0.0,
    uneven_stops: 0.06,
    falloff_stops: 0.4,
    tilt_stops: 0.1,
    ..BLACK
};

/// A sky of next to no light: darks with the same settings are darker still, and those are the darks.
#[test]
fn the_darker_of_two_with_the_same_settings_is_the_dark() {
    let dark = Look {
        level: 0.0,
        floor: 0.0,
        ..BLACK
    };
    let mut night = Vec::new();
    add(&mut night, 60, 13.0, Some(STILL_LIGHT));
    add(&mut night, 25, 13.0, Some(dark));
    add(&mut night, 100, 13.0, Some(STILL_LIGHT));
    at_iso(&mut night, 400.0);
    // A minute to put the cap on, and to take it off.
    let at_ms = |i: i64| i * 15_000 + 60_000 * (i64::from(i >= 60) + i64::from(i >= 85));
    let expect = [(LIGHT, 60), (DARK, 25), (LIGHT, 100)];
    assert_eq!(runs_at(&night, at_ms), expect);
}

/// A clouded sky at a dark site is as black as a cap, but a lamp that passes shows that there is none.
#[test]
fn a_lamp_in_one_picture_of_a_black_run_shows_that_the_lens_was_open() {
    let clouds = Look {
        level: 5.0 / 255.0,
        floor: 4.0 / 255.0,
        uneven_stops: 0.0625,
        falloff_stops: 0.25,
        ..BLACK
    };
    let lamp = Look {
        level: 29.0 / 255.0,
        edges: 0.025,
        uneven_stops: 0.375,
        falloff_stops: 3.875,
        tilt_stops: 2.125,
        ..clouds
    };
    let clear = Look {
        level: 7.5 / 255.0,
        stars: 4.0,
        uneven_stops: 0.125,
        falloff_stops: 0.75,
        tilt_stops: 0.125,
        ..clouds
    };
    let mut night = Vec::new();
    add(&mut night, 60, 8.0, Some(clouds));
    add(&mut night, 160, 8.0, Some(clear));
    for f in &mut night {
        f.iso = Some(400.0);
        f.f_number = Some(2.0);
    }
    let at_ms = |i: i64| i * 10_277 + 130_000 * i64::from(i >= 60);
    let of_clouds = |night: &[SessionFrame]| -> Vec<_> {
        let settled = settled_at(night, at_ms);
        settled[..60].iter().map(|s| s.0).collect()
    };
    assert_eq!(of_clouds(&night), vec![DARK; 60], "as black as a cap");
    night[31].look = Some(lamp);
    assert_eq!(of_clouds(&night), vec![LIGHT; 60]);
}

/// A panel as bright as the starry sky, at the lights' own settings and without land: no star shows in any of its frames.
#[test]
fn a_panel_as_bright_as_the_sky_shows_no_star_in_any_frame() {
    let sky = Look {
        level: 0.35,
        edges: 0.0,
        stars: 6.0,
        uneven_stops: 0.1,
        ..STARS
    };
    let panel = Look {
        level: 0.38,
        tilt_stops: 0.4,
        ..EVEN
    };
    let mut night = Vec::new();
    add(&mut night, 80, 4.0, Some(sky));
    add(&mut night, 20, 4.0, Some(panel));
    let at_ms = |i: i64| i * 5_000 + i64::from(i >= 80) * 400_000;
    assert_eq!(runs_at(&night, at_ms), [(LIGHT, 80), (FLAT, 20)]);
    // Of an evening of their own, too.
    assert_eq!(runs(&night[80..]), [(FLAT, 20)]);
}

/// At the highest sensitivities black is grey: a level that the shortest exposures have as well is no light.
#[test]
fn grey_frames_of_a_high_sensitivity_are_biases_and_darks() {
    let grey = Look {
        level: 34.0 / 255.0,
        floor: 33.0 / 255.0,
        ..BLACK
    };
    let mut night = Vec::new();
    add(&mut night, 60, 6.0, Some(STARS));
    add(&mut night, 30, 6.0, Some(grey));
    add(&mut night, 30, 0.000_25, Some(grey));
    at_iso(&mut night, 25_600.0);
    assert_eq!(
        runs(&night),
        [(LIGHT, 60), (DARK, 30), (Some(Kind::Bias), 30)]
    );
}

/// A frame without a picture after a pause belongs to what follows it at once.
#[test]
fn a_frame_without_a_picture_goes_with_the_nearer_neighbours() {
    let mut night = Vec::new();
    add(&mut night, 60, 20.0, Some(STARS));
    add(&mut night, 1, 20.0, None);
    add(&mut night, 20, 20.0, Some(BLACK));
    let at_ms = |i: i64| i * 22_000 + i64::from(i >= 60) * 300_000;
    assert_eq!(runs_at(&night, at_ms), [(LIGHT, 60), (DARK, 21)]);
}

/// Exposures that shorten at the pace of the lights before are no trials of lights that follow.
#[test]
fn a_ramp_between_two_runs_is_of_lights() {
    let mut night = Vec::new();
    add(&mut night, 30, 20.0, Some(STARS));
    for exposure_s in [16.0, 12.0, 10.0] {
        add(&mut night, 3, exposure_s, Some(STARS));
    }
    add(&mut night, 30, 20.0, Some(STARS));
    assert_eq!(runs(&night), [(LIGHT, 69)]);
}

/// A night's second run may have another exposure.
#[test]
fn a_second_run_of_another_exposure_is_of_lights() {
    let mut night = Vec::new();
    add(&mut night, 80, 20.0, Some(STARS));
    add(&mut night, 40, 12.0, Some(STARS));
    let at_ms = |i: i64| i * 22_000 + i64::from(i >= 80) * 300_000;
    assert_eq!(runs_at(&night, at_ms), [(LIGHT, 120)]);
}

/// The bright sky of a town without a star, of one brightness; the frames of the same night that certainly show the sky are later
/// ones, under cloud at dawn.
#[test]
fn an_even_sky_as_bright_as_others_of_the_night_is_no_panel() {
    let town = Look {
        level: 0.253,
        falloff_stops: 1.75,
        tilt_stops: 0.625,
        ..EVEN
    };
    let mut night = Vec::new();
    add(&mut night, 88, 3.0, Some(town));
    add(&mut night, 40, 3.0, Some(BLACK));
    for step in 0..64_i32 {
        let dawn = (f64::from(step) - 20.0).max(0.0) / 43.0;
        let cloud = Look {
            level: 0.27 + 0.7 * dawn,
            uneven_stops: 0.08 + 0.5 * dawn,
            ..town
        };
        add(&mut night, 1, 3.0, Some(cloud));
    }
    let at_ms = |i: i64| i * 5_000 + 200_000 * (i64::from(i >= 88) + i64::from(i >= 128));
    let expect = [(LIGHT, 88), (DARK, 40), (LIGHT, 64)];
    assert_eq!(runs_at(&night, at_ms), expect);
}

/// A body that leaves its dark current in the picture: darks are brighter than biases, and hot pixels look like stars. Where
/// stars show, no cloud makes the sky so dark.
#[test]
fn grey_darks_with_hot_pixels_are_darker_than_any_sky_with_stars() {
    let sky = Look {
        level: 0.33,
        uneven_stops: 0.08,
        stars: 4.0,
        edges: 0.002,
        ..STARS
    };
    let grey = Look {
        level: 13.0 / 255.0,
        floor: 13.0 / 255.0,
        stars: 6.0,
        edges: 0.004,
        uneven_stops: 0.02,
        falloff_stops: -0.125,
        tilt_stops: 0.25,
        ..BLACK
    };
    let mut night = Vec::new();
    add(&mut night, 100, 30.0, Some(sky));
    add(&mut night, 40, 30.0, Some(grey));
    add(&mut night, 40, 0.000_125, Some(BLACK));
    let at_ms = |i: i64| i * 31_000 + i64::from(i >= 100) * 30_000;
    let found = runs_at(&night, at_ms);
    assert_eq!(found[0], (LIGHT, 100));
    assert!(found[1].0 == DARK && found[1].1 >= 40, "{found:?}");
}

/// A white picture tells how bright its light is at least, and no more.
#[test]
fn a_white_trial_shot_is_a_trial() {
    let white = Look {
        level: 1.0,
        uneven_stops: 0.04,
        edges: 0.009,
        ..EVEN
    };
    let mut night = Vec::new();
    add(&mut night, 1, 10.0, Some(white));
    night[0].iso = Some(51_200.0);
    add(
        &mut night,
        60,
        2.0,
        Some(Look {
            level: 0.5,
            ..STARS
        }),
    );
    at_iso(&mut night[1..], 400.0);
    assert_eq!(runs(&night), [(Some(Kind::Trial), 1), (LIGHT, 60)]);
}
