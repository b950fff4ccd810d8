//! `framefall audit`.

use std::collections::BTreeMap;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::purpose::Purpose;
use crate::cli::args::AuditArgs;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Heard;
use crate::cli::print::Quiet;
use crate::cli::setting::Setting;
use crate::framelist::is_closed_pipe;
use crate::terms::failure::Failure;
use crate::terms::finding::Severity;
use crate::terms::finding::finding_code;
use crate::usecase::audit::Judge;
use crate::usecase::audit::doubtful_clocks;
use crate::usecase::backup::backup_finding;
use crate::usecase::derive::maker::stale_findings;
use crate::usecase::dumps::away::look_on_disk;
use crate::usecase::listings::sheets;

/// A list of so many findings is summed up behind its end.
const SUMMARISED_FROM: u64 = 20;

/// Runs the command.
pub fn run(setting: &Setting, args: &AuditArgs) -> Result<Outcome, Failure> {
    if args.codes {
        print::sheet(sheets::finding_codes(), args.form)?;
        return Ok(Outcome::Done);
    }
    let catalogue = setting.open(Purpose::Read)?;
    let now = now()?;
    let mut counted: BTreeMap<String, u64> = BTreeMap::new();
    print::rows(sheets::FOUND, sheets::NOTHING_FOUND, args.form, |put| {
        let mut heard = Heard::Whole;
        let mut each = |row: AuditRow| {
            *counted.entry(row.code.clone()).or_default() += 1;
            if heard == Heard::InPart {
                return Ok(());
            }
            match put(sheets::finding_row(row)) {
                // The rest is counted all the same: the exit code is that of the whole list.
                Err(failure) if is_closed_pipe(&failure) => heard = Heard::InPart,
                other => other?,
            }
            Ok(())
        };
        let damage = catalogue.own_damage()?;
        if !damage.is_empty() {
            // What a damaged catalogue says of its frames is not to be relied on.
            return damage.into_iter().try_for_each(each);
        }
        if let Some(row) = backup_finding(&catalogue, now)? {
            each(row)?;
        }
        for row in stale_findings(&catalogue)? {
            each(row)?;
        }
        catalogue.findings(&mut each)?;
        for row in doubtful_clocks(&catalogue, Judge::All)? {
            each(row)?;
        }
        if args.disk {
            look_on_disk(&catalogue, &mut each)?;
        }
        Ok(())
    })?;
    if setting.quiet == Quiet::No {
        summary(&counted);
    }
    let needs_a_person = counted
        .keys()
        .any(|code| finding_code(code).is_some_and(|c| c.severity >= Severity::Warning));
    Ok(if needs_a_person {
        Outcome::NeedsAttention
    } else {
        Outcome::Done
    })
}

/// Says how many findings there are of each code, the heaviest first, where the list is long.
fn summary(counted: &BTreeMap<String, u64>) {
    let all: u64 = counted.values().sum();
    if all < SUMMARISED_FROM {
        return;
    }
    print::warn(&format!("{all} findings:"));
    let mut codes: Vec<_> = counted
        .iter()
        .filter_map(|(code, count)| Some((finding_code(code)?, *count)))
        .collect();
    codes.sort_by_key(|(row, count)| std::cmp::Reverse((row.severity, *count)));
    for (row, count) in codes {
        print::warn(&format!(
            "  {count} {}: {}: {}",
            row.severity.word(),
            row.code,
            row.headline
        ));
    }
}
