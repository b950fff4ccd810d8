//! Frames that statements waited for and that have arrived.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::collections::btree_map::Entry;

use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::statement::Act;
use crate::terms::statement::SiteRef;
use crate::usecase::statements::apply::apply;
use crate::usecase::statements::logged::act_of;
use crate::usecase::statements::wait::About;

/// Applies statements about frames that they waited for and that are here now. Of several statements of one type the
/// last applies, and statements made about a frame since it arrived take precedence. The frames are recorded for
/// deriving.
///
/// Gives: how many frames.
pub fn state_arrived(catalogue: &mut Catalogue) -> Result<u64, Failure> {
    let batch = catalogue.batch()?;
    if !batch.awaits_frames()? {
        return Ok(0);
    }
    let mut arrived = BTreeSet::new();
    let book = batch.sites()?;
    let mut logged: BTreeMap<i64, Option<Act>> = BTreeMap::new();
    let mut acts: BTreeMap<i64, Act> = BTreeMap::new();
    // The last statement about each frame.
    let mut last: BTreeMap<(About, i64), i64> = BTreeMap::new();
    for row in batch.arrived_frames()? {
        batch.frame_arrived(row.row)?;
        arrived.insert(row.frame_id);
        let act = match logged.entry(row.number) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(new) => {
                let statement = batch.statement(row.number)?;
                new.insert(statement.map(|row| act_of(&row)).transpose()?)
            }
        };
        let Some(act) = act else {
            continue;
        };
        let is_stated_since = match act {
            Act::Looked(_) => batch.look_of(row.frame_id)?.looked.is_some(),
            Act::Chosen(_) => batch.look_of(row.frame_id)?.chosen.is_some(),
            Act::Note(_) => batch.look_of(row.frame_id)?.note.is_some(),
            Act::Trail(ends, _) => batch.trail_judged(row.frame_id, *ends)?.is_some(),
            Act::Pointing(_) => batch.stated_pointing(row.frame_id)?.is_some(),
            Act::Kind(_) => batch.stated_of(row.frame_id)?.0,
            Act::Focal(_) => batch.stated_of(row.frame_id)?.1,
            Act::Place(_) => batch.stated_of(row.frame_id)?.2.is_some(),
            // Or removed since.
            Act::Fix(body, fix) => {
                let fixes = batch.clock_fixes(batch.ensure_body(body)?)?;
                !fixes.iter().any(|f| f.key() == fix.key())
            }
            _ => false,
        };
        // It may have another name by now.
        let act = match (act, row.site_id) {
            (Act::Place(_), Some(id)) => {
                let Some(site) = book.iter().find(|site| site.id == id) else {
                    continue;
                };
                Act::Place(SiteRef::from(site))
            }
            (act, _) => act.clone(),
        };
        if !is_stated_since {
            last.insert(
                ((act.word(), act.ends(), act.key()), row.frame_id),
                row.number,
            );
            acts.insert(row.number, act);
        }
    }
    let mut frames: BTreeMap<i64, Vec<i64>> = BTreeMap::new();
    for ((_, frame_id), number) in last {
        frames.entry(number).or_default().push(frame_id);
    }
    for (number, frames) in frames {
        if let Some(act) = acts.get(&number) {
            match apply(&batch, act, frames) {
                // Another dump has the label by now.
                Err(_) if matches!(act, Act::Label(..)) => {}
                effect => drop(effect?),
            }
        }
    }
    let all: Vec<i64> = arrived.iter().copied().collect();
    batch.mark_frames_pending(&all)?;
    batch.commit()?;
    Ok(arrived.len() as u64)
}
