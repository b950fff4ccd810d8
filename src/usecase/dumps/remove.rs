//! Removes a dump from the catalogue. What was stated of its frames waits for them; ingested again, they get their numbers back.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::collections::HashMap;
use std::collections::HashSet;

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::clock::fix::BodyClock;
use crate::terms::clock::Evening;
use crate::terms::failure::Failure;
use crate::terms::frame_marks::unpack;
use crate::terms::statement::Act;
use crate::terms::trail::TrailEnds;
use crate::usecase::derive::rederive::Concerned;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::derive::rederive::rederive;
use crate::usecase::dumps::manage::dump_labelled;
use crate::usecase::statements::state::act_of;

/// What removing a dump came to.
#[derive(Debug, Default)]
pub struct DumpRemoved {
    /// Its label.
    pub label: String,
    /// Where it is or was.
    pub place: String,
    /// Its files.
    pub files: u64,
    /// Frames that were removed with it.
    pub frames: u64,
    /// Frames that stay, because another dump has them too.
    pub elsewhere: u64,
    /// Removed frames of which something is stated: the statements wait for them.
    pub awaited: u64,
    /// The sessions that its frames were in.
    pub sessions: Vec<i64>,
    /// What followed for other frames.
    pub done: Rederived,
}

/// Removes a dump: its files, and the frames that are on no other dump. Nothing on a disk is touched.
///
/// Refuses: an unknown dump.
pub fn remove_dump(
    catalogue: &mut Catalogue,
    label: &str,
    mode: Mode,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<DumpRemoved, Failure> {
    let dump = dump_labelled(catalogue, label)?;
    let mut removed = DumpRemoved {
        label: dump.label.clone(),
        place: dump.place().to_string_lossy().into_owned(),
        ..DumpRemoved::default()
    };
    let take_out = |batch: &Batch<'_>| {
        let (alone, elsewhere) = batch.frames_of_dump(dump.dump_id)?;
        removed.frames = alone.len() as u64;
        removed.elsewhere = elsewhere.len() as u64;
        let mut all = Concerned::default();
        let (mut evenings, mut bodies) = (BTreeSet::new(), BTreeSet::new());
        let mut nights = BTreeSet::new();
        let mut sessions = BTreeSet::new();
        for frame_id in &alone {
            if let Some(there) = batch.evening_of(*frame_id)? {
                if let Evening::OfBody { camera_id, .. } = there.evening {
                    bodies.extend(camera_id);
                }
                evenings.insert(there.evening);
            }
            nights.extend(batch.night_of_frame(*frame_id)?);
            sessions.extend(batch.session_and_night(*frame_id)?.0);
        }
        let clocks = |batch: &Batch<'_>| -> Result<Vec<BodyClock>, Failure> {
            bodies
                .iter()
                .map(|id| {
                    Ok(BodyClock::new(
                        batch.clock_fixes(*id)?,
                        batch.clock_zones(*id)?,
                    ))
                })
                .collect()
        };
        let before = clocks(batch)?;
        removed.awaited = await_statements(batch, &alone)?;
        for frame_id in &alone {
            batch.keep_number(*frame_id)?;
        }
        removed.files = batch.remove_dump(dump.dump_id)?;
        // Frames of the same evenings may have been placed by those that went, and fixes read by them.
        for evening in evenings {
            let frames = batch.evening_frames(evening)?;
            all.frames
                .extend(frames.facts.iter().map(|facts| facts.frame_id));
        }
        for ((id, before), now) in bodies.iter().zip(&before).zip(clocks(batch)?) {
            for (from, until) in now.differs(before) {
                all.frames.extend(batch.frames_between(*id, from, until)?);
            }
        }
        all.frames.extend(elsewhere);
        all.frames.sort_unstable();
        all.frames.dedup();
        all.nights = nights.into_iter().collect();
        removed.sessions = sessions.into_iter().collect();
        Ok(all)
    };
    let done = rederive(catalogue, mode, take_out, watch)?;
    removed.done = done;
    Ok(removed)
}

/// Lets what is stated of these frames wait for them. Of several statements of one word the last counts. Gives how many frames are
/// waited for.
fn await_statements(batch: &Batch<'_>, frames: &[i64]) -> Result<u64, Failure> {
    // By type; trails by their ends too.
    let mut open: BTreeMap<(&'static str, Option<TrailEnds>), HashSet<i64>> = BTreeMap::new();
    let mut sites: HashMap<i64, i64> = HashMap::new();
    for frame_id in frames {
        let (kind, focal, site) = batch.stated_of(*frame_id)?;
        let mut is_stated = |word, stated: bool| {
            if stated {
                open.entry((word, None)).or_default().insert(*frame_id);
            }
        };
        is_stated("kind", kind);
        is_stated("focal", focal);
        is_stated("place", site.is_some());
        let look = batch.look_of(*frame_id)?;
        is_stated("looked", look.looked.is_some());
        is_stated("chosen", look.chosen.is_some());
        is_stated("note", look.note.is_some());
        sites.extend(site.map(|site| (*frame_id, site)));
        for trail in batch.trails_in(*frame_id)? {
            let of_trail = open.entry(("trail", Some(trail.ends))).or_default();
            of_trail.insert(*frame_id);
        }
    }
    let gone: HashSet<i64> = frames.iter().copied().collect();
    let mut awaited = HashSet::new();
    for row in batch
        .statements_of(&[
            "kind", "focal", "place", "looked", "chosen", "note", "trail",
        ])?
        .iter()
        .rev()
    {
        let act = act_of(row)?;
        let ends = match act {
            Act::Trail(ends, _) => Some(ends),
            _ => None,
        };
        let Some(frames) = open
            .get_mut(&(act.word(), ends))
            .filter(|open| !open.is_empty())
        else {
            continue;
        };
        for part in batch.parts_of(row.number)? {
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
    // The label that the dump was given last.
    for row in batch.statements_of(&["label"])?.iter().rev() {
        if let Act::Label(_, _, Some(mark)) = act_of(row)? {
            let marked = batch.frames_marked(&mark)?;
            if marked.iter().any(|frame| gone.contains(&frame.frame_id)) {
                batch.await_frame(row.number, &mark, None)?;
                break;
            }
        }
    }
    Ok(awaited.len() as u64)
}
