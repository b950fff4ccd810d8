use super::*;
use crate::terms::picture::Look;

fn frame(id: i64, exposure_s: f64) -> SessionFrame {
    SessionFrame {
        frame_id: id,
        exposure_s: Some(exposure_s),
        iso: Some(3200.0),
        f_number: Some(2.8),
        path: format!("DCIM/100NITES/NITE{id:04}.DNG"),
        ..SessionFrame::default()
    }
}

pub(super) const BLACK: Look = Look {
    level: 0.01,
    floor: 0.01,
    stars: 0.0,
    edges: 0.0,
    uneven_stops: 0.0,
    falloff_stops: 0.0,
    tilt_stops: 0.0,
    measures: crate::terms::picture::MEASURES,
};
pub(super) const EVEN: Look = Look {
    level: 0.45,
    floor: 0.3,
    falloff_stops: 2.4,
    uneven_stops: 0.02,
    tilt_stops: 0.2,
    ..BLACK
};
pub(super) const STARS: Look = Look {
    level: 0.2,
    floor: 0.08,
    stars: 40.0,
    edges: 0.01,
    uneven_stops: 0.3,
    falloff_stops: 1.2,
    tilt_stops: 0.5,
    ..BLACK
};
/// An overcast sky, as even as a panel.
const OVERCAST: Look = Look {
    level: 0.3,
    uneven_stops: 0.03,
    ..EVEN
};

/// A run of one exposure, numbers going on from those before.
pub(super) fn add(
    night: &mut Vec<SessionFrame>,
    count: usize,
    exposure_s: f64,
    look: Option<Look>,
) {
    for _ in 0..count {
        let id = i64::try_from(night.len()).unwrap();
        night.push(SessionFrame {
            look,
            ..frame(id, exposure_s)
        });
    }
}

/// Kinds of frames taken 22 s from start to start.
fn settled(frames: &[SessionFrame]) -> Vec<Settled> {
    settled_at(frames, |i| i * 22_000)
}

pub(super) fn settled_at(frames: &[SessionFrame], at_ms: impl Fn(i64) -> i64) -> Vec<Settled> {
    let night: Vec<Taken> = frames
        .iter()
        .zip(0..)
        .map(|(frame, i)| Taken {
            at_ms: at_ms(i),
            frame,
        })
        .collect();
    decide_kinds(&night, &[(0..night.len()).collect()])
}

fn kinds(frames: &[SessionFrame]) -> Vec<Option<Kind>> {
    settled(frames).into_iter().map(|s| s.0).collect()
}

/// The kinds one after the other with how many of each.
pub(super) fn runs(frames: &[SessionFrame]) -> Vec<(Option<Kind>, usize)> {
    runs_at(frames, |i| i * 22_000)
}

/// The same of frames taken at these times.
pub(super) fn runs_at(
    frames: &[SessionFrame],
    at_ms: impl Fn(i64) -> i64,
) -> Vec<(Option<Kind>, usize)> {
    settled_at(frames, at_ms)
        .chunk_by(|a, b| a.0 == b.0)
        .map(|run| (run[0].0, run.len()))
        .collect()
}

pub(super) fn at_iso(frames: &mut [SessionFrame], iso: f64) {
    for frame in frames {
        frame.iso = Some(iso);
    }
}

pub(super) const LIGHT: Option<Kind> = Some(Kind::Light);
pub(super) const DARK: Option<Kind> = Some(Kind::Dark);
pub(super) const FLAT: Option<Kind> = Some(Kind::Flat);

#[test]
fn a_light_has_the_usual_long_exposure_of_a_run() {
    let run: Vec<_> = (0..50).map(|i| frame(i, 20.0)).collect();
    assert!(kinds(&run).iter().all(|k| *k == LIGHT));
    assert_eq!(kinds(&run[..2]), [None, None], "two frames are no run");
    let burst: Vec<_> = (0..50).map(|i| frame(i, 0.004)).collect();
    assert!(
        kinds(&burst).iter().all(Option::is_none),
        "a daylight burst is no light"
    );
}

#[test]
fn exposures_that_shorten_with_the_dawn_are_lights_still() {
    let mut run: Vec<_> = (0..20).map(|i| frame(i, 20.0)).collect();
    run.extend(
        [13.0, 8.0, 5.0, 2.0, 1.0, 0.5]
            .iter()
            .zip(20..)
            .map(|(e, i)| frame(i, *e)),
    );
    let kinds = kinds(&run);
    assert_eq!(kinds[24], LIGHT);
    assert_eq!(kinds[25], None, "half a second is no light of the night");
}

#[test]
fn capped_frames_are_darks_wherever_they_lie_though_their_exposure_is_the_same() {
    let mut night = Vec::new();
    add(&mut night, 271, 20.0, Some(STARS));
    add(&mut night, 29, 20.0, Some(BLACK));
    assert_eq!(runs(&night), [(LIGHT, 271), (DARK, 29)]);
    // Between two runs of lights, where both ends of the night are lights.
    add(&mut night, 300, 20.0, Some(STARS));
    assert_eq!(runs(&night), [(LIGHT, 271), (DARK, 29), (LIGHT, 300)]);
}

#[test]
fn darks_after_lights_that_flicker_under_broken_cloud_are_darks() {
    let mut night = Vec::new();
    for nth in 0..60 {
        let level = [0.12, 0.3, 0.17, 0.45][nth % 4];
        let stars = [9.0, 0.0, 25.0][nth % 3];
        let look = Look {
            level,
            stars,
            ..STARS
        };
        add(&mut night, 1, 20.0, Some(look));
    }
    add(&mut night, 20, 20.0, Some(BLACK));
    assert_eq!(runs(&night), [(LIGHT, 60), (DARK, 20)]);
}

#[test]
fn dark_clouds_are_no_darks_where_darks_of_the_body_are_darker() {
    let cloud = Look {
        level: 0.05,
        floor: 0.04,
        ..BLACK
    };
    let mut night = Vec::new();
    add(&mut night, 30, 20.0, Some(STARS));
    add(&mut night, 30, 20.0, Some(cloud));
    add(&mut night, 10, 20.0, Some(BLACK));
    at_iso(&mut night[60..], 1600.0);
    assert_eq!(runs(&night), [(LIGHT, 60), (DARK, 10)]);
}

#[test]
fn a_lamp_in_one_picture_changes_nothing() {
    let mut night = Vec::new();
    for count in [20, 15] {
        add(&mut night, count, 20.0, Some(BLACK));
        add(&mut night, 1, 20.0, Some(STARS));
    }
    add(&mut night, 15, 20.0, Some(BLACK));
    assert_eq!(runs(&night), [(DARK, 52)]);
}

#[test]
fn darks_glow_in_a_corner_and_rise_with_the_noise() {
    let glow = Look {
        level: 0.06,
        uneven_stops: 0.5,
        falloff_stops: -0.8,
        tilt_stops: 3.0,
        ..BLACK
    };
    let mut night = Vec::new();
    add(&mut night, 150, 20.0, Some(STARS));
    add(&mut night, 60, 20.0, Some(glow));
    assert_eq!(runs(&night), [(LIGHT, 150), (DARK, 60)]);
}

#[test]
fn lights_of_a_dark_site_are_lights() {
    // 10 s at f/2.8 and ISO 1600 under 21.9 magnitudes a square arcsecond: some four hundredths of white, and stars.
    let dim = Look {
        level: 0.045,
        floor: 0.02,
        stars: 6.0,
        uneven_stops: 0.15,
        falloff_stops: 0.8,
        ..STARS
    };
    let mut night = Vec::new();
    add(&mut night, 200, 10.0, Some(dim));
    at_iso(&mut night, 1600.0);
    assert_eq!(runs(&night), [(LIGHT, 200)]);
    let mut with_darks = night.clone();
    add(&mut with_darks, 20, 10.0, Some(BLACK));
    at_iso(&mut with_darks, 1600.0);
    assert_eq!(runs(&with_darks), [(LIGHT, 200), (DARK, 20)]);
}

#[test]
fn pictures_tell_flats_and_biases_and_a_cloud_is_no_flat() {
    let mut night = Vec::new();
    add(&mut night, 12, 20.0, Some(STARS));
    add(&mut night, 7, 20.0, Some(EVEN));
    add(&mut night, 11, 20.0, Some(STARS));
    add(&mut night, 10, 0.01, Some(EVEN));
    add(&mut night, 10, 0.000_125, Some(BLACK));
    let bias = Some(Kind::Bias);
    assert_eq!(
        runs(&night),
        [(LIGHT, 30), (FLAT, 10), (bias, 10)],
        "an overcast stretch too"
    );
}

#[test]
fn even_frames_of_a_second_and_more_are_flats_unless_the_run_says_that_they_are_cloud() {
    let mut night = Vec::new();
    add(&mut night, 60, 4.0, Some(STARS));
    // A cloud comes over gradually, with the settings of the run.
    add(&mut night, 30, 4.0, Some(OVERCAST));
    add(&mut night, 60, 4.0, Some(STARS));
    // A panel, at a lower sensitivity.
    add(&mut night, 25, 2.0, Some(EVEN));
    at_iso(&mut night[150..], 100.0);
    assert_eq!(runs(&night), [(LIGHT, 150), (FLAT, 25)]);
    assert_eq!(
        runs(&night[150..]),
        [(FLAT, 25)],
        "of a day of their own too"
    );
}

#[test]
fn trial_shots_at_a_high_sensitivity_are_no_flats() {
    let mut night = Vec::new();
    // Out of focus: the sky is as even as a panel.
    add(&mut night, 3, 2.0, Some(Look { level: 0.4, ..EVEN }));
    at_iso(&mut night, 12_800.0);
    add(&mut night, 100, 15.0, Some(STARS));
    assert_eq!(runs(&night), [(Some(Kind::Trial), 3), (LIGHT, 100)]);
}

#[test]
fn a_landscape_by_daylight_is_no_trial_and_says_why_it_is_unknown() {
    let mut night = Vec::new();
    let land = Look {
        stars: 0.0,
        ..STARS
    };
    add(&mut night, 3, 0.01, Some(land));
    add(&mut night, 100, 15.0, Some(STARS));
    assert_eq!(runs(&night), [(None, 3), (LIGHT, 100)]);
    let why = settled(&night)[0].1.clone().unwrap();
    assert!(why.starts_with("unknown: too short for a light"), "{why}");
}

#[test]
fn the_photographers_word_goes_before_everything() {
    let mut run: Vec<_> = (0..20).map(|i| frame(i, 20.0)).collect();
    run[3].path = "DCIM/102DARKS/N.DNG".into();
    run[3].look = Some(BLACK);
    run[3].stated_kind = Some(Kind::Flat);
    run[4].path = "DCIM/102DARKS/N.DNG".into();
    let kinds = kinds(&run);
    assert_eq!(kinds[3], FLAT);
    assert_eq!(kinds[4], DARK);
}

#[test]
fn a_few_odd_frames_before_the_run_are_trials() {
    let trial = Some(Kind::Trial);
    let mut night = Vec::new();
    add(&mut night, 2, 2.0, None);
    add(&mut night, 12, 20.0, None);
    add(&mut night, 2, 2.0, None);
    for (i, f) in night.iter_mut().enumerate() {
        f.iso = Some(if (2..14).contains(&i) {
            3200.0
        } else {
            12_800.0
        });
    }
    let found: Vec<Settled> = {
        let taken: Vec<Taken> = night
            .iter()
            .zip(0..)
            .map(|(frame, i)| Taken {
                at_ms: i * 400_000,
                frame,
            })
            .collect();
        decide_kinds(&taken, &[vec![0, 1], (2..14).collect(), vec![14, 15]])
    };
    assert!(found[..2].iter().all(|s| s.0 == trial));
    assert!(
        found[14..].iter().all(|s| s.0.is_none()),
        "after the run nothing is tried"
    );
    let mut many = Vec::new();
    add(&mut many, 11, 0.5, None);
    add(&mut many, 12, 20.0, None);
    assert!(kinds(&many)[0].is_none(), "so many are more than a trial");
}

/// A cloud over a dark site comes within minutes, is as dark and even as a cap, and goes: its steps are smaller.
#[test]
fn a_dark_cloud_that_comes_and_goes_by_degrees_is_no_cap() {
    let sky = |level: f64, stars: f64| Look {
        level: level / 255.0,
        floor: level / 400.0,
        stars,
        edges: 0.0,
        uneven_stops: 0.05,
        falloff_stops: 0.3,
        tilt_stops: 0.5,
        ..BLACK
    };
    let passing = [
        (9.0, 30.0),
        (7.5, 20.0),
        (6.0, 12.0),
        (4.5, 6.0),
        (3.0, 2.0),
    ];
    let cloud = Look {
        uneven_stops: 0.02,
        tilt_stops: 0.2,
        falloff_stops: 0.1,
        ..sky(2.0, 0.0)
    };
    let mut night = Vec::new();
    add(&mut night, 40, 20.0, Some(sky(10.0, 40.0)));
    for (level, stars) in passing {
        add(&mut night, 1, 20.0, Some(sky(level, stars)));
    }
    add(&mut night, 30, 20.0, Some(cloud));
    for (level, stars) in passing.into_iter().rev() {
        add(&mut night, 1, 20.0, Some(sky(level, stars)));
    }
    add(&mut night, 40, 20.0, Some(sky(10.0, 40.0)));
    assert_eq!(runs(&night), [(LIGHT, 120)]);
    // If it is sudden, it is a cap.
    let mut night = Vec::new();
    add(&mut night, 40, 20.0, Some(sky(10.0, 40.0)));
    add(&mut night, 30, 20.0, Some(cloud));
    add(&mut night, 40, 20.0, Some(sky(10.0, 40.0)));
    assert_eq!(runs(&night), [(LIGHT, 40), (DARK, 30), (LIGHT, 40)]);
}

/// A panel as bright as the sky, at the lights' own settings: the land has vanished.
#[test]
fn a_panel_at_the_settings_of_lights_with_land_is_a_flat() {
    let land = Look {
        level: 0.4,
        edges: 0.02,
        stars: 4.0,
        ..STARS
    };
    let mut night = Vec::new();
    add(&mut night, 60, 4.0, Some(land));
    add(&mut night, 20, 4.0, Some(EVEN));
    // Five minutes to set it up.
    let found = runs_at(&night, |i| i * 22_000 + i64::from(i >= 60) * 300_000);
    assert_eq!(found, [(LIGHT, 60), (FLAT, 20)]);
    assert_eq!(runs(&night), [(LIGHT, 80)], "at their pace it is a cloud");
}
