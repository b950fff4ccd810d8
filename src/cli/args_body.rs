//! The words of `framefall body`. Decides nothing.

use clap::Subcommand;

use crate::cli::args_form::ROW_FORMS;
use crate::cli::values::words;
use crate::framelist::Format;

/// Commands about camera bodies.
#[derive(Debug, Subcommand)]
pub enum BodyCommand {
    /// List the bodies: serial numbers, frames, first and last night, what is stated of their clocks
    List {
        /// The form of the list
        #[arg(long = "as", value_parser = words(ROW_FORMS), default_value = "table")]
        form: Format,
    },
}
