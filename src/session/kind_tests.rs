use super::*;

fn frame(id: i64, exposure_s: f64) -> SessionFrame {
    SessionFrame {
        frame_id: id,
        exposure_s: Some(exposure_s),
        iso: Some(3200.0),
        path: format!("DCIM/100NITES/NITE{id:04}.DNG"),
        ..SessionFrame::default()
    }
}

const BLACK: Look = Look {
    median: 0.01,
    spread: 0.02,
    glint: 0.0,
};
const EVEN: Look = Look {
    median: 0.45,
    spread: 0.12,
    glint: 0.0,
};
const STARS: Look = Look {
    median: 0.12,
    spread: 0.3,
    glint: 0.004,
};

fn kinds(frames: &[SessionFrame]) -> Vec<Option<Kind>> {
    let frames: Vec<&SessionFrame> = frames.iter().collect();
    let starts: Vec<i64> = (0..frames.len())
        .map(|i| i64::try_from(i).unwrap() * 22_000)
        .collect();
    settle(&frames, &starts, Some(22.0))
        .into_iter()
        .map(|s| s.0)
        .collect()
}

/// Looks where it is wanted until nothing more is, as the corridor does; how many looks it took.
fn look_at(frames: &mut [SessionFrame], truth: impl Fn(i64) -> Look) -> usize {
    let mut looks = 0;
    loop {
        let wanted = wants_look(&frames.iter().collect::<Vec<_>>(), &|_| false);
        if wanted.is_empty() {
            return looks;
        }
        looks += wanted.len();
        for f in frames.iter_mut().filter(|f| wanted.contains(&f.frame_id)) {
            f.look = Some(truth(f.frame_id));
        }
    }
}

#[test]
fn a_light_has_the_usual_long_exposure_of_a_run() {
    let run: Vec<_> = (0..50).map(|i| frame(i, 20.0)).collect();
    assert!(kinds(&run).iter().all(|k| *k == Some(Kind::Light)));
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
    assert_eq!(kinds[24], Some(Kind::Light));
    assert_eq!(kinds[25], None, "half a second is no light of the night");
}

#[test]
fn capped_frames_at_the_end_of_a_run_are_darks_though_their_exposure_is_the_same() {
    let mut run: Vec<_> = (0..300).map(|i| frame(i, 20.0)).collect();
    let looks = look_at(&mut run, |id| if id >= 271 { BLACK } else { STARS });
    assert!(looks < 40, "{looks} looks at 300 frames");
    let kinds = kinds(&run);
    assert_eq!(kinds[270], Some(Kind::Light));
    assert!(kinds[271..].iter().all(|k| *k == Some(Kind::Dark)));
    assert!(kinds[..271].iter().all(|k| *k == Some(Kind::Light)));
}

#[test]
fn pictures_tell_flats_and_biases_and_a_cloud_is_no_flat() {
    let mut night: Vec<_> = (0..30).map(|i| frame(i, 20.0)).collect();
    night.extend((30..40).map(|i| frame(i, 0.01)));
    night.extend((40..50).map(|i| frame(i, 0.000_125)));
    look_at(&mut night, |id| match id {
        12..=18 | 30..=39 => EVEN,
        40.. => BLACK,
        _ => STARS,
    });
    let kinds = kinds(&night);
    assert!(
        kinds[..30].iter().all(|k| *k == Some(Kind::Light)),
        "an overcast stretch too"
    );
    assert!(kinds[30..40].iter().all(|k| *k == Some(Kind::Flat)));
    assert!(kinds[40..].iter().all(|k| *k == Some(Kind::Bias)));
}

#[test]
fn the_photographers_word_goes_before_everything() {
    let mut run: Vec<_> = (0..20).map(|i| frame(i, 20.0)).collect();
    run[3].path = "DCIM/102DARKS/N.DNG".into();
    run[3].look = Some(BLACK);
    run[3].stated_kind = Some(Kind::Flat);
    run[4].path = "DCIM/102DARKS/N.DNG".into();
    let kinds = kinds(&run);
    assert_eq!(kinds[3], Some(Kind::Flat));
    assert_eq!(kinds[4], Some(Kind::Dark));
}

#[test]
fn a_few_odd_frames_before_the_run_are_trials() {
    let light: Settled = (Some(Kind::Light), None);
    let unknown: Settled = (None, None);
    let mut night = vec![
        vec![unknown.clone(); 2],
        vec![light.clone(); 12],
        vec![unknown.clone(); 2],
    ];
    settle_trials(&mut night);
    assert!(night[0].iter().all(|s| s.0 == Some(Kind::Trial)));
    assert!(
        night[2].iter().all(|s| s.0.is_none()),
        "after the run nothing is tried"
    );
    let mut many = vec![vec![unknown; 6], vec![light; 12]];
    settle_trials(&mut many);
    assert!(many[0][0].0.is_none(), "six are more than a trial");
}
