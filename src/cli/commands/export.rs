//! `framefall export`: the lists and their manifest appear whole or not at all.

use std::io::BufWriter;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::handoff::Grouped;
use crate::catalogue::open::Catalogue;
use crate::catalogue::open::Purpose;
use crate::cli::args_export::CheckWord;
use crate::cli::args_export::ExportArgs;
use crate::cli::args_export::TakeWord;
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
use crate::framelist::Format;
use crate::pipeline::frames::why_none;
use crate::pipeline::handoff;
use crate::pipeline::handoff::Go;
use crate::pipeline::handoff::HandOrder;
use crate::pipeline::handoff::Part;
use crate::pipeline::handoff::Plan;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::finding::Finding;
use crate::terms::handoff::Check;
use crate::terms::handoff::Lacking;
use crate::terms::handoff::PathsFrom;
use crate::terms::handoff::Take;
use crate::terms::printable::printable;

/// How many frames that cannot be handed on are told in full.
const TOLD: usize = 20;

/// Runs the command.
pub fn run(setting: &Setting, args: &ExportArgs) -> Result<Outcome, Failure> {
    let format = args.form.map_or_else(|| format_of(&args.to), Format::from);
    let overwrite = if args.overwrite {
        Overwrite::Yes
    } else {
        Overwrite::No
    };
    let show = args.show.as_deref().map(handoff::shown).transpose()?;
    let paths = paths_from(args)?;
    let check = Check::from(args.check);
    // Told before anything is asked: a name that is taken, a folder that cannot be written to.
    drop(WholeFile::begin(&args.to, overwrite, "list")?);
    let catalogue_path = setting.catalogue()?;
    let (compiled, reader) = lists::compile_and_open(&args.query, &catalogue_path)?;
    let mut keeper = match check {
        Check::Content => Some(Catalogue::open(&catalogue_path, Purpose::Change)?),
        Check::Files | Check::Nothing => None,
    };
    let _still = reader.hold_still()?;
    let reference = args.reference.as_deref().map(on_the_disk);
    let order = HandOrder {
        compiled: &compiled,
        format,
        show: show.as_deref(),
        limit: args.limit,
        grouped: if args.per_session {
            Grouped::BySession
        } else {
            Grouped::Together
        },
        take: args.take.map_or(Take::First, Take::from),
        paths: &paths,
        reference: reference.as_deref(),
        check,
        lacking: if args.allow_missing {
            Lacking::LeftOut
        } else {
            Lacking::Refused
        },
        now: now()?,
    };
    let mut progress = Progress::new("frames checked", setting.quiet);
    let plan = handoff::plan(
        &reader,
        &order,
        &mut |taken| match &mut keeper {
            Some(keeper) if !taken.is_empty() => handoff::keep(keeper, taken, order.now),
            _ => Ok(()),
        },
        &mut |done, of| {
            progress.at(done, of);
            Go::On
        },
    );
    progress.end();
    let plan = plan?;
    if plan.found == 0 {
        print::complain(&why_none(&reader, &compiled)?);
        return Ok(nothing(&args.to));
    }
    tell_left_out(&reader, &plan)?;
    if !plan.left_out.is_empty() && order.lacking == Lacking::Refused {
        print::complain(&format!(
            "{} of {} cannot be handed on; nothing was written. --allow-missing leaves them out",
            frames(plan.left_out.len() as u64),
            frames(plan.found)
        ));
        return Ok(Outcome::NotDone);
    }
    if plan.entries.is_empty() {
        return Ok(nothing(&args.to));
    }
    let names: Vec<PathBuf> = plan
        .parts
        .iter()
        .map(|part| list_name(&args.to, part, order.grouped))
        .collect();
    write_lists(&reader, &order, &plan, &names, overwrite)?;
    if setting.quiet == Quiet::No {
        tell_written(&plan, &names);
    }
    Ok(if plan.left_out.is_empty() {
        Outcome::Done
    } else {
        Outcome::NeedsAPerson
    })
}

/// Writes every list beside its place, then puts all of them there.
fn write_lists(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    plan: &Plan,
    names: &[PathBuf],
    overwrite: Overwrite,
) -> Result<(), Failure> {
    let mut whole = Vec::with_capacity(names.len());
    for (part, name) in plan.parts.iter().zip(names) {
        let mut file = WholeFile::begin(name, overwrite, "list")?;
        let mut out = BufWriter::with_capacity(1 << 16, file.out());
        let written = handoff::write_list(catalogue, order, plan, part, &mut out);
        let flushed = out.flush();
        drop(out);
        written?;
        flushed.map_err(|e| file.unwritable(e))?;
        whole.push(file.close()?);
    }
    whole.into_iter().try_for_each(ClosedFile::keep)
}

fn nothing(to: &Path) -> Outcome {
    print::complain(&format!(
        "nothing to export; {} was not written",
        printable(&to.to_string_lossy())
    ));
    Outcome::NeedsAPerson
}

fn tell_written(plan: &Plan, names: &[PathBuf]) {
    for (part, name) in plan.parts.iter().zip(names) {
        print::complain(&format!(
            "{} written to {}",
            frames(part.entries.len() as u64),
            printable(&name.to_string_lossy())
        ));
    }
    if plan.not_raw > 0 {
        print::complain(&format!(
            "{} have no raw file and are handed on by what they have; --take raw refuses them",
            frames(plan.not_raw)
        ));
    }
}

/// Tells of the frames that cannot be handed on: a line for each dump that is not there, the first of the others in full, and
/// for each kind of trouble how many there are and what to do.
fn tell_left_out(catalogue: &Catalogue, plan: &Plan) -> Result<(), Failure> {
    let mut told: Vec<(&'static str, u64)> = Vec::new();
    let mut count = |code: &'static str, more: u64| match told.iter_mut().find(|t| t.0 == code) {
        Some(known) => known.1 += more,
        None => told.push((code, more)),
    };
    for (finding, kept_back) in plan.away.values() {
        print::complain(&print::finding_text(&frames(*kept_back), finding));
        count(finding.code, *kept_back);
    }
    let mut shown = 0;
    handoff::each_odd(catalogue, plan, &mut |path, finding: &Finding| {
        count(finding.code, 1);
        shown += 1;
        if shown <= TOLD {
            print::complain(&print::finding_text(&path.to_string_lossy(), finding));
        }
    })?;
    if shown > TOLD {
        print::complain(&format!("and {} more", shown - TOLD));
    }
    for (code, of) in told {
        if let Some(cure) = print::cure_text(code, of) {
            print::complain(&cure);
        }
    }
    Ok(())
}

fn frames(count: u64) -> String {
    format!("{count} {}", if count == 1 { "frame" } else { "frames" })
}

/// The name of a list: as said, or with its session before the ending.
fn list_name(to: &Path, part: &Part, grouped: Grouped) -> PathBuf {
    if grouped == Grouped::Together {
        return to.to_path_buf();
    }
    let mut name = to.file_stem().unwrap_or_default().to_os_string();
    match part.session {
        Some(session) => name.push(format!(".session-{session}")),
        None => name.push(".no-session"),
    }
    if let Some(ending) = to.extension() {
        name.push(".");
        name.push(ending);
    }
    to.with_file_name(name)
}

/// A file that is named as it lies on the disk becomes its one true path; anything else stays as it was said.
fn on_the_disk(said: &str) -> String {
    if said.contains(['/', '\\'])
        && let Ok(path) = Path::new(said).canonicalize()
        && let Some(path) = path.to_str()
    {
        return path.to_owned();
    }
    said.to_owned()
}

/// How paths are written.
fn paths_from(args: &ExportArgs) -> Result<PathsFrom, Failure> {
    let folder = |folder: &Path| {
        folder.canonicalize().map_err(|e| {
            Failure::new(FailureKind::Words, "there is no such folder")
                .at_file(folder)
                .because(e)
        })
    };
    if let Some(root) = &args.root {
        return Ok(PathsFrom::Root(folder(root)?));
    }
    if args.relative {
        let own = match args.to.parent() {
            Some(own) if !own.as_os_str().is_empty() => own,
            _ => Path::new("."),
        };
        return Ok(PathsFrom::List(folder(own)?));
    }
    Ok(PathsFrom::Absolute)
}

/// The form that a file's ending asks for; paths for any other.
fn format_of(to: &Path) -> Format {
    let ending = to.extension().map(|e| e.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("csv") => Format::Csv,
        Some("json") => Format::Json,
        Some("jsonl") => Format::Jsonl,
        _ => Format::Paths,
    }
}

impl From<TakeWord> for Take {
    fn from(word: TakeWord) -> Self {
        match word {
            TakeWord::Raw => Self::Raw,
            TakeWord::Jpeg => Self::Jpeg,
        }
    }
}

impl From<CheckWord> for Check {
    fn from(word: CheckWord) -> Self {
        match word {
            CheckWord::Files => Self::Files,
            CheckWord::Content => Self::Content,
            CheckWord::None => Self::Nothing,
        }
    }
}
