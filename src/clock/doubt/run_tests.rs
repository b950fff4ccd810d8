//! Runs are joined across noon and cards, and never across a contradiction.

use super::*;
use crate::terms::time::WallTime;

/// Frames of a folder a minute apart, starting at a reading, which is UTC, and at a file number.
fn frames(folder_id: i64, number: u64, from: &str, many: i64) -> Vec<BodyFrame> {
    let first = Utc::parse(&format!("{from}Z")).unwrap();
    (0..many)
        .map(|i| {
            let at = first.plus_s(i as f64 * 60.0).unwrap();
            BodyFrame {
                frame: RunFrame {
                    start_utc: Some(at),
                    exposure_s: Some(20.0),
                    iso: Some(3200.0),
                    ..RunFrame::read_at(
                        folder_id * 1000 + i,
                        WallTime::parse(at.to_string().trim_end_matches('Z')).unwrap(),
                    )
                },
                folder_id,
                file_name: format!("NITE{:04}.DNG", number + i.unsigned_abs()),
                site_id: Some(1),
                place: None,
            }
        })
        .collect()
}

fn built(folders: &[Vec<BodyFrame>]) -> Runs {
    let mut builder = RunBuilder::default();
    for frame in folders.iter().flatten() {
        builder.push(frame.clone());
    }
    builder.finish()
}

fn lengths(runs: &Runs) -> Vec<usize> {
    runs.runs.iter().map(|run| run.frames.len()).collect()
}

#[test]
fn noon_and_a_change_of_cards_do_not_part_a_run_and_a_day_does() {
    let night = [
        frames(1, 1, "2023-12-13T10:00:00", 180),
        frames(2, 1, "2023-12-13T13:30:00", 30),
        frames(2, 31, "2023-12-14T13:30:00", 10),
    ];
    assert_eq!(lengths(&built(&night)), [210, 10]);
}

#[test]
fn a_clock_that_steps_back_parts_two_runs_of_one_time() {
    let runs = built(&[
        frames(1, 1, "2023-12-13T22:00:00", 60),
        frames(1, 61, "2023-12-13T22:00:30", 60),
    ]);
    assert_eq!(lengths(&runs), [60, 60]);
    assert_eq!((runs.steps[0].0, runs.steps[0].1), (0, 1));
    assert_eq!(
        (&runs.runs[0].after[..], &runs.runs[1].before[..]),
        (&[1][..], &[0][..])
    );
}

#[test]
fn exposures_that_overlap_are_of_two_runs_and_files_of_one_exposure_are_not() {
    let beside = |from| {
        built(&[
            frames(1, 1, "2023-12-13T22:00:00", 60),
            frames(2, 500, from, 60),
        ])
    };
    assert_eq!(lengths(&beside("2023-12-13T22:10:10")), [60, 60]);
    assert_eq!(lengths(&beside("2023-12-13T22:00:00")), [120]);
}

#[test]
fn a_folder_between_two_of_a_journey_that_is_a_year_away_is_a_step() {
    let folder = |id, number, from| frames(id, number, from, 20);
    let runs = built(&[
        folder(1, 1, "2023-12-12T22:00:00"),
        folder(2, 21, "2022-12-13T22:00:00"),
        folder(3, 41, "2023-12-14T22:00:00"),
    ]);
    let steps: Vec<(usize, usize)> = runs.steps.iter().map(|(a, b, _)| (*a, *b)).collect();
    // The wrong one comes first by time.
    assert_eq!(steps, [(1, 0), (0, 2)]);
    let right = built(&[
        folder(1, 1, "2023-12-12T22:00:00"),
        folder(2, 21, "2023-12-13T22:00:00"),
        folder(3, 41, "2023-12-14T22:00:00"),
    ]);
    assert!(right.steps.is_empty());
}
