//! Chooses the calibration frames for a run of lights: the nearest run, whole, and equally near ones if it is too short
//! for a master. Does not access the disk: the caller decides whether a frame can be used.

use crate::calibration::nearness::Grade;
use crate::calibration::nearness::MASTER;
use crate::calibration::nearness::Nearness;
use crate::calibration::nearness::by_count;
use crate::calibration::nearness::nearness;
use crate::calibration::run::Run;
use crate::calibration::words;
use crate::terms::basis::Kind;
use crate::terms::calibration::FrameSettings;

/// The result for one run of lights.
#[derive(Clone, Debug, PartialEq)]
pub struct Match {
    /// How well it fits.
    pub grade: Grade,
    /// Remarks on it, a sentence each: how far it is, what is unknown, how many frames there are, or why there is no
    /// match.
    pub remarks: Vec<String>,
    /// The frames, in the order of their starts.
    pub frames: Vec<Chosen>,
}

/// A chosen frame, and how near it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Chosen {
    /// The frame.
    pub frame: FrameSettings,
    /// How near it is to the middle of its lights.
    pub nearness: Nearness,
}

/// Chooses for a run of lights among the runs of a kind.
///
/// The nearest run is used as a whole, or its nearest thirty frames if it has more. If it has fewer than ten, the next
/// runs that are equally near are added. `usable` is called for every frame before it is taken; an error of it ends the
/// search.
pub fn choose<E>(
    kind: Kind,
    lights: &Run,
    runs: &[Run],
    usable: &mut dyn FnMut(&FrameSettings) -> Result<bool, E>,
) -> Result<Match, E> {
    let mut near: Vec<(Nearness, &Run)> = runs
        .iter()
        .filter_map(|run| Some((nearness(kind, lights, run)?, run)))
        .collect();
    near.sort_by_key(|(nearness, _)| nearness.order(kind));
    let mut taken: Vec<(Nearness, &FrameSettings)> = Vec::new();
    let mut first: Option<Nearness> = None;
    let (mut refused, mut runs_taken) = (0, 0);
    for (nearness, run) in &near {
        if taken.len() >= *MASTER.start() {
            break;
        }
        // A worse grade than the nearest would spoil the master.
        if first.is_some_and(|first| nearness.grade(kind) > first.grade(kind)) {
            continue;
        }
        let before = taken.len();
        for (of_frame, frame) in nearest_of(kind, lights, run) {
            if taken.len() - before >= *MASTER.end() {
                break;
            }
            if usable(frame)? {
                taken.push((of_frame, frame));
            } else {
                refused += 1;
            }
        }
        if taken.len() > before {
            first.get_or_insert(*nearness);
            runs_taken += 1;
        }
    }
    taken.truncate(*MASTER.end());
    taken.sort_by_key(|(_, f)| (f.start_utc.is_none(), f.start_utc, f.clock_s, f.frame_id));
    let grade = first.map_or(Grade::None, |nearest| {
        nearest.grade(kind).max(by_count(taken.len()))
    });
    let remarks = match &first {
        Some(nearest) => words::remarks(kind, nearest, taken.len(), runs_taken),
        None => vec![words::why_none(kind, lights, runs, refused)],
    };
    Ok(Match {
        grade,
        remarks,
        frames: taken
            .into_iter()
            .map(|(nearness, frame)| Chosen {
                frame: frame.clone(),
                nearness,
            })
            .collect(),
    })
}

/// The frames of a run, the nearest first, each with its own nearness.
fn nearest_of<'r>(kind: Kind, lights: &Run, run: &'r Run) -> Vec<(Nearness, &'r FrameSettings)> {
    let mut frames: Vec<(Nearness, &FrameSettings)> = run
        .frames
        .iter()
        .filter_map(|frame| {
            let alone = Run {
                settings: run.settings.clone(),
                temperature_c: frame.temperature_c.map(|t| (t, t)),
                starts: frame.start_utc.map(|at| (at, at)),
                clocks: frame.clock_s.map(|at| (at, at)),
                frames: Vec::new(),
            };
            let mut nearness = nearness(kind, lights, &alone)?;
            nearness.exposure_diff_s = nearness
                .exposure_diff_s
                .and(frame.exposure_s.zip(lights.settings.exposure_s))
                .map(|(own, wanted)| own - wanted);
            Some((nearness, frame))
        })
        .collect();
    frames.sort_by_key(|(nearness, _)| nearness.order(kind));
    frames
}

#[cfg(test)]
#[path = "choose_tests.rs"]
mod tests;
