//! `framefall audit`.

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::args_audit::AuditArgs;
use crate::cli::commands::audit_content;
use crate::cli::commands::audit_text;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Heard;
use crate::cli::print::Quiet;
use crate::cli::setting::Setting;
use crate::framelist::Format;
use crate::framelist::is_closed_pipe;
use crate::terms::failure::Failure;
use crate::terms::finding::Severity;
use crate::usecase::audit::Judge;
use crate::usecase::audit::doubtful_clocks;
use crate::usecase::audit_summary::AuditFilter;
use crate::usecase::audit_summary::Summary;
use crate::usecase::backup::backup_finding;
use crate::usecase::copy::here::bad_contents;
use crate::usecase::derive::maker::stale_findings;
use crate::usecase::dumps::away::look_on_disk;
use crate::usecase::examine::focus::drifted_focus;
use crate::usecase::examine::moved::moved_tripods;
use crate::usecase::examine::sky_notes::sky_findings;
use crate::usecase::listings::sheets;
use crate::usecase::statements::replay::difference_finding;

/// A list of so many findings is summed up behind its end.
const SUMMARISED_FROM: u64 = 20;

/// Runs the command.
pub fn run(setting: &Setting, args: &AuditArgs) -> Result<Outcome, Failure> {
    if args.codes {
        print::sheet(sheets::finding_codes(), args.form)?;
        return Ok(Outcome::Done);
    }
    if args.content {
        return audit_content::run(setting, args);
    }
    let filter = AuditFilter {
        codes: args.code.clone(),
        dumps: args.dump.clone(),
        sessions: args.session.clone(),
        weights: args.weight.clone(),
    };
    filter.check()?;
    let catalogue = setting.open(Purpose::Read)?;
    let lists_rows = args.all || args.form != Format::Table;
    let mut summary = Summary::default();
    let mut chosen = |row: AuditRow, put: &mut dyn FnMut(&AuditRow) -> Result<(), Failure>| {
        if !filter.takes(&row) {
            return Ok(());
        }
        summary.add(&row);
        put(&row)
    };
    if lists_rows {
        let columns = print::columns_of(sheets::FOUND);
        print::rows(columns, sheets::NOTHING_FOUND, args.form, |put| {
            let mut heard = Heard::Whole;
            gather(&catalogue, args, &mut |row| {
                chosen(row, &mut |row| {
                    if heard == Heard::InPart {
                        return Ok(());
                    }
                    match put(sheets::finding_row(row)) {
                        // The rest is counted all the same: the exit code is that of the whole list.
                        Err(failure) if is_closed_pipe(&failure) => heard = Heard::InPart,
                        other => other?,
                    }
                    Ok(())
                })
            })
        })?;
    } else {
        gather(&catalogue, args, &mut |row| chosen(row, &mut |_| Ok(())))?;
        print::answer(|out| audit_text::write(&summary, &filter, out))?;
    }
    if setting.quiet == Quiet::No {
        if !lists_rows && summary.findings() > 0 {
            print::warn(
                "each finding by itself: framefall audit --all; chosen with --code, --dump, --session or --weight",
            );
        } else if lists_rows && summary.findings() >= SUMMARISED_FROM {
            for line in audit_text::counts(&summary) {
                print::warn(&line);
            }
        }
    }
    Ok(Outcome::done(summary.worst() >= Some(Severity::Warning)))
}

/// Gives every finding to `each`, before it is filtered.
fn gather(
    catalogue: &Catalogue,
    args: &AuditArgs,
    each: &mut dyn FnMut(AuditRow) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let damage = catalogue.own_damage()?;
    if !damage.is_empty() {
        // What a damaged catalogue says of its frames is not to be relied on.
        return damage.into_iter().try_for_each(each);
    }
    if let Some(row) = backup_finding(catalogue, now()?)? {
        each(row)?;
    }
    for row in stale_findings(catalogue)? {
        each(row)?;
    }
    if let Some(row) = difference_finding(catalogue)? {
        each(row)?;
    }
    catalogue.findings(&mut *each)?;
    for row in doubtful_clocks(catalogue, Judge::All)? {
        each(row)?;
    }
    for row in moved_tripods(catalogue)? {
        each(row)?;
    }
    for row in drifted_focus(catalogue)? {
        each(row)?;
    }
    for row in sky_findings(catalogue)? {
        each(row)?;
    }
    for row in bad_contents(catalogue)? {
        each(row)?;
    }
    if args.disk {
        look_on_disk(catalogue, &mut *each)?;
    }
    Ok(())
}
