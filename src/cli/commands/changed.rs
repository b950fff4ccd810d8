//! The effects of a changed statement, in words.

use std::fmt::Write as _;
use std::sync::atomic::AtomicBool;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::terms::duration::in_words;
use crate::terms::failure::Failure;
use crate::terms::plural::counted;
use crate::usecase::derive::rebuild::rebuild_missing;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::derive::rederive::SessionChange;

/// Steps that differ by more than this are not drift, in seconds: the least difference between two zones.
const UNLIKE_S: f64 = 900.0;

/// A radiant that moved by less than this is shown as unmoved.
const SHOWN_DEG: f64 = 0.005;

/// The most sessions that are listed one by one.
const SESSIONS_TOLD: usize = 10;

/// What is said where nothing came of a statement.
pub const NO_FRAME_CHANGED: &str = "No frame changed.";

/// The label of frames of which something else is stated now.
pub const FRAMES_MARKED: &str = "frames marked";

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

/// Opens the catalogue for a statement about its frames. Missing rows are recomputed first: otherwise the statement
/// would not reach all frames of a session.
pub fn open_to_state(setting: &Setting, purpose: Purpose) -> Result<Catalogue, Failure> {
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
pub fn rows_missing(frames: u64) -> String {
    format!(
        "derived rows of {} are missing; recomputing them first",
        counted(frames, "frame")
    )
}

/// Runs a change with a progress bar over its frames.
pub fn watched<T>(
    setting: &Setting,
    run: impl FnOnce(&mut dyn FnMut(u64, u64)) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let progress = Progress::new("frames", setting.quiet);
    let done = run(&mut |at, of| progress.at(at, of));
    progress.end();
    done
}

/// Opens the catalogue for a statement, and runs that with a progress bar.
pub fn stating<T>(
    setting: &Setting,
    dry_run: bool,
    state: impl FnOnce(&mut Catalogue, Mode, &mut dyn FnMut(u64, u64)) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let mut catalogue = open_to_state(setting, purpose(dry_run))?;
    watched(setting, |watch| state(&mut catalogue, mode(dry_run), watch))
}

/// Prints what was stated, and its effects.
pub fn print_changed(
    setting: &Setting,
    statement: (&str, String),
    done: &Rederived,
    mode: Mode,
) -> Result<Outcome, Failure> {
    let mut lines = Lines::default();
    lines.put(statement.0, statement.1);
    print_lines(setting, lines, done, mode)
}

/// Prints these lines, and what followed.
pub fn print_lines(
    setting: &Setting,
    mut lines: Lines,
    done: &Rederived,
    mode: Mode,
) -> Result<Outcome, Failure> {
    if setting.quiet == Quiet::Yes {
        return Ok(Outcome::Done);
    }
    let followed = changed(done).0;
    let nothing = followed.is_empty();
    lines.0.extend(followed);
    print::answer(|out| {
        print::pairs(out, &lines.0)?;
        if nothing {
            writeln!(out, "{NO_FRAME_CHANGED}").map_err(written)?;
        }
        Ok(())
    })?;
    if let Some(words) = moved_unlike(&done.by_session) {
        print::warn(&words);
    }
    say_if_dry(mode);
    Ok(Outcome::Done)
}

/// Prints what a statement came to, and says so where nothing was changed.
pub fn tell_lines(setting: &Setting, lines: &Lines, mode: Mode) -> Result<Outcome, Failure> {
    if setting.quiet == Quiet::No {
        lines.print()?;
        say_if_dry(mode);
    }
    Ok(Outcome::Done)
}

/// Reports that nothing was changed, after a dry run.
pub fn say_if_dry(mode: Mode) {
    if mode == Mode::DryRun {
        print::warn("a dry run: nothing was changed");
    }
}

/// The effects, label by label.
pub fn changed(done: &Rederived) -> Lines {
    let mut lines = Lines::default();
    if done.changed > 0 {
        lines.put("frames checked", done.frames);
        let moved = match done.steps_s {
            Some(steps) if done.moved == done.changed => format!(", {}", steps_words(steps)),
            _ => String::new(),
        };
        lines.put("frames changed", format!("{}{moved}", done.changed));
        for one in done.by_session.iter().take(SESSIONS_TOLD) {
            let (label, words) = session_line(one, done.changed);
            lines.put(label, words);
        }
        let more = done.by_session.len().saturating_sub(SESSIONS_TOLD) as u64;
        if more > 0 {
            lines.put("  and", format!("{} more", counted(more, "session")));
        }
    }
    lines
        .some(FRAMES_MARKED, done.restated)
        .some("newly dated", done.dated_newly)
        .some("no longer dated", done.undated)
        .some("newly placed", done.placed_newly)
        .some("no longer placed", done.unplaced)
        .some("sessions split", done.split)
        .some("sessions joined", done.joined);
    put_radiant(&mut lines, done);
    lines
}

/// How far the main radiant moved, if it is shown as moved.
pub fn put_radiant(lines: &mut Lines, done: &Rederived) -> bool {
    let moved = done
        .radiant
        .as_ref()
        .filter(|(way_deg, _)| *way_deg >= SHOWN_DEG);
    if let Some((way_deg, shower)) = moved {
        let words = format!("{shower} by up to {way_deg:.2}°");
        lines.put("main radiant moved", words);
    }
    moved.is_some()
}

/// The changed frames of a session.
fn session_line(one: &SessionChange, all: u64) -> (String, String) {
    let label = match one.session {
        Some(number) => format!("  session {number}"),
        None => "  no session".to_owned(),
    };
    let mut words = counted(one.frames, "frame");
    if let Some(steps) = one.steps_s {
        if one.moved < one.frames {
            let _ = write!(words, ", {} of them", one.moved);
        }
        if one.moved < all {
            let _ = write!(words, " {}", steps_words(steps));
        }
    }
    if let Some(night) = &one.night {
        let _ = write!(words, ", night {night}");
    }
    if !one.nights_before.is_empty() {
        let before: Vec<&str> = one.nights_before.iter().map(String::as_str).collect();
        let _ = write!(words, " (before: {})", before.join(", "));
    }
    (label, words)
}

/// Says so where frames moved by steps that no drift explains.
fn moved_unlike(sessions: &[SessionChange]) -> Option<String> {
    let mut steps: Vec<(f64, f64, u64)> = sessions
        .iter()
        .filter_map(|one| {
            let (least, greatest) = one.steps_s?;
            Some((least, greatest, one.moved))
        })
        .collect();
    steps.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut alike: Vec<(f64, f64, u64)> = Vec::new();
    for (least, greatest, frames) in steps {
        match alike.last_mut() {
            Some(last) if least - last.1 <= UNLIKE_S => {
                last.1 = last.1.max(greatest);
                last.2 += frames;
            }
            _ => alike.push((least, greatest, frames)),
        }
    }
    let is_unlike = alike.len() > 1 || alike.iter().any(|one| one.1 - one.0 > UNLIKE_S);
    if !is_unlike {
        return None;
    }
    let parts: Vec<String> = alike
        .iter()
        .map(|(least, greatest, frames)| format!("{frames} {}", steps_words((*least, *greatest))))
        .collect();
    Some(format!(
        "Not all frames moved by the same amount: {}. If the clock was reset between these nights, add a fix for each one.",
        parts.join("; ")
    ))
}

/// One step, or the least and the greatest.
pub fn steps_words((least, greatest): (f64, f64)) -> String {
    if (greatest - least).abs() < 0.05 {
        step(least)
    } else {
        format!("{} to {}", step(least), step(greatest))
    }
}

/// A step of time in words: `1 h earlier`.
pub fn step(seconds: f64) -> String {
    let way = if seconds < 0.0 { "earlier" } else { "later" };
    format!("{} {way}", in_words(seconds))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn session(number: i64, steps_s: Option<(f64, f64)>, frames: u64) -> SessionChange {
        SessionChange {
            session: Some(number),
            night: Some("2023-12-13".to_owned()),
            frames,
            moved: if steps_s.is_some() { frames } else { 0 },
            steps_s,
            ..SessionChange::default()
        }
    }

    #[test]
    fn nothing_is_said_of_nothing() {
        let unmoved = Rederived {
            frames: 240,
            sessions: 3,
            ..Rederived::default()
        };
        assert_eq!(changed(&unmoved).0, []);
    }

    #[test]
    fn sessions_and_their_steps_are_named() {
        let done = Rederived {
            frames: 1_300,
            changed: 1_200,
            moved: 1_200,
            steps_s: Some((-21_610.0, -10.0)),
            by_session: vec![
                session(4, Some((-21_610.0, -21_610.0)), 500),
                session(5, Some((-10.0, -10.0)), 700),
            ],
            ..Rederived::default()
        };
        let lines: Vec<String> = changed(&done)
            .0
            .into_iter()
            .map(|(label, value)| format!("{label}: {value}"))
            .collect();
        assert_eq!(
            lines,
            [
                "frames checked: 1300",
                "frames changed: 1200, 6 h 0 min 10 s earlier to 10 s earlier",
                "  session 4: 500 frames 6 h 0 min 10 s earlier, night 2023-12-13",
                "  session 5: 700 frames 10 s earlier, night 2023-12-13",
            ]
        );
        assert_eq!(
            moved_unlike(&done.by_session).unwrap(),
            "Not all frames moved by the same amount: 500 6 h 0 min 10 s earlier; 700 10 s earlier. If the clock was reset \
             between these nights, add a fix for each one."
        );
        assert_eq!(moved_unlike(&done.by_session[..1]), None);
    }

    #[test]
    fn steps_in_words() {
        assert_eq!(step(-3600.0), "1 h earlier");
        assert_eq!(step(48.25), "48.3 s later");
        assert_eq!(steps_words((1.0, 1.01)), "1 s later");
    }
}
