//! `framefall frames mark`.

use crate::cli::args_list::FramesMarkArgs;
use crate::cli::args_list::LookField;
use crate::cli::commands::changed::mode;
use crate::cli::commands::changed::open_to_state;
use crate::cli::commands::changed::purpose;
use crate::cli::commands::changed::tell_lines;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::setting::Setting;
use crate::terms::failure::Failure;
use crate::usecase::listings::answers::compile_with_names;
use crate::usecase::listings::answers::names_saved_queries;
use crate::usecase::listings::frames::compile;
use crate::usecase::listings::frames::why_none;
use crate::usecase::looking::mark::LookSaid;
use crate::usecase::looking::mark::frames_of;
use crate::usecase::looking::mark::mark_frames;
use crate::usecase::looking::mark::parse_note;

/// Runs the command.
pub fn run(setting: &Setting, args: &FramesMarkArgs) -> Result<Outcome, Failure> {
    let said = said(args)?;
    // A mistake in the query is found before a catalogue is opened.
    if !names_saved_queries(&args.query) {
        compile(&args.query)?;
    }
    let mut catalogue = open_to_state(setting, purpose(args.dry_run))?;
    let compiled = compile_with_names(&catalogue, &args.query)?;
    let frames = frames_of(&catalogue, &compiled.tree)?;
    if frames.is_empty() {
        print::warn(&why_none(&catalogue, &compiled)?);
        return Ok(Outcome::NeedsAttention);
    }
    let mode = mode(args.dry_run);
    let marked = mark_frames(&mut catalogue, &frames, &said, mode)?;
    let mut lines = Lines::default();
    lines
        .put("frames of the query", marked.frames)
        .put("  changed", marked.changed);
    tell_lines(setting, &lines, mode)
}

fn said(args: &FramesMarkArgs) -> Result<LookSaid, Failure> {
    let is_cleared = |field: LookField| args.clear.contains(&field);
    Ok(LookSaid {
        looked: args
            .looked
            .or_else(|| is_cleared(LookField::Looked).then_some(false)),
        chosen: args
            .chosen
            .map(Some)
            .or_else(|| is_cleared(LookField::Chosen).then_some(None)),
        note: match &args.note {
            Some(text) => Some(parse_note(text)?),
            None => is_cleared(LookField::Note).then_some(None),
        },
    })
}
