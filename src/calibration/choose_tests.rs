use super::*;
use crate::calibration::run::runs_of;
use crate::calibration::run::wanted_for;
use crate::terms::calibration::ToldBy;
use crate::terms::time::Utc;

const NIGHT: &str = "2023-12-14T00:00:00Z";

/// `count` frames, 20 s apart, from `days` days after the night.
fn frames(first_id: i64, count: i64, days: f64) -> Vec<FrameSettings> {
    let night = Utc::parse(NIGHT).unwrap();
    (0..count)
        .map(|i| FrameSettings {
            frame_id: first_id + i,
            camera_id: Some(1),
            session: Some(first_id),
            start_utc: night.plus_s(days * 86_400.0 + i as f64 * 20.0),
            exposure_s: Some(15.0),
            iso: Some(3200.0),
            focal_mm: Some(20.0),
            f_number: Some(1.8),
            lens_id: Some(1),
            size_px: Some((6000, 4000)),
            temperature_c: Some(12.0),
            ..FrameSettings::default()
        })
        .collect()
}

/// A change of a frame.
type Change = fn(&mut FrameSettings);

fn with(mut frames: Vec<FrameSettings>, change: impl Fn(&mut FrameSettings)) -> Vec<FrameSettings> {
    frames.iter_mut().for_each(change);
    frames
}

fn chosen(kind: Kind, lights: &[FrameSettings], others: &[FrameSettings]) -> Match {
    let wanted = wanted_for(kind, lights);
    assert_eq!(wanted.len(), 1);
    let runs = runs_of(kind, others);
    choose(kind, &wanted[0], &runs, &mut |_| Ok::<bool, ()>(true)).unwrap()
}

fn ids(found: &Match) -> Vec<i64> {
    found.frames.iter().map(|one| one.frame.frame_id).collect()
}

#[test]
fn a_whole_run_of_the_night_goes_before_a_warmer_and_an_older_one() {
    let lights = frames(1, 100, 0.0);
    let own = frames(1000, 20, 0.2);
    let older = frames(2000, 20, -400.0);
    let warmer = with(frames(3000, 20, 0.1), |f| f.temperature_c = Some(20.0));
    let found = chosen(Kind::Dark, &lights, &[warmer, older.clone(), own].concat());
    assert_eq!(ids(&found), (1000..1020).collect::<Vec<_>>());
    assert_eq!(found.grade, Grade::Close);
    assert_eq!(found.remarks, ["at the same temperature", "within a day"]);

    // Without this, an equally warm run of a year ago before a warmer one of tonight.
    let warmer = with(frames(3000, 20, 0.1), |f| f.temperature_c = Some(20.0));
    let found = chosen(Kind::Dark, &lights, &[warmer.clone(), older].concat());
    assert_eq!(ids(&found)[0], 2000);
    assert_eq!(found.grade, Grade::Usable);
    assert!((found.frames[0].nearness.days.unwrap() - 400.0).abs() < 0.1);

    let found = chosen(Kind::Dark, &lights, &warmer);
    assert_eq!(found.grade, Grade::Poor);
    assert_eq!(found.remarks[0], "8 °C warmer");
}

#[test]
fn what_was_taken_otherwise_serves_no_light() {
    let lights = frames(1, 50, 0.0);
    let changes: [(Change, &str); 5] = [
        (|f| f.camera_id = Some(2), "there are no darks of this body"),
        (
            |f| f.exposure_s = Some(20.0),
            "of 20 darks of this body, none is exposed as long; those there are have 20 s",
        ),
        (|f| f.iso = Some(1600.0), "those there are have ISO 1600"),
        (|f| f.size_px = Some((3000, 2000)), "or of this size"),
        (|f| f.exposure_s = None, "have unknown settings"),
    ];
    for (change, said) in changes {
        let found = chosen(Kind::Dark, &lights, &with(frames(1000, 20, 0.2), change));
        assert_eq!(found.grade, Grade::None);
        assert!(found.frames.is_empty());
        assert!(found.remarks[0].contains(said), "{:?}", found.remarks);
    }
    let stranger = with(lights, |f| f.camera_id = None);
    let found = chosen(Kind::Dark, &stranger, &frames(1000, 20, 0.2));
    assert_eq!(found.remarks, ["the body that took them is unknown"]);
}

#[test]
fn a_temperature_that_is_not_known_is_told_and_does_not_count_as_equal() {
    let lights = frames(1, 50, 0.0);
    let silent = with(frames(1000, 20, 0.2), |f| f.temperature_c = None);
    let found = chosen(Kind::Dark, &lights, &silent);
    assert_eq!(found.grade, Grade::Usable);
    assert!(found.remarks[0].contains("temperature difference is unknown"));
    let as_warm = frames(2000, 20, 30.0);
    let found = chosen(Kind::Dark, &lights, &[silent, as_warm].concat());
    assert_eq!(
        ids(&found)[0],
        2000,
        "known to be near goes before the nearer night"
    );
}

#[test]
fn short_runs_are_put_together_and_long_ones_cut_to_the_nearest() {
    let lights = frames(1, 50, 0.0);
    let few = [
        frames(1000, 4, 1.0),
        frames(1100, 7, 2.0),
        frames(1200, 20, 3.0),
    ]
    .concat();
    let found = chosen(Kind::Dark, &lights, &few);
    assert_eq!(found.frames.len(), 11);
    assert_eq!(found.grade, Grade::Close);
    assert!(found.remarks.contains(&"combined from 2 runs".to_owned()));

    let worse = with(frames(1100, 20, 2.0), |f| f.temperature_c = Some(16.0));
    let found = chosen(Kind::Dark, &lights, &[frames(1000, 4, 1.0), worse].concat());
    assert_eq!(ids(&found), [1000, 1001, 1002, 1003]);
    assert_eq!(found.grade, Grade::Usable);
    assert!(
        found
            .remarks
            .contains(&"only 4; a master is made of 10 to 30".to_owned())
    );

    let found = chosen(Kind::Dark, &lights, &frames(1000, 200, -1.0));
    assert_eq!(
        ids(&found),
        (1170..1200).collect::<Vec<_>>(),
        "the thirty nearest in time"
    );

    let found = chosen(Kind::Dark, &lights, &frames(1000, 2, 1.0));
    assert_eq!(found.grade, Grade::Poor);
}

#[test]
fn frames_that_cannot_be_used_give_way_to_others() {
    let lights = frames(1, 50, 0.0);
    let runs = runs_of(
        Kind::Dark,
        &[frames(1000, 20, 0.2), frames(2000, 20, 5.0)].concat(),
    );
    let wanted = wanted_for(Kind::Dark, &lights);
    let found = choose(Kind::Dark, &wanted[0], &runs, &mut |f| {
        Ok::<bool, ()>(f.frame_id >= 1015)
    });
    let found = found.unwrap();
    assert_eq!(found.frames.len(), 25, "five of the night, and another run");
    let none = choose(Kind::Dark, &wanted[0], &runs, &mut |_| {
        Ok::<bool, ()>(false)
    })
    .unwrap();
    assert_eq!(none.grade, Grade::None);
    assert_eq!(
        none.remarks,
        ["none of the 40 matching darks can be exported"]
    );
    let ended = choose(Kind::Dark, &wanted[0], &runs, &mut |_| Err("disk"));
    assert_eq!(ended, Err("disk"));
}

#[test]
fn flats_are_of_the_same_lens_by_aperture_then_time() {
    let lights = frames(1, 50, 0.0);
    let flats = |id, days| with(frames(id, 20, days), |f| f.exposure_s = Some(0.01));
    let stopped_down = with(flats(1000, 0.1), |f| f.f_number = Some(4.0));
    let later = flats(2000, 20.0);
    let other_lens = with(flats(3000, 0.1), |f| f.lens_id = Some(2));
    let zoomed = with(flats(4000, 0.1), |f| f.focal_mm = Some(24.0));
    let found = chosen(
        Kind::Flat,
        &lights,
        &[stopped_down.clone(), later, other_lens, zoomed].concat(),
    );
    assert_eq!(ids(&found), (2000..2020).collect::<Vec<_>>());
    assert_eq!(found.grade, Grade::Usable);
    let found = chosen(Kind::Flat, &lights, &stopped_down);
    assert_eq!(found.grade, Grade::Poor);
    assert!(
        found
            .remarks
            .contains(&"the aperture differs, or one is unknown".to_owned())
    );
    let low = with(flats(1000, 0.1), |f| f.iso = Some(100.0));
    assert_eq!(chosen(Kind::Flat, &lights, &low).grade, Grade::Usable);

    // A lens without contacts: nothing is known of it on either side.
    let bare = |frames| {
        with(frames, |f: &mut FrameSettings| {
            (f.lens_id, f.focal_mm, f.f_number) = (None, None, None);
        })
    };
    let found = chosen(
        Kind::Flat,
        &bare(frames(1, 50, 0.0)),
        &bare(flats(1000, 0.1)),
    );
    assert_eq!(found.grade, Grade::Poor, "its aperture is not known");
    assert_eq!(found.frames.len(), 20);
}

#[test]
fn bias_frames_are_of_the_shortest_exposure_and_any_temperature() {
    let lights = frames(1, 50, 0.0);
    let bias = |id, days, s| with(frames(id, 20, days), move |f| f.exposure_s = Some(s));
    let found = chosen(
        Kind::Bias,
        &lights,
        &[bias(1000, 0.1, 0.5), bias(2000, 200.0, 0.000_125)].concat(),
    );
    assert_eq!(ids(&found)[0], 2000);
    assert_eq!(found.grade, Grade::Close);
    assert_eq!(
        chosen(Kind::Bias, &lights, &bias(1000, 0.1, 0.5)).grade,
        Grade::Poor
    );
}

#[test]
fn without_utc_the_bodys_own_clock_tells_the_days() {
    let undated = |frames| {
        with(frames, |f: &mut FrameSettings| {
            f.clock_s = f.start_utc.map(|at| at.unix_ms() / 1000);
            f.start_utc = None;
        })
    };
    let found = chosen(
        Kind::Dark,
        &undated(frames(1, 50, 0.0)),
        &undated(frames(1000, 20, 3.0)),
    );
    assert!((found.frames[0].nearness.days.unwrap() - 2.99).abs() < 0.02);
    let mute = with(undated(frames(1000, 20, 3.0)), |f| f.clock_s = None);
    let found = chosen(Kind::Dark, &frames(1, 50, 0.0), &mute);
    assert_eq!(found.frames[0].nearness.days, None);
    assert_eq!(found.grade, Grade::Usable);
}

#[test]
fn a_body_that_is_told_by_its_model_alone_is_no_close_match() {
    let nameless = |f: &mut FrameSettings| f.body = ToldBy::Model;
    let lights = with(frames(1, 100, 0.0), nameless);
    for kind in [Kind::Dark, Kind::Flat, Kind::Bias] {
        let own = with(frames(1000, 20, 0.2), |f| {
            nameless(f);
            if kind == Kind::Bias {
                f.exposure_s = Some(0.0005);
            }
        });
        let found = chosen(kind, &lights, &own);
        assert_eq!((found.grade, found.frames.len()), (Grade::Usable, 20));
        let remark =
            "the body writes no serial number, so another of its model may have taken them";
        assert!(
            found.remarks.iter().any(|said| said == remark),
            "{:?}",
            found.remarks
        );
    }
}
