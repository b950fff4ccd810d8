//! `framefall export --as parquet`: which words go together, and what there is without the feature. Writes nothing.

use std::path::Path;

use crate::cli::args_export::ExportArgs;
use crate::cli::args_export::ExportForm;
use crate::cli::args_export::is_file;
#[cfg(feature = "parquet")]
use crate::cli::commands::export_dataset_files;
use crate::cli::outcome::Outcome;
use crate::cli::setting::Setting;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;

/// Whether a data set is meant, and no list.
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
        Err(
            refused("this framefall was built without the columns for engines").hint(
                "build it with them, in its sources: cargo install --path . --features parquet",
            ),
        )
    }
}

/// Refuses flags that only a list, or only a data set of another shape, has.
fn refuse_words_of_lists(args: &ExportArgs, to: &Path) -> Result<(), Failure> {
    if let Some(ExportForm::List(_)) = args.form {
        return Err(refused("--per-year parts a data set; a list is not parted")
            .hint("take --as parquet, or leave --per-year out"));
    }
    if args.form.is_none() && !is_file(to) {
        return Err(refused("--per-year parts a data set").hint("say --as parquet, too"));
    }
    if args.per_year && is_file(to) {
        return Err(refused(
            "--per-year makes a folder with many files, and this is the name of one",
        )
        .at_file(to)
        .hint("name a folder: a name without .parquet behind it"));
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
            return Err(refused(format!("{flag} belongs to lists of files"))
                .hint("leave it out: a data set holds what the catalogue knows of each frame, and looks at no file"));
        }
    }
    Ok(())
}

fn refused(message: impl Into<String>) -> Failure {
    Failure::new(FailureKind::Words, message)
}
