//! Frames whose pictures are examined: stars, their widths, which way the camera looked. Session by session, a few frames at a
//! time on all processors; what was examined is kept at once, so that a run that is stopped or killed is carried on by the next.

mod frame;
pub(crate) mod over;
pub mod scope;
pub mod sessions;
pub(crate) mod sky_clock;
pub mod stated;
pub mod wcs;

use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Ask;
use crate::catalogue::select::Detail;
use crate::query::Compiled;
use crate::sky::look::Looker;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::FRAME_ID;
use crate::terms::pointing::FrameToExamine;
use crate::terms::pointing::MeasuredPicture;
use crate::terms::records::Cell;
use crate::terms::time::Utc;
use crate::usecase::examine::frame::EDITION;
use crate::usecase::examine::frame::Known;
use crate::usecase::examine::frame::examine;
use crate::usecase::examine::stated::put_pointing;
use crate::usecase::parallel::CORES;
use crate::usecase::parallel::parallel_map_ordered;

/// Frames that one processor examines between two commits.
const FRAMES_A_CORE: usize = 8;
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
    /// Whether it was stopped before its end.
    pub stopped: bool,
}

/// Examines the pictures of the frames that a query finds. `stop` is looked at between frames; `watch` hears how many of how
/// many are done.
pub fn examine_frames(
    catalogue: &mut Catalogue,
    compiled: &Compiled,
    again: Again,
    stop: &AtomicBool,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<Examined, Failure> {
    let mut done = Examined::default();
    let mut frames = Vec::new();
    for frame_id in numbers(catalogue, compiled)? {
        done.asked += 1;
        if again == Again::Earlier && catalogue.is_examined(frame_id, EDITION)? {
            done.before += 1;
        } else if let Some(frame) = catalogue.frame_to_examine(frame_id)? {
            frames.push(frame);
        }
    }
    frames.sort_by_key(|frame| (frame.session_id, frame.mid_utc.map(Utc::unix_ms)));
    let of = frames.len() as u64;
    watch(0, of);
    let mut run = Run {
        catalogue,
        looker: Looker::new(),
        done,
        stop,
    };
    for session in frames.chunk_by(|a, b| a.session_id == b.session_id && a.session_id.is_some()) {
        run.session(session, &mut |done| watch(done, of))?;
        if run.done.stopped {
            break;
        }
    }
    Ok(run.done)
}

fn numbers(catalogue: &Catalogue, compiled: &Compiled) -> Result<Vec<i64>, Failure> {
    let columns = [ColumnSource::Frame(&FRAME_ID)];
    let ask = Ask {
        query: &compiled.tree,
        columns: &columns,
        detail: Detail::Columns,
        order: &[],
        limit: None,
    };
    let mut numbers = Vec::new();
    catalogue.fetch(&ask, |row| {
        if let Some(Cell::Whole(frame_id)) = row.cells.first() {
            numbers.push(*frame_id);
        }
        Ok(true)
    })?;
    Ok(numbers)
}

struct Run<'r> {
    catalogue: &'r mut Catalogue,
    looker: Looker,
    done: Examined,
    stop: &'r AtomicBool,
}

impl Run<'_> {
    /// The frames of one session: of one lens, so that one whose direction is known tells the focal length of the others.
    fn session(
        &mut self,
        frames: &[FrameToExamine],
        watch: &mut dyn FnMut(u64),
    ) -> Result<(), Failure> {
        let mut focal_diagonals = None;
        let mut searches = SEARCHES;
        let mut rest = frames;
        while !rest.is_empty() {
            if self.stop.load(Ordering::Relaxed) {
                self.done.stopped = true;
                return Ok(());
            }
            let known = Known {
                focal_diagonals,
                search_all: searches > 0 && focal_diagonals.is_none(),
            };
            let most = if known.search_all {
                1
            } else {
                FRAMES_A_CORE * *CORES
            };
            let (now, later) = rest.split_at(most.min(rest.len()));
            rest = later;
            let measured = parallel_map_ordered(now, |frame| {
                let stopped = self.stop.load(Ordering::Relaxed);
                (!stopped).then(|| examine(frame, known))
            });
            if known.search_all {
                searches -= 1;
            }
            for one in measured.iter().flatten() {
                if let Some(pointing) = &one.pointing {
                    let diagonal = pointing.width_px.hypot(pointing.height_px);
                    focal_diagonals.get_or_insert(pointing.f_px / diagonal);
                }
            }
            self.keep(now, &measured)?;
            watch(self.done.frames);
        }
        Ok(())
    }

    fn keep(
        &mut self,
        frames: &[FrameToExamine],
        measured: &[Option<MeasuredPicture>],
    ) -> Result<(), Failure> {
        let batch = self.catalogue.batch()?;
        for (frame, one) in frames.iter().zip(measured) {
            let Some(one) = one else {
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
