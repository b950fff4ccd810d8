//! What a changed statement came to, in words.

use crate::catalogue::purpose::Purpose;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::terms::failure::Failure;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;

/// Steps that differ by more than this are no drift, in seconds: the least difference between two zones.
const UNLIKE_S: f64 = 900.0;

/// What a flag `--dry-run` asks for.
pub fn mode(dry_run: bool) -> Mode {
    if dry_run { Mode::DryRun } else { Mode::Lasting }
}

/// How the catalogue is opened for a change with that flag.
pub fn purpose(dry_run: bool) -> Purpose {
    if dry_run {
        Purpose::Try
    } else {
        Purpose::Change
    }
}

/// Runs a change with a bar over its frames.
pub fn watched<T>(
    setting: &Setting,
    run: impl FnOnce(&mut dyn FnMut(u64, u64)) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let progress = Progress::new("frames", setting.quiet);
    let done = run(&mut |at, of| progress.at(at, of));
    progress.end();
    done
}

/// Prints what was stated, and what followed.
pub fn print_changed(
    setting: &Setting,
    statement: (&str, String),
    done: &Rederived,
    mode: Mode,
) -> Result<(), Failure> {
    if setting.quiet == Quiet::No {
        let mut lines = vec![(statement.0.to_owned(), statement.1)];
        lines.extend(changed(done));
        print::answer(|out| print::pairs(out, &lines))?;
        if let Some((least, greatest)) = done.steps_s
            && greatest - least > UNLIKE_S
        {
            print::warn(
                "the clock did not move alike everywhere: it was read by more than one zone; if it was set anew on the \
                 way, a fix with --reset-before or framefall clock zone says so",
            );
        }
        say_if_dry(mode);
    }
    Ok(())
}

/// Says that nothing was changed, where nothing was.
pub fn say_if_dry(mode: Mode) {
    if mode == Mode::DryRun {
        print::warn("a dry run: nothing was changed");
    }
}

/// What followed, label by label.
pub fn changed(done: &Rederived) -> Vec<(String, String)> {
    let mut lines = vec![
        ("frames concerned".to_owned(), done.frames.to_string()),
        (
            "  of these moved in time".to_owned(),
            done.moved.to_string(),
        ),
        (
            "  of these dated for the first time".to_owned(),
            done.dated_newly.to_string(),
        ),
    ];
    if done.undated > 0 {
        lines.push((
            "  of these without UTC now".to_owned(),
            done.undated.to_string(),
        ));
    }
    lines.push((
        "clock moved".to_owned(),
        match done.steps_s {
            None => "not at all".to_owned(),
            Some((least, greatest)) if (greatest - least).abs() < 0.0005 => step(least),
            Some((least, greatest)) => format!("{} to {}", step(least), step(greatest)),
        },
    ));
    lines.push((
        "main radiant moved".to_owned(),
        match done.radiant {
            Some((way_deg, shower)) => format!("{shower} by up to {way_deg:.2}°"),
            None => "unknown".to_owned(),
        },
    ));
    lines.push(("sessions touched".to_owned(), done.sessions.to_string()));
    lines.push(("  split".to_owned(), done.split.to_string()));
    lines.push(("  joined".to_owned(), done.joined.to_string()));
    lines
}

/// A step of time in words: `1 h 0 min 0 s earlier`.
pub fn step(seconds: f64) -> String {
    let way = if seconds < 0.0 { "earlier" } else { "later" };
    let tenths = (seconds.abs() * 10.0).round();
    let (s, min, h) = (
        tenths % 600.0 / 10.0,
        (tenths / 600.0).floor() % 60.0,
        (tenths / 36_000.0).floor(),
    );
    if h > 0.0 {
        format!("{h} h {min} min {s} s {way}")
    } else if min > 0.0 {
        format!("{min} min {s} s {way}")
    } else {
        format!("{s} s {way}")
    }
}

#[cfg(test)]
mod tests {
    use super::step;

    #[test]
    fn steps_in_words() {
        assert_eq!(step(-3600.0), "1 h 0 min 0 s earlier");
        assert_eq!(step(48.25), "48.3 s later");
        assert_eq!(step(-119.96), "2 min 0 s earlier");
        assert_eq!(step(86_400.0), "24 h 0 min 0 s later");
    }
}
