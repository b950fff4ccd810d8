//! The pointing of a frame that is in force, and what follows from it.

use crate::catalogue::batch::Batch;
use crate::sky::horizon::Horizon;
use crate::sky::look::Looker;
use crate::terms::failure::Failure;
use crate::terms::pointing::MeasuredPointing;
use crate::terms::site::Place;
use crate::usecase::examine::over::derived;
use crate::usecase::examine::over::of_stated;
use crate::usecase::looking::trail_paths::showers;

/// The pointing of a frame: as stated, else as measured.
pub(crate) fn in_force(
    batch: &Batch<'_>,
    frame_id: i64,
    horizon: &Horizon,
) -> Result<Option<MeasuredPointing>, Failure> {
    match batch.stated_pointing(frame_id)? {
        Some(stated) => Ok(of_stated(&stated, batch.mid_reading(frame_id)?, horizon)),
        None => batch.measured_pointing(frame_id),
    }
}

/// Derives what follows from where a frame's camera pointed, at its time and place.
pub(crate) fn put_pointing(
    batch: &Batch<'_>,
    frame_id: i64,
    over: Option<&(Horizon, Place)>,
) -> Result<(), Failure> {
    let Some((horizon, place)) = over else {
        return batch.put_pointing(frame_id, None, &[]);
    };
    let known = in_force(batch, frame_id, horizon)?;
    let derived = known.as_ref().and_then(|known| derived(known, horizon));
    let trails = match &known {
        Some(known) => showers(&batch.trails_of(frame_id)?, known, horizon, *place),
        None => Vec::new(),
    };
    batch.put_pointing(frame_id, derived.as_ref(), &trails)
}

/// Derives the showers of a frame's meteors again.
pub(crate) fn derive_paths(batch: &Batch<'_>, frame_id: i64) -> Result<(), Failure> {
    if !batch.has_pointing(frame_id)? {
        return Ok(());
    }
    let over = batch.time_and_place(frame_id)?.and_then(|(at, place)| {
        let horizon = Looker::new().horizon(at, place)?;
        Some((horizon, place))
    });
    put_pointing(batch, frame_id, over.as_ref())
}
