//! `framefall frames mark`.

use crate::cli::args_list::FramesMarkArgs;
use crate::cli::args_list::LookField;
use crate::cli::args_list::YesNo;
use crate::cli::commands::changed::mode;
use crate::cli::commands::changed::purpose;
use crate::cli::commands::changed::say_if_dry;
use crate::cli::commands::rebuild::open_to_state;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Quiet;
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
    if setting.quiet == Quiet::No {
        let lines = vec![
            ("frames of the query".to_owned(), marked.frames.to_string()),
            ("  changed".to_owned(), marked.changed.to_string()),
        ];
        print::answer(|out| print::pairs(out, &lines))?;
        say_if_dry(mode);
    }
    Ok(Outcome::Done)
}

fn said(args: &FramesMarkArgs) -> Result<LookSaid, Failure> {
    let is_cleared = |field: LookField| args.clear.contains(&field);
    let is_yes = |word: YesNo| word == YesNo::Yes;
    Ok(LookSaid {
        looked: args
            .looked
            .map(is_yes)
            .or_else(|| is_cleared(LookField::Looked).then_some(false)),
        chosen: args
            .chosen
            .map(|word| Some(is_yes(word)))
            .or_else(|| is_cleared(LookField::Chosen).then_some(None)),
        note: match &args.note {
            Some(text) => Some(parse_note(text)?),
            None => is_cleared(LookField::Note).then_some(None),
        },
    })
}
