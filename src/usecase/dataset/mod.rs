//! Query -> Parquet tables: one with a row per frame, one with a row per frame and shower.
//!
//! Both tables are written in one walk over the frames in the order of their starts; only some frames and the row
//! groups that are being filled are held in memory.
//!
//! - `table`: the two tables and their columns
//! - `order`: what is requested, where it is written, the result
//! - `file`: the files, and which frames are in which
//! - `writer`: rows -> the open files
//! - `export`: these files, completely or not at all

mod export;
mod file;
mod order;
mod table;
mod writer;

pub use export::DataForm;
pub use export::export;
pub use file::DataFile;
pub use file::Parted;
pub use order::DataOrder;
pub use order::DataTally;
pub use table::Table;

use std::io::Write;
use std::sync::atomic::Ordering;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::handoff::Further;
use crate::catalogue::handoff::Grouped;
use crate::terms::failure::Failure;
use crate::usecase::dataset::order::DataPlace;
use crate::usecase::dataset::writer::Writer;

/// Frames fetched at a time.
const FRAMES_AT_ONCE: usize = 2_048;

/// Writes the frames of a query and the radiants over them. Opens no file where there are none.
fn write<W: Write + Send>(
    catalogue: &Catalogue,
    order: &DataOrder<'_>,
    place: &mut DataPlace<'_, W>,
) -> Result<DataTally, Failure> {
    let mut writer = Writer::new(catalogue, order, place)?;
    let most = order.limit.unwrap_or(u64::MAX);
    let mut found = 0;
    let mut stretch: Vec<i64> = Vec::with_capacity(FRAMES_AT_ONCE);
    let (query, grouped) = (&order.compiled.tree, Grouped::Together);
    catalogue.frames_in_order(query, grouped, Further::NotAsked, |frame| {
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
