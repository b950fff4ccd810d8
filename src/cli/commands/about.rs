//! `framefall --version` and `--licences`.

use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::written;
use crate::terms::failure::Failure;
use crate::usecase::derive::maker::PROGRAM;

/// Every licence and notice of the components of this program.
const NOTICES: &str = include_str!("../../../NOTICES.md");

/// Prints the version, and with `licences` every notice.
pub fn about(licences: bool) -> Result<Outcome, Failure> {
    print::answer(|out| {
        writeln!(out, "{PROGRAM}").map_err(written)?;
        if licences {
            writeln!(out, "\n{NOTICES}").map_err(written)?;
        }
        Ok(())
    })?;
    Ok(Outcome::Done)
}
