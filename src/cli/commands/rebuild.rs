//! `framefall rebuild`; and the warning of commands that use stale rows.

use std::sync::atomic::AtomicBool;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::args::RebuildArgs;
use crate::cli::commands::changed::print_changed;
use crate::cli::commands::changed::step;
use crate::cli::commands::changed::watched;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::plural::counted;
use crate::usecase::derive::maker::stale;
use crate::usecase::derive::rebuild::Rebuild;
use crate::usecase::derive::rebuild::Rebuilt;
use crate::usecase::derive::rebuild::Step;
use crate::usecase::derive::rebuild::rebuild;
use crate::usecase::derive::rebuild::rebuild_missing;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::listings::answers::night_named;
use crate::usecase::statements::replay::replay;

/// A radiant that moves by less has not moved: half a unit of the last digit shown, in degrees.
const UNMOVED_DEG: f64 = 0.005;

/// Runs the command.
pub fn run(setting: &Setting, args: &RebuildArgs) -> Result<Outcome, Failure> {
    if args.statements {
        return run_statements(setting);
    }
    let which = match (&args.night, args.session) {
        (Some(night), _) => Rebuild::Night(night_named(night).ok_or_else(|| {
            Failure::new(FailureKind::Words, format!("'{night}' is not a date"))
                .hint("name the evening: --night 2023-12-13")
        })?),
        (None, Some(session)) => Rebuild::Session(session),
        (None, None) => Rebuild::All,
    };
    let mut catalogue = setting.open(Purpose::Change)?;
    prepare_for_ctrl_c()?;
    let mut frames = Some(Progress::new("frames", setting.quiet));
    let mut nights: Option<Progress> = None;
    let rebuilt = rebuild(&mut catalogue, &which, &STOP, &mut |step| match step {
        Step::Frames(done, of) => {
            if let Some(bar) = &frames {
                bar.at(done, of);
            }
        }
        Step::Nights(done, of) => {
            if let Some(bar) = frames.take() {
                bar.end();
            }
            nights
                .get_or_insert_with(|| Progress::new("nights", setting.quiet))
                .at(done, of);
        }
    });
    for bar in [frames, nights].into_iter().flatten() {
        bar.end();
    }
    let rebuilt = rebuilt?;
    if setting.quiet == Quiet::No {
        let lines = lines(&rebuilt);
        print::answer(|out| print::pairs(out, &lines))?;
        if rebuilt.stopped {
            print::warn("stopped; everything rebuilt is kept, and the same command continues");
        }
    }
    Ok(if rebuilt.stopped {
        Outcome::Stopped
    } else {
        Outcome::Done
    })
}

/// Puts in force what follows from the log of statements.
fn run_statements(setting: &Setting) -> Result<Outcome, Failure> {
    let mut catalogue = setting.open(Purpose::Change)?;
    let (count, done) = watched(setting, |watch| {
        replay(&mut catalogue, Mode::Lasting, watch)
    })?;
    let words = if count == 0 {
        "nothing: what is in force follows from the log".to_owned()
    } else {
        counted(count, "statement")
    };
    print_changed(setting, ("put in force", words), &done, Mode::Lasting)?;
    Ok(Outcome::Done)
}

/// Opens the catalogue for a statement about its frames. Missing rows are recomputed first: otherwise the statement
/// would not reach all frames of a session.
pub(super) fn open_to_state(setting: &Setting, purpose: Purpose) -> Result<Catalogue, Failure> {
    let mut catalogue = setting.open(purpose)?;
    let mut bar = None;
    let made = rebuild_missing(&mut catalogue, &AtomicBool::new(false), &mut |done, of| {
        bar.get_or_insert_with(|| {
            let bar = Progress::new("frames", setting.quiet);
            bar.say(rows_missing(of));
            bar
        })
        .at(done, of);
    });
    if let Some(bar) = bar {
        bar.end();
    }
    made.map(|_| catalogue)
}

/// The message before missing rows are recomputed.
pub(super) fn rows_missing(frames: u64) -> String {
    format!(
        "derived rows of {} are missing; recomputing them first",
        counted(frames, "frame")
    )
}

/// Warns, once and before the answer, if a command uses stale rows.
pub(super) fn warn_if_stale(catalogue: &Catalogue) -> Result<(), Failure> {
    if let Some(stale) = stale(catalogue)? {
        print::warn(&stale.words());
    }
    Ok(())
}

/// The result of a rebuild, label by label, without zero lines.
fn lines(rebuilt: &Rebuilt) -> Vec<(String, String)> {
    let done = &rebuilt.done;
    let after = if rebuilt.carried_on {
        "  (the rest of a stopped rebuild)"
    } else {
        ""
    };
    let mut lines = vec![("frames rebuilt", format!("{}{after}", done.frames))];
    let mut some = |label, count: u64, words: String| {
        if count > 0 {
            lines.push((label, format!("{count}{words}")));
        }
    };
    some("  without rows before", done.missing, String::new());
    let steps = done.steps_s.map_or_else(String::new, |(least, greatest)| {
        if (greatest - least).abs() < 0.05 {
            format!("  ({})", step(least))
        } else {
            format!("  ({} to {})", step(least), step(greatest))
        }
    });
    some("  moved in time", done.moved, steps);
    some(
        "  dated for the first time",
        done.dated_newly,
        String::new(),
    );
    some("  no longer dated", done.undated, String::new());
    if let Some((way_deg, shower)) = done.radiant.filter(|(way_deg, _)| *way_deg >= UNMOVED_DEG) {
        lines.push((
            "main radiant moved",
            format!("{shower} by up to {way_deg:.2}°"),
        ));
    } else if done.moved + done.missing + done.dated_newly + done.undated == 0 {
        lines.push((
            "moved",
            "nothing: times and radiants are unchanged".to_owned(),
        ));
    }
    let mut some = |label, count: u64| {
        if count > 0 {
            lines.push((label, count.to_string()));
        }
    };
    some("sessions", done.sessions);
    some("  split", done.split);
    some("  joined", done.joined);
    lines
        .into_iter()
        .map(|(label, value)| (label.to_owned(), value))
        .collect()
}
