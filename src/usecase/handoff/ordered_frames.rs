//! Query -> the frames in the order of their starts. Accesses no disk.

use std::sync::atomic::Ordering;

use crate::capture::pair::rank;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::handoff::Further;
use crate::catalogue::handoff::Grouped;
use crate::catalogue::handoff::OrderedFrame;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::entry::Entry;

/// Where each list ends, and its session.
pub(super) type Ends = Vec<(usize, Option<i64>)>;

/// The frames of the query in order, and where each list ends. Incomplete if the run is stopped.
pub(super) fn ordered_frames(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    further: Further,
) -> Result<(Vec<Entry>, Ends), Failure> {
    let mut placing = Placing::new(catalogue, order);
    let query = &order.compiled.tree;
    catalogue.frames_in_order(query, order.grouped, further, |frame| {
        placing.place(frame)?;
        let stopped = order.stop.load(Ordering::Relaxed);
        Ok(!stopped && placing.entries.len() < placing.most)
    })?;
    placing.end()
}

/// Entries being made from frames as they come.
struct Placing<'c> {
    catalogue: &'c Catalogue,
    grouped: Grouped,
    most: usize,
    /// Frames with equal starts and clocks.
    run: Vec<OrderedFrame>,
    entries: Vec<Entry>,
    ends: Ends,
}

impl<'c> Placing<'c> {
    fn new(catalogue: &'c Catalogue, order: &HandOrder<'_>) -> Self {
        let most = order.limit.map(usize::try_from);
        Self {
            catalogue,
            grouped: order.grouped,
            most: most.and_then(Result::ok).unwrap_or(usize::MAX),
            run: Vec::new(),
            entries: Vec::new(),
            ends: Ends::new(),
        }
    }

    fn place(&mut self, frame: OrderedFrame) -> Result<(), Failure> {
        if !self.goes_on_with(&frame) {
            self.release()?;
        }
        self.run.push(frame);
        Ok(())
    }

    fn goes_on_with(&self, frame: &OrderedFrame) -> bool {
        self.run.last().is_none_or(|last| {
            last.start_utc == frame.start_utc
                && last.clock == frame.clock
                && (self.grouped == Grouped::Together || last.session == frame.session)
        })
    }

    /// Puts the frames of a run into the order of their paths.
    fn release(&mut self) -> Result<(), Failure> {
        if self.run.len() > 1 {
            let mut places = self.catalogue.places();
            let mut by_path = Vec::with_capacity(self.run.len());
            for frame in self.run.drain(..) {
                by_path.push((places.file(frame.first_file_id)?.path(), frame));
            }
            by_path.sort_by(|(one, _), (other, _)| one.cmp(other));
            self.run.extend(by_path.into_iter().map(|(_, frame)| frame));
        }
        for frame in self.run.drain(..) {
            self.entries.push(Entry {
                frame_id: frame.frame_id,
                file_id: frame.first_file_id,
                mid_utc: frame.mid_utc,
                turn: frame.turn,
                is_light: frame.kind == Some(Kind::Light),
                is_raw: rank(frame.first_format) == 0,
                is_damaged: frame.first_health.is_damaged(),
                other_file: frame.further_files,
            });
            let session = match self.grouped {
                Grouped::Together => None,
                Grouped::BySession => frame.session,
            };
            match self.ends.last_mut() {
                Some(last) if last.1 == session => last.0 = self.entries.len(),
                _ => self.ends.push((self.entries.len(), session)),
            }
        }
        Ok(())
    }

    fn end(mut self) -> Result<(Vec<Entry>, Ends), Failure> {
        self.release()?;
        self.entries.truncate(self.most);
        let count = self.entries.len();
        for end in &mut self.ends {
            end.0 = end.0.min(count);
        }
        Ok((self.entries, self.ends))
    }
}
