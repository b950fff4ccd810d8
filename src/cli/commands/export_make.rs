//! Lists, their manifest and a tree of links, made together: whole or not at all.

use std::io::BufWriter;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::Ordering;

use crate::catalogue::content::ContentTaken;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::handoff::Grouped;
use crate::catalogue::purpose::Purpose;
use crate::catalogue::still::Still;
use crate::cli::commands::export_calibration;
use crate::cli::commands::export_calibration::ServingName;
use crate::cli::commands::export_told as told;
use crate::cli::commands::export_tree;
use crate::cli::commands::export_wish::Wish;
use crate::cli::commands::lists;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::framelist::ListDigest;
use crate::output::outside_dumps::refuse_in_dump;
use crate::output::whole::ClosedFile;
use crate::output::whole::ClosingFile;
use crate::output::whole::Overwrite;
use crate::output::whole::WholeFile;
use crate::output::whole::keep_all;
use crate::output::whole::refuse_hyphen;
use crate::pipeline::frames::why_none;
use crate::pipeline::handoff;
use crate::pipeline::handoff::Calibration;
use crate::pipeline::handoff::CalibrationList;
use crate::pipeline::handoff::HandOrder;
use crate::pipeline::handoff::Plan;
use crate::pipeline::handoff::Whose;
use crate::pipeline::stretches::readers;
use crate::terms::failure::Failure;
use crate::terms::handoff::Check;
use crate::terms::handoff::Lacking;
use crate::terms::printable::printable;
use crate::terms::time::Utc;

/// Bytes of a list that are written at a stretch.
const STRETCH: usize = 1 << 16;

/// Lists that were made and have not taken their places yet.
pub(super) struct Made<'a> {
    pub catalogue: &'a Catalogue,
    pub order: &'a HandOrder<'a>,
    pub plan: &'a Plan,
    pub calibration: &'a Calibration,
    /// File names and bytes.
    pub lists: &'a [(String, ListDigest)],
}

/// Whether lists that were made take their places.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Verdict {
    /// They do.
    Keep,
    /// They do not.
    Drop,
}

/// Decides whether lists that were made take their places, and how the command ends.
pub(super) type Judge<'j> = dyn FnMut(&Made<'_>) -> Result<(Verdict, Outcome), Failure> + 'j;

/// Makes the lists and the manifest beside their places, asks `judge` whether they are kept, and puts them there.
pub(super) fn make(
    setting: &Setting,
    wish: &Wish,
    overwrite: Overwrite,
    judge: &mut Judge<'_>,
) -> Result<Outcome, Failure> {
    let show = wish.show.as_deref().map(handoff::shown).transpose()?;
    let text = wish.meaning.as_deref().unwrap_or(&wish.query);
    let (compiled, catalogue) = lists::compile_and_open(text, setting)?;
    let manifest = begun(&catalogue, wish, overwrite)?;
    let mut keeper = match wish.check {
        Check::Content => Some(setting.open(Purpose::Change)?),
        Check::Files | Check::Nothing => None,
    };
    let tree = export_tree::begin(&catalogue, wish, overwrite)?;
    prepare_for_ctrl_c()?;
    let mut still = catalogue.hold_still(readers())?;
    let order = HandOrder {
        query: &wish.query,
        compiled: &compiled,
        format: wish.format,
        show: show.as_deref(),
        show_words: wish.show.as_deref(),
        limit: wish.limit,
        grouped: wish.grouped,
        take: wish.take,
        paths: &wish.paths,
        reference: wish.reference.as_deref(),
        calibration: &wish.calibration,
        check: wish.check,
        lacking: wish.lacking,
        damaged: wish.damaged,
        now: now()?,
        stop: &STOP,
    };
    let mut plan = planned(setting, &mut still, &order, keeper.as_mut())?;
    if let Some(outcome) = cannot(&catalogue, wish, &order, &plan)? {
        return Ok(outcome);
    }
    let mut calibration = handoff::calibrate(&catalogue, &order, &plan, &mut |taken| {
        keep_hashes(keeper.as_mut(), taken, order.now)
    })?;
    // Before the lists: a file that cannot be copied may leave them.
    let grow = |tree| {
        export_tree::grow(
            setting,
            tree,
            &catalogue,
            &order,
            &mut plan,
            &mut calibration,
        )
    };
    let grown = tree.map(grow).transpose()?;
    if plan.entries.is_empty() {
        return Ok(nothing(&wish.to));
    }
    let names = if wish.makes.lists() {
        Names::of(wish, &plan)
    } else {
        Names::default()
    };
    let written = written(&mut still, &order, &plan, &names.lists, overwrite)?;
    let lists = written.digests.clone();
    let (serving, beside) =
        export_calibration::write(&catalogue, &order, &calibration, &names.serving, overwrite)?;
    let made = Made {
        catalogue: &catalogue,
        order: &order,
        plan: &plan,
        calibration: &calibration,
        lists: &lists,
    };
    let manifest = manifest
        .map(|manifest| with_manifest(manifest, &mut still, &made, &beside))
        .transpose()?;
    // The manifest last: by the hashes in it a reader tells whether it belongs to the lists.
    let mut files = written.close()?;
    files.extend(serving);
    files.extend(manifest);
    let mut all = lists.clone();
    all.extend(beside.into_iter().map(|list| (list.file, list.digest)));
    if STOP.load(Ordering::Relaxed) {
        return Ok(Outcome::Stopped);
    }
    let (verdict, outcome) = judge(&Made {
        lists: &all,
        ..made
    })?;
    if verdict == Verdict::Keep {
        if let Some(grown) = grown {
            grown.refuse_its_name(&files)?;
            grown.keep(setting)?;
        }
        keep_all(files)?;
        if setting.quiet == Quiet::No {
            told::written(&plan, &names.lists);
            export_calibration::written(&names.serving, &calibration);
        }
    }
    let served = export_calibration::tell(setting, &calibration);
    Ok(if outcome == Outcome::Done {
        served
    } else {
        outcome
    })
}

/// The manifest, where lists are made. Told before anything is asked: a place in a dump, a name that is taken, a folder that
/// cannot be written to.
fn begun<'w>(
    catalogue: &Catalogue,
    wish: &'w Wish,
    overwrite: Overwrite,
) -> Result<Option<WholeFile<'w>>, Failure> {
    if !wish.makes.lists() {
        return Ok(None);
    }
    refuse_in_dump(catalogue, &wish.to)?;
    refuse_hyphen(&wish.to, "list")?;
    if wish.grouped == Grouped::Together {
        drop(WholeFile::begin(&wish.to, overwrite, "list")?);
    }
    WholeFile::begin(&wish.manifest, overwrite, "manifest").map(Some)
}

/// Writes the manifest beside its place.
fn with_manifest<'m>(
    mut manifest: WholeFile<'m>,
    still: &mut Still<'_>,
    made: &Made<'_>,
    beside: &[CalibrationList],
) -> Result<ClosedFile<'m>, Failure> {
    let mut out = BufWriter::with_capacity(STRETCH, manifest.out());
    let told = handoff::write_manifest(
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

/// Says why nothing is written, where that is so.
fn cannot(
    catalogue: &Catalogue,
    wish: &Wish,
    order: &HandOrder<'_>,
    plan: &Plan,
) -> Result<Option<Outcome>, Failure> {
    if plan.stopped {
        return Ok(Some(Outcome::Stopped));
    }
    if plan.found == 0 {
        print::complain(&why_none(catalogue, order.compiled)?);
        return Ok(Some(nothing(&wish.to)));
    }
    told::left_out(catalogue, plan)?;
    if plan.lacking() > 0 && wish.lacking == Lacking::Refused {
        print::complain(&format!(
            "{} of {} cannot be handed on; nothing was written. --allow-missing leaves them out",
            plan.lacking(),
            told::frames(plan.found)
        ));
        return Ok(Some(Outcome::NotDone));
    }
    if plan.entries.is_empty() {
        return Ok(Some(nothing(&wish.to)));
    }
    Ok(None)
}

/// The files of an export's lists.
#[derive(Debug, Default)]
struct Names {
    /// Of the lists, in the order of the plan's parts.
    lists: Vec<PathBuf>,
    /// Of the lists of calibration frames.
    serving: Vec<ServingName>,
}

impl Names {
    fn of(wish: &Wish, plan: &Plan) -> Self {
        let serving = plan.parts.iter().flat_map(|part| {
            wish.calibration.iter().map(|kind| ServingName {
                kind: *kind,
                whose: match wish.grouped {
                    Grouped::Together => Whose::All,
                    Grouped::BySession => Whose::OfSession(part.session),
                },
                file: wish.calibration_file(part, *kind),
            })
        });
        Self {
            lists: plan.parts.iter().map(|part| wish.list_file(part)).collect(),
            serving: serving.collect(),
        }
    }
}

fn keep_hashes(
    keeper: Option<&mut Catalogue>,
    taken: &[ContentTaken],
    now: Utc,
) -> Result<(), Failure> {
    match keeper {
        Some(keeper) if !taken.is_empty() => handoff::keep(keeper, taken, now),
        _ => Ok(()),
    }
}

fn planned(
    setting: &Setting,
    still: &mut Still<'_>,
    order: &HandOrder<'_>,
    mut keeper: Option<&mut Catalogue>,
) -> Result<Plan, Failure> {
    let progress = Progress::new("frames", setting.quiet);
    let plan = handoff::plan(
        still,
        order,
        &mut |taken| keep_hashes(keeper.as_deref_mut(), taken, order.now),
        &mut |done, of| progress.at(done, of),
    );
    progress.end();
    plan
}

/// Lists beside their places; the last of them may not be on the disk yet.
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
        self.settle()?;
        Ok(self.closed)
    }

    fn settle(&mut self) -> Result<(), Failure> {
        if let Some(last) = self.last.take() {
            self.closed.push(last.close()?);
        }
        Ok(())
    }
}

/// Writes every list beside its place; file names and bytes.
fn written<'n>(
    still: &mut Still<'_>,
    order: &HandOrder<'_>,
    plan: &Plan,
    names: &'n [PathBuf],
    overwrite: Overwrite,
) -> Result<Written<'n>, Failure> {
    let mut written = Written::default();
    for (part, name) in plan.parts.iter().zip(names) {
        let mut file = WholeFile::begin(name, overwrite, "list")?;
        let mut out = BufWriter::with_capacity(STRETCH, file.out());
        let digest = handoff::write_list(still, order, plan, part, &mut out);
        let flushed = out.flush();
        drop(out);
        let digest = digest.map_err(|failure| file.told(failure))?;
        flushed.map_err(|e| file.unwritable(e))?;
        // One is brought to the disk while the next is made.
        written.settle()?;
        written.last = Some(file.close_meanwhile());
        let name = name.file_name().unwrap_or_default();
        written
            .digests
            .push((name.to_string_lossy().into_owned(), digest));
    }
    Ok(written)
}

fn nothing(to: &Path) -> Outcome {
    print::complain(&format!(
        "nothing to export; {} was not written",
        printable(&to.to_string_lossy())
    ));
    Outcome::NeedsAPerson
}
