//! Applies statements about clocks: derives the frames whose instants may differ.

use crate::catalogue::batch::Batch;
use crate::clock::fix::BodyClock;
use crate::terms::clock::ZoneStated;
use crate::terms::failure::Failure;
use crate::terms::statement::Act;
use crate::usecase::clocks::refusals::Latest;
use crate::usecase::clocks::refusals::ensure_consistent;
use crate::usecase::statements::effect::Effect;
use crate::usecase::typed::zone_named;

/// Applies a statement about a clock.
///
/// Refuses: statements that contradict each other.
pub(super) fn apply_clock(batch: &Batch<'_>, act: &Act) -> Result<Effect, Failure> {
    let (Act::Zone(body, _)
    | Act::ZoneRemoval(body, ..)
    | Act::Fix(body, _)
    | Act::FixRemoval(body, ..)) = act
    else {
        return Ok(Effect::default());
    };
    let camera_id = batch.ensure_body(body)?;
    let clock = || -> Result<BodyClock, Failure> {
        Ok(BodyClock::new(
            batch.clock_fixes(camera_id)?,
            batch.clock_zones(camera_id)?,
        ))
    };
    let before = clock()?;
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
            let id = batch.state_fix(camera_id, fix)?;
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
        Act::FixRemoval(_, reading, from, until) => {
            let wanted = (*reading, *from, *until);
            let fix = before
                .fixes()
                .iter()
                .find(|f| (f.reading, f.from, f.until) == wanted);
            if let Some(fix) = fix {
                batch.drop_fix(fix.id)?;
            }
            (fix.map_or(0, |fix| fix.id), Latest::Removal)
        }
        _ => return Ok(Effect::default()),
    };
    let now = clock()?;
    ensure_consistent(&now, latest)?;
    let mut frames = Vec::new();
    for (from, until) in now.differs(&before) {
        frames.extend(batch.frames_between(camera_id, from, until)?);
    }
    frames.sort_unstable();
    Ok(Effect {
        id,
        frames,
        ..Effect::default()
    })
}
