//! The runs of a body: consecutive frames by cadence and file order, across noon of the clock. Judges nothing.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::clock::doubt::numbers;
use crate::clock::doubt::numbers::Step;
use crate::terms::clock::BodyFrame;
use crate::terms::clock::RunFrame;
use crate::terms::day::DAY_MS;
use crate::terms::site::Place;
use crate::terms::time::Utc;

/// A longer pause ends a run, in milliseconds: 5 hours. A shorter one is a meal or a cloud.
///
/// Source: our choice: shorter than any day below the polar circle, longer than most clouds.
const LONGEST_PAUSE_MS: i64 = 5 * 3_600_000;

/// Readings may step back by this much without contradiction, in milliseconds.
///
/// Source: our choice: clocks write whole seconds.
const ROUNDING_MS: i64 = 2_000;

/// Files of one folder whose numbers differ by at most this are consecutive.
///
/// Source: our choice: more frames than are usually deleted in one place.
const NUMBERS_APART: u64 = 50;

/// Numbers that continue in another folder count within this time, in milliseconds: three days. Later the same numbers
/// come again by chance.
///
/// Source: our choice.
const NEAR_MS: i64 = 3 * DAY_MS;

/// Two folders this near each other are of one journey, in milliseconds: fifteen days.
///
/// Source: our choice.
const JOURNEY_MS: i64 = 15 * DAY_MS;

/// This many frames of one run between two timer frames of the other are not chance.
///
/// Source: our choice.
const INTRUSIONS: usize = 5;

/// This many overlapping exposures show that two runs cannot both be dated correctly.
///
/// Source: our choice: one could be a rounded reading.
pub const COLLISIONS: usize = 2;

/// Frames of a body in one stretch of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Run {
    /// The frames, by time.
    pub frames: Vec<RunFrame>,
    /// The number of the site.
    pub site_id: Option<i64>,
    /// Its place.
    pub place: Option<Place>,
    /// The runs whose files come directly before and directly after, as indices in the list of runs.
    pub before: Vec<usize>,
    /// The same after.
    pub after: Vec<usize>,
}

/// A body's runs, and where its clock steps although the file numbers continue.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Runs {
    /// The runs, by time.
    pub runs: Vec<Run>,
    /// Steps of the clock from one run to another.
    pub steps: Vec<(usize, usize, Step)>,
}

impl Run {
    /// From the first shutter opening to the last closing, in milliseconds of UTC; by the readings if the frames are
    /// not dated.
    pub fn span_ms(&self) -> (i64, i64) {
        let first = self.frames.first().map_or(0, at_ms);
        let last = self.frames.last().map_or(0, |f| at_ms(f) + exposure_ms(f));
        (first, last)
    }

    /// Whether its frames are dated.
    pub fn is_dated(&self) -> bool {
        self.frames.first().is_some_and(|f| f.start_utc.is_some())
    }

    /// The same run with some of its frames only.
    pub fn part(&self, frames: &[RunFrame]) -> Self {
        Self {
            frames: frames.to_vec(),
            ..self.clone()
        }
    }
}

/// When a frame was taken, in milliseconds: of UTC if it is dated, otherwise of its reading.
pub fn at_ms(frame: &RunFrame) -> i64 {
    frame
        .start_utc
        .map_or_else(|| frame.reading.reading_ms(), Utc::unix_ms)
}

#[allow(clippy::cast_possible_truncation)] // exposures are hours at most
fn exposure_ms(frame: &RunFrame) -> i64 {
    (frame.exposure_s.unwrap_or(0.0) * 1000.0) as i64
}

/// Frames whose files are consecutive.
struct Chain {
    run: Run,
    folder_id: i64,
    first: Option<(String, u64)>,
    last: Option<(String, u64)>,
    before: Option<usize>,
    after: Option<usize>,
}

/// Builds the runs of one body from its frames, in the order of dumps, folders and file names.
#[derive(Default)]
pub struct RunBuilder {
    chains: Vec<Chain>,
    steps: Vec<(usize, usize, Step)>,
    latest: Option<BodyFrame>,
}

impl RunBuilder {
    /// Adds the next frame.
    pub fn push(&mut self, frame: BodyFrame) {
        let number = numbers::number(&frame.file_name);
        let follows = self.latest.as_ref().is_some_and(|b| follow(b, &frame));
        let step = self.latest.as_ref().and_then(|b| numbers::step(b, &frame));
        let runs_on = step.is_none() && self.latest.as_ref().is_some_and(|b| runs_on(b, &frame));
        match self.chains.last_mut() {
            Some(chain) if runs_on => {
                chain.run.frames.push(frame.frame);
                chain.last = number;
            }
            _ => {
                let new = self.chains.len();
                if follows && new > 0 {
                    self.chains[new - 1].after = Some(new);
                }
                if let Some(step) = step {
                    self.steps.push((new - 1, new, step));
                }
                self.chains.push(Chain {
                    run: Run {
                        frames: vec![frame.frame],
                        site_id: frame.site_id,
                        place: frame.place,
                        ..Run::default()
                    },
                    folder_id: frame.folder_id,
                    first: number.clone(),
                    last: number,
                    before: (follows && new > 0).then(|| new - 1),
                    after: None,
                });
            }
        }
        self.latest = Some(frame);
    }

    /// Joins stretches of time that continue on several cards or folders.
    pub fn finish(mut self) -> Runs {
        self.link_folders();
        let mut order: Vec<usize> = (0..self.chains.len()).collect();
        order.sort_by_key(|i| (self.chains[*i].run.span_ms(), *i));
        let mut runs: Vec<Run> = Vec::new();
        let mut run_of: Vec<Option<usize>> = vec![None; self.chains.len()];
        for i in order {
            let home = runs
                .iter()
                .enumerate()
                .rev()
                .take(4)
                .find_map(|(r, run)| (self.joins(i, r, run, &run_of)).then_some(r));
            let chain = std::mem::take(&mut self.chains[i].run);
            if let Some(r) = home {
                runs[r].frames.extend(chain.frames);
                runs[r].frames.sort_by_key(at_ms);
                run_of[i] = Some(r);
            } else {
                run_of[i] = Some(runs.len());
                runs.push(chain);
            }
        }
        for (i, chain) in self.chains.iter().enumerate() {
            if let (Some(a), Some(b)) = (run_of[i], chain.after.and_then(|b| run_of[b]))
                && a != b
            {
                runs[a].after.push(b);
                runs[b].before.push(a);
            }
        }
        let of = |chain: usize| run_of[chain].unwrap_or(0);
        let steps = self
            .steps
            .into_iter()
            .map(|(a, b, step)| (of(a), of(b), step))
            .collect();
        Runs { runs, steps }
    }

    /// Whether a chain continues a run.
    fn joins(&self, chain: usize, r: usize, run: &Run, run_of: &[Option<usize>]) -> bool {
        let this = &self.chains[chain];
        let ((from, until), (run_from, run_until)) = (this.run.span_ms(), run.span_ms());
        if run.site_id != this.run.site_id
            || run.is_dated() != this.run.is_dated()
            || from - run_until > LONGEST_PAUSE_MS
        {
            return false;
        }
        // Earlier files cannot have been taken later.
        let later_file = this
            .after
            .is_some_and(|b| run_of[b] == Some(r) && run_from < until - ROUNDING_MS);
        let earlier_file = this
            .before
            .is_some_and(|b| run_of[b] == Some(r) && run_until - ROUNDING_MS > from);
        !later_file && !earlier_file && !are_two(&run.frames, &this.run.frames)
    }

    /// Links folders whose numbers continue from each other: those of about the same days, and those between two such.
    fn link_folders(&mut self) {
        let next = self.next_by_number();
        let span = |i: usize| self.chains[i].run.span_ms();
        let mut links: BTreeSet<(usize, usize)> = BTreeSet::new();
        let mut steps = Vec::new();
        for (&a, &b) in &next {
            if (span(b).0 - span(a).1).abs() < NEAR_MS {
                links.insert((a, b));
            }
            // A third folder between two of one journey was taken between them.
            let Some(&c) = next.get(&b) else { continue };
            let is_journey = (0..JOURNEY_MS).contains(&(span(c).0 - span(a).1));
            let is_between =
                span(a).1 - ROUNDING_MS <= span(b).0 && span(b).1 <= span(c).0 + ROUNDING_MS;
            if is_journey && !is_between && self.is_dated([a, b, c]) {
                links.extend([(a, b), (b, c)]);
                for (one, other) in [(a, b), (b, c)] {
                    let ends = (
                        self.chains[one].run.frames.last(),
                        self.chains[other].run.frames.first(),
                    );
                    let (Some(was), Some(is)) = ends else {
                        continue;
                    };
                    let name = |number: &Option<(String, u64)>| {
                        number
                            .as_ref()
                            .map_or_else(String::new, |(prefix, n)| format!("{prefix}{n:04}"))
                    };
                    let names = (
                        name(&self.chains[one].last),
                        name(&self.chains[other].first),
                    );
                    let step = numbers::step_between(was, is, &names.0, &names.1);
                    steps.extend(step.map(|step| (one, other, step)));
                }
            }
        }
        for (a, b) in links {
            self.chains[a].after = Some(b);
            self.chains[b].before = Some(a);
        }
        self.steps.extend(steps);
    }

    fn is_dated(&self, chains: [usize; 3]) -> bool {
        chains.iter().all(|i| self.chains[*i].run.is_dated())
    }

    /// For each folder's last frames, the one folder whose numbers continue from them, if there is only one.
    fn next_by_number(&self) -> BTreeMap<usize, usize> {
        let mut begin: BTreeMap<(&str, u64), Vec<usize>> = BTreeMap::new();
        for (i, chain) in self.chains.iter().enumerate() {
            if let (None, Some((prefix, first))) = (chain.before, &chain.first) {
                begin.entry((prefix, *first)).or_default().push(i);
            }
        }
        let mut before: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (i, chain) in self.chains.iter().enumerate() {
            let (None, Some((prefix, last))) = (chain.after, &chain.last) else {
                continue;
            };
            let mut may = (1..=numbers::NEXT_WITHIN)
                .filter_map(|n| begin.get(&(prefix.as_str(), last + n)))
                .flatten();
            if let (Some(one), None) = (may.next(), may.next())
                && self.chains[*one].folder_id != chain.folder_id
            {
                before.entry(*one).or_default().push(i);
            }
        }
        let only = |(b, a): (usize, Vec<usize>)| match a[..] {
            [a] => Some((a, b)),
            _ => None,
        };
        before.into_iter().filter_map(only).collect()
    }
}

/// Whether a file follows another of its folder.
fn follow(before: &BodyFrame, file: &BodyFrame) -> bool {
    let (Some((prefix_a, a)), Some((prefix_b, b))) = (
        numbers::number(&before.file_name),
        numbers::number(&file.file_name),
    ) else {
        return false;
    };
    before.folder_id == file.folder_id && prefix_a == prefix_b && b > a && b - a <= NUMBERS_APART
}

/// Whether a frame continues the run of the previous frame.
fn runs_on(before: &BodyFrame, file: &BodyFrame) -> bool {
    let step_ms = at_ms(&file.frame) - at_ms(&before.frame);
    before.folder_id == file.folder_id
        && before.site_id == file.site_id
        && before.frame.start_utc.is_some() == file.frame.start_utc.is_some()
        && (-ROUNDING_MS..=LONGEST_PAUSE_MS).contains(&step_ms)
}

/// How many exposures of one run are in progress when one of the other begins. A body can take only one at a time.
/// Readings to the second, or two files of one exposure that were not recognised as one frame, do not count.
pub fn collisions(a: &[RunFrame], b: &[RunFrame]) -> usize {
    let mut at = 0;
    let mut found = 0;
    for frame in b {
        let (from, until) = (at_ms(frame), at_ms(frame) + exposure_ms(frame));
        while at < a.len() && at_ms(&a[at]) + exposure_ms(&a[at]) <= from {
            at += 1;
        }
        let apart = |other: &RunFrame| (at_ms(other) - from).abs() > ROUNDING_MS;
        let overlap_ms = |other: &RunFrame| {
            (at_ms(other) + exposure_ms(other)).min(until) - at_ms(other).max(from)
        };
        found += usize::from(
            a.get(at)
                .is_some_and(|other| apart(other) && overlap_ms(other) > ROUNDING_MS),
        );
    }
    found
}

/// Whether frames of two cards cannot be one run: exposures overlap, or the frames of one are between those that a
/// timer took for the other.
fn are_two(a: &[RunFrame], b: &[RunFrame]) -> bool {
    collisions(a, b) >= COLLISIONS || intrusions(a, b) >= INTRUSIONS
}

/// How many frames of one run are within a usual step of the other.
fn intrusions(a: &[RunFrame], b: &[RunFrame]) -> usize {
    let mut steps: Vec<i64> = a
        .windows(2)
        .map(|two| at_ms(&two[1]) - at_ms(&two[0]))
        .collect();
    steps.sort_unstable();
    let Some(cadence_ms) = steps.get(steps.len() / 2) else {
        return 0;
    };
    b.iter()
        .filter(|frame| {
            let at = at_ms(frame);
            let next = a.partition_point(|other| at_ms(other) < at);
            let Some((before, after)) = next.checked_sub(1).and_then(|i| a.get(i)).zip(a.get(next))
            else {
                return false;
            };
            let (from, until) = (at_ms(before), at_ms(after));
            at - from > ROUNDING_MS
                && until - at > ROUNDING_MS
                && (until - from) * 10 < cadence_ms * 12
        })
        .count()
}

/// The runs of frames that are ordered by time.
pub fn runs_by_time(frames: &[RunFrame]) -> Vec<Run> {
    frames
        .chunk_by(|a, b| at_ms(b) - at_ms(a) <= LONGEST_PAUSE_MS)
        .map(|frames| Run {
            frames: frames.to_vec(),
            ..Run::default()
        })
        .collect()
}

#[cfg(test)]
#[path = "run_tests.rs"]
mod tests;
