//! Derives frames that lack rows, in batches: those of an ingest, those of a killed one, and those whose rows were
//! deleted. Each batch takes its frames from the list of those that lack rows, so a killed run can be continued.

use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::usecase::derive::evenings::Deriver;
use crate::usecase::derive::evenings::Reached;

/// How many frames are derived in one transaction, plus the rest of the current evening: a tenth of a second of work,
/// the most that is lost if a run is killed.
const BATCH_FRAMES: u64 = 2_000;

/// The same for creating sites in advance: there a frame costs a lookup.
const SITE_FRAMES: i64 = 50_000;

/// Derives every frame that lacks rows, each evening of a body once and as a whole. `stop` is checked between batches;
/// `each` is called for each of these frames, `watch` with the progress, while no transaction is open.
pub fn derive_pending(
    catalogue: &mut Catalogue,
    deriver: &mut Deriver,
    stop: &AtomicBool,
    each: &mut dyn FnMut(i64, &Reached),
    watch: &mut dyn FnMut(u64, u64),
) -> Result<(), Failure> {
    let mut after = Some(0);
    while let Some(frame_id) = after {
        let batch = catalogue.batch()?;
        after = deriver.make_pending_sites(&batch, frame_id, SITE_FRAMES)?;
        batch.commit()?;
    }
    let (of, _) = catalogue.pending_frames()?;
    let mut done = 0;
    loop {
        if stop.load(Ordering::Relaxed) {
            return Ok(());
        }
        let batch = catalogue.batch()?;
        let count = deriver.derive_pending(&batch, BATCH_FRAMES, each)?;
        batch.commit()?;
        done += count;
        watch(done, of);
        if count < BATCH_FRAMES {
            return Ok(());
        }
    }
}
