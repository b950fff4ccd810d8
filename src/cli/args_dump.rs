//! The words of `framefall dump`. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::cli::args_form::RowForm;

/// Commands of `dump`.
#[derive(Debug, Subcommand)]
pub enum DumpCommand {
    /// List the dumps: where each lies, on which disk, whether that is here, what it holds
    List {
        /// The form of the list
        #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
        form: RowForm,
    },
    /// Say where a dump lies now; its files are looked for there, not read again
    Move(DumpMoveArgs),
    /// Give a dump another label
    Rename {
        /// The dump's label
        #[arg(value_name = "LABEL")]
        label: String,
        /// Another that no other dump has
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

    /// The folder that holds now what its root held
    #[arg(value_name = "NEWROOT")]
    pub to: PathBuf,

    /// Also where some of the files looked for are missing or changed; more than half must be as they were
    #[arg(long)]
    pub mostly: bool,
}
