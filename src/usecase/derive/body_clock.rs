//! A body's clock by everything that is stated of it, and the frames that another statement dates otherwise.

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::clock::fix::BodyClock;
use crate::terms::failure::Failure;

/// The clock of a body.
pub(crate) fn clock_of(catalogue: &Catalogue, camera_id: i64) -> Result<BodyClock, Failure> {
    let zones = catalogue.clock_zones(camera_id)?;
    let clock = BodyClock::new(catalogue.clock_fixes(camera_id)?, zones);
    Ok(clock.with_frames(catalogue.fix_frames(camera_id)?))
}

/// The frames of a body whose instants may differ between two of its clocks, in order.
pub(crate) fn frames_dated_otherwise(
    batch: &Batch<'_>,
    camera_id: i64,
    now: &BodyClock,
    before: &BodyClock,
) -> Result<Vec<i64>, Failure> {
    let mut frames = now.frames_that_differ(before);
    for (from, until) in now.differs(before) {
        frames.extend(batch.frames_between(camera_id, from, until)?);
    }
    frames.sort_unstable();
    frames.dedup();
    Ok(frames)
}
