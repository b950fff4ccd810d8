//! Commands and flags, a sentence each. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Parser;
use clap::Subcommand;

use crate::cli::args_audit::AuditArgs;
use crate::cli::args_body::BodyCommand;
use crate::cli::args_clock::ClockCommand;
use crate::cli::args_copy::CopyArgs;
use crate::cli::args_dump::DumpCommand;
use crate::cli::args_examine::ExamineArgs;
use crate::cli::args_examine::PointingArgs;
use crate::cli::args_export::ExportArgs;
use crate::cli::args_form::ROW_FORMS;
use crate::cli::args_list::FramesArgs;
use crate::cli::args_list::QueryCommand;
use crate::cli::args_look::DemoArgs;
use crate::cli::args_look::LookArgs;
use crate::cli::args_site::SiteCommand;
use crate::cli::args_statement::StatementCommand;
use crate::cli::args_trails::TrailsArgs;
use crate::cli::places::CATALOGUE_VARIABLE;
use crate::cli::values;
use crate::cli::values::Word;
use crate::cli::values::words;
use crate::framelist::Format;
use crate::terms::basis::Kind;

/// The catalogue of a meteor-shower photographer: every frame with its true time, its place, and the position of
/// the shower's radiant.
#[allow(clippy::struct_excessive_bools)] // flags of a command line are just that
#[derive(Debug, Parser)]
#[command(
    name = "framefall",
    disable_version_flag = true,
    max_term_width = 100,
    arg_required_else_help = true
)]
pub struct Arguments {
    /// The catalogue file [default: catalogue.sqlite in your data directory]
    #[arg(long, global = true, env = CATALOGUE_VARIABLE, value_name = "FILE")]
    pub catalogue: Option<PathBuf>,

    /// Print only answers and errors
    #[arg(long, short, global = true)]
    pub quiet: bool,

    /// Print without colours (the `NO_COLOR` convention is also supported)
    #[arg(long, global = true)]
    pub no_colour: bool,

    /// Print the version
    #[arg(long, short = 'V')]
    pub version: bool,

    /// Print the licences and notices of everything inside this program
    #[arg(long)]
    pub licences: bool,

    /// What to do
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Copy a card to one or more targets, verified by reading back, and ingest it
    Copy(CopyArgs),
    /// Read card dumps, group sessions, and compute the sky for every frame
    Ingest(IngestArgs),
    /// List sessions, or show one in full
    Sessions(SessionsArgs),
    /// List the frames that match a query; state which you looked at and chose
    Frames(FramesArgs),
    /// List trails in pictures; state where they are and what each is
    Trails(TrailsArgs),
    /// Look through frames in the browser: mark them, draw and judge trails
    Look(LookArgs),
    /// Write a frame list for the stacking step
    Export(ExportArgs),
    /// Write a night, a session or whole years as an HTML page with plots and pictures
    Report(ReportArgs),
    /// Save, list and remove named queries, for @name in other queries
    #[command(subcommand)]
    Query(QueryCommand),
    /// Add, list, change and assign sites: the places of your tripod
    #[command(subcommand)]
    Site(SiteCommand),
    /// Correct camera clocks: clock fixes, and the zones they were set to
    #[command(subcommand)]
    Clock(ClockCommand),
    /// The camera bodies: what each took, and when
    #[command(subcommand)]
    Body(BodyCommand),
    /// List, move and rename card dumps
    #[command(subcommand)]
    Dump(DumpCommand),
    /// List your statements, save them to a file, load them from another catalogue
    #[command(subcommand)]
    Statement(StatementCommand),
    /// Show which showers are active on a date, and where their radiants are at a site
    ///
    /// Peaks are shown as precisely as their source gives them: `± h` is the uncertainty in hours. A shower marked `var` varies
    /// from year to year and counts as ZHR 1. `rate` is for a 6.5-magnitude sky, `seen rate` for the site's own sky, with
    /// twilight and moonlight.
    Showers(ShowersArgs),
    /// Look into the pictures: count stars, measure their widths, find out where the camera pointed
    ///
    /// The largest JPEG that each file embeds is decoded, or the file itself where it is one; raw data is not read. What was examined
    /// before is not examined again. Ctrl-C stops it, and the next run carries on.
    Examine(ExamineArgs),
    /// Where each session's camera pointed, and how well that is known
    Pointing(PointingArgs),
    /// List what is missing, moved, changed, damaged or undated
    Audit(AuditArgs),
    /// Copy the catalogue to another file, and check the copy
    Backup(BackupArgs),
    /// Recompute derived rows (times, places, sky and sessions) from the cameras' data and your statements
    Rebuild(RebuildArgs),
    /// Run the whole job on the demo data, in a throw-away catalogue
    Demo(DemoArgs),
}

/// Arguments of `ingest`.
#[derive(Args, Debug)]
pub struct IngestArgs {
    /// Folders copied from memory cards, or the cards themselves; they are only read
    #[arg(required = true, value_name = "DUMP")]
    pub dumps: Vec<PathBuf>,

    /// The site of frames without a GPS position of their own
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,

    /// Then examine the pictures: find stars, and where the camera pointed
    #[arg(long)]
    pub examine: bool,

    /// Treat unknown folders as new dumps, even one that looks like a moved dump
    #[arg(long)]
    pub as_new: bool,

    /// How many files to read at once; 1 suits slow card readers and spinning disks
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=64))]
    pub readers: Option<u16>,
}

/// Arguments of `sessions`.
#[derive(Args, Debug)]
#[command(args_conflicts_with_subcommands = true)]
pub struct SessionsArgs {
    /// What to do instead of listing
    #[command(subcommand)]
    pub command: Option<SessionsCommand>,

    /// The session to show in full
    #[arg(value_name = "NUMBER", allow_negative_numbers = true, value_parser = values::session)]
    pub id: Option<i64>,

    /// The columns, separated by commas: session,local,frames
    #[arg(long, value_name = "COLUMNS")]
    pub show: Option<String>,

    /// Show start and end in UTC instead of the local time of the site
    #[arg(long, conflicts_with = "show")]
    pub utc: bool,

    /// The format of the list
    #[arg(long = "as", value_parser = words(ROW_FORMS), default_value = "table")]
    pub form: Format,
}

/// Commands of `sessions`.
#[derive(Debug, Subcommand)]
pub enum SessionsCommand {
    /// State the kind of a session's frames, or the focal length of a lens that does not report it
    Mark(MarkArgs),
}

/// Arguments of `sessions mark`.
#[derive(Args, Debug)]
#[command(
    group = clap::ArgGroup::new("what").required(true).multiple(true),
    after_long_help = "Examples:\n  framefall sessions mark 4 --kind dark\n  \
    framefall sessions mark 4 --kind trial --frames 1..3\n  framefall sessions mark 7 --focal 14"
)]
pub struct MarkArgs {
    /// The session's number
    #[arg(value_name = "SESSION", allow_negative_numbers = true, value_parser = values::session)]
    pub session: i64,

    /// The frames' kind; overrides detection
    #[arg(long, value_parser = words(KINDS), value_name = "KIND", group = "what")]
    pub kind: Option<Kind>,

    /// The focal length in millimetres, for a lens that does not report it
    #[arg(long, value_name = "MM", group = "what", allow_negative_numbers = true, value_parser = values::millimetres)]
    pub focal: Option<f64>,

    /// Remove the stated kind and focal length
    #[arg(long, group = "what", conflicts_with_all = ["kind", "focal"])]
    pub clear: bool,

    /// Only these frames, by their position in the session: 3, or 1..5
    #[arg(long, value_name = "FIRST..LAST")]
    pub frames: Option<String>,
}

/// Kinds of frame.
pub const KINDS: &[Word<Kind>] = &[
    ("light", Kind::Light, "The sky"),
    (
        "dark",
        Kind::Dark,
        "A capped exposure that records the sensor's heat",
    ),
    (
        "flat",
        Kind::Flat,
        "An even field that records the lens's shading and dust",
    ),
    (
        "bias",
        Kind::Bias,
        "A shortest exposure that records the read-out",
    ),
    ("trial", Kind::Trial, "A focus or framing test"),
];

/// Arguments of `report`.
#[derive(Args, Debug)]
#[command(
    group = clap::ArgGroup::new("which").required(true),
    after_long_help = "Examples:\n  framefall report 2023-12-13 --to geminids.html\n  \
    framefall report 7 --to session-7.html\n  framefall report --season 2021..2024 --to archive.html"
)]
pub struct ReportArgs {
    /// The night, as the evening's date, or the number of a session
    #[arg(value_name = "NIGHT|SESSION", group = "which")]
    pub of: Option<String>,

    /// Whole years: 2023, or 2021..2024; may be given more than once
    #[arg(long, value_name = "YEAR", group = "which", num_args = 1..)]
    pub season: Vec<String>,

    /// The file to write
    #[arg(long, value_name = "FILE.html")]
    pub to: PathBuf,

    /// Leave out pictures; the raw files need not be there
    #[arg(long)]
    pub no_pictures: bool,

    /// Replace the file if it exists
    #[arg(long)]
    pub overwrite: bool,
}

/// Arguments of `showers`.
#[derive(Args, Debug)]
pub struct ShowersArgs {
    /// One shower in full, by its code or its name: activity, peak, radiant, speed, source
    #[arg(value_name = "SHOWER")]
    pub shower: Option<String>,

    /// The instant, such as 2026-12-14T02:00Z, or a date (its 0h UTC) [default: now]
    #[arg(long, value_name = "UTC")]
    pub on: Option<String>,

    /// The site for which radiants are computed
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,

    /// List every shower of the table, active or not
    #[arg(long, conflicts_with = "shower")]
    pub all: bool,

    /// The format of the list
    #[arg(long = "as", value_parser = words(ROW_FORMS), default_value = "table")]
    pub form: Format,
}

/// Arguments of `backup`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "Other commands may read and write the catalogue meanwhile. To restore a backup, put it in the \
    catalogue's place: docs/catalogue.md.\n\nExample:\n  framefall backup /media/archive-2/framefall-2026-12.sqlite"
)]
pub struct BackupArgs {
    /// The file to write, best on another disk
    #[arg(value_name = "FILE")]
    pub to: PathBuf,

    /// Replace an older backup of that name
    #[arg(long)]
    pub overwrite: bool,
}

/// Arguments of `rebuild`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "Without an option, the rows of every frame are recomputed. If a run is stopped, the next one continues it.\n\n\
    Examples:\n  framefall rebuild\n  framefall rebuild --night 2023-12-13\n  framefall rebuild --session 7\n  framefall rebuild --statements"
)]
pub struct RebuildArgs {
    /// Only the frames of this night, by the evening's date
    #[arg(long, value_name = "DATE")]
    pub night: Option<String>,

    /// Only the frames of this session
    #[arg(long, value_name = "NUMBER", allow_negative_numbers = true, value_parser = values::session, conflicts_with = "night")]
    pub session: Option<i64>,

    /// Only what differs from the log of your statements
    #[arg(long, conflicts_with_all = ["night", "session"])]
    pub statements: bool,
}
