//! Arguments of `examine` and `pointing`. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Subcommand;

use crate::cli::args_form::ROW_FORMS;
use crate::cli::values::words;
use crate::framelist::Format;

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
#[command(
    args_conflicts_with_subcommands = true,
    after_long_help = "Examples:\n  framefall pointing 2023-12-13\n  framefall pointing state 4 --frame N6A_0442.DNG --wcs solved.fits\n  \
    framefall pointing export N6A_0442.DNG --wcs N6A_0442.fits"
)]
pub struct PointingArgs {
    /// What to do instead of listing
    #[command(subcommand)]
    pub command: Option<PointingCommand>,

    /// The night, as the evening's date, the number of a session, or a query [default: every session]
    #[arg(value_name = "NIGHT|SESSION|QUERY")]
    pub of: Option<String>,

    /// The form of the list
    #[arg(long = "as", value_parser = words(ROW_FORMS), default_value = "table")]
    pub form: Format,
}

/// Commands of `pointing`.
#[derive(Debug, Subcommand)]
pub enum PointingCommand {
    /// State where the camera pointed, by the header of a FITS file that solves one of the frames
    State(PointingStateArgs),
    /// Remove what is stated of where the camera pointed
    Remove(PointingRemoveArgs),
    /// Write where a frame's camera pointed as the header of a FITS file
    Export(PointingExportArgs),
}

/// Arguments of `pointing state`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "The header is read by the FITS standard: TAN, ZPN, STG, ARC, ZEA or SIN, with the distortion SIP, for the picture as the \
    camera stored it, at any size. It goes before what was measured in the frames.\n\nThe other frames follow from the solved one: on a tripod the sky has turned by \
    the time between them, as the camera clock has it.\n\n\
    Examples:\n  framefall pointing state 4 --frame N6A_0442.DNG --wcs solved.fits\n  \
    framefall pointing state 'file = N6A_0442.DNG' --wcs solved.wcs\n  \
    framefall pointing state 5 --frame N6A_0801.DNG --wcs solved.fits --tracked"
)]
pub struct PointingStateArgs {
    /// The night, as the evening's date, the number of a session, or a query
    #[arg(value_name = "NIGHT|SESSION|QUERY")]
    pub of: String,

    /// The FITS file, or its header saved as text
    #[arg(long, value_name = "FILE")]
    pub wcs: PathBuf,

    /// The frame that it solves: the name of its file [default: the only one]
    #[arg(long, value_name = "FILE")]
    pub frame: Option<String>,

    /// The camera followed the stars, so every frame shows the same sky
    #[arg(long)]
    pub tracked: bool,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Arguments of `pointing remove`.
#[derive(Args, Debug)]
pub struct PointingRemoveArgs {
    /// The night, as the evening's date, the number of a session, or a query
    #[arg(value_name = "NIGHT|SESSION|QUERY")]
    pub of: String,

    /// Show what would change, and change nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Arguments of `pointing export`.
#[derive(Args, Debug)]
pub struct PointingExportArgs {
    /// The frame: the name of its file, or a query that selects it alone
    #[arg(value_name = "FRAME")]
    pub frame: String,

    /// The FITS file to write: a header without a picture, TAN or ZPN
    #[arg(long, value_name = "FILE")]
    pub wcs: PathBuf,

    /// Replace the file if it exists
    #[arg(long)]
    pub overwrite: bool,
}
