//! Commands and flags, a sentence each. Decides nothing.

use std::path::PathBuf;

use clap::Args;
use clap::Parser;
use clap::Subcommand;
use clap::ValueEnum;

use crate::cli::args_clock::ClockCommand;
use crate::cli::args_dump::DumpCommand;
use crate::cli::args_export::ExportArgs;
use crate::cli::args_form::RowForm;
use crate::cli::args_list::FramesArgs;
use crate::cli::args_list::QueryCommand;
use crate::cli::args_site::SiteCommand;
use crate::cli::args_statement::StatementCommand;
use crate::cli::places::CATALOGUE_VARIABLE;

/// The catalogue of a meteor-shower photographer: every frame with its true time, its place, and where the
/// shower's radiant stood.
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

    /// Say nothing but what was asked for and what went wrong
    #[arg(long, short, global = true)]
    pub quiet: bool,

    /// No colours (the `NO_COLOR` convention is honoured too)
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
    /// Walk card dumps, read what the cameras wrote, group sessions, compute the sky for every frame
    Ingest(IngestArgs),
    /// List sessions, or show one in full
    Sessions(SessionsArgs),
    /// List the frames that satisfy a query
    Frames(FramesArgs),
    /// Write a frame list for the stacking step
    Export(ExportArgs),
    /// Write a night, a session or whole years as one HTML page with plots and pictures
    Report(ReportArgs),
    /// Keep queries by name, for @name in another query
    #[command(subcommand)]
    Query(QueryCommand),
    /// Keep the site book: where the tripod stood
    #[command(subcommand)]
    Site(SiteCommand),
    /// Put bodies' clocks right: clock fixes, and the zones they were set to
    #[command(subcommand)]
    Clock(ClockCommand),
    /// The card dumps: where they lie, and where they have moved
    #[command(subcommand)]
    Dump(DumpCommand),
    /// What you have stated: list it, keep it in a file, take it over from another catalogue
    #[command(subcommand)]
    Statement(StatementCommand),
    /// The shower table: what is active on a date, and where the radiants stand from a site
    ///
    /// Peaks are shown as well as their source knows them: `± h` says to how many hours. A shower marked `var` varies from year
    /// to year and counts as ZHR 1. `rate` is under a 6.5-magnitude sky, `seen rate` under the site's own, with twilight and
    /// moonlight.
    Showers(ShowersArgs),
    /// What is missing, moved, changed, damaged or undated in the catalogue
    Audit(AuditArgs),
    /// Make derived rows again: times, places, sky and sessions, from what cameras wrote and you stated
    Rebuild(RebuildArgs),
    /// The whole job on the demo data, in a throw-away catalogue
    Demo,
}

/// Arguments of `ingest`.
#[derive(Args, Debug)]
pub struct IngestArgs {
    /// Folders copied off (or still on) memory cards; they are only read
    #[arg(required = true, value_name = "DUMP")]
    pub dumps: Vec<PathBuf>,

    /// The site of frames that say no position of their own
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,

    /// Take folders that are not known as new dumps, even one that looks like a dump that has moved
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
    #[arg(value_name = "ID")]
    pub id: Option<i64>,

    /// The form of the list
    #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
    pub form: RowForm,
}

/// Commands of `sessions`.
#[derive(Debug, Subcommand)]
pub enum SessionsCommand {
    /// Say what frames of a session are for, or the focal length of a lens that does not say
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
    #[arg(value_name = "SESSION")]
    pub session: i64,

    /// What its frames are for; goes before all that can be told from them
    #[arg(long, value_enum, value_name = "KIND", group = "what")]
    pub kind: Option<KindWord>,

    /// The focal length in millimetres of a lens that the body does not know
    #[arg(long, value_name = "MM", group = "what")]
    pub focal: Option<f64>,

    /// Take back what was said of kind and focal length
    #[arg(long, group = "what", conflicts_with_all = ["kind", "focal"])]
    pub unsaid: bool,

    /// Only these, by their position in the session: 3, or 1..5
    #[arg(long, value_name = "FIRST..LAST")]
    pub frames: Option<String>,
}

/// Kinds of frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum KindWord {
    /// The sky
    Light,
    /// A capped exposure that records the sensor's heat
    Dark,
    /// An even field that records the lens's shading and dust
    Flat,
    /// A shortest exposure that records the read-out
    Bias,
    /// A focus or framing test
    Trial,
}

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

    /// Years instead: 2023, or 2021..2024; may be given more than once
    #[arg(long, value_name = "YEAR", group = "which", num_args = 1..)]
    pub season: Vec<String>,

    /// The file to write
    #[arg(long, value_name = "FILE.html")]
    pub to: PathBuf,

    /// No pictures: the raw files need not be there
    #[arg(long)]
    pub no_pictures: bool,

    /// Replace the file if it exists
    #[arg(long)]
    pub overwrite: bool,
}

/// Arguments of `showers`.
#[derive(Args, Debug)]
pub struct ShowersArgs {
    /// The instant, such as 2026-12-14T02:00Z, or a date (its 0h UTC) [default: now]
    #[arg(long, value_name = "UTC")]
    pub on: Option<String>,

    /// The site from which the radiants are seen
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,

    /// Every shower of the table, active or not
    #[arg(long)]
    pub all: bool,

    /// The form of the list
    #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
    pub form: RowForm,
}

/// Arguments of `rebuild`.
#[derive(Args, Debug)]
#[command(
    after_long_help = "Without an option every frame's rows are made again. A run that was stopped is carried on by the next.\n\n\
    Examples:\n  framefall rebuild\n  framefall rebuild --night 2023-12-13\n  framefall rebuild --session 7"
)]
pub struct RebuildArgs {
    /// Only the frames of this night, by the evening's date
    #[arg(long, value_name = "DATE")]
    pub night: Option<String>,

    /// Only the frames of this session
    #[arg(long, value_name = "NUMBER", conflicts_with = "night")]
    pub session: Option<i64>,
}

/// Arguments of `audit`.
#[derive(Args, Debug)]
pub struct AuditArgs {
    /// Also look on the disk for files that are missing or have changed
    #[arg(long)]
    pub disk: bool,

    /// List every code of a finding, what it means and what to do
    #[arg(long)]
    pub codes: bool,

    /// The form of the list
    #[arg(long = "as", value_enum, default_value_t = RowForm::Table)]
    pub form: RowForm,
}
