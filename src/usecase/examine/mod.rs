//! Frames whose pictures are examined: stars, their widths, which way the camera looked. Session by session, a few frames at a
//! time on all processors; what was examined is kept at once, so that a run that is stopped or killed is carried on by the next.

pub mod focus;
mod frame;
pub(crate) mod in_force;
pub mod moved;
pub(crate) mod over;
pub mod scope;
pub mod sessions;
pub(crate) mod sky_clock;
pub mod sky_notes;
pub mod stated;
pub mod trail_picture;
mod trails;
pub mod wcs;

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::sync::atomic;
use std::sync::atomic::AtomicBool;

use crate::catalogue::handle::Catalogue;
use crate::pointing::elapsed::Pointed;
use crate::pointing::elapsed::elapsed;
use crate::query::Compiled;
use crate::sky::look::Looker;
use crate::terms::failure::Failure;
use crate::terms::found_trail::TrailClass;
use crate::terms::pointing::FrameToExamine;
use crate::terms::pointing::MeasuredPicture;
use crate::terms::site::Place;
use crate::terms::time::Utc;
use crate::trails::window::Held;
use crate::usecase::derive::regroup::regroup;
use crate::usecase::examine::frame::EDITION;
use crate::usecase::examine::frame::Known;
use crate::usecase::examine::frame::Seen;
use crate::usecase::examine::frame::Wanted;
use crate::usecase::examine::frame::examine;
use crate::usecase::examine::in_force::put_pointing;
use crate::usecase::examine::over::camera_of;
use crate::usecase::examine::trails::Search;
use crate::usecase::looking::mark::frames_of;
use crate::usecase::parallel::CORES;
use crate::usecase::parallel::parallel_map_ordered;

/// Frames that one processor examines between two commits.
const FRAMES_A_CORE: usize = 8;
/// And all together: they are held for the search for trails.
const MOST_TOGETHER: usize = 32;
/// In how many frames of a session all focal lengths are searched before it is given up.
const SEARCHES: u32 = 3;

/// Whether frames that were examined are examined again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Again {
    /// All of them.
    All,
    /// Only those that an earlier edition of the measures examined.
    Earlier,
}

/// What examining came to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Examined {
    /// Frames that the query found.
    pub asked: u64,
    /// Of these examined before.
    pub before: u64,
    /// Examined now.
    pub frames: u64,
    /// Of these without a picture to examine: why, and how many.
    pub without: Vec<(String, u64)>,
    /// Of these with a pointing that is known everywhere in the picture.
    pub good: u64,
    /// With one that is known near the matched stars only.
    pub weak: u64,
    /// With too few star images.
    pub too_few: u64,
    /// With images that match no stars.
    pub no_match: u64,
    /// Trails found, and those of them that are taken for meteors.
    pub trails: u64,
    /// Of these, taken for meteors.
    pub meteors: u64,
    /// Frames that have no neighbour to be compared with.
    pub alone: u64,
    /// Where a camera was moved: its session's number, and the first file after it.
    pub moved: Vec<(i64, String)>,
    /// Whether it was stopped before its end.
    pub stopped: bool,
}

/// Examines the pictures of the frames that a query finds. `stop` is looked at between frames; `watch` hears how many are done.
pub fn examine_frames(
    catalogue: &mut Catalogue,
    compiled: &Compiled,
    again: Again,
    stop: &AtomicBool,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<Examined, Failure> {
    let mut done = Examined::default();
    let mut frames: Vec<Work> = Vec::new();
    let mut searched = BTreeMap::new();
    for frame_id in frames_of(catalogue, &compiled.tree)? {
        done.asked += 1;
        let all = again == Again::All;
        let examined = catalogue.is_examined(frame_id, EDITION)?;
        let wanted = Wanted {
            measures: all || !examined,
            trails: all || !catalogue.is_searched(frame_id, trails::EDITION)?,
        };
        done.before += u64::from(!wanted.measures);
        if wanted.any()
            && let Some(frame) = catalogue.frame_to_examine(frame_id)?
        {
            if let Some(session) = frame.session_id {
                *searched.entry(session).or_insert(false) |= wanted.trails;
            }
            frames.push(Work {
                frame,
                wanted,
                examined: examined && !wanted.measures,
            });
        }
    }
    with_neighbours(catalogue, &searched, &mut frames)?;
    frames.sort_by(|a, b| a.order().partial_cmp(&b.order()).unwrap_or(Ordering::Equal));
    let of = wanted_of(&frames);
    watch(0, of);
    let mut run = Run {
        catalogue,
        looker: Looker::new(),
        done,
        seen: 0,
        stop,
    };
    let same = |a: &Work, b: &Work| {
        a.frame.session_id == b.frame.session_id && a.frame.session_id.is_some()
    };
    for session in frames.chunk_by(same) {
        run.session(session, &mut |done| watch(done, of))?;
        if run.done.stopped {
            break;
        }
    }
    let done = run.done;
    // The turn of the sky in a session follows from the stars; a run that was killed left its nights to this one.
    let nights = catalogue.pending_nights()?;
    if !nights.is_empty() {
        regroup(catalogue, &nights, Some(stop))?;
    }
    Ok(done)
}

/// What frames of one lens have in common: focal length in tenths of a millimetre, width, height.
type Optics = (Option<i64>, Option<u32>, Option<u32>);

#[allow(clippy::cast_possible_truncation)] // some hundred millimetres
fn optics(frame: &FrameToExamine) -> Optics {
    let focal = frame.focal_mm.map(|mm| (mm * 10.0).round() as i64);
    (focal, frame.width_px, frame.height_px)
}

/// A frame, and what is wanted of it.
struct Work {
    frame: FrameToExamine,
    wanted: Wanted,
    /// Whether its measures were kept by an earlier run and are not wanted again: they tell of the lens as new ones do.
    examined: bool,
}

/// Of how many frames something is wanted.
fn wanted_of(frames: &[Work]) -> u64 {
    frames.iter().filter(|work| work.wanted.any()).count() as u64
}

impl Work {
    fn tells_of_lens(&self) -> bool {
        self.wanted.measures || self.examined
    }

    /// By session, and in it by time.
    fn order(&self) -> (Option<i64>, Option<i64>, Option<f64>) {
        let frame = &self.frame;
        (
            frame.session_id,
            frame.mid_utc.map(Utc::unix_ms),
            frame.clock_s,
        )
    }
}

/// Adds the other frames of sessions: a frame is compared with its neighbours where trails are searched, and what is known of them
/// tells of the lens. So what comes of a session does not depend on where an earlier run was stopped.
fn with_neighbours(
    catalogue: &Catalogue,
    searched: &BTreeMap<i64, bool>,
    frames: &mut Vec<Work>,
) -> Result<(), Failure> {
    let mut there: BTreeSet<i64> = frames.iter().map(|work| work.frame.frame_id).collect();
    for work in frames.iter_mut() {
        let session = work.frame.session_id;
        work.wanted.trails |= session.is_some_and(|id| searched.get(&id) == Some(&true));
    }
    for (session, trails) in searched {
        let compiled = scope::lights_of(catalogue, Some(&session.to_string()))?;
        for frame_id in frames_of(catalogue, &compiled.tree)? {
            if there.insert(frame_id)
                && let Some(frame) = catalogue.frame_to_examine(frame_id)?
            {
                frames.push(Work {
                    frame,
                    wanted: Wanted {
                        measures: false,
                        trails: *trails,
                    },
                    examined: catalogue.is_examined(frame_id, EDITION)?,
                });
            }
        }
    }
    Ok(())
}

struct Run<'r> {
    catalogue: &'r mut Catalogue,
    looker: Looker,
    done: Examined,
    /// Frames that were looked at, for whatever reason.
    seen: u64,
    stop: &'r AtomicBool,
}

impl Run<'_> {
    /// The frames of one session: what one tells of the lens and the tripod helps with the others.
    fn session(&mut self, frames: &[Work], watch: &mut dyn FnMut(u64)) -> Result<(), Failure> {
        let (ended, search) = Search::beside(self.stop, |take| self.decoded(frames, take, watch));
        ended?;
        self.done.stopped = self.stop.load(atomic::Ordering::Relaxed);
        if !self.done.stopped && frames.iter().any(|work| work.wanted.trails) {
            self.keep_trails(frames, search)?;
        }
        Ok(())
    }

    /// Measures the frames of a session, and hands them over to the search until it is stopped.
    fn decoded(
        &mut self,
        frames: &[Work],
        take: &dyn Fn(Held),
        watch: &mut dyn FnMut(u64),
    ) -> Result<(), Failure> {
        let mut lenses: Vec<(Optics, Known, u32)> = Vec::new();
        let mut at = 0;
        while at < frames.len() && !self.stop.load(atomic::Ordering::Relaxed) {
            let lens = optics(&frames[at].frame);
            let place = lenses.iter().position(|(other, ..)| *other == lens);
            let place = place.unwrap_or_else(|| {
                lenses.push((lens, Known::default(), SEARCHES));
                lenses.len() - 1
            });
            let (_, learnt, searches) = &mut lenses[place];
            learnt.search_all = *searches > 0 && learnt.focal_diagonals.is_none();
            let known = *learnt;
            let unknown = known.search_all && frames[at].tells_of_lens();
            let most = if unknown {
                1
            } else {
                (FRAMES_A_CORE * *CORES).min(MOST_TOGETHER)
            };
            let numbers: Vec<usize> = (at..frames.len().min(at + most))
                .take_while(|number| optics(&frames[*number].frame) == lens)
                .collect();
            at += numbers.len();
            let mut seen = parallel_map_ordered(&numbers, |number| {
                let stopped = self.stop.load(atomic::Ordering::Relaxed);
                let work = &frames[*number];
                (!stopped).then(|| examine(&work.frame, *number, work.wanted, known))
            });
            *searches -= u32::from(unknown);
            for (number, one) in numbers.iter().zip(&mut seen) {
                let Some(one) = one else {
                    continue;
                };
                let work = &frames[*number];
                let pointing = if work.examined {
                    self.catalogue.measured_pointing(work.frame.frame_id)?
                } else {
                    one.measured.as_ref().and_then(|m| m.pointing.clone())
                };
                if let Some(pointing) = pointing {
                    learnt.learn(&work.frame, &pointing);
                }
                one.held.take().map(take);
            }
            let now = &frames[numbers[0]..at];
            self.keep(now, &seen)?;
            self.seen += wanted_of(now);
            watch(self.seen);
        }
        Ok(())
    }

    /// Keeps what the search gave for a session: all of it together, or nothing.
    fn keep_trails(&mut self, frames: &[Work], search: Search) -> Result<(), Failure> {
        let mut searched = search.end(frames.len());
        for at in 1..frames.len() {
            let (before, now) = (&frames[at - 1].frame, &frames[at].frame);
            if searched[at].began == Some(trails::MOVED) && self.stood_still(before, now)? {
                searched[at].began = None;
            }
        }
        let batch = self.catalogue.batch()?;
        for (work, one) in frames.iter().zip(&searched) {
            if !work.wanted.trails {
                continue;
            }
            batch.put_search(work.frame.frame_id, one)?;
            self.done.trails += one.trails.len() as u64;
            let meteors = one.trails.iter().filter(|t| t.class == TrailClass::Meteor);
            self.done.meteors += meteors.count() as u64;
            self.done.alone += u64::from(one.why_not == Some(trails::ALONE));
            if one.began == Some(trails::MOVED)
                && let Some(session) = work.frame.session_id
            {
                let file = work.frame.path.file_name().unwrap_or_default();
                let file = file.to_string_lossy().into_owned();
                self.done.moved.push((session, file));
            }
        }
        batch.commit()
    }

    /// Whether the stars of two frames show that the tripod stood still between them: what changed in the pictures is cloud or light.
    fn stood_still(
        &mut self,
        before: &FrameToExamine,
        now: &FrameToExamine,
    ) -> Result<bool, Failure> {
        let pointed = |frame: &FrameToExamine| -> Result<Option<Pointed>, Failure> {
            let kept = self.catalogue.measured_pointing(frame.frame_id)?;
            Ok(kept.and_then(|kept| Some(Pointed::of(&kept, camera_of(&kept)?))))
        };
        let (Some(first), Some(second)) = (pointed(before)?, pointed(now)?) else {
            return Ok(false);
        };
        let (Some(from), Some(to)) = (before.mid_utc, now.mid_utc) else {
            return Ok(false);
        };
        // The pole of the date needs no site.
        let pole = Place::new(0.0, 0.0, 0.0)
            .and_then(|place| self.looker.horizon(to, place))
            .map(|horizon| horizon.pole());
        let found = pole.and_then(|pole| {
            let expected_s = to.seconds_since(from);
            elapsed((&first, &second), pole, expected_s, &mut |_| true)
        });
        Ok(found.is_some_and(|found| found.unmoved))
    }

    fn keep(&mut self, frames: &[Work], seen: &[Option<Seen>]) -> Result<(), Failure> {
        if !frames.iter().any(|work| work.wanted.measures) {
            return Ok(());
        }
        let batch = self.catalogue.batch()?;
        for (work, one) in frames.iter().zip(seen) {
            let frame = &work.frame;
            let Some(one) = one.as_ref().and_then(|seen| seen.measured.as_ref()) else {
                continue;
            };
            batch.put_picture(frame.frame_id, one)?;
            let horizon = frame
                .mid_utc
                .zip(frame.place)
                .and_then(|(at, place)| self.looker.horizon(at, place));
            put_pointing(&batch, frame.frame_id, horizon.zip(frame.place).as_ref())?;
            self.done.count(one);
        }
        batch.commit()
    }
}

impl Examined {
    fn count(&mut self, one: &MeasuredPicture) {
        self.frames += 1;
        match (&one.why_not, one.pointing_word) {
            (Some(why), _) => match self.without.iter_mut().find(|(known, _)| known == why) {
                Some((_, count)) => *count += 1,
                None => self.without.push((why.clone(), 1)),
            },
            (None, Some("good")) => self.good += 1,
            (None, Some("weak")) => self.weak += 1,
            (None, Some("too-few-stars")) => self.too_few += 1,
            (None, _) => self.no_match += 1,
        }
    }
}
