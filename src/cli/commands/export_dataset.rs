//! `framefall export --as parquet`: which options go together, and the message without the feature. Writes nothing.

use std::path::Path;

use crate::cli::args_export::ExportArgs;
use crate::cli::args_export::ExportForm;
use crate::cli::args_export::is_file;
#[cfg(feature = "parquet")]
use crate::cli::commands::export_dataset_files;
use crate::cli::outcome::Outcome;
use crate::cli::setting::Setting;
use crate::terms::failure::Failure;

/// Whether a Parquet export is meant, and not a list.
pub fn is_meant(args: &ExportArgs) -> bool {
    args.per_year
        || match args.form {
            Some(form) => form == ExportForm::Parquet,
            None => args.to.as_deref().is_some_and(is_file),
        }
}

/// Runs the command.
pub fn run(setting: &Setting, args: &ExportArgs, query: &str) -> Result<Outcome, Failure> {
    let to = args.to.as_deref().unwrap_or(Path::new(""));
    refuse_words_of_lists(args, to)?;
    #[cfg(feature = "parquet")]
    return export_dataset_files::run(setting, args, query, to);
    #[cfg(not(feature = "parquet"))]
    {
        let _ = (setting, query);
        Err(refused("this build has no Parquet support").hint(
            "to add it, run this in the source folder: cargo install --path . --features \
                 parquet",
        ))
    }
}

/// Refuses options that apply only to a list, or only to another form of Parquet export.
fn refuse_words_of_lists(args: &ExportArgs, to: &Path) -> Result<(), Failure> {
    if let Some(ExportForm::List(_)) = args.form {
        return Err(refused("--per-year applies only to Parquet")
            .hint("add --as parquet, or leave out --per-year"));
    }
    if args.form.is_none() && !is_file(to) {
        return Err(refused("--per-year applies only to Parquet").hint("add --as parquet"));
    }
    if args.per_year && is_file(to) {
        return Err(
            refused("--per-year writes a folder, and this is the name of a file")
                .at_file(to)
                .hint("name a folder: a name that does not end in .parquet"),
        );
    }
    for (said, flag) in [
        (args.take.is_some(), "--take"),
        (args.relative, "--relative"),
        (args.root.is_some(), "--root"),
        (args.per_session, "--per-session"),
        (args.reference.is_some(), "--reference"),
        (args.show.is_some(), "--show"),
        (args.check.is_some(), "--check"),
        (args.allow_missing, "--allow-missing"),
        (args.with_damaged, "--with-damaged"),
        (args.with_darks, "--with-darks"),
        (args.with_flats, "--with-flats"),
        (args.with_bias, "--with-bias"),
        (args.link_into.is_some(), "--link-into"),
    ] {
        if said {
            return Err(
                refused(format!("{flag} applies to lists of files, not to Parquet")).hint(
                    "leave it out: a Parquet export has the catalogue's data and checks no files",
                ),
            );
        }
    }
    Ok(())
}

fn refused(message: impl Into<String>) -> Failure {
    Failure::words(message)
}
