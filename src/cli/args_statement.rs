//! The words of `framefall statement`. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::cli::args_form::ListArgs;

/// Commands of `statement`.
#[derive(Debug, Subcommand)]
pub enum StatementCommand {
    /// List statements: content, time, number of frames, what was removed
    List(ListArgs),
    /// Write every statement to a file, one line of JSON each
    Save {
        /// The file to write
        #[arg(value_name = "FILE.jsonl")]
        to: PathBuf,

        /// Replace the file if it exists
        #[arg(long)]
        overwrite: bool,
    },
    /// Take back the last act of looking: frames marked, trails added, judged or removed
    Undo(StatementUndoArgs),
    /// Load the statements of another catalogue, from a file written by `statement save`
    Take(StatementTakeArgs),
}

/// Arguments of `statement take`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "Either all statements are loaded or none, and none is loaded twice. Frames are identified by the contents of their \
    files, whatever their names. Statements about frames that are not here wait for an ingest of their dump.\n\n\
    Examples:\n  framefall --catalogue new.sqlite ingest /media/archive-2/2023/card-a\n  \
    framefall --catalogue new.sqlite statement take statements.jsonl"
)]
pub struct StatementTakeArgs {
    /// The file
    #[arg(value_name = "FILE.jsonl")]
    pub from: PathBuf,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Arguments of `statement undo`.
#[derive(Args, Debug)]
pub struct StatementUndoArgs {
    /// State again what was taken back last, unless something else was stated since
    #[arg(long)]
    pub again: bool,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}
