//! `framefall audit --content`.

use std::collections::BTreeMap;

use crate::catalogue::purpose::Purpose;
use crate::cli::args_audit::AuditArgs;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::cli::stop::while_heard;
use crate::terms::failure::Failure;
use crate::terms::plural::counted;
use crate::usecase::copy::check::CheckNews;
use crate::usecase::copy::check::CheckReport;
use crate::usecase::copy::check::CheckRequest;
use crate::usecase::copy::check::check_contents;
use crate::usecase::listings::sheets;

/// Runs the command.
pub fn run(setting: &Setting, args: &AuditArgs) -> Result<Outcome, Failure> {
    let mut catalogue = setting.open(Purpose::Change)?;
    prepare_for_ctrl_c()?;
    let begun = now()?;
    let request = CheckRequest {
        dumps: &args.dump,
        for_s: args.time,
        at_most: args.at_most,
        now: &|| now().unwrap_or(begun),
    };
    let progress = Progress::new("MB", setting.quiet);
    let mut report = CheckReport::default();
    let mut cures: BTreeMap<String, u64> = BTreeMap::new();
    let columns = print::columns_of(sheets::FOUND);
    print::rows(columns, sheets::NOTHING_FOUND, args.form, |put| {
        report = check_contents(&mut catalogue, &request, &STOP, &mut |news| match news {
            CheckNews::At(done, of, path) => {
                progress.at(done / 1_000_000, of / 1_000_000);
                progress.doing(format!("reading back {}", path.display()));
                Ok(())
            }
            CheckNews::Found(row) => {
                *cures.entry(row.code.clone()).or_default() += 1;
                put(sheets::finding_row(&row))
            }
        })?;
        Ok(())
    })?;
    drop(catalogue);
    progress.end();
    let needs_attention = report.differing + report.unreadable + report.changed > 0;
    let stopped = report.stopped;
    if setting.quiet == Quiet::No {
        while_heard(move || summary(&report, &cures));
    }
    Ok(if stopped {
        Outcome::Stopped
    } else if needs_attention {
        Outcome::NeedsAttention
    } else {
        Outcome::Done
    })
}

fn summary(report: &CheckReport, cures: &BTreeMap<String, u64>) {
    for (words, count) in [
        ("matching the kept hashes", report.same),
        (
            "hashed for the first time, compared with nothing",
            report.first,
        ),
        ("with other contents", report.differing),
        ("unreadable", report.unreadable),
        ("missing or openly changed", report.changed),
    ] {
        if count > 0 {
            print::warn(&format!("{} {words}", counted(count, "file")));
        }
    }
    print::warn(&format!("{:.1} MB read back", report.bytes as f64 / 1e6));
    if report.lists > 0 {
        print::warn(&format!(
            "lists of hashes beside the dumps that were compared: {}",
            report.lists
        ));
    }
    if !report.offline.is_empty() {
        print::warn(&format!(
            "not here: dump {}",
            report.offline.join(", dump ")
        ));
    }
    for (code, count) in cures {
        print::cure(code, *count);
    }
    if report.has_more {
        print::warn(
            "not all files were reached; the next run goes on with those whose last check is the oldest",
        );
    }
}
