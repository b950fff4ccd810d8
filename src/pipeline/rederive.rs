//! All that follows from a changed statement, built anew: time, place, sky, sessions of the frames concerned.

use crate::catalogue::derive::Derived;
use crate::catalogue::open::Catalogue;
use crate::pipeline::derive::Deriver;
use crate::pipeline::regroup::regroup_in;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::failure::Failure;

/// How often the watcher hears of the progress.
const WATCH_EVERY: u64 = 500;

/// What deriving anew came to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Rederived {
    /// Frames derived.
    pub frames: u64,
    /// Of these, those whose UTC is known now.
    pub dated: u64,
    /// Of these, those at a place that is known now.
    pub placed: u64,
    /// Of these, those that keep a GPS position of their own.
    pub by_gps: u64,
    /// Sessions found in the nights concerned.
    pub sessions: u64,
}

/// Derives frames anew, in one transaction; with a site, it is stated for each of them first.
pub fn rederive(
    catalogue: &mut Catalogue,
    frames: &[i64],
    stated_site: Option<i64>,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<Rederived, Failure> {
    let batch = catalogue.batch()?;
    let mut deriver = Deriver::new(&batch)?;
    let mut done = Rederived::default();
    for frame_id in frames {
        if let Some(site_id) = stated_site {
            batch.restate_place(*frame_id, site_id)?;
        }
        let facts = batch.frame_facts(*frame_id)?;
        let reached = deriver.derive(&batch, &facts, Derived::Again)?;
        done.frames += 1;
        done.dated += u64::from(reached.time != TimeBasis::None);
        done.placed += u64::from(reached.place != PlaceBasis::None);
        done.by_gps += u64::from(reached.place == PlaceBasis::Exif);
        if done.frames % WATCH_EVERY == 0 {
            watch(done.frames, frames.len() as u64);
        }
    }
    done.sessions = regroup_in(&batch, &deriver.touched)?;
    batch.commit()?;
    Ok(done)
}
