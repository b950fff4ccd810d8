//! Removes a dump from the catalogue. What was stated of its frames waits for them; ingested again, they get their numbers back.

use std::collections::BTreeSet;
use std::collections::HashSet;

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::clock::fix::BodyClock;
use crate::terms::clock::Evening;
use crate::terms::failure::Failure;
use crate::terms::statement::Act;
use crate::usecase::derive::body_clock::clock_of;
use crate::usecase::derive::body_clock::frames_dated_otherwise;
use crate::usecase::derive::rederive::Concerned;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::derive::rederive::rederive;
use crate::usecase::dumps::manage::dump_labelled;
use crate::usecase::statements::logged::act_of;
use crate::usecase::statements::wait::await_statements;

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
            bodies.iter().map(|id| clock_of(batch, *id)).collect()
        };
        let before = clocks(batch)?;
        removed.awaited = await_statements(batch, &alone)?;
        await_label(batch, &alone)?;
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
            all.frames
                .extend(frames_dated_otherwise(batch, *id, &now, before)?);
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

/// Lets the label that the dump of these frames was given last wait for them.
fn await_label(batch: &Batch<'_>, frames: &[i64]) -> Result<(), Failure> {
    let gone: HashSet<i64> = frames.iter().copied().collect();
    for row in batch.statements_of(&["label"])?.iter().rev() {
        if let Act::Label(_, _, Some(mark)) = act_of(row)? {
            let marked = batch.frames_marked(&mark)?;
            if marked.iter().any(|frame| gone.contains(&frame.frame_id)) {
                batch.await_frame(row.number, &mark, None)?;
                break;
            }
        }
    }
    Ok(())
}
