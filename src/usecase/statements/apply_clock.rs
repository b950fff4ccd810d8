//! Applies statements about clocks: derives the frames whose instants may differ.

use crate::catalogue::batch::Batch;
use crate::terms::clock::ZoneStated;
use crate::terms::failure::Failure;
use crate::terms::statement::Act;
use crate::usecase::clocks::refusals::Latest;
use crate::usecase::clocks::refusals::ensure_consistent;
use crate::usecase::derive::body_clock::clock_of;
use crate::usecase::derive::body_clock::frames_dated_otherwise;
use crate::usecase::derive::rederive::Concerned;
use crate::usecase::typed::zone_named;

/// Applies a statement about a clock, or about these frames alone.
///
/// Refuses: statements that contradict each other.
pub(super) fn apply_clock(
    batch: &Batch<'_>,
    act: &Act,
    frames: &[i64],
) -> Result<Concerned, Failure> {
    let (Act::Zone(body, _)
    | Act::ZoneRemoval(body, ..)
    | Act::Fix(body, _)
    | Act::FixRemoval(body, ..)) = act
    else {
        return Ok(Concerned::default());
    };
    let camera_id = batch.ensure_body(body)?;
    let before = clock_of(batch, camera_id)?;
    let (id, latest) = match act {
        Act::Zone(_, zone) => {
            let zone = ZoneStated {
                zone: zone_named(&zone.zone)?.name().to_owned(),
                ..zone.clone()
            };
            let id = batch.state_zone(camera_id, &zone)?;
            (id, Latest::Zone(id))
        }
        Act::Fix(_, fix) => {
            // It may be in force, and frames that it is limited to have arrived.
            let id = match before.fixes().iter().find(|f| f.key() == fix.key()) {
                Some(there) => there.id,
                None => batch.state_fix(camera_id, fix)?,
            };
            batch.put_fix_frames(id, frames)?;
            (id, Latest::Fix(id))
        }
        Act::ZoneRemoval(_, from, until) => {
            let zones = batch.clock_zones(camera_id)?;
            let zone = zones.iter().find(|z| (z.from, z.until) == (*from, *until));
            if let Some(zone) = zone {
                batch.drop_zone(zone.id)?;
            }
            (zone.map_or(0, |zone| zone.id), Latest::Removal)
        }
        Act::FixRemoval(_, key) => {
            let fix = before.fixes().iter().find(|f| f.key() == *key);
            if let Some(fix) = fix {
                batch.drop_fix(fix.id)?;
            }
            (fix.map_or(0, |fix| fix.id), Latest::Removal)
        }
        _ => return Ok(Concerned::default()),
    };
    let now = clock_of(batch, camera_id)?;
    ensure_consistent(&now, latest)?;
    Ok(Concerned {
        id,
        frames: frames_dated_otherwise(batch, camera_id, &now, &before)?,
        ..Concerned::default()
    })
}
