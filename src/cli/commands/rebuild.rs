//! `framefall rebuild`; and the warning of commands that use stale rows.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::args::RebuildArgs;
use crate::cli::commands::changed::print_changed;
use crate::cli::commands::changed::put_radiant;
use crate::cli::commands::changed::steps_words;
use crate::cli::commands::changed::watched;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::terms::failure::Failure;
use crate::terms::plural::counted;
use crate::usecase::derive::maker::stale;
use crate::usecase::derive::rebuild::Rebuild;
use crate::usecase::derive::rebuild::Rebuilt;
use crate::usecase::derive::rebuild::Step;
use crate::usecase::derive::rebuild::rebuild;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::listings::answers::night_named;
use crate::usecase::statements::replay::replay;

/// Runs the command.
pub fn run(setting: &Setting, args: &RebuildArgs) -> Result<Outcome, Failure> {
    if args.statements {
        return run_statements(setting);
    }
    let which = match (&args.night, args.session) {
        (Some(night), _) => Rebuild::Night(night_named(night).ok_or_else(|| {
            Failure::words(format!("'{night}' is not a date"))
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
        lines(&rebuilt).print()?;
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
    print_changed(setting, ("put in force", words), &done, Mode::Lasting)
}

/// Warns, once and before the answer, if a command uses stale rows.
pub(super) fn warn_if_stale(catalogue: &Catalogue) -> Result<(), Failure> {
    if let Some(stale) = stale(catalogue)? {
        print::warn(&stale.words());
    }
    Ok(())
}

/// The result of a rebuild, label by label, without zero lines.
fn lines(rebuilt: &Rebuilt) -> Lines {
    let done = &rebuilt.done;
    let after = if rebuilt.carried_on {
        "  (the rest of a stopped rebuild)"
    } else {
        ""
    };
    let mut lines = Lines::default();
    lines
        .put("frames rebuilt", format!("{}{after}", done.frames))
        .some("  without rows before", done.missing);
    if done.moved > 0 {
        let steps = done
            .steps_s
            .map(|steps| format!("  ({})", steps_words(steps)));
        let steps = steps.unwrap_or_default();
        lines.put("  moved in time", format!("{}{steps}", done.moved));
    }
    lines
        .some("  dated for the first time", done.dated_newly)
        .some("  no longer dated", done.undated);
    let is_unchanged = done.moved + done.missing + done.dated_newly + done.undated == 0;
    if !put_radiant(&mut lines, done) && is_unchanged {
        lines.put("moved", "nothing: times and radiants are unchanged");
    }
    lines
        .some("sessions", done.sessions)
        .some("  split", done.split)
        .some("  joined", done.joined);
    lines
}
