//! The words of `framefall body`. Decides nothing.

use clap::Subcommand;

use crate::cli::args_form::RowForm;

/// Commands about camera bodies.
#[derive(Debug, Subcommand)]
pub enum BodyCommand {
    /// List the bodies: serial numbers, frames, first and last night, what is stated of their clocks
    List {
        /// The form of the list
        #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
        form: RowForm,
    },
}
