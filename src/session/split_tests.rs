use super::*;
use crate::terms::basis::Kind;
use crate::terms::time::Utc;
use proptest::prelude::*;

const EVENING: i64 = 1_702_500_000_000;

fn frame(id: i64, at_s: f64) -> SessionFrame {
    SessionFrame {
        frame_id: id,
        start_utc: Utc::from_unix_ms(EVENING).and_then(|e| e.plus_s(at_s)),
        clock_local: None,
        exposure_s: Some(20.0),
        focal_mm: Some(20.0),
        site_id: Some(1),
        path: format!("DCIM/100NITES/NITE{id:04}.DNG"),
        ..SessionFrame::default()
    }
}

fn run(from_id: i64, count: i64, from_s: f64, step_s: f64) -> Vec<SessionFrame> {
    (0..count)
        .map(|i| frame(from_id + i, from_s + step_s * i as f64))
        .collect()
}

#[test]
fn a_battery_change_leaves_missing_frames_in_one_session() {
    let mut frames = run(1, 30, 0.0, 22.0);
    // The next frame would be due at 660 s; ten of them are skipped.
    frames.extend(run(31, 30, 660.0 + 220.0, 22.0));
    let sessions = split(&frames);
    assert_eq!(sessions.len(), 1);
    assert_eq!(sessions[0].missing, 10);
    assert_eq!(sessions[0].cadence_s, Some(22.0));
    assert_eq!(sessions[0].members.len(), 60);
    assert!(
        sessions[0]
            .members
            .iter()
            .all(|m| m.kind == Some(Kind::Light))
    );
    let length = sessions[0]
        .end_utc
        .unwrap()
        .seconds_since(sessions[0].start_utc.unwrap());
    assert!((length - (880.0 + 29.0 * 22.0 + 20.0)).abs() < 1e-9);
}

#[test]
fn a_long_pause_another_lens_or_another_site_is_another_session() {
    let mut frames = run(1, 20, 0.0, 22.0);
    frames.extend(run(21, 20, 3_000.0, 22.0));
    assert_eq!(split(&frames).len(), 2, "pause");

    let mut frames = run(1, 20, 0.0, 22.0);
    let mut wide = run(21, 20, 500.0, 22.0);
    for f in &mut wide {
        f.focal_mm = Some(14.0);
    }
    frames.extend(wide);
    frames.extend(run(41, 20, 1_000.0, 22.0));
    let sessions = split(&frames);
    assert_eq!(sessions.len(), 2, "framing");
    assert_eq!(
        sessions[0].missing, 0,
        "the body was busy with the other lens"
    );
}

#[test]
fn a_slow_cadence_may_pause_longer() {
    let mut frames = run(1, 10, 0.0, 600.0);
    frames.extend(run(11, 10, 6_000.0 + 3_000.0, 600.0));
    let sessions = split(&frames);
    assert_eq!(sessions.len(), 1);
    assert_eq!(sessions[0].missing, 5);
}

#[test]
fn a_night_that_utc_does_not_wholly_reach_is_ordered_by_the_clock() {
    let mut frames = run(1, 3, 0.0, 30.0);
    for (i, f) in frames.iter_mut().enumerate() {
        f.clock_local = crate::terms::time::WallTime::parse(&format!("2024-10-27T02:0{i}:00"));
    }
    frames[1].start_utc = None;
    let sessions = split(&frames);
    assert_eq!(sessions.len(), 1);
    assert_eq!(sessions[0].start_utc, None);
    assert_eq!(sessions[0].cadence_s, Some(60.0));
    assert_eq!(
        sessions[0].end_local.unwrap().to_string(),
        "2024-10-27T02:02:00"
    );
}

proptest! {
    #[test]
    fn any_order_of_frames_gives_the_same_sessions(
        steps in prop::collection::vec((0_u32..4_000, 0_u8..3, 0_u8..2), 1..60),
        seed in any::<u64>(),
    ) {
        let mut at = 0.0;
        let frames: Vec<SessionFrame> = steps
            .iter()
            .enumerate()
            .map(|(i, (step, lens, site))| {
                at += f64::from(*step);
                let mut f = frame(i64::try_from(i).unwrap() + 1, at);
                f.focal_mm = [None, Some(14.0), Some(20.0)][usize::from(*lens)];
                f.site_id = [None, Some(1)][usize::from(*site)];
                f
            })
            .collect();
        let mut shuffled = frames.clone();
        let mut state = seed | 1;
        for i in (1..shuffled.len()).rev() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            shuffled.swap(i, usize::try_from(state >> 33).unwrap() % (i + 1));
        }
        let sessions = split(&frames);
        prop_assert_eq!(&sessions, &split(&shuffled));
        let members: usize = sessions.iter().map(|s| s.members.len()).sum();
        prop_assert_eq!(members, frames.len(), "every frame in exactly one session");
    }
}

proptest! {
    /// Cards are ingested in any order; a night may be on several of them, ingested days apart. The sessions and kinds
    /// are those of the night.
    #[test]
    fn any_split_over_cards_gives_the_same_sessions(
        cards in prop::collection::vec(0..3_usize, 60),
        gap_s in 0.0..3_000.0_f64,
    ) {
        let mut frames = run(1, 30, 0.0, 22.0);
        frames.extend(run(31, 30, 660.0 + gap_s, 22.0));
        let whole = split(&frames);
        // Each card's frames one after the other, in the order of ingest.
        let in_order_of_ingest: Vec<SessionFrame> = (0..3)
            .rev()
            .flat_map(|card| {
                let of_card = |at: &usize| cards[*at] == card;
                (0..60).filter(of_card).map(|at| frames[at].clone()).collect::<Vec<_>>()
            })
            .collect();
        prop_assert_eq!(split(&in_order_of_ingest), whole);
    }
}

#[test]
fn another_lens_of_the_same_focal_length_is_another_session() {
    let mut frames = run(1, 40, 0.0, 22.0);
    for (i, f) in frames.iter_mut().enumerate() {
        f.lens = Some(if i < 20 { "Umbra 20mm" } else { "Corona 20mm" }.into());
    }
    assert_eq!(split(&frames).len(), 2);
}
