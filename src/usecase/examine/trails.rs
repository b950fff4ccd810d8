//! The search for trails in the frames of a session as they are decoded: what is compared on all processors, what is kept of it.
//! Judges nothing.

use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::terms::found_trail::FoundTrail;
use crate::terms::found_trail::SearchedFrame;
use crate::trails::search::Changes;
use crate::trails::search::Found;
use crate::trails::search::change;
use crate::trails::segments::Break;
use crate::trails::sky_state::Sign;
use crate::trails::weigh::weigh;
use crate::trails::window::Held;
use crate::trails::window::Segment;
use crate::trails::window::Stretch;
use crate::trails::window::Window;
use crate::usecase::parallel::in_step;
use crate::usecase::parallel::parallel_map_ordered;

/// The edition of the search. Raise it where the same pictures give other trails.
pub(super) const EDITION: u32 = 4;

/// Why a frame without neighbours is not searched.
pub(super) const ALONE: &str = "no frame beside it has the same framing and exposure";
/// Why a frame without a picture is not.
const NO_PICTURE: &str = "it has no picture";
/// Why a segment begins where the camera was moved.
pub(super) const MOVED: &str = "the camera was moved";

/// So many decoded frames may wait for the search: while they are searched, those of the next commit are decoded.
const WAITING: usize = 16;

/// The search in one session.
#[derive(Default)]
pub(super) struct Search {
    window: Window,
    segments: Vec<Segment>,
}

impl Search {
    /// Searches the frames that `decode` gives, in order, while it goes on: neither leaves a processor idle while it waits for the
    /// last of its parts. Gives: what came of `decode`, and the search as far as it came before `stop` was raised.
    pub fn beside<R>(stop: &AtomicBool, decode: impl FnOnce(&dyn Fn(Held)) -> R) -> (R, Self) {
        let stopped = || stop.load(Ordering::Relaxed);
        in_step(WAITING, decode, |frames| {
            let mut search = Self::default();
            for held in frames.take_while(|_| !stopped()) {
                search.window.push(held);
                // After each frame: what is searched together must not depend on how many were decoded together.
                search.go_on(false);
            }
            if !stopped() {
                search.go_on(true);
            }
            search
        })
    }

    /// Searches what can be searched. `last`: no more frames follow.
    fn go_on(&mut self, last: bool) {
        while let Some(stretch) = self.window.stretch(last) {
            let lines = self.lines(&stretch);
            self.segments.extend(self.window.searched(&stretch, lines));
        }
    }

    fn lines(&self, stretch: &Stretch) -> Vec<Vec<Found>> {
        let views = self.window.views(stretch.all.clone());
        let places: Vec<usize> = (0..views.len()).collect();
        let changed = parallel_map_ordered(&places, |at| change(&views, *at));
        let Some(changed) = changed.into_iter().collect::<Option<Vec<_>>>() else {
            return vec![Vec::new(); stretch.wanted.len()];
        };
        let night = Changes::of(&views, changed);
        let pause = self.window.pause();
        let first = stretch.all.start;
        let wanted: Vec<usize> = stretch.wanted.clone().map(|at| at - first).collect();
        parallel_map_ordered(&wanted, |at| night.lines(*at, pause))
    }

    /// What the search gave for each of so many frames.
    pub fn end(self, frames: usize) -> Vec<SearchedFrame> {
        let none = SearchedFrame {
            edition: EDITION,
            why_not: Some(NO_PICTURE),
            ..SearchedFrame::default()
        };
        let mut all = vec![none; frames];
        let mut lights = 0;
        for segment in self.segments {
            let last = segment.numbers.len() - 1;
            let most = segment.groups.iter().flatten().flatten().max();
            let next = lights + most.map_or(0, |most| most + 1);
            for (at, (number, full_by)) in segment.numbers.iter().enumerate() {
                let sky = &segment.sky[at];
                let found = segment.lines[at].iter().zip(&segment.groups[at]);
                all[*number] = SearchedFrame {
                    edition: EDITION,
                    why_not: (last == 0).then_some(ALONE),
                    began: segment.began.filter(|_| at == 0).map(Break::words),
                    at_end: at == 0 || at == last,
                    clear: sky.clear.map(f64::from),
                    sky_stops: sky.sky_stops.map(f64::from),
                    signs: sky.signs.iter().copied().map(Sign::word).collect(),
                    trails: found
                        .filter_map(|(found, group)| {
                            trail(found, group.map(|g| g + lights), *full_by)
                        })
                        .collect(),
                };
            }
            lights = next;
        }
        all
    }
}

/// A trail in pixels of the full picture; nothing for a line that is noise.
fn trail(found: &Found, light: Option<usize>, full_by: f64) -> Option<FoundTrail> {
    let verdict = weigh(&found.evidence)?;
    let place = |(x, y): (f32, f32)| {
        let corner = |at: f32| ((f64::from(at) + 0.5) * full_by).max(0.0);
        (corner(x), corner(y))
    };
    #[allow(clippy::cast_possible_truncation)] // pixels
    let larger = |px: f32| (f64::from(px) * full_by) as f32;
    let mut evidence = found.evidence;
    evidence.length_px = larger(evidence.length_px);
    evidence.off_line_px = larger(evidence.off_line_px);
    evidence.bend_px = larger(evidence.bend_px);
    evidence.width_px = larger(evidence.width_px);
    Some(FoundTrail {
        from_px: place(found.from),
        to_px: place(found.to),
        class: verdict.class,
        score: f64::from(verdict.score),
        light: light.and_then(|light| u32::try_from(light).ok()),
        evidence,
        light_curve: found.light_curve,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trails::window::tests::held;

    #[test]
    fn all_frames_are_searched_beside_their_decoding_unless_it_is_stopped() {
        const FRAMES: usize = 3 * WAITING;
        let stop = AtomicBool::new(false);
        let decode = |take: &dyn Fn(Held)| (0..FRAMES).map(|at| take(held(at, 20.0))).count();
        let (decoded, search) = Search::beside(&stop, decode);
        assert_eq!(decoded, FRAMES);
        let searched = search.end(FRAMES);
        assert!(searched.iter().all(|frame| frame.why_not.is_none()));
        // What decodes does not wait for a search that has ended.
        stop.store(true, Ordering::Relaxed);
        let (decoded, search) = Search::beside(&stop, decode);
        assert_eq!(decoded, FRAMES);
        let searched = search.end(FRAMES);
        assert!(
            searched
                .iter()
                .all(|frame| frame.why_not == Some(NO_PICTURE))
        );
    }
}
