//! `framefall pointing`.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::args_examine::PointingArgs;
use crate::cli::args_examine::PointingCommand;
use crate::cli::args_examine::PointingExportArgs;
use crate::cli::args_examine::PointingStateArgs;
use crate::cli::commands::changed::mode;
use crate::cli::commands::changed::open_to_state;
use crate::cli::commands::changed::print_lines;
use crate::cli::commands::changed::purpose;
use crate::cli::commands::rebuild::warn_if_stale;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::setting::Setting;
use crate::output::atomic_file::AtomicFile;
use crate::terms::failure::Failure;
use crate::terms::stated_pointing::Mount;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::examine::scope::lights_of;
use crate::usecase::examine::sessions::pointing_sheet;
use crate::usecase::examine::stated::PointingStated;
use crate::usecase::examine::stated::remove_pointing;
use crate::usecase::examine::stated::state_pointing;
use crate::usecase::examine::wcs::header_of;
use crate::usecase::listings::frames::why_none;
use crate::usecase::looking::mark::frames_of;
use crate::usecase::looking::trails::frame_named;

/// So many bytes of a file are searched for a header: more than the picture of any camera takes in front of it.
const MOST_BYTES: u64 = 1_000_000_000;

/// Runs the command.
pub fn run(setting: &Setting, args: &PointingArgs) -> Result<Outcome, Failure> {
    match &args.command {
        Some(PointingCommand::State(args)) => return state(setting, args),
        Some(PointingCommand::Remove(args)) => {
            let mut catalogue = open_to_state(setting, purpose(args.dry_run))?;
            let Some(frames) = frames(&catalogue, &args.of)? else {
                return Ok(Outcome::NeedsAttention);
            };
            let mode = mode(args.dry_run);
            let done = remove_pointing(&mut catalogue, &frames, mode)?;
            return told(setting, &done, mode);
        }
        Some(PointingCommand::Export(args)) => return export(setting, args),
        None => {}
    }
    let catalogue = setting.open(Purpose::Read)?;
    let compiled = lights_of(&catalogue, args.of.as_deref())?;
    warn_if_stale(&catalogue)?;
    let sheet = pointing_sheet(&catalogue, &compiled)?;
    let none = sheet.rows.is_empty();
    print::sheet(sheet, args.form)?;
    if none {
        print::warn(&why_none(&catalogue, &compiled)?);
        return Ok(Outcome::NeedsAttention);
    }
    Ok(Outcome::Done)
}

fn state(setting: &Setting, args: &PointingStateArgs) -> Result<Outcome, Failure> {
    let bytes = read(&args.wcs)?;
    let mut catalogue = open_to_state(setting, purpose(args.dry_run))?;
    let Some(frames) = frames(&catalogue, &args.of)? else {
        return Ok(Outcome::NeedsAttention);
    };
    let solved = match &args.frame {
        Some(name) => Some(frame_named(&catalogue, name)?),
        None => None,
    };
    let mount = if args.tracked {
        Mount::Tracked
    } else {
        Mount::Tripod
    };
    let mode = mode(args.dry_run);
    let done = state_pointing(&mut catalogue, &frames, solved, &bytes, mount, mode)
        .map_err(|failure| failure.at_file(&args.wcs))?;
    told(setting, &done, mode)
}

fn told(setting: &Setting, done: &PointingStated, mode: Mode) -> Result<Outcome, Failure> {
    let mut lines = Lines::default();
    if let Some(stated) = &done.stated {
        let left = format!("{:.2} px", stated.residual_px);
        lines
            .put("pointing", stated.words())
            .put("  left by our lens", left);
    }
    print_lines(setting, lines, &done.done, mode)
}

fn export(setting: &Setting, args: &PointingExportArgs) -> Result<Outcome, Failure> {
    let catalogue = setting.open(Purpose::Read)?;
    let frame_id = frame_named(&catalogue, &args.frame)?;
    let bytes = header_of(&catalogue, frame_id)?;
    AtomicFile::write(&args.wcs, args.overwrite, "header", &bytes)?;
    setting.say(&format!("wrote {}", print::path(&args.wcs)));
    Ok(Outcome::Done)
}

/// The frames that are meant; nothing, with the reason told, where there are none.
fn frames(catalogue: &Catalogue, of: &str) -> Result<Option<Vec<i64>>, Failure> {
    let compiled = lights_of(catalogue, Some(of))?;
    let frames = frames_of(catalogue, &compiled.tree)?;
    if frames.is_empty() {
        print::warn(&why_none(catalogue, &compiled)?);
        return Ok(None);
    }
    Ok(Some(frames))
}

fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(MOST_BYTES).read_to_end(&mut bytes))
        .map_err(|error| {
            Failure::words("the file cannot be read")
                .at_file(path)
                .because(error)
        })?;
    Ok(bytes)
}
