//! The words of `framefall dump`. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::cli::args_form::ListArgs;
use crate::cli::args_form::ROW_FORMS;
use crate::cli::values::words;
use crate::framelist::Format;

/// Commands of `dump`.
#[derive(Debug, Subcommand)]
pub enum DumpCommand {
    /// List the dumps: location, disk, whether it is connected, contents
    List(ListArgs),
    /// What is proved of a dump: verified copies file by file, on how many devices, read back when
    Proof {
        /// The dump's label
        #[arg(value_name = "LABEL")]
        label: String,
        /// The format of the list
        #[arg(long = "as", value_parser = words(ROW_FORMS), default_value = "table")]
        form: Format,
    },
    /// Write a list of hashes for sha256sum --check; files that were never hashed are read
    Hashes {
        /// The dump's label
        #[arg(value_name = "LABEL")]
        label: String,
        /// The file to write
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
        /// Replace the file if it exists
        #[arg(long)]
        overwrite: bool,
    },
    /// Tell framefall the new location of a dump; its files are checked there, not read again
    Move(DumpMoveArgs),
    /// Give a dump another label
    Rename {
        /// The dump's label
        #[arg(value_name = "LABEL")]
        label: String,
        /// The new label, which no other dump may have
        #[arg(value_name = "NEWLABEL")]
        new: String,
    },
    /// Remove a dump from the catalogue, after saying what would go; its files stay as they are, and your statements are kept
    Remove(DumpRemoveArgs),
}

/// Arguments of `dump move`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "Examples:\n  framefall dump move card-a /media/archive-2/2023/card-a\n  \
    framefall dump move card-a /media/archive-2/2023/card-a --mostly"
)]
pub struct DumpMoveArgs {
    /// The dump's label
    #[arg(value_name = "LABEL")]
    pub label: String,

    /// The folder that now has the contents of its old root
    #[arg(value_name = "NEWROOT")]
    pub to: PathBuf,

    /// Accept the move if more than half of the checked files match
    #[arg(long)]
    pub mostly: bool,
}

/// Arguments of `dump remove`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "Frames that another dump has too stay. What you stated of the others is kept, and holds again when the dump is \
    ingested again; so do the numbers of their sessions.\n\nExamples:\n  framefall dump remove card-a --dry-run\n  \
    framefall dump remove card-a --yes"
)]
pub struct DumpRemoveArgs {
    /// The dump's label
    #[arg(value_name = "LABEL")]
    pub label: String,

    /// Say what would go, and change nothing
    #[arg(long)]
    pub dry_run: bool,

    /// Do not ask
    #[arg(long, conflicts_with = "dry_run")]
    pub yes: bool,
}
