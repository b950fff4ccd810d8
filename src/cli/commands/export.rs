//! `framefall export`: a list made for the first time, one made again, a Parquet export.

use crate::cli::args_export::ExportArgs;
use crate::cli::commands::export_again;
use crate::cli::commands::export_dataset;
use crate::cli::commands::export_make::make;
use crate::cli::commands::export_request::requested;
use crate::cli::outcome::Outcome;
use crate::cli::setting::Setting;
use crate::output::atomic_file::Overwrite;
use crate::terms::failure::Failure;
use crate::usecase::export::make::Verdict;

/// Runs the command.
pub fn run(setting: &Setting, args: &ExportArgs) -> Result<Outcome, Failure> {
    if let Some(manifest) = &args.again {
        return export_again::run(setting, args, manifest);
    }
    let query = args.query.as_deref().unwrap_or_default();
    if export_dataset::is_meant(args) {
        return export_dataset::run(setting, args, query);
    }
    let request = requested(args, query)?;
    let overwrite = Overwrite::from(args.overwrite);
    make(setting, &request, overwrite, &mut |made| {
        Ok((
            Verdict::Keep,
            if made.plan.left_out.is_empty() {
                Outcome::Done
            } else {
                Outcome::NeedsAttention
            },
        ))
    })
}
