//! Query -> a data set for engines that read columns: a table with a row a frame, one with a row a frame and shower. Opens no
//! file.
//!
//! Both tables are written in one walk over the frames in the order of their starts; of each, a stretch of frames and the row
//! groups that are being filled are held, however many there are.
//!
//! - `table`: the two tables and their columns
//! - `file`: the files, and which frames lie in which
//! - `writer`: the files that are open

mod file;
mod table;
mod writer;

pub use file::DataFile;
pub use file::Parted;
pub use file::Share;
pub use table::Table;

use std::io::Write;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::catalogue::handoff::Further;
use crate::catalogue::handoff::Grouped;
use crate::catalogue::open::Catalogue;
use crate::pipeline::dataset::writer::Writer;
use crate::query::Compiled;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;

/// Frames that are fetched at once.
const FRAMES_AT_ONCE: usize = 2_048;

/// What is to be written.
#[derive(Clone, Copy, Debug)]
pub struct DataOrder<'a> {
    /// The query as it was typed.
    pub query: &'a str,
    /// Which frames it means.
    pub compiled: &'a Compiled,
    /// At most so many frames, the earliest.
    pub limit: Option<u64>,
    /// Whether it is parted.
    pub parted: Parted,
    /// The program's version.
    pub version: &'a str,
    /// The current instant.
    pub now: Utc,
    /// Raised when the photographer wants it to stop.
    pub stop: &'a AtomicBool,
}

/// What was written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DataTally {
    /// Frames.
    pub frames: u64,
    /// Radiants.
    pub radiants: u64,
    /// Whether it was stopped half-way.
    pub stopped: bool,
}

/// Where the files of a data set are opened and closed.
pub struct DataPlace<'p, W> {
    /// Opens one.
    pub open: &'p mut dyn FnMut(&DataFile) -> Result<W, Failure>,
    /// Is given it back when all of it is written.
    pub close: &'p mut dyn FnMut(&DataFile, W) -> Result<(), Failure>,
    /// Is told how many frames are written.
    pub watch: &'p mut dyn FnMut(u64),
}

/// Writes the frames of a query and the radiants over them. Opens no file where there are none.
pub fn write<W: Write + Send>(
    catalogue: &Catalogue,
    order: &DataOrder<'_>,
    place: &mut DataPlace<'_, W>,
) -> Result<DataTally, Failure> {
    let mut writer = Writer::new(catalogue, order, place)?;
    let most = order.limit.unwrap_or(u64::MAX);
    let mut found = 0;
    let mut stretch: Vec<i64> = Vec::with_capacity(FRAMES_AT_ONCE);
    let (predicate, grouped) = (&order.compiled.predicate, Grouped::Together);
    catalogue.frames_in_order(predicate, grouped, Further::NotAsked, |frame| {
        if order.stop.load(Ordering::Relaxed) {
            writer.tally.stopped = true;
            return Ok(false);
        }
        stretch.push(frame.frame_id);
        found += 1;
        if stretch.len() == FRAMES_AT_ONCE {
            writer.frames(&stretch)?;
            stretch.clear();
        }
        Ok(found < most)
    })?;
    if !writer.tally.stopped {
        writer.frames(&stretch)?;
        writer.close_all()?;
    }
    Ok(writer.tally)
}
