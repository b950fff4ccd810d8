//! `framefall export`: the lists and their manifest appear whole or not at all.

use std::io::BufWriter;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::Ordering;

use crate::catalogue::handoff::Grouped;
use crate::catalogue::open::Catalogue;
use crate::catalogue::open::Purpose;
use crate::cli::args_export::ExportArgs;
use crate::cli::commands::export_again;
use crate::cli::commands::export_told as told;
use crate::cli::commands::export_wish::Wish;
use crate::cli::commands::ingest::STOP;
use crate::cli::commands::ingest::prepare_for_ctrl_c;
use crate::cli::commands::lists;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::run::Outcome;
use crate::cli::run::Setting;
use crate::cli::whole::ClosedFile;
use crate::cli::whole::Overwrite;
use crate::cli::whole::WholeFile;
use crate::cli::whole::keep_all;
use crate::framelist::ListDigest;
use crate::pipeline::frames::why_none;
use crate::pipeline::handoff;
use crate::pipeline::handoff::HandOrder;
use crate::pipeline::handoff::Plan;
use crate::terms::failure::Failure;
use crate::terms::handoff::Check;
use crate::terms::handoff::Lacking;
use crate::terms::printable::printable;

/// Bytes of a list that are written at a stretch.
const STRETCH: usize = 1 << 16;

/// Lists that were made and have not taken their places yet.
pub(super) struct Made<'a> {
    pub catalogue: &'a Catalogue,
    pub order: &'a HandOrder<'a>,
    pub plan: &'a Plan,
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

/// Runs the command.
pub fn run(setting: &Setting, args: &ExportArgs) -> Result<Outcome, Failure> {
    if let Some(manifest) = &args.again {
        return export_again::run(setting, args, manifest);
    }
    let query = args.query.as_deref().unwrap_or_default();
    let to = args.to.as_deref().unwrap_or(Path::new(""));
    let wish = Wish::of(args, query, to)?;
    let overwrite = if args.overwrite {
        Overwrite::Yes
    } else {
        Overwrite::No
    };
    if wish.grouped == Grouped::Together {
        // Told before anything is asked: a name that is taken, a folder that cannot be written to.
        drop(WholeFile::begin(&wish.to, overwrite, "list")?);
    }
    make(setting, &wish, overwrite, &mut |made| {
        Ok((
            Verdict::Keep,
            if made.plan.left_out.is_empty() {
                Outcome::Done
            } else {
                Outcome::NeedsAPerson
            },
        ))
    })
}

/// Makes the lists and the manifest beside their places, asks `judge` whether they are kept, and puts them there.
pub(super) fn make(
    setting: &Setting,
    wish: &Wish,
    overwrite: Overwrite,
    judge: &mut Judge<'_>,
) -> Result<Outcome, Failure> {
    let show = wish.show.as_deref().map(handoff::shown).transpose()?;
    let mut manifest = WholeFile::begin(&wish.manifest, overwrite, "manifest")?;
    let path = setting.catalogue()?;
    let text = wish.meaning.as_deref().unwrap_or(&wish.query);
    let (compiled, catalogue) = lists::compile_and_open(text, &path)?;
    let mut keeper = match wish.check {
        Check::Content => Some(Catalogue::open(&path, Purpose::Change)?),
        Check::Files | Check::Nothing => None,
    };
    prepare_for_ctrl_c()?;
    let _still = catalogue.hold_still()?;
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
        check: wish.check,
        lacking: wish.lacking,
        now: now()?,
        stop: &STOP,
    };
    let plan = planned(setting, &catalogue, &order, keeper.as_mut())?;
    if plan.stopped {
        return Ok(Outcome::Stopped);
    }
    if plan.found == 0 {
        print::complain(&why_none(&catalogue, &compiled)?);
        return Ok(nothing(&wish.to));
    }
    told::left_out(&catalogue, &plan)?;
    if !plan.left_out.is_empty() && wish.lacking == Lacking::Refused {
        print::complain(&format!(
            "{} of {} cannot be handed on; nothing was written. --allow-missing leaves them out",
            told::frames(plan.left_out.len() as u64),
            told::frames(plan.found)
        ));
        return Ok(Outcome::NotDone);
    }
    if plan.entries.is_empty() {
        return Ok(nothing(&wish.to));
    }
    let names: Vec<PathBuf> = plan.parts.iter().map(|part| wish.list_file(part)).collect();
    let (mut files, lists) = written(&catalogue, &order, &plan, &names, overwrite)?;
    let made = Made {
        catalogue: &catalogue,
        order: &order,
        plan: &plan,
        lists: &lists,
    };
    let mut out = BufWriter::with_capacity(STRETCH, manifest.out());
    let told = handoff::write_manifest(&catalogue, &order, &plan, &lists, &mut out);
    let flushed = out.flush();
    drop(out);
    told?;
    flushed.map_err(|e| manifest.unwritable(e))?;
    files.push(manifest.close()?);
    if STOP.load(Ordering::Relaxed) {
        return Ok(Outcome::Stopped);
    }
    let (verdict, outcome) = judge(&made)?;
    if verdict == Verdict::Keep {
        // The manifest last: by the hashes in it a reader tells whether it belongs to the lists.
        keep_all(files)?;
        if setting.quiet == Quiet::No {
            told::written(&plan, &names);
        }
    }
    Ok(outcome)
}

fn planned(
    setting: &Setting,
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    mut keeper: Option<&mut Catalogue>,
) -> Result<Plan, Failure> {
    let mut progress = Progress::new("frames", setting.quiet);
    let plan = handoff::plan(
        catalogue,
        order,
        &mut |taken| match &mut keeper {
            Some(keeper) if !taken.is_empty() => handoff::keep(keeper, taken, order.now),
            _ => Ok(()),
        },
        &mut |done, of| progress.at(done, of),
    );
    progress.end();
    plan
}

/// Lists beside their places, and the file name and the bytes of each.
type Written<'n> = (Vec<ClosedFile<'n>>, Vec<(String, ListDigest)>);

/// Writes every list beside its place; file names and bytes.
fn written<'n>(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    plan: &Plan,
    names: &'n [PathBuf],
    overwrite: Overwrite,
) -> Result<Written<'n>, Failure> {
    let mut whole = Vec::with_capacity(names.len());
    let mut lists = Vec::with_capacity(names.len());
    for (part, name) in plan.parts.iter().zip(names) {
        let mut file = WholeFile::begin(name, overwrite, "list")?;
        let mut out = BufWriter::with_capacity(STRETCH, file.out());
        let digest = handoff::write_list(catalogue, order, plan, part, &mut out);
        let flushed = out.flush();
        drop(out);
        let digest = digest?;
        flushed.map_err(|e| file.unwritable(e))?;
        whole.push(file.close()?);
        let name = name.file_name().unwrap_or_default();
        lists.push((name.to_string_lossy().into_owned(), digest));
    }
    Ok((whole, lists))
}

fn nothing(to: &Path) -> Outcome {
    print::complain(&format!(
        "nothing to export; {} was not written",
        printable(&to.to_string_lossy())
    ));
    Outcome::NeedsAPerson
}
