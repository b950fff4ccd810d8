//! `framefall ingest`.

use std::collections::BTreeMap;
use std::path::Path;
use std::time::Instant;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::purpose::Purpose;
use crate::catalogue::within::refuse_catalogue_in;
use crate::cli::args::IngestArgs;
use crate::cli::commands::changed::rows_missing;
use crate::cli::commands::examine;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::cli::stop::while_heard;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::printable::printable;
use crate::usecase::audit::Judge;
use crate::usecase::audit::doubtful_clocks;
use crate::usecase::derive::maker::stale;
use crate::usecase::dumps::manage::dump_root;
use crate::usecase::dumps::manage::has_pictures;
use crate::usecase::dumps::recognised::Newcomers;
use crate::usecase::dumps::recognised::Recognised;
use crate::usecase::ingest::messages::Event;
use crate::usecase::ingest::messages::IngestReport;
use crate::usecase::ingest::messages::Kept;
use crate::usecase::ingest::messages::Watched;
use crate::usecase::ingest::read_dumps::IngestOrder;
use crate::usecase::ingest::read_dumps::ingest;
use crate::usecase::ingest::read_dumps::make_ready;

/// Readers for each processor: they wait for the disk more than they compute.
const READERS_PER_CORE: usize = 4;

/// More readers than this only make a disk seek.
const MOST_READERS: usize = 16;

/// How many damaged files are reported one by one, and how many links, pipes and folders.
const TOLD: u64 = 5;

/// How many clocks in doubt are reported in full.
const DOUBTS_TOLD: usize = 5;

/// Runs the command.
pub fn run(setting: &Setting, args: &IngestArgs) -> Result<Outcome, Failure> {
    let path = setting.catalogue()?;
    for dump in &args.dumps {
        // Checked before a catalogue is created in vain.
        dump_root(dump)?;
    }
    refuse_catalogue_in(&path, &args.dumps)?;
    make_ready();
    let mut catalogue = setting.open(Purpose::ChangeOrMake)?;
    prepare_for_ctrl_c()?;
    let readers = args.readers.map_or_else(
        || {
            let cores = std::thread::available_parallelism().map_or(2, usize::from);
            (cores * READERS_PER_CORE).min(MOST_READERS)
        },
        usize::from,
    );
    let order = IngestOrder {
        dumps: &args.dumps,
        site: args.site.as_deref(),
        newcomers: if args.as_new {
            Newcomers::New
        } else {
            Newcomers::Recognised
        },
        readers,
        watched: match setting.quiet {
            Quiet::Yes => Watched::No,
            Quiet::No => Watched::Yes,
        },
        now: now()?,
    };
    let begun = Instant::now();
    let progress = Progress::new("files", setting.quiet);
    let mut told = Told::default();
    let mut counts_frames = false;
    let report = ingest(&mut catalogue, &order, &STOP, &mut |event| match event {
        Event::At { done, of } => progress.at(done, of),
        Event::Derived { done, of } => {
            if !std::mem::replace(&mut counts_frames, true) {
                progress.count("frames");
            }
            progress.at(done, of);
        }
        Event::Missing(frames) => progress.say(rows_missing(frames)),
        Event::Recognised(what) => {
            if let Some(words) = recognised(what, setting.quiet) {
                progress.say(words);
            }
        }
        Event::Odd {
            path,
            finding,
            kept,
        } => {
            if told.take(finding, kept) == Fits::Yes && setting.quiet == Quiet::No {
                progress.say(print::finding_text(&path.to_string_lossy(), finding));
            }
        }
    });
    let elapsed_s = begun.elapsed().as_secs_f64();
    let doubts = match &report {
        Ok(report) if setting.quiet == Quiet::No => {
            doubtful_clocks(&catalogue, Judge::Nights(&report.nights))?
        }
        _ => Vec::new(),
    };
    let stale = stale(&catalogue)?;
    let mut empty = Vec::new();
    for dump in &args.dumps {
        if !has_pictures(&catalogue, dump)? {
            empty.push(dump.clone());
        }
    }
    // From here on nothing is held: whoever reads what is printed may take as long as they like.
    drop(catalogue);
    progress.end();
    let report = report?;
    let mut outcome = outcome(&report);
    if setting.quiet == Quiet::No {
        while_heard(move || summary(&path, &report, &told, &doubts, elapsed_s))?;
    }
    if outcome != Outcome::Stopped {
        for folder in &empty {
            outcome = Outcome::NeedsAttention;
            let folder = folder.to_string_lossy().into_owned();
            while_heard(move || {
                print::warn(&format!("there are no pictures in {}", printable(&folder)));
            });
        }
    }
    if let Some(stale) = stale {
        while_heard(move || print::warn(&stale.words()));
    }
    if args.examine && outcome != Outcome::Stopped {
        return Ok(match examine::run_in(setting, &args.dumps)? {
            Outcome::Done => outcome,
            examined => examined,
        });
    }
    Ok(outcome)
}

/// The exit code reflects the damage on the dumps, whether this run found it or an earlier one.
const fn outcome(report: &IngestReport) -> Outcome {
    if report.stopped {
        Outcome::Stopped
    } else if damage(report) > 0 {
        Outcome::NeedsAttention
    } else {
        Outcome::Done
    }
}

/// How many damaged files and folders the dumps have.
const fn damage(report: &IngestReport) -> u64 {
    report.damaged + report.damaged_before + report.folders_unreadable
}

/// The findings reported for single files and folders.
#[derive(Default)]
struct Told {
    /// How many findings of each code, and whether the audit lists them.
    codes: BTreeMap<&'static str, (u64, Kept)>,
}

/// Whether a finding is among the first, which are reported one by one.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Fits {
    Yes,
    No,
}

impl Told {
    fn take(&mut self, finding: &Finding, kept: Kept) -> Fits {
        let (count, _) = self.codes.entry(finding.code).or_insert((0, kept));
        *count += 1;
        if *count <= TOLD { Fits::Yes } else { Fits::No }
    }

    /// The line for findings that were not reported one by one.
    fn advice(&self, odd_untold: u64) -> Vec<String> {
        let mut lines = Vec::new();
        let mut unlisted = odd_untold;
        for (code, (count, kept)) in &self.codes {
            let cure = print::cure_text(code, *count);
            let list = CommandLine::new("audit")
                .flag("--all")
                .option("--code", code);
            match (kept, count.saturating_sub(TOLD)) {
                (Kept::InCatalogue, more) if more > 0 => {
                    lines.push(format!("and {more} more {code}: {list}"));
                }
                (Kept::InCatalogue, _) => {}
                (Kept::Nowhere, more) => unlisted += more,
            }
            lines.extend(cure);
        }
        if unlisted > 0 {
            lines.push(format!("and {unlisted} more links, pipes and folders"));
        }
        lines
    }
}

/// The line for a folder that was recognised as a known dump, or might be one.
fn recognised(what: &Recognised, quiet: Quiet) -> Option<String> {
    let words = match what {
        Recognised::Moved { label, from, to } if from == to => {
            format!("dump {label} is back at {}", to.display())
        }
        Recognised::Moved { label, from, to } => format!(
            "dump {label} has moved from {} to {}; if the old location still exists, ingest it \
             again to record a second copy",
            from.display(),
            to.display()
        ),
        Recognised::Same { label, root, named } => format!(
            "{} is dump {label} under another name; it is read as {}",
            named.display(),
            root.display()
        ),
        Recognised::Doubtful { place, labels, why } => format!(
            "{} may be the moved dump {}, but {why}; it is treated as a new dump",
            place.display(),
            labels.join(" or ")
        ),
        Recognised::Few {
            place,
            label,
            found,
        } => format!(
            "{} has {} of {} files checked of dump {label}, which is offline: too few to be that \
             dump; it is treated as a new dump",
            place.display(),
            found.fit,
            found.looked
        ),
        Recognised::Renamed { path, label } => format!(
            "{} is a file of dump {label}, which is offline, under another name or in another \
             folder; its folder is treated as a new dump, a copy",
            path.display()
        ),
        Recognised::Replaced { label, root } => format!(
            "dump {label} is no longer at {}; other files are there. {label} is now offline and \
             will be recognised when you ingest it again",
            root.display()
        ),
        Recognised::LookedShort { first, count } => format!(
            "not all folders were searched for moved dumps: {} and {} others were not; name the \
             folder of a moved dump itself",
            first.display(),
            count - 1
        ),
    };
    let must_be_said = !matches!(what, Recognised::Moved { .. } | Recognised::Same { .. });
    (must_be_said || quiet == Quiet::No).then(|| printable(&words).into_owned())
}

fn summary(
    catalogue: &Path,
    report: &IngestReport,
    told: &Told,
    doubts: &[AuditRow],
    elapsed_s: f64,
) -> Result<(), Failure> {
    summary_lines(catalogue, report, doubts, elapsed_s).print()?;
    for doubt in doubts.iter().take(DOUBTS_TOLD) {
        print::warn(&print::doubt_text(doubt));
    }
    if doubts.len() > DOUBTS_TOLD {
        print::warn("framefall audit lists the other clocks in doubt");
    }
    let mut advice = told.advice(report.odd_untold);
    if report.stopped {
        advice.push(
            "stopped; everything read is in the catalogue, and the same command continues"
                .to_owned(),
        );
    }
    if damage(report) > 0 {
        advice.push(
            "framefall audit lists the damage; keep the card unformatted until you have dealt \
             with it"
                .to_owned(),
        );
    }
    if report.unplaced > 0 {
        advice.push(
            "state where the frames without a place were taken: framefall site add, then framefall site assign NAME --session NUMBER"
                .to_owned(),
        );
    }
    for line in advice {
        print::warn(&line);
    }
    Ok(())
}

fn summary_lines(
    catalogue: &Path,
    report: &IngestReport,
    doubts: &[AuditRow],
    elapsed_s: f64,
) -> Lines {
    let passed: u64 = report.passed_over.values().sum();
    let extensions: Vec<String> = report
        .passed_over
        .iter()
        .map(|(extension, count)| format!("{} {count}", printable(extension)))
        .collect();
    let skipped = if passed == 0 {
        "0".to_owned()
    } else {
        format!("{passed}  ({})", extensions.join(", "))
    };
    let mut lines = Lines::default();
    lines
        .put("catalogue", print::path(catalogue))
        .put("files seen", report.seen)
        .put("  unchanged, not read again", report.unchanged)
        .put("frames new", report.frames_new)
        .put("  known, read again", report.frames_known)
        .put("further files of a frame", report.joined)
        .put("further copies", report.further_copies)
        .put("skipped", skipped)
        .put("damaged", report.damaged + report.damaged_before)
        .some("  known from before", report.damaged_before)
        .put("undated", report.undated)
        .put("without a place", report.unplaced)
        .some("known frames placed by --site", report.placed_later)
        .some("frames that statements waited for", report.frames_awaited)
        .some("missing rows recomputed", report.rebuilt)
        .put("sessions touched", report.sessions)
        .put("clocks in doubt", doubts.len())
        .put("elapsed", elapsed(elapsed_s, report));
    lines
}

fn elapsed(seconds: f64, report: &IngestReport) -> String {
    let rate = report.seen as f64 / seconds.max(1e-3);
    format!(
        "{seconds:.1} s  ({rate:.0} files a second, {:.1} MB read)",
        report.bytes_read as f64 / 1e6
    )
}
