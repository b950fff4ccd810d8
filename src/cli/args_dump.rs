//! The words of `framefall dump`. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::cli::args_form::RowForm;

/// Commands of `dump`.
#[derive(Debug, Subcommand)]
pub enum DumpCommand {
    /// List the dumps: location, disk, whether it is connected, contents
    List {
        /// The format of the list
        #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
        form: RowForm,
    },
    /// What is proved of a dump: verified copies file by file, on how many devices, read back when
    Proof {
        /// The dump's label
        #[arg(value_name = "LABEL")]
        label: String,
        /// The format of the list
        #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
        form: RowForm,
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
