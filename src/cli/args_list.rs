//! Arguments of the commands that answer queries, a sentence each. Decides nothing.

use clap::Args;
use clap::Subcommand;
use clap::ValueEnum;

use crate::cli::args_form::ListForm;
use crate::cli::args_form::RowForm;

/// Arguments of `frames`.
#[allow(clippy::struct_excessive_bools)] // flags of a command line are just that
#[derive(Args, Debug)]
#[command(
    after_long_help = "The query language: framefall frames --fields lists every field.\n\n\
    Examples:\n  framefall frames 'GEM.alt > 30 and moon.alt < 0'\n  \
    framefall frames 'night = 2023-12-13 and exposure in 10s..30s' --as csv\n  \
    framefall frames 'shower = PER and focal in 14..24 and kind = light' --as paths"
)]
pub struct FramesArgs {
    /// The conditions; all frames when there are none
    #[arg(value_name = "QUERY")]
    pub query: Option<String>,

    /// The form of the list
    #[arg(long = "as", value_enum, default_value_t = ListForm::Table)]
    pub form: ListForm,

    /// The columns, as fields with commas between them: start,GEM.alt,moon.alt
    #[arg(long, value_name = "FIELDS", conflicts_with_all = ["count", "per"])]
    pub show: Option<String>,

    /// What the list is ordered by, fields with commas between them: 'GEM.alt desc,start' [default: start]
    #[arg(long, value_name = "FIELDS", conflicts_with_all = ["count", "per"])]
    pub by: Option<String>,

    /// At most so many frames
    #[arg(long, value_name = "N", conflicts_with_all = ["count", "per"])]
    pub limit: Option<u64>,

    /// Only say how many there are
    #[arg(long)]
    pub count: bool,

    /// Say how many there are for each of these
    #[arg(long, value_enum, value_name = "KEY")]
    pub per: Option<PerForm>,

    /// Do not answer, but show the SQL and which index serves each step of it
    #[arg(long, conflicts_with_all = ["count", "per"])]
    pub explain: bool,

    /// List every field a query knows, with its unit and an example
    #[arg(long, conflicts_with_all = ["query", "form", "show", "by", "limit", "count", "per", "explain"])]
    pub fields: bool,
}

/// Commands of the saved queries.
#[derive(Debug, Subcommand)]
pub enum QueryCommand {
    /// Keep a query under a name; `@NAME` in another query stands for it
    Save {
        /// Its name
        #[arg(value_name = "NAME")]
        name: String,
        /// The conditions
        #[arg(value_name = "QUERY")]
        query: String,
    },
    /// List the saved queries
    List {
        /// The form of the list
        #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
        form: RowForm,
    },
    /// Forget a saved query
    Remove {
        /// Its name
        #[arg(value_name = "NAME")]
        name: String,
    },
}

/// What frames are counted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PerForm {
    /// Session
    Session,
    /// Night
    Night,
    /// Year of the night
    Year,
    /// Site
    Site,
    /// Body
    Camera,
    /// Every active shower: a frame counts for each
    Shower,
}
