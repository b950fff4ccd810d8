//! Query -> which frames, in which order, with which of their files, and each list's reference frame. Writes only the
//! hashes that a content check computes.

use std::collections::BTreeMap;
use std::collections::HashMap;
use std::ops::Range;
use std::path::Path;
use std::sync::atomic::Ordering;

use crate::capture::pair::rank;
use crate::catalogue::content::ContentTaken;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::handoff::Further;
use crate::catalogue::places::FilePlace;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::handoff::Check;
use crate::terms::handoff::Damaged;
use crate::terms::handoff::PathsFrom;
use crate::terms::handoff::Take;
use crate::terms::time::Utc;
use crate::usecase::dumps::away::away;
use crate::usecase::dumps::presence::dump_presence;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::choose::Choice;
use crate::usecase::handoff::choose::Chooser;
use crate::usecase::handoff::choose::LEFT;
use crate::usecase::handoff::entry::Entry;
use crate::usecase::handoff::entry::Why;
use crate::usecase::handoff::listed::listed;
use crate::usecase::handoff::listed::refuse_newline;
use crate::usecase::handoff::ordered_frames::ordered_frames;
use crate::usecase::handoff::reference::Reference;
use crate::usecase::handoff::reference::Wanted;
use crate::usecase::handoff::reference::nearest_the_middle;

/// Hashes stored at a time: the most that is lost if a run is killed.
const HASHES_AT_ONCE: usize = 16;

/// One list.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// The session of its frames, if each session has its own list.
    pub session: Option<i64>,
    /// Its entries.
    pub entries: Range<usize>,
    /// Its reference frame; `None` if no frame of it has UTC.
    pub reference: Option<Reference>,
}

/// A frame that cannot be exported.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// The frame's number.
    pub frame_id: i64,
    /// The number of the file concerned.
    pub file_id: i64,
    /// Why.
    pub why: Why,
}

/// What is to be written.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// The frames, list by list.
    pub entries: Vec<Entry>,
    /// The lists.
    pub parts: Vec<Part>,
    /// The frames that cannot be exported.
    pub left_out: Vec<LeftOut>,
    /// The offline dumps, each with its finding and how many frames are affected.
    pub away: BTreeMap<i64, (Finding, u64)>,
    /// How many frames the query found, up to the limit.
    pub found: u64,
    /// How many frames are exported with a file that is not raw, if raw is preferred and others are raw.
    pub not_raw: u64,
    /// The hashes of files that were read from end to end, by their numbers.
    pub hashes: HashMap<i64, [u8; 32]>,
    /// Whether it was stopped early.
    pub stopped: bool,
}

impl Plan {
    /// How many frames are left out because their files were damaged when they were read.
    pub fn damaged(&self) -> usize {
        let is_damaged = |left: &&LeftOut| matches!(left.why, Why::Damaged(_));
        self.left_out.iter().filter(is_damaged).count()
    }

    /// How many frames cannot be exported: their files are missing, changed, or not of the requested kind.
    pub fn lacking(&self) -> usize {
        self.left_out.len() - self.damaged()
    }
}

/// Plans the lists. `keep` receives new hashes, `watch` the progress.
///
/// Refuses: a file outside the root for paths; a name with a newline in a list of lines; a reference frame that is not
/// in the list, has no UTC, or is ambiguous.
pub fn plan(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    keep: &mut dyn FnMut(&[ContentTaken]) -> Result<(), Failure>,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<Plan, Failure> {
    // The files are not checked: each frame uses the one shown for it. A newline in a name is found when it is written.
    let as_it_is = order.check == Check::Nothing
        && order.take == Take::First
        && *order.paths == PathsFrom::Absolute
        && order.reference.is_none();
    let further = if as_it_is {
        Further::NotAsked
    } else {
        Further::Asked
    };
    let (entries, sessions) = ordered_frames(catalogue, order, further)?;
    let mut plan = Plan {
        found: entries.len() as u64,
        entries,
        stopped: order.stop.load(Ordering::Relaxed),
        ..Plan::default()
    };
    if plan.stopped {
        return Ok(plan);
    }
    let mut places = catalogue.places();
    let mut chooser = Chooser::new(catalogue, order.take, order.check, order.damaged);
    let mut wanted = order.reference.map(Wanted::named).transpose()?;
    let mut raws = 0;
    let mut ends = sessions.into_iter().peekable();
    let (mut part_began, mut kept) = (0, 0);
    for at in 0..plan.entries.len() {
        // Those that stay move up into the gaps.
        let mut entry = plan.entries[at];
        let done = at as u64;
        if order.stop.load(Ordering::Relaxed) {
            plan.stopped = true;
            return Ok(plan);
        }
        if order.check == Check::Content || done.is_multiple_of(256) {
            watch(done, plan.found);
        }
        let may_be_left = entry.is_damaged && order.damaged == Damaged::LeftOut;
        if as_it_is && !may_be_left {
            raws += u64::from(entry.is_raw);
            plan.not_raw += u64::from(!entry.is_raw && !entry.is_damaged);
            plan.entries[kept] = entry;
            kept += 1;
            if let Some((_, session)) = ends.next_if(|(end, _)| *end == at + 1) {
                end_part(&mut plan, &mut part_began, kept, session);
            }
            continue;
        }
        let files = if entry.other_file || may_be_left {
            places.files_of(entry.frame_id)?
        } else {
            vec![places.file(entry.file_id)?]
        };
        if let Some(wanted) = &mut wanted {
            wanted.look_at(catalogue, &entry, &files)?;
        }
        let first_file = entry.file_id;
        match chooser.choose(files)? {
            Some(Choice::File(file)) => {
                let path = listed(order.paths, &file.path())?;
                refuse_newline(order.format, &path)?;
                raws += u64::from(is_raw(&file));
                entry.is_damaged = file.health.is_damaged();
                plan.not_raw += u64::from(!is_raw(&file) && !entry.is_damaged);
                entry.file_id = file.file_id;
                entry.other_file = file.file_id != first_file;
                plan.entries[kept] = entry;
                kept += 1;
            }
            Some(Choice::None(file, why)) => {
                leave_out(catalogue, &mut plan, &entry, &file, why)?;
            }
            None => {}
        }
        if chooser.taken.len() >= HASHES_AT_ONCE {
            keep(chooser.taken.make_contiguous())?;
            chooser.taken.clear();
        }
        if let Some((_, session)) = ends.next_if(|(end, _)| *end == at + 1) {
            end_part(&mut plan, &mut part_began, kept, session);
        }
    }
    plan.entries.truncate(kept);
    keep(chooser.taken.make_contiguous())?;
    plan.hashes = chooser.hashes;
    if order.take != Take::First || raws == 0 {
        plan.not_raw = 0;
    }
    let chosen = wanted
        .map(|wanted| wanted.choose(&plan.entries))
        .transpose()?;
    for part in &mut plan.parts {
        let entry = chosen.or_else(|| nearest_the_middle(&plan.entries[part.entries.clone()]));
        if let Some(entry) = entry {
            part.reference = Reference::of(catalogue, order.paths, &mut places, &entry)?;
        }
    }
    Ok(plan)
}

pub(super) fn is_raw(file: &FilePlace) -> bool {
    rank(file.format) == 0
}

fn end_part(plan: &mut Plan, began: &mut usize, ends: usize, session: Option<i64>) {
    if ends > *began {
        plan.parts.push(Part {
            session,
            entries: *began..ends,
            reference: None,
        });
    }
    *began = ends;
}

fn leave_out(
    catalogue: &Catalogue,
    plan: &mut Plan,
    entry: &Entry,
    file: &FilePlace,
    why: Why,
) -> Result<(), Failure> {
    if let Why::Away(dump_id) = why {
        if let Some((_, frames)) = plan.away.get_mut(&dump_id) {
            *frames += 1;
        } else {
            let dump = &file.folder.dump;
            let finding = away(catalogue, dump, &dump_presence(catalogue, dump)?)?;
            plan.away.insert(dump_id, (finding, 1));
        }
    }
    plan.left_out.push(LeftOut {
        frame_id: entry.frame_id,
        file_id: file.file_id,
        why,
    });
    Ok(())
}

/// Stores the hashes of files that were read.
pub fn keep(keeper: &mut Catalogue, taken: &[ContentTaken], now: Utc) -> Result<(), Failure> {
    let batch = keeper.batch()?;
    for content in taken {
        batch.put_content(content, now)?;
    }
    batch.commit()
}

/// Passes the frames whose own file cannot be exported to `each`, with its path. Those of offline dumps are left out:
/// [`Plan::away`] has them.
pub fn each_odd(
    catalogue: &Catalogue,
    left_out: &[LeftOut],
    each: &mut dyn FnMut(&Path, &Finding),
) -> Result<(), Failure> {
    let mut places = catalogue.places();
    for left in left_out {
        if let Why::Odd(finding) | Why::Damaged(finding) = &left.why {
            each(&places.file(left.file_id)?.path(), finding);
        }
    }
    Ok(())
}

impl LeftOut {
    /// Its finding.
    pub fn finding(&self, plan: &Plan) -> Finding {
        match &self.why {
            Why::Odd(finding) | Why::Damaged(finding) => finding.clone(),
            Why::Away(dump_id) => plan.away.get(dump_id).map_or_else(
                || Finding::new("missing", "its dump is offline", LEFT),
                |(finding, _)| finding.clone(),
            ),
        }
    }
}
