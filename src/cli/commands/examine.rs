//! `framefall examine`.

use crate::catalogue::purpose::Purpose;
use crate::cli::args_examine::ExamineArgs;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::terms::failure::Failure;
use crate::usecase::examine::Again;
use crate::usecase::examine::Examined;
use crate::usecase::examine::examine_frames;
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
    let bar = Progress::new("frames", setting.quiet);
    let examined = examine_frames(&mut catalogue, &compiled, again, &STOP, &mut |done, of| {
        bar.at(done, of);
    });
    bar.end();
    let examined = examined?;
    if examined.asked == 0 {
        print::warn(&why_none(&catalogue, &compiled)?);
        return Ok(Outcome::NeedsAttention);
    }
    print::answer(|out| print::pairs(out, &lines(&examined)))?;
    if examined.stopped {
        print::warn("stopped; run the command again to examine the rest");
        return Ok(Outcome::Stopped);
    }
    Ok(if examined.without.is_empty() {
        Outcome::Done
    } else {
        Outcome::NeedsAttention
    })
}

/// What was examined, label by label: nothing is said of what did not happen.
fn lines(examined: &Examined) -> Vec<(String, String)> {
    let mut lines = vec![("frames examined".to_owned(), examined.frames.to_string())];
    let mut some = |label: &str, count: u64| {
        if count > 0 {
            lines.push((label.to_owned(), count.to_string()));
        }
    };
    some("  pointing known", examined.good);
    some(
        "  pointing known near the matched stars only",
        examined.weak,
    );
    some("  too few stars for a pointing", examined.too_few);
    some("  no match with the stars of the sky", examined.no_match);
    for (why, count) in &examined.without {
        some(&format!("  no picture: {why}"), *count);
    }
    some("trails found", examined.trails);
    some("  taken for meteors", examined.meteors);
    some("frames without a neighbour to compare with", examined.alone);
    some("examined before", examined.before);
    for (session, file) in &examined.moved {
        let label = format!("camera moved in session {session}");
        lines.push((label, format!("before {file}")));
    }
    lines
}
