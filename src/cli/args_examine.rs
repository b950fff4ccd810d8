//! Arguments of `examine` and `pointing`. Decides nothing.

use clap::Args;

use crate::cli::args_form::RowForm;

/// Arguments of `examine`.
#[derive(Args, Debug)]
#[command(
    group = clap::ArgGroup::new("which").required(true),
    after_long_help = "Examples:\n  framefall examine 2023-12-13\n  framefall examine 7\n  \
    framefall examine 'focal <= 24mm and night in 2023'\n  framefall examine --all"
)]
pub struct ExamineArgs {
    /// The night, as the evening's date, the number of a session, or a query
    #[arg(value_name = "NIGHT|SESSION|QUERY", group = "which")]
    pub of: Option<String>,

    /// Every frame but darks, flats and bias frames
    #[arg(long, group = "which")]
    pub all: bool,

    /// Also those that were examined before
    #[arg(long)]
    pub again: bool,
}

/// Arguments of `pointing`.
#[derive(Args, Debug)]
pub struct PointingArgs {
    /// The night, as the evening's date, the number of a session, or a query [default: every session]
    #[arg(value_name = "NIGHT|SESSION|QUERY")]
    pub of: Option<String>,

    /// The form of the list
    #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
    pub form: RowForm,
}
