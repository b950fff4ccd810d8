//! Lets statements wait for frames that leave the catalogue.

use std::collections::BTreeMap;
use std::collections::HashMap;
use std::collections::HashSet;

use crate::catalogue::batch::Batch;
use crate::terms::failure::Failure;
use crate::terms::frame_marks::unpack;
use crate::terms::statement::Act;
use crate::terms::trail::TrailEnds;
use crate::usecase::statements::logged::act_of;

/// What a statement about a frame is about: by type; a trail by its ends too, a clock by its key.
pub(super) type About = (&'static str, Option<TrailEnds>, Option<String>);

/// Lets what is stated of these frames wait for them. Of several statements of one word the last counts. Gives how many frames are
/// waited for.
pub(crate) fn await_statements(batch: &Batch<'_>, frames: &[i64]) -> Result<u64, Failure> {
    let mut open: BTreeMap<About, HashSet<i64>> = BTreeMap::new();
    let mut sites: HashMap<i64, i64> = HashMap::new();
    for frame_id in frames {
        let (kind, focal, site) = batch.stated_of(*frame_id)?;
        let mut is_stated = |word, stated: bool| {
            if stated {
                open.entry((word, None, None))
                    .or_default()
                    .insert(*frame_id);
            }
        };
        is_stated("kind", kind);
        is_stated("focal", focal);
        is_stated("place", site.is_some());
        is_stated("pointing", batch.stated_pointing(*frame_id)?.is_some());
        let look = batch.look_of(*frame_id)?;
        is_stated("looked", look.looked.is_some());
        is_stated("chosen", look.chosen.is_some());
        is_stated("note", look.note.is_some());
        sites.extend(site.map(|site| (*frame_id, site)));
        for trail in batch.trails_of(*frame_id)? {
            let of_trail = open.entry(("trail", Some(trail.ends), None)).or_default();
            of_trail.insert(*frame_id);
        }
        for (body, fix) in batch.fixes_of_frame(*frame_id)? {
            let of_fix = open.entry(("fix", None, Act::Fix(body, fix).key()));
            of_fix.or_default().insert(*frame_id);
        }
    }
    let mut awaited = HashSet::new();
    for row in batch
        .statements_of(&[
            "kind", "focal", "place", "looked", "chosen", "note", "trail", "pointing", "fix",
        ])?
        .iter()
        .rev()
    {
        let act = act_of(row)?;
        let Some(frames) = open
            .get_mut(&(act.word(), act.ends(), act.key()))
            .filter(|open| !open.is_empty())
        else {
            continue;
        };
        for part in batch.statement_frames(row.number)? {
            for mark in unpack(part.first_s, &part.marks).unwrap_or_default() {
                for frame in batch.frames_marked(&mark)? {
                    if frames.remove(&frame.frame_id) {
                        let site = sites.get(&frame.frame_id).copied();
                        batch.await_frame(
                            row.number,
                            &mark,
                            site.filter(|_| matches!(act, Act::Place(_))),
                        )?;
                        awaited.insert(frame.frame_id);
                    }
                }
            }
        }
    }
    Ok(awaited.len() as u64)
}
