//! `framefall export --as parquet`, in words.

use std::path::Path;

use crate::cli::args_export::ExportArgs;
use crate::cli::args_export::is_file;
use crate::cli::commands::export_told::frames;
use crate::cli::commands::lists;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::output::atomic_file::Overwrite;
use crate::terms::failure::Failure;
use crate::terms::plural::counted;
use crate::usecase::dataset::DataForm;
use crate::usecase::dataset::DataOrder;
use crate::usecase::dataset::DataTally;
use crate::usecase::dataset::Parted;
use crate::usecase::dataset::export;
use crate::usecase::listings::frames::why_none;

/// Runs the command; its options were checked.
pub fn run(
    setting: &Setting,
    args: &ExportArgs,
    query: &str,
    to: &Path,
) -> Result<Outcome, Failure> {
    let overwrite = Overwrite::from(args.overwrite);
    let form = if is_file(to) {
        DataForm::Files
    } else {
        DataForm::Folder
    };
    let (compiled, catalogue) = lists::compile_and_open(query, setting)?;
    let order = DataOrder {
        query,
        compiled: &compiled,
        limit: args.limit,
        parted: if args.per_year {
            Parted::ByYear
        } else {
            Parted::Not
        },
        version: env!("CARGO_PKG_VERSION"),
        now: now()?,
        dry_run: args.dry_run,
        stop: &STOP,
    };
    let progress = Progress::new("frames", setting.quiet);
    let tally = export(
        &catalogue,
        &order,
        (form, to, overwrite),
        prepare_for_ctrl_c,
        &mut |done, of| progress.at(done, of),
    );
    progress.end();
    let tally = tally?;
    if tally.stopped {
        return Ok(Outcome::Stopped);
    }
    if tally.frames == 0 {
        print::warn(&why_none(&catalogue, &compiled)?);
        print::warn(&format!(
            "nothing to export; {} was not written",
            print::path(to)
        ));
        return Ok(Outcome::NeedsAttention);
    }
    if setting.quiet == Quiet::No {
        print_tally(&tally, to, args.dry_run);
    }
    Ok(Outcome::Done)
}

fn print_tally(tally: &DataTally, to: &Path, dry_run: bool) {
    let written = if dry_run {
        "would be written"
    } else {
        "written"
    };
    print::warn(&format!(
        "{} and {} over them {written} to {}",
        frames(tally.frames),
        counted(tally.radiants, "radiant"),
        print::path(to)
    ));
    if dry_run {
        print::warn("a dry run: nothing was written");
    }
}
