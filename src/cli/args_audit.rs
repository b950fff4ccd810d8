//! Arguments of `audit`. Decides nothing.

use clap::Args;

use crate::cli::args_form::ROW_FORMS;
use crate::cli::values;
use crate::cli::values::Word;
use crate::cli::values::words;
use crate::framelist::Format;
use crate::terms::finding::Severity;

/// Arguments of `audit`.
#[allow(clippy::struct_excessive_bools)] // flags of a command line are just that
#[derive(Args, Debug)]
#[command(
    after_long_help = "Without --all it sums up: each kind of finding, the worst first, with a count and what to do for every \
    session or dump that has it. Lists as csv, json and jsonl always have a row for each finding. The exit code is 1 where a \
    finding of weight damage or warning is among those asked for.\n\n\
    Examples:\n  framefall audit\n  framefall audit --code no-place\n  \
    framefall audit --all --weight damage\n  framefall audit --session 4 --as csv\n  framefall audit --content --for 2h"
)]
pub struct AuditArgs {
    /// List each finding by itself, notes with nothing to do included
    #[arg(long)]
    pub all: bool,

    /// Only findings of this code; may be given more than once
    #[arg(long, value_name = "CODE")]
    pub code: Vec<String>,

    /// Only findings of this dump's files; may be given more than once
    #[arg(long, value_name = "LABEL")]
    pub dump: Vec<String>,

    /// Only findings of this session's frames; may be given more than once
    #[arg(long, value_name = "NUMBER")]
    pub session: Vec<i64>,

    /// Only findings of this weight; may be given more than once
    #[arg(long, value_parser = words(WEIGHTS), value_name = "WEIGHT")]
    pub weight: Vec<Severity>,

    /// Also look on the disk for files that are missing or have changed
    #[arg(long)]
    pub disk: bool,

    /// Read files back, those checked longest ago first, and compare them with their hashes
    #[arg(long, conflicts_with_all = ["all", "code", "session", "weight", "disk"])]
    pub content: bool,

    /// Begin no further file after this time, such as 30min or 2h
    #[arg(long = "for", value_name = "TIME", requires = "content", value_parser = values::duration_s)]
    pub time: Option<f64>,

    /// Begin no further file after this amount, such as 200GB
    #[arg(long, value_name = "AMOUNT", requires = "content", value_parser = values::bytes)]
    pub at_most: Option<u64>,

    /// List every code of a finding, what it means and what to do
    #[arg(long, conflicts_with_all = ["all", "code", "dump", "session", "weight", "disk", "content"])]
    pub codes: bool,

    /// The form of the list
    #[arg(long = "as", value_parser = words(ROW_FORMS), default_value = "table")]
    pub form: Format,
}

/// Weights of findings.
pub const WEIGHTS: &[Word<Severity>] = &[
    ("damage", Severity::Damage, "A picture may be lost"),
    (
        "warning",
        Severity::Warning,
        "Something is unknown that should be known",
    ),
    ("note", Severity::Note, "Worth knowing; nothing is lost"),
];
