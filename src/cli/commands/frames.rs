//! `framefall frames`.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Ask;
use crate::cli::args_list::CountPer;
use crate::cli::args_list::FramesArgs;
use crate::cli::args_list::FramesCommand;
use crate::cli::commands::frames_mark;
use crate::cli::commands::lists;
use crate::cli::commands::lists::Look;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Heard;
use crate::cli::print::written;
use crate::cli::setting::Setting;
use crate::framelist::Format;
use crate::query::Compiled;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::picture::Positions;
use crate::usecase::listings::answers;
use crate::usecase::listings::frames::fields_help;
use crate::usecase::listings::frames::why_none;
use crate::usecase::listings::lenses::lens_sheet;
use crate::usecase::listings::sessions::Times;

/// Runs the command.
pub fn run(setting: &Setting, args: &FramesArgs) -> Result<Outcome, Failure> {
    if let Some(FramesCommand::Mark(args)) = &args.command {
        return frames_mark::run(setting, args);
    }
    if args.fields {
        print::answer(|out| write!(out, "{}", fields_help()).map_err(written))?;
        return Ok(Outcome::Done);
    }
    let show = args.show.as_deref().map(answers::columns).transpose()?;
    let order = args.by.as_deref().map(answers::order).transpose()?;
    let look = Look {
        format: args.form,
        show: show.as_deref(),
        order: order.as_deref().unwrap_or(&[]),
        positions: if args.oriented {
            Positions::AsShown
        } else {
            Positions::AsStored
        },
        times: if args.utc { Times::Utc } else { Times::Local },
        // SQLite cannot count further.
        limit: args.limit.map(|most| most.min(i64::MAX.unsigned_abs())),
        width: print::screen_width(),
    };
    let text = args.query.as_deref().unwrap_or("");
    let (compiled, catalogue) = lists::compile_and_open(text, setting)?;
    if args.count || args.per.is_some() {
        return count(&catalogue, &compiled, args);
    }
    if args.explain {
        return explain(&catalogue, &compiled, &look, args.form);
    }
    let mut rows = 0;
    let heard = print::list(|out| {
        rows = lists::write(&catalogue, &compiled, &look, out)?;
        Ok(())
    })?;
    if heard == Heard::Whole && rows == 0 && args.limit != Some(0) {
        print::warn(&why_none(&catalogue, &compiled)?);
        return Ok(Outcome::NeedsAttention);
    }
    Ok(Outcome::Done)
}

fn count(
    catalogue: &Catalogue,
    compiled: &Compiled,
    args: &FramesArgs,
) -> Result<Outcome, Failure> {
    let form = row_form(args.form)?;
    let (sheet, sum) = match args.per {
        Some(CountPer::Lens) => lens_sheet(catalogue, &compiled.tree)?,
        Some(CountPer::Frames(per)) => answers::count(catalogue, compiled, Some(per))?,
        None => answers::count(catalogue, compiled, None)?,
    };
    if args.per.is_none() && form == Format::Table {
        print::answer(|out| writeln!(out, "{sum}").map_err(written))?;
    } else {
        print::sheet(sheet, form)?;
    }
    if sum > 0 {
        return Ok(Outcome::Done);
    }
    // A bare 0 is an answer; an answer without rows needs a reason.
    if args.per.is_some() {
        print::warn(&why_none(catalogue, compiled)?);
    }
    Ok(Outcome::NeedsAttention)
}

fn explain(
    catalogue: &Catalogue,
    compiled: &Compiled,
    look: &Look<'_>,
    form: Format,
) -> Result<Outcome, Failure> {
    let columns: Vec<ColumnSource> = lists::columns(look, compiled)?
        .iter()
        .map(|column| column.source)
        .collect();
    let explained = catalogue.explain(&Ask {
        query: &compiled.tree,
        columns: &columns,
        detail: lists::detail(look),
        order: look.order,
        limit: look.limit,
    })?;
    let sheet = answers::explained(explained);
    if form == Format::Table {
        // The SQL is longer than any screen: the text comes last, and is not cut.
        print::uncut_sheet(sheet)?;
    } else {
        print::sheet(sheet, row_form(form)?)?;
    }
    Ok(Outcome::Done)
}

/// The format of a list that is not of frames.
fn row_form(form: Format) -> Result<Format, Failure> {
    if !form.wants_path_bytes() {
        return Ok(form);
    }
    Err(Failure::words("this answer contains no paths").hint("use --as table, csv, json or jsonl"))
}
