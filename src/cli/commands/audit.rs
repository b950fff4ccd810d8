//! `framefall audit`.

use crate::catalogue::open::Purpose;
use crate::cli::args::AuditArgs;
use crate::cli::print;
use crate::cli::run::Outcome;
use crate::cli::run::Setting;
use crate::pipeline::audit::Judge;
use crate::pipeline::audit::doubtful_clocks;
use crate::pipeline::away::look_on_disk;
use crate::pipeline::listings;
use crate::terms::failure::Failure;
use crate::terms::finding::Severity;
use crate::terms::finding::finding_code;

/// Runs the command.
pub fn run(setting: &Setting, args: &AuditArgs) -> Result<Outcome, Failure> {
    if args.codes {
        print::sheet(listings::finding_codes(), args.form)?;
        return Ok(Outcome::Done);
    }
    let catalogue = setting.open(Purpose::Read)?;
    let damage = catalogue.own_damage()?;
    if !damage.is_empty() {
        print::sheet(listings::findings(damage), args.form)?;
        return Ok(Outcome::NeedsAPerson);
    }
    let mut rows = Vec::new();
    catalogue.findings(|row| {
        rows.push(row);
        Ok(())
    })?;
    rows.extend(doubtful_clocks(&catalogue, Judge::All)?);
    if args.disk {
        look_on_disk(&catalogue, |row| {
            rows.push(row);
            Ok(())
        })?;
    }
    let needs_a_person = rows
        .iter()
        .any(|row| finding_code(&row.code).is_some_and(|c| c.severity >= Severity::Warning));
    print::sheet(listings::findings(rows), args.form)?;
    Ok(if needs_a_person {
        Outcome::NeedsAPerson
    } else {
        Outcome::Done
    })
}
