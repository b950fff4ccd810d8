//! `framefall frames`.

use crate::catalogue::open::Catalogue;
use crate::catalogue::open::Purpose;
use crate::cli::args::FramesArgs;
use crate::cli::commands::lists;
use crate::cli::print;
use crate::cli::print::Heard;
use crate::cli::print::written;
use crate::cli::run::Outcome;
use crate::cli::run::Setting;
use crate::framelist::Format;
use crate::pipeline::frames::compile;
use crate::pipeline::frames::fields_help;
use crate::pipeline::frames::why_none;
use crate::terms::failure::Failure;

/// Runs the command.
pub fn run(setting: &Setting, args: &FramesArgs) -> Result<Outcome, Failure> {
    if args.fields {
        print::answer(|out| write!(out, "{}", fields_help()).map_err(written))?;
        return Ok(Outcome::Done);
    }
    // The query first: a slip of the pen should be told even where there is no catalogue.
    let compiled = compile(args.query.as_deref().unwrap_or(""))?;
    let catalogue = Catalogue::open(&setting.catalogue()?, Purpose::Read)?;
    if args.count {
        let count = catalogue.count(&compiled.predicate)?;
        print::answer(|out| writeln!(out, "{count}").map_err(written))?;
        return Ok(if count == 0 {
            Outcome::NeedsAPerson
        } else {
            Outcome::Done
        });
    }
    let format = Format::from(args.form);
    let mut rows = 0;
    let heard = print::answer(|out| {
        rows = lists::write(
            &catalogue,
            &compiled,
            format,
            args.limit,
            print::screen_width(),
            out,
        )?;
        Ok(())
    })?;
    if heard == Heard::Whole && rows == 0 && args.limit != Some(0) {
        print::complain(&why_none(&catalogue, &compiled)?);
        return Ok(Outcome::NeedsAPerson);
    }
    Ok(Outcome::Done)
}
