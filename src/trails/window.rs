//! The frames of a session as they come in: which are to be searched next, and what of them is still needed. Searches nothing itself.

use std::ops::Range;

use crate::trails::group::linked;
use crate::trails::path::lines_on_paths;
use crate::trails::repeat::repeats;
use crate::trails::search::Found;
use crate::trails::search::View;
use crate::trails::segments::Break;
use crate::trails::segments::Facts;
use crate::trails::segments::broken;
use crate::trails::sky_state::Glance;
use crate::trails::sky_state::SkyState;
use crate::trails::sky_state::sky_of;

/// Frames before and after a frame that its search looks at.
const AROUND: usize = 3;
/// How many frames are searched together at least; their unrest is measured over them.
const TOGETHER: usize = 12;

/// A frame of a session with what is needed of it.
#[derive(Clone, Debug)]
pub struct Held {
    /// Its number in the caller's list.
    pub number: usize,
    /// How many pixels of the full picture one of the searched picture becomes.
    pub full_by: f64,
    /// Its picture.
    pub view: View,
    /// What tells segments apart.
    pub facts: Facts,
    /// What tells the state of its sky.
    pub glance: Glance,
}

/// A stretch to be searched: frames by their places among those held.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Those that may be compared with each other.
    pub all: Range<usize>,
    /// Those whose lines are wanted.
    pub wanted: Range<usize>,
    ends: bool,
}

/// A segment that is complete.
#[derive(Clone, Debug)]
pub struct Segment {
    /// The numbers of its frames, and how many pixels of the full picture one searched becomes.
    pub numbers: Vec<(usize, f64)>,
    /// Why it began; nothing for the first.
    pub began: Option<Break>,
    /// The lines in each frame.
    pub lines: Vec<Vec<Found>>,
    /// The moving light that each line belongs to, numbered within the segment.
    pub groups: Vec<Vec<Option<usize>>>,
    /// The state of the sky in each frame.
    pub sky: Vec<SkyState>,
}

/// The frames of a session that are held.
#[derive(Debug, Default)]
pub struct Window {
    held: Vec<Held>,
    /// The first that was not searched yet.
    from: usize,
    /// The first of which it is not known whether a segment begins with it.
    unjudged: usize,
    numbers: Vec<(usize, f64)>,
    began: Option<Break>,
    lines: Vec<Vec<Found>>,
    glances: Vec<Glance>,
}

impl Window {
    /// Takes the next frame.
    pub fn push(&mut self, held: Held) {
        self.held.push(held);
    }

    /// The frames that are held.
    pub fn views(&self, of: Range<usize>) -> Vec<&View> {
        self.held[of].iter().map(|held| &held.view).collect()
    }

    /// What can be searched now. `last`: no more frames follow.
    pub fn stretch(&mut self, last: bool) -> Option<Stretch> {
        let len = self.held.len();
        if self.from >= len {
            return None;
        }
        let judged = if last { len } else { len.saturating_sub(1) };
        let end = (self.unjudged.max(1)..judged).find(|at| self.break_at(*at).is_some());
        self.unjudged = end.unwrap_or(judged);
        let first = self.from.saturating_sub(AROUND);
        if let Some(end) = end.or(last.then_some(len)) {
            return Some(Stretch {
                all: first..end,
                wanted: self.from..end,
                ends: true,
            });
        }
        let wanted = self.from..judged.saturating_sub(AROUND);
        (wanted.len() >= TOGETHER).then_some(Stretch {
            all: first..judged,
            wanted,
            ends: false,
        })
    }

    fn break_at(&self, at: usize) -> Option<Break> {
        let facts = |at: usize| self.held.get(at).map(|held| &held.facts);
        let before = at.checked_sub(2).and_then(facts);
        broken(before, facts(at - 1)?, facts(at)?, facts(at + 1))
    }

    /// The pause between exposures as a share of an exposure, in the frames that are held.
    pub fn pause(&self) -> f32 {
        let mut shares: Vec<f64> = self
            .held
            .windows(2)
            .filter_map(|pair| {
                let exposure = pair[0].facts.exposure_s.filter(|s| *s > 0.0)?;
                let step = pair[1].facts.start_s? - pair[0].facts.start_s?;
                Some((step - exposure) / exposure)
            })
            .filter(|share| (-0.2..2.0).contains(share))
            .collect();
        shares.sort_by(f64::total_cmp);
        #[allow(clippy::cast_possible_truncation)] // a share
        let usual = shares
            .get(shares.len() / 2)
            .map_or(USUAL_PAUSE, |s| *s as f32);
        usual.max(0.0)
    }

    /// Takes the lines of a stretch; gives the segment that is complete with it.
    pub fn searched(&mut self, stretch: &Stretch, lines: Vec<Vec<Found>>) -> Option<Segment> {
        let pause = self.pause();
        for held in &self.held[stretch.wanted.clone()] {
            self.numbers.push((held.number, held.full_by));
            self.glances.push(held.glance.clone());
        }
        self.lines.extend(lines);
        if !stretch.ends {
            let keep = stretch.wanted.end.saturating_sub(AROUND);
            self.held.drain(..keep);
            self.from = stretch.wanted.end - keep;
            self.unjudged -= keep;
            return None;
        }
        let next = (stretch.wanted.end < self.held.len())
            .then(|| self.break_at(stretch.wanted.end))
            .flatten();
        self.held.drain(..stretch.wanted.end);
        self.from = 0;
        self.unjudged = 1;
        let mut lines = std::mem::take(&mut self.lines);
        let groups = linked(&mut lines, pause);
        lines_on_paths(&mut lines);
        repeats(&mut lines);
        Some(Segment {
            numbers: std::mem::take(&mut self.numbers),
            began: std::mem::replace(&mut self.began, next),
            groups,
            lines,
            sky: sky_of(&std::mem::take(&mut self.glances)),
        })
    }
}

/// The pause where no times are known.
const USUAL_PAUSE: f32 = 0.1;

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::terms::star_image::Grey;
    use crate::terms::star_image::StarField;

    /// An empty frame of a run.
    pub(crate) fn held(number: usize, exposure_s: f64) -> Held {
        let grey = Grey::new(60, 40, vec![20; 60 * 40]).unwrap();
        let field = StarField {
            width: 60,
            height: 40,
            stars: Vec::new(),
            sky_level: 0.1,
            star_width_px: None,
            corner_width_px: None,
        };
        let view = View::of(&grey, &field);
        Held {
            number,
            full_by: 1.0,
            facts: Facts {
                start_s: Some(number as f64 * 22.0),
                exposure_s: Some(exposure_s),
                ..Facts::default()
            },
            glance: view.glance(&grey, &field),
            view,
        }
    }

    #[test]
    fn every_frame_is_searched_once_beside_its_neighbours() {
        // Two segments, and a frame alone between them.
        let exposures = [vec![20.0; 31], vec![5.0], vec![20.0; 9]].concat();
        let mut window = Window::default();
        let mut segments = Vec::new();
        let mut most_held = 0;
        for (number, exposure_s) in exposures.iter().enumerate() {
            window.push(held(number, *exposure_s));
            most_held = most_held.max(window.held.len());
            while let Some(stretch) = window.stretch(number + 1 == exposures.len()) {
                let (all, wanted) = (stretch.all.clone(), stretch.wanted.clone());
                assert!(all.start <= wanted.start && wanted.end <= all.end);
                if !stretch.ends {
                    assert!(all.end >= wanted.end + AROUND);
                }
                let lines = vec![Vec::new(); wanted.len()];
                segments.extend(window.searched(&stretch, lines));
            }
        }
        let numbers: Vec<usize> = segments
            .iter()
            .flat_map(|segment| segment.numbers.iter().map(|(number, _)| *number))
            .collect();
        assert_eq!(numbers, (0..exposures.len()).collect::<Vec<_>>());
        let lengths: Vec<usize> = segments
            .iter()
            .map(|segment| segment.numbers.len())
            .collect();
        assert_eq!(lengths, [31, 1, 9]);
        let began: Vec<_> = segments.iter().map(|segment| segment.began).collect();
        assert_eq!(began, [None, Some(Break::Exposure), Some(Break::Exposure)]);
        assert!(most_held < TOGETHER + 3 * AROUND, "{most_held}");
    }
}
