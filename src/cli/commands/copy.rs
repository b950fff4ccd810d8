//! `framefall copy`.

use std::collections::BTreeMap;
use std::path::Path;
use std::time::Instant;

use crate::catalogue::proofs::DeviceRow;
use crate::catalogue::purpose::Purpose;
use crate::catalogue::within::refuse_catalogue_in;
use crate::cli::args::IngestArgs;
use crate::cli::args_copy::CopyArgs;
use crate::cli::commands::ingest;
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
use crate::usecase::copy::plan::CopyRequest;
use crate::usecase::copy::plan::plan;
use crate::usecase::copy::report::CardReport;
use crate::usecase::copy::report::CopyNews;
use crate::usecase::copy::run::Again;
use crate::usecase::copy::run::CopyHow;
use crate::usecase::copy::run::ReadTwice;
use crate::usecase::copy::run::copy_card;
use crate::usecase::dumps::manage::dump_root;

/// How many findings of one code are shown in full.
const SHOWN: u64 = 50;

/// Runs the command.
pub fn run(setting: &Setting, args: &CopyArgs) -> Result<Outcome, Failure> {
    // Said before a catalogue is made for nothing.
    let cards = args
        .cards
        .iter()
        .map(|card| dump_root(card))
        .collect::<Result<Vec<_>, _>>()?;
    refuse_catalogue_in(&setting.catalogue()?, &cards)?;
    let mut catalogue = setting.open(Purpose::ChangeOrMake)?;
    let plans = plan(
        &catalogue,
        &CopyRequest {
            cards: &args.cards,
            to: &args.to,
            labels: &args.labels,
        },
    )?;
    prepare_for_ctrl_c()?;
    let begun = now()?;
    let how = CopyHow {
        tries: args.tries,
        twice: if args.read_twice {
            ReadTwice::Yes
        } else {
            ReadTwice::No
        },
        again: if args.again { Again::Yes } else { Again::No },
        now: &|| now().unwrap_or(begun),
    };
    let started = Instant::now();
    let mut found: BTreeMap<&'static str, u64> = BTreeMap::new();
    let mut reports = Vec::new();
    for plan in &plans {
        let progress = Progress::new("MB", setting.quiet);
        let report = copy_card(&mut catalogue, plan, &how, &STOP, &mut |news| match news {
            CopyNews::At {
                done,
                of,
                reading,
                reading_back,
            } => {
                progress.at(done / 1_000_000, of / 1_000_000);
                progress.doing(doing(reading, reading_back));
            }
            CopyNews::Odd(path, finding) => {
                let count = found.entry(finding.code).or_default();
                *count += 1;
                if *count <= SHOWN {
                    progress.say(print::finding_text(&path.to_string_lossy(), finding));
                }
            }
        });
        progress.end();
        let report = report?;
        let stopped = report.stopped;
        reports.push(report);
        if stopped {
            break;
        }
    }
    drop(catalogue);
    let elapsed_s = started.elapsed().as_secs_f64();
    let stopped = reports.iter().any(|report| report.stopped);
    let needs_attention = reports
        .iter()
        .any(|report| report.needs_attention() || report.files == 0);
    let roots = reports
        .iter()
        .flat_map(|report| &report.targets)
        .filter(|target| target.verified + target.copied > 0)
        .map(|target| target.root.clone())
        .collect::<Vec<_>>();
    let quiet = setting.quiet;
    while_heard(move || {
        if quiet == Quiet::No {
            summary(&reports, elapsed_s)?;
        }
        advice(&found, &reports);
        Ok::<(), Failure>(())
    })?;
    if stopped {
        return Ok(Outcome::Stopped);
    }
    let mut outcome = Outcome::Done;
    if !args.no_ingest && !roots.is_empty() {
        outcome = ingest::run(
            setting,
            &IngestArgs {
                dumps: roots,
                site: args.site.clone(),
                examine: false,
                as_new: false,
                readers: None,
            },
        )?;
    }
    Ok(match outcome {
        Outcome::Done if needs_attention => Outcome::NeedsAttention,
        outcome => outcome,
    })
}

/// What is being done, in words.
fn doing(reading: Option<&Path>, reading_back: Option<&Path>) -> String {
    let named = |what: &str, path: &Path| format!("{what} {}", path.display());
    let reading = reading.map(|path| named("reading and writing", path));
    let back = reading_back.map(|path| named("reading back", path));
    let parts: Vec<String> = reading.into_iter().chain(back).collect();
    parts.join(", ")
}

fn summary(reports: &[CardReport], elapsed_s: f64) -> Result<(), Failure> {
    let mut lines = Lines::default();
    for report in reports {
        let mb = report.bytes as f64 / 1e6;
        lines
            .put("card", report.card.display())
            .put("files", format!("{}  ({mb:.1} MB)", report.files))
            .some("unread", report.unread)
            .some("damaged", report.damaged)
            .some("folders unreadable", report.folders_unreadable)
            .some("other than a list says", report.list_differs)
            .some("not copied: links, pipes, trash", report.left);
        for target in &report.targets {
            lines
                .put("target", target.root.display())
                .put("dump", &target.label)
                .put("verified", target.verified)
                .some("copied, not verified", target.copied)
                .some("name taken", target.refused)
                .some("failed", target.failed)
                .some("there before", target.there);
            if let Some(list) = &target.list {
                lines.put("list of hashes", list.display());
            }
        }
        lines.put("devices", devices(report));
    }
    let bytes: u64 = reports.iter().map(|report| report.bytes).sum();
    let rate = bytes as f64 / 1e6 / elapsed_s.max(1e-3);
    let elapsed = format!("{elapsed_s:.1} s  ({rate:.0} MB of the cards a second)");
    lines.put("elapsed", elapsed).print()
}

/// How many devices the copies of a card are on.
fn devices(report: &CardReport) -> usize {
    let mut apart: Vec<&DeviceRow> = Vec::new();
    for device in report.targets.iter().filter_map(|t| t.device.as_ref()) {
        if !apart.iter().any(|other| other.is_same(device)) {
            apart.push(device);
        }
    }
    apart.len()
}

fn advice(found: &BTreeMap<&'static str, u64>, reports: &[CardReport]) {
    for (code, count) in found {
        if *count > SHOWN {
            print::warn(&format!("and {} more: {code}", count - SHOWN));
        }
        print::cure(code, *count);
    }
    for report in reports {
        if report.files == 0 {
            print::warn(&format!("{} holds no files", report.card.display()));
        }
        if report.targets.len() > 1 && devices(report) == 1 {
            print::warn(
                "all targets are on one device and count as one copy; copy to a second device as well",
            );
        }
        if report.targets.iter().any(|target| target.copied > 0) {
            print::warn(
                "'copied' is not 'verified': the device of that target cannot be asked, because its file system is in memory, on \
                 another computer or served by a program",
            );
        }
        if report.unread + report.damaged > 0 {
            print::warn(
                "the card has files that are damaged or unread; keep it as it is until that is settled",
            );
        }
        if let Some(target) = report.targets.first() {
            let command = CommandLine::new("dump")
                .argument("proof")
                .argument(&target.label);
            print::warn(&format!("{command} shows what is proved, file by file"));
        }
        if report.stopped {
            print::warn("stopped; the same command carries on");
        }
    }
}
