//! Recomputes derived rows in batches: of every frame, of a night, of a session. The next run continues one that was
//! stopped or killed.

use std::collections::BTreeSet;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::failure::no_session;
use crate::usecase::derive::evenings::Deriver;
use crate::usecase::derive::maker::current_maker;
use crate::usecase::derive::pending::derive_pending;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::derive::regroup::regroup;
use crate::usecase::report::night::nothing_that_night;

/// How many frames are derived in one transaction: a tenth of a second of work, the most that is lost if a run is
/// killed.
const BATCH_FRAMES: i64 = 2_000;

/// Which frames' rows to recompute.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Rebuild {
    /// Those of every frame.
    All,
    /// Those of the frames of a night, by its date.
    Night(String),
    /// Those of the frames of a session.
    Session(i64),
}

/// The progress of a rebuild.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Frames derived, and frames in all.
    Frames(u64, u64),
    /// Nights grouped, and nights in all.
    Nights(u64, u64),
}

/// The result of a rebuild.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rebuilt {
    /// Frames and sessions, and what moved.
    pub done: Rederived,
    /// Whether it continued a run that was stopped.
    pub carried_on: bool,
    /// Whether it was stopped early.
    pub stopped: bool,
}

/// Recomputes derived rows. `stop` is checked between batches.
///
/// Refuses: a night or a session that has no frames.
pub fn rebuild(
    catalogue: &mut Catalogue,
    which: &Rebuild,
    stop: &AtomicBool,
    watch: &mut dyn FnMut(Step),
) -> Result<Rebuilt, Failure> {
    let mut run = Run {
        catalogue,
        deriver: None,
        rebuilt: Rebuilt::default(),
        stop,
        watch,
    };
    match which {
        Rebuild::All => {
            run.every_frame()?;
            run.group(None)?;
            run.end()?;
        }
        Rebuild::Night(night) => {
            let frames = run.frames_of_night(night)?;
            run.listed(&frames)?;
        }
        Rebuild::Session(session_id) => {
            let frames = run.catalogue.frames_of_session(*session_id)?;
            if frames.is_empty() {
                return Err(no_session(*session_id));
            }
            run.listed(&frames)?;
        }
    }
    Ok(run.rebuilt)
}

/// Recomputes missing rows, and groups their nights: before a statement about sessions, since frames without rows would
/// be left out. `watch` receives the progress.
///
/// Gives: how many frames lacked rows.
pub fn rebuild_missing(
    catalogue: &mut Catalogue,
    stop: &AtomicBool,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<u64, Failure> {
    let (missing, _) = catalogue.pending_frames()?;
    if missing == 0 {
        return Ok(0);
    }
    watch(0, missing);
    let batch = catalogue.batch()?;
    let mut deriver = Deriver::new(&batch)?;
    batch.commit()?;
    let mut made = 0;
    derive_pending(
        catalogue,
        &mut deriver,
        stop,
        &mut |_, _| {},
        &mut |done, of| {
            made = done;
            watch(done, of);
        },
    )?;
    let mut run = Run {
        catalogue,
        deriver: None,
        rebuilt: Rebuilt::default(),
        stop,
        watch: &mut |_| {},
    };
    run.group(None)?;
    Ok(made)
}

/// For a batch that records no progress: what it derived is fresh, and need not be found again.
const NOT_NOTED: fn(&Batch<'_>, i64) -> Result<(), Failure> = |_, _| Ok(());

struct Run<'r> {
    catalogue: &'r mut Catalogue,
    deriver: Option<Deriver>,
    rebuilt: Rebuilt,
    stop: &'r AtomicBool,
    watch: &'r mut dyn FnMut(Step),
}

impl Run<'_> {
    /// Derives the frames that `next` returns, in one transaction, and has `note` record the last one. Returns whether
    /// there were any and the run continues.
    fn batch(
        &mut self,
        next: &mut dyn FnMut(&Batch<'_>) -> Result<Vec<i64>, Failure>,
        note: fn(&Batch<'_>, i64) -> Result<(), Failure>,
    ) -> Result<bool, Failure> {
        if self.stop.load(Ordering::Relaxed) {
            self.rebuilt.stopped = true;
            return Ok(false);
        }
        let batch = self.catalogue.batch()?;
        let frames = next(&batch)?;
        let Some(last) = frames.last() else {
            return Ok(false);
        };
        let deriver = match &mut self.deriver {
            Some(deriver) => deriver,
            empty => empty.insert(Deriver::new(&batch)?),
        };
        let done = &mut self.rebuilt.done;
        deriver.derive(&batch, &frames, &mut |_, reached| {
            done.take(reached);
        })?;
        note(&batch, *last)?;
        batch.commit()?;
        Ok(true)
    }

    fn every_frame(&mut self) -> Result<(), Failure> {
        let current = current_maker();
        let before = self.catalogue.rebuilt_up_to()?;
        self.rebuilt.carried_on = before.is_some();
        let done = before.unwrap_or(0);
        let of = self.catalogue.count_to_rebuild(done, &current)?;
        let mut after = 0;
        (self.watch)(Step::Frames(0, of));
        while self.batch(
            &mut |batch| {
                let frames = batch.next_to_rebuild(after, done, &current, BATCH_FRAMES)?;
                after = frames.last().copied().unwrap_or(after);
                Ok(frames)
            },
            |batch, last| {
                batch.note_rebuilt(last)?;
                Ok(())
            },
        )? {
            (self.watch)(Step::Frames(self.rebuilt.done.frames, of));
        }
        Ok(())
    }

    fn listed(&mut self, frames: &[i64]) -> Result<(), Failure> {
        let of = frames.len() as u64;
        let mut parts = frames.chunks(usize::try_from(BATCH_FRAMES).unwrap_or(1));
        (self.watch)(Step::Frames(0, of));
        while self.batch(
            &mut |_| Ok(parts.next().map(<[i64]>::to_vec).unwrap_or_default()),
            NOT_NOTED,
        )? {
            (self.watch)(Step::Frames(self.rebuilt.done.frames, of));
        }
        let touched = self.deriver.as_ref().map(|deriver| deriver.touched.clone());
        self.group(touched)
    }

    /// The frames of a night: by their rows, and those without rows that would be in it.
    fn frames_of_night(&mut self, night: &str) -> Result<Vec<i64>, Failure> {
        let mut frames = self.catalogue.frames_of_night(night)?;
        let without = self.catalogue.frames_without_time()?;
        if !without.is_empty() {
            let batch = self.catalogue.batch()?;
            frames.extend(Deriver::new(&batch)?.without_row_in(&batch, &without, night)?);
            // Nothing was changed; it was only read.
            drop(batch);
        }
        if frames.is_empty() {
            return Err(nothing_that_night(self.catalogue, night)?);
        }
        frames.sort_unstable();
        Ok(frames)
    }

    /// Groups nights, a date per transaction: those that need it, limited to the requested ones. Dates between which
    /// frames have moved are grouped together, so that a session keeps its number.
    fn group(&mut self, only: Option<BTreeSet<BodyNight>>) -> Result<(), Failure> {
        if self.rebuilt.stopped {
            return Ok(());
        }
        let mut nights: BTreeSet<BodyNight> =
            self.catalogue.pending_nights()?.into_iter().collect();
        if let Some(only) = only {
            nights.retain(|night| only.contains(night));
        }
        let moved: BTreeSet<String> = self
            .catalogue
            .nights_of_moved_frames()?
            .into_iter()
            .flat_map(|(from, to)| [from, to])
            .collect();
        let (together, apart): (Vec<BodyNight>, Vec<BodyNight>) = nights
            .into_iter()
            .partition(|night| moved.contains(&night.night));
        let dates = std::iter::once(together.as_slice())
            .filter(|nights| !nights.is_empty())
            .chain(apart.chunk_by(|a, b| a.night == b.night));
        let of = (together.len() + apart.len()) as u64;
        let mut grouped = 0;
        for nights in dates {
            if self.stop.load(Ordering::Relaxed) {
                self.rebuilt.stopped = true;
                return Ok(());
            }
            let found = regroup(self.catalogue, nights, Some(self.stop))?;
            self.rebuilt.done.take_grouped(&found);
            grouped += nights.len() as u64;
            (self.watch)(Step::Nights(grouped, of));
        }
        Ok(())
    }

    fn end(&mut self) -> Result<(), Failure> {
        if self.rebuilt.stopped {
            return Ok(());
        }
        let batch = self.catalogue.batch()?;
        batch.end_rebuild()?;
        batch.commit()?;
        self.catalogue.gather_statistics()
    }
}
