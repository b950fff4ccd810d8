//! Makes lists, their manifest and a link tree together: complete or not at all. The order of steps; prints nothing.

use std::io::BufWriter;
use std::io::Write;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::catalogue::content::ContentTaken;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::handoff::Grouped;
use crate::catalogue::snapshot::Snapshot;
use crate::framelist::ListDigest;
use crate::output::atomic_file::AtomicFile;
use crate::output::atomic_file::ClosedFile;
use crate::output::atomic_file::ClosingFile;
use crate::output::atomic_file::Overwrite;
use crate::output::atomic_file::keep_all;
use crate::output::atomic_file::refuse_hyphen;
use crate::output::outside_dumps::refuse_in_dump;
use crate::query::Compiled;
use crate::terms::failure::Failure;
use crate::terms::handoff::Lacking;
use crate::terms::time::Utc;
use crate::usecase::export::calibration;
use crate::usecase::export::calibration::ServingName;
use crate::usecase::export::event::ExportEvent;
use crate::usecase::export::event::Watch;
use crate::usecase::export::names::Names;
use crate::usecase::export::preview::Preview;
use crate::usecase::export::preview::preview;
use crate::usecase::export::request::ExportRequest;
use crate::usecase::export::request::RunAs;
use crate::usecase::export::tree;
use crate::usecase::export::tree::TreeMade;
use crate::usecase::handoff;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::calibration::Calibration;
use crate::usecase::handoff::calibration_list::CalibrationList;
use crate::usecase::handoff::plan::Plan;
use crate::usecase::stretches::readers;

/// Bytes of a list written at a time.
const STRETCH: usize = 1 << 16;

/// Lists that are written but not yet renamed.
pub struct Made<'a> {
    /// Their catalogue.
    pub catalogue: &'a Catalogue,
    /// The request.
    pub order: &'a HandOrder<'a>,
    /// The frames.
    pub plan: &'a Plan,
    /// Their calibration frames.
    pub calibration: &'a Calibration,
    /// File names and bytes.
    pub lists: &'a [(String, ListDigest)],
}

/// Whether written lists are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Rename them to their targets.
    Keep,
    /// Discard them.
    Drop,
}

/// Decides whether written lists are kept.
pub type Judge<'j> = dyn FnMut(&Made<'_>) -> Result<Verdict, Failure> + 'j;

/// The result of an export.
#[derive(Debug)]
pub enum Exported {
    /// It was stopped; everything is unchanged.
    Stopped,
    /// No frame meets the query.
    NoFrames,
    /// The first number of frames, of the second, cannot be exported, and none may be left out: nothing was written.
    Refused(usize, u64),
    /// Every frame is left out: nothing was written.
    NothingLeft,
    /// A dry run: this would be written.
    Preview(Box<Preview>),
    /// Lists or a tree were made.
    Made(Box<MadeExport>),
}

/// What was made.
#[derive(Debug)]
pub struct MadeExport {
    /// The frames.
    pub plan: Plan,
    /// Their calibration frames.
    pub calibration: Calibration,
    /// Whether it was kept.
    pub verdict: Verdict,
    /// The files of lists, in the order of the plan's parts.
    pub lists: Vec<PathBuf>,
    /// The files of lists of calibration frames.
    pub serving: Vec<ServingName>,
    /// The tree, if one was made.
    pub tree: Option<TreeMade>,
}

/// How an export is run.
#[derive(Clone, Copy, Debug)]
pub struct ExportRun<'r> {
    /// Whether existing files are replaced.
    pub overwrite: Overwrite,
    /// The current instant.
    pub now: Utc,
    /// Set to stop the run.
    pub stop: &'r AtomicBool,
}

/// Writes the lists and the manifest beside their targets, asks `judge` whether to keep them, and renames them.
///
/// Takes: `keeper`, the catalogue opened for changes, which stores new content hashes.
pub fn export(
    catalogue: &Catalogue,
    mut keeper: Option<&mut Catalogue>,
    compiled: &Compiled,
    request: &ExportRequest,
    run: ExportRun<'_>,
    judge: &mut Judge<'_>,
    watch: Watch<'_>,
) -> Result<Exported, Failure> {
    let overwrite = run.overwrite;
    let show = request
        .show
        .as_deref()
        .map(handoff::columns::shown)
        .transpose()?;
    let manifest = begun(catalogue, request, overwrite)?;
    let tree = tree::begin(catalogue, request, overwrite)?;
    let mut still = catalogue.snapshot(readers())?;
    let order = HandOrder {
        query: &request.query,
        compiled,
        format: request.format,
        show: show.as_deref(),
        show_words: request.show.as_deref(),
        limit: request.limit,
        grouped: request.grouped,
        take: request.take,
        paths: &request.paths,
        reference: request.reference.as_deref(),
        calibration: &request.calibration,
        check: request.check,
        lacking: request.lacking,
        damaged: request.damaged,
        now: run.now,
        stop: run.stop,
    };
    let mut plan = planned(&mut still, &order, keeper.as_deref_mut(), watch)?;
    if plan.stopped {
        return Ok(Exported::Stopped);
    }
    if plan.found == 0 {
        return Ok(Exported::NoFrames);
    }
    watch(ExportEvent::Plan(&plan))?;
    if plan.lacking() > 0 && request.lacking == Lacking::Refused {
        return Ok(Exported::Refused(plan.lacking(), plan.found));
    }
    if plan.entries.is_empty() {
        return Ok(Exported::NothingLeft);
    }
    let mut calibration =
        handoff::calibration::calibrate(catalogue, &order, &plan, &mut |taken| {
            keep_hashes(keeper.as_deref_mut(), taken, run.now)
        })?;
    if request.run == RunAs::DryRun {
        let preview = preview(catalogue, request, plan, calibration)?;
        return Ok(Exported::Preview(Box::new(preview)));
    }
    // Before the lists: a file that cannot be copied may leave them.
    let grow = |begun| tree::grow(begun, catalogue, &order, &mut plan, &mut calibration, watch);
    let grown = tree.map(grow).transpose()?;
    if plan.entries.is_empty() {
        return Ok(Exported::NothingLeft);
    }
    let names = Names::of(request, &plan);
    let written = written(&mut still, &order, &plan, &names.lists, overwrite)?;
    let lists = written.digests.clone();
    let (serving, beside) =
        calibration::write(catalogue, &order, &calibration, &names.serving, overwrite)?;
    let made = Made {
        catalogue,
        order: &order,
        plan: &plan,
        calibration: &calibration,
        lists: &lists,
    };
    let manifest = manifest
        .map(|manifest| with_manifest(manifest, &mut still, &made, &beside))
        .transpose()?;
    // The manifest last: its hashes show a reader whether it belongs to the lists.
    let mut files = written.close()?;
    files.extend(serving);
    files.extend(manifest);
    let mut all = lists.clone();
    all.extend(beside.into_iter().map(|list| (list.file, list.digest)));
    if run.stop.load(Ordering::Relaxed) {
        return Ok(Exported::Stopped);
    }
    let verdict = judge(&Made {
        lists: &all,
        ..made
    })?;
    let mut tree = None;
    if verdict == Verdict::Keep {
        if let Some(grown) = grown {
            grown.refuse_its_name(&files)?;
            tree = Some(grown.keep()?);
        }
        keep_all(files)?;
    }
    Ok(Exported::Made(Box::new(MadeExport {
        plan,
        calibration,
        verdict,
        lists: names.lists,
        serving: names.serving,
        tree,
    })))
}

/// The manifest, if lists are made. Errors are found before anything is read: a target in a dump, a name that is taken,
/// a folder that cannot be written to.
fn begun<'w>(
    catalogue: &Catalogue,
    request: &'w ExportRequest,
    overwrite: Overwrite,
) -> Result<Option<AtomicFile<'w>>, Failure> {
    if !request.makes.lists() {
        return Ok(None);
    }
    refuse_in_dump(catalogue, &request.to)?;
    refuse_hyphen(&request.to, "list")?;
    if request.grouped == Grouped::Together {
        drop(AtomicFile::begin(&request.to, overwrite, "list")?);
    }
    AtomicFile::begin(&request.manifest, overwrite, "manifest").map(Some)
}

/// Writes the manifest beside its target.
fn with_manifest<'m>(
    mut manifest: AtomicFile<'m>,
    still: &mut Snapshot<'_>,
    made: &Made<'_>,
    beside: &[CalibrationList],
) -> Result<ClosedFile<'m>, Failure> {
    let mut out = BufWriter::with_capacity(STRETCH, manifest.out());
    let told = handoff::manifest::write_manifest(
        still,
        made.order,
        made.plan,
        made.lists,
        made.calibration,
        beside,
        &mut out,
    );
    let flushed = out.flush();
    drop(out);
    told.map_err(|failure| manifest.told(failure))?;
    flushed.map_err(|e| manifest.unwritable(e))?;
    manifest.close()
}

fn planned(
    still: &mut Snapshot<'_>,
    order: &HandOrder<'_>,
    mut keeper: Option<&mut Catalogue>,
    watch: Watch<'_>,
) -> Result<Plan, Failure> {
    let mut failed = Ok(());
    let plan = handoff::plan::plan(
        still.catalogue(),
        order,
        &mut |taken| keep_hashes(keeper.as_deref_mut(), taken, order.now),
        &mut |done, of| {
            if failed.is_ok() {
                failed = watch(ExportEvent::Planned(done, of));
            }
        },
    )?;
    failed?;
    Ok(plan)
}

fn keep_hashes(
    keeper: Option<&mut Catalogue>,
    taken: &[ContentTaken],
    now: Utc,
) -> Result<(), Failure> {
    match keeper {
        Some(keeper) if !taken.is_empty() => handoff::plan::keep(keeper, taken, now),
        _ => Ok(()),
    }
}

/// Lists beside their targets; the last of them may not be synced yet.
#[derive(Default)]
struct Written<'n> {
    closed: Vec<ClosedFile<'n>>,
    last: Option<ClosingFile<'n>>,
    /// The file name and the bytes of each.
    digests: Vec<(String, ListDigest)>,
}

impl<'n> Written<'n> {
    /// All of them on the disk.
    fn close(mut self) -> Result<Vec<ClosedFile<'n>>, Failure> {
        self.finish()?;
        Ok(self.closed)
    }

    fn finish(&mut self) -> Result<(), Failure> {
        if let Some(last) = self.last.take() {
            self.closed.push(last.close()?);
        }
        Ok(())
    }
}

/// Writes every list beside its target; returns file names and digests.
fn written<'n>(
    still: &mut Snapshot<'_>,
    order: &HandOrder<'_>,
    plan: &Plan,
    names: &'n [PathBuf],
    overwrite: Overwrite,
) -> Result<Written<'n>, Failure> {
    let mut written = Written::default();
    for (part, name) in plan.parts.iter().zip(names) {
        let mut file = AtomicFile::begin(name, overwrite, "list")?;
        let mut out = BufWriter::with_capacity(STRETCH, file.out());
        let digest = handoff::write::write_list(still, order, plan, part, &mut out);
        let flushed = out.flush();
        drop(out);
        let digest = digest.map_err(|failure| file.told(failure))?;
        flushed.map_err(|e| file.unwritable(e))?;
        // One is synced to the disk while the next is written.
        written.finish()?;
        written.last = Some(file.close_meanwhile());
        let name = name.file_name().unwrap_or_default();
        written
            .digests
            .push((name.to_string_lossy().into_owned(), digest));
    }
    Ok(written)
}
