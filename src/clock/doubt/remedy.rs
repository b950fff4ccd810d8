//! The remedy for frames in doubt, in words: every error that fits, the most likely with its command.

use crate::clock::doubt::found::Limit;
use crate::clock::doubt::found::fix_command;
use crate::clock::doubt::rank::Candidate;
use crate::terms::clock::RunFrame;
use crate::terms::time::WallTime;

/// Shown if no statement can be limited to the frames in doubt.
const NO_LIMIT: &str = "No clock statement can be limited to these frames, because other frames \
                        of the body have readings among theirs. Ingest their folder into a \
                        catalogue of its own (option --catalogue) and state the clock there";

/// Shown if frames on either side of a contradiction may be wrong.
pub const EITHER: &str = "Nothing shows which of the two is wrong, so no command is suggested. \
                          Compare both with other evidence from those nights, then state a clock \
                          fix limited to the wrong one (--session, or --from and --until)";

/// The limit for these frames, given all of the body's frames; or, if others have readings among theirs, why there is
/// none.
///
/// Takes: `all`, every reading of the body, in order.
pub fn limit(frames: &[RunFrame], all: &[i64]) -> Result<Limit, &'static str> {
    limit_by_readings(frames, all).ok_or(NO_LIMIT)
}

fn limit_by_readings(frames: &[RunFrame], all: &[i64]) -> Option<Limit> {
    let first = frames.iter().map(|f| f.reading).min()?;
    let last = frames.iter().map(|f| f.reading).max()?;
    let from = WallTime::from_seconds(first.seconds(), "")?;
    let until = WallTime::from_seconds(last.seconds() + 1, "")?;
    let place = |at: WallTime| all.partition_point(|reading_ms| *reading_ms < at.reading_ms());
    if place(until) - place(from) != frames.len() {
        return None;
    }
    let session = frames.first()?.session_id;
    if session.is_some() && frames.iter().all(|f| f.session_id == session) {
        return session.map(Limit::Session);
    }
    Some(Limit::Readings(from, until))
}

/// The remedy for frames in doubt.
///
/// Takes: what is true if an error is right (`the frames fit the night`); the errors, the most likely first; another
/// explanation, in words; the limit of the command, or why there is none; readings for which a fix is stated.
pub fn words(
    so: &str,
    candidates: &[Candidate],
    or_else: &str,
    camera: &str,
    frames: &[RunFrame],
    limit: Result<Limit, &str>,
    stated: &[WallTime],
) -> String {
    let Some(best) = candidates.first() else {
        return "no error of whole hours, of a zone or of a day makes them fit the night; check \
                the frames"
            .to_owned();
    };
    let mut text = format!(
        "{so} if the clock was {}{}",
        best.shift.words(),
        range(best)
    );
    // Errors of one stretch are listed together, in the order of the best of each.
    let mut groups: Vec<Vec<&Candidate>> = Vec::new();
    for candidate in &candidates[1..] {
        match groups.iter_mut().find(|g| same_range(g[0], candidate)) {
            Some(group) => group.push(candidate),
            None => groups.push(vec![candidate]),
        }
    }
    for (i, group) in groups.iter().enumerate() {
        let named: Vec<String> = group.iter().map(|c| c.shift.words()).collect();
        text += if i == 0 { "; also if it was " } else { "; or " };
        text += &named.join(", ");
        if same_range(group[0], best) && !range(best).is_empty() {
            text += " (within the same hours)";
        } else {
            text += &range(group[0]);
        }
    }
    text += or_else;
    let command = limit.ok().and_then(|limit| {
        let frame = frames
            .iter()
            .find(|f| f.start_utc.is_some() && !stated.contains(&f.reading))?;
        let true_utc = frame.start_utc?.plus_s(best.later_ms as f64 / 1000.0)?;
        Some(fix_command(camera, frame.reading, true_utc, limit))
    });
    match command {
        Some(command) if groups.is_empty() && or_else.is_empty() => text + ": " + &command,
        Some(command) => text + ". For the first: " + &command,
        None => text + ". " + limit.err().unwrap_or(NO_LIMIT),
    }
}

fn same_range(a: &Candidate, b: &Candidate) -> bool {
    let hours = |c: &Candidate| c.fits_h.filter(|_| c.shift.is_of_hours());
    match (hours(a), hours(b)) {
        (Some(a), Some(b)) => (a.0 - b.0).abs() < 0.1 && (a.1 - b.1).abs() < 0.1,
        (None, None) => true,
        _ => false,
    }
}

/// The hours that fit, in the direction of the error.
fn range(candidate: &Candidate) -> String {
    let Some((least, most)) = candidate.fits_h.filter(|_| candidate.shift.is_of_hours()) else {
        return String::new();
    };
    let (least, most) = if candidate.later_ms < 0 {
        (-most, -least)
    } else {
        (least, most)
    };
    format!(" (fits from {:.1} to {most:.1} h)", least.max(0.0))
}
