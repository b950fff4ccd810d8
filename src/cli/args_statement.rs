//! The words of `framefall statement`. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::cli::args_form::RowForm;

/// Commands of `statement`.
#[derive(Debug, Subcommand)]
pub enum StatementCommand {
    /// List what was stated: when, about how many frames, what was taken back
    List {
        /// The form of the list
        #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
        form: RowForm,
    },
    /// Write every statement to a file, a line of JSON each
    Save {
        /// The file to write
        #[arg(value_name = "FILE.jsonl")]
        to: PathBuf,

        /// Replace the file if it exists
        #[arg(long)]
        overwrite: bool,
    },
    /// Take over the statements of another catalogue, from a file that `statement save` wrote
    Take(StatementTakeArgs),
}

/// Arguments of `statement take`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "All statements are taken or none, and none twice. Frames are known by their files' contents, whatever their \
    names; those that are not here are waited for: an ingest of their dump places them.\n\n\
    Examples:\n  framefall --catalogue new.sqlite ingest /media/archive-2/2023/card-a\n  \
    framefall --catalogue new.sqlite statement take statements.jsonl"
)]
pub struct StatementTakeArgs {
    /// The file
    #[arg(value_name = "FILE.jsonl")]
    pub from: PathBuf,

    /// Say what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}
