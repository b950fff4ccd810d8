//! The remedy for frames in doubt, in words: every error that fits, the most likely with its command.

use std::collections::BTreeSet;

use crate::clock::doubt::asked::Ask;
use crate::clock::doubt::found::Limit;
use crate::clock::doubt::found::fix_command;
use crate::clock::doubt::rank::Candidate;
use crate::terms::clock::RunFrame;
use crate::terms::clock::SessionFile;
use crate::terms::failure::Failure;
use crate::terms::name_span::NameSpan;
use crate::terms::time::WallTime;

/// Shown if no statement can be limited to the frames in doubt.
const NO_LIMIT: &str = "No clock statement can be limited to these frames, because other frames \
                        of the body have readings among theirs. Ingest their folder into a \
                        catalogue of its own (option --catalogue) and state the clock there";

/// Shown if frames on either side of a contradiction may be wrong.
pub const EITHER: &str = "Nothing shows which of the two is wrong, so no command is suggested. \
                          Compare both with other evidence from those nights, then state a clock \
                          fix limited to the wrong one (--session, with --files where both are in \
                          one; or --from and --until)";

/// The limit for these frames, given all of the body's frames; or, if others cannot be told from them, why there is none.
///
/// Takes: `all`, every frame of the body, by reading.
pub fn limit(
    frames: &[RunFrame],
    all: &[RunFrame],
    ask: &mut Ask<'_>,
) -> Result<Result<Limit, &'static str>, Failure> {
    let of_all: Option<BTreeSet<i64>> = frames.iter().map(|f| f.session_id).collect();
    let sessions = of_all.unwrap_or_default();
    let of_sessions = |(dump, files)| Limit::Sessions {
        sessions: sessions.iter().copied().collect(),
        dump,
        files,
    };
    let in_sessions = |f: &&RunFrame| f.session_id.is_some_and(|s| sessions.contains(&s));
    let whole = !sessions.is_empty() && all.iter().filter(in_sessions).count() == frames.len();
    if whole && sessions.len() == 1 {
        return Ok(Ok(of_sessions((None, None))));
    }
    if let Some(limit) = by_readings(frames, all) {
        return Ok(Ok(limit));
    }
    if whole {
        return Ok(Ok(of_sessions((None, None))));
    }
    let mut files = Vec::new();
    for session in &sessions {
        files.extend((ask.files)(*session)?);
    }
    Ok(by_files(frames, &files).map(of_sessions).ok_or(NO_LIMIT))
}

/// The readings that these frames alone have.
fn by_readings(frames: &[RunFrame], all: &[RunFrame]) -> Option<Limit> {
    let first = frames.iter().map(|f| f.reading).min()?;
    let last = frames.iter().map(|f| f.reading).max()?;
    let from = WallTime::from_seconds(first.seconds(), "")?;
    let until = WallTime::from_seconds(last.seconds() + 1, "")?;
    let place = |at: WallTime| all.partition_point(|f| f.reading < at);
    (place(until) - place(from) == frames.len()).then_some(Limit::Readings(from, until))
}

/// The dump, the names of the files, or both, by which these frames differ from the others of their sessions.
fn by_files(
    frames: &[RunFrame],
    files: &[SessionFile],
) -> Option<(Option<String>, Option<NameSpan>)> {
    let wanted: BTreeSet<i64> = frames.iter().map(|f| f.frame_id).collect();
    let (these, others): (Vec<&SessionFile>, Vec<&SessionFile>) = files
        .iter()
        .partition(|file| wanted.contains(&file.frame_id));
    let first = these.first()?;
    let on_one = these.iter().all(|file| file.dump == first.dump);
    let dump = on_one.then(|| first.dump.clone());
    let span = NameSpan::of(these.iter().map(|file| file.file_name.as_str()));
    [
        (dump.clone(), None),
        (None, span.clone()),
        (dump.clone(), span.clone().filter(|_| dump.is_some())),
    ]
    .into_iter()
    .filter(|limit| *limit != (None, None))
    .find(|(dump, span)| {
        !others.iter().any(|file| {
            dump.as_ref().is_none_or(|dump| file.dump == *dump)
                && span
                    .as_ref()
                    .is_none_or(|span| span.contains(&file.file_name))
        })
    })
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
    let command = limit.clone().ok().and_then(|limit| {
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
