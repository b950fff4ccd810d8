//! `framefall examine`.

use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::args_examine::ExamineArgs;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::query::Compiled;
use crate::terms::failure::Failure;
use crate::usecase::examine::Again;
use crate::usecase::examine::Examined;
use crate::usecase::examine::examine_frames;
use crate::usecase::examine::scope::lights_in;
use crate::usecase::examine::scope::lights_of;
use crate::usecase::listings::frames::why_none;

/// Runs the command.
pub fn run(setting: &Setting, args: &ExamineArgs) -> Result<Outcome, Failure> {
    let mut catalogue = setting.open(Purpose::Change)?;
    let compiled = lights_of(&catalogue, args.of.as_deref())?;
    let again = if args.again {
        Again::All
    } else {
        Again::Earlier
    };
    prepare_for_ctrl_c()?;
    let examined = examined(setting, &mut catalogue, &compiled, again)?;
    if examined.asked == 0 {
        print::warn(&why_none(&catalogue, &compiled)?);
        return Ok(Outcome::NeedsAttention);
    }
    drop(catalogue);
    told(setting, &examined)
}

/// Examines what is new in the dumps that were ingested.
pub fn run_in(setting: &Setting, dumps: &[PathBuf]) -> Result<Outcome, Failure> {
    let mut catalogue = setting.open(Purpose::Change)?;
    let Some(compiled) = lights_in(&catalogue, dumps)? else {
        return Ok(Outcome::Done);
    };
    let examined = examined(setting, &mut catalogue, &compiled, Again::Earlier)?;
    drop(catalogue);
    told(setting, &examined)
}

fn examined(
    setting: &Setting,
    catalogue: &mut Catalogue,
    compiled: &Compiled,
    again: Again,
) -> Result<Examined, Failure> {
    let bar = Progress::new("frames", setting.quiet);
    let examined = examine_frames(catalogue, compiled, again, &STOP, &mut |done, of| {
        bar.at(done, of);
    });
    bar.end();
    examined
}

fn told(setting: &Setting, examined: &Examined) -> Result<Outcome, Failure> {
    setting.tell(&lines(examined))?;
    if examined.stopped {
        print::warn("stopped; run the command again to examine the rest");
        return Ok(Outcome::Stopped);
    }
    Ok(Outcome::done(!examined.without.is_empty()))
}

/// What was examined, label by label: nothing is said of what did not happen.
fn lines(examined: &Examined) -> Lines {
    let mut lines = Lines::default();
    lines
        .put("frames examined", examined.frames)
        .some("  pointing known", examined.good)
        .some(
            "  pointing known near the matched stars only",
            examined.weak,
        )
        .some("  too few stars for a pointing", examined.too_few)
        .some("  no match with the stars of the sky", examined.no_match);
    for (why, count) in &examined.without {
        lines.some(format!("  no picture: {why}"), *count);
    }
    lines
        .some("trails found", examined.trails)
        .some("  taken for meteors", examined.meteors)
        .some("frames without a neighbour to compare with", examined.alone)
        .some("examined before", examined.before);
    for (session, file) in &examined.moved {
        let label = format!("camera moved in session {session}");
        lines.put(label, format!("before {file}"));
    }
    lines
}
