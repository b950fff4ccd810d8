//! What the photographer says of a session's frames, and what follows: the night grouped anew.

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::marks::Mark;
use crate::catalogue::night::NightScope;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::failure::no_session;
use crate::terms::statement::Act;
use crate::usecase::derive::rederive::Concerned;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::rederive;
use crate::usecase::statements::state::state;

/// What is said of frames.
#[derive(Clone, Copy, Debug)]
pub struct Said<'a> {
    /// Of their kind.
    pub kind: Option<Mark>,
    /// Of their focal length.
    pub focal: Option<Mark>,
    /// Which of the session, by position from 1: `3`, `1..5`; all when not said.
    pub frames: Option<&'a str>,
}

/// What marking came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Marked {
    /// Frames marked.
    pub frames: u64,
    /// Sessions of that body and night now: another focal length is another framing.
    pub sessions: u64,
}

/// Focal lengths from a telephone's lens to the longest telescope that carries a camera, in millimetres.
const FOCALS_MM: std::ops::RangeInclusive<f64> = 0.1..=100_000.0;

/// Notes what is said of a session's frames, and groups its night anew.
///
/// Refuses: a session that is not there, positions it does not have, a focal length of no lens.
pub fn mark_session(
    catalogue: &mut Catalogue,
    session: i64,
    said: &Said<'_>,
) -> Result<Marked, Failure> {
    let refuse = |message: String| Failure::new(FailureKind::Words, message);
    if let Some(Mark::Focal(mm)) = said.focal
        && !FOCALS_MM.contains(&mm)
    {
        return Err(refuse(format!("no lens has a focal length of {mm} mm"))
            .hint("give it in millimetres: --focal 14"));
    }
    let frames = catalogue.night_frames(&NightScope::Session(session))?;
    if frames.is_empty() {
        return Err(no_session(session));
    }
    let (first, last) = positions(said.frames, frames.len()).ok_or_else(|| {
        let typed = said.frames.unwrap_or_default();
        let count = frames.len();
        refuse(if typed.chars().all(|c| c.is_ascii_digit() || c == '.') {
            format!("session {session} has {count} frames; {typed} is out of range")
        } else {
            format!("'{typed}' is not a frame number of session {session} (1 to {count})")
        })
        .hint("write 3, or 1..5; framefall frames 'session = N' lists them by seq")
    })?;
    let chosen: Vec<i64> = frames[first - 1..last].iter().map(|f| f.frame_id).collect();
    let acts = [said.kind, said.focal].into_iter().flatten().map(act_of);
    let note = |batch: &Batch<'_>| {
        let mut all = Concerned::default();
        all.nights.extend(batch.night_of(session)?);
        for act in acts {
            let concerned = match act {
                // What was never stated of a frame is not removed.
                Act::Kind(None) => of_stated(batch, &chosen, |stated| stated.0)?,
                Act::Focal(None) => of_stated(batch, &chosen, |stated| stated.1)?,
                _ => chosen.clone(),
            };
            if !concerned.is_empty() {
                all.nights.extend(state(batch, &act, concerned)?.nights);
            }
        }
        Ok(all)
    };
    let done = rederive(catalogue, Mode::Lasting, note, &mut |_, _| {})?;
    Ok(Marked {
        frames: chosen.len() as u64,
        sessions: done.sessions,
    })
}

fn act_of(mark: Mark) -> Act {
    match mark {
        Mark::Kind(kind) => Act::Kind(Some(kind)),
        Mark::KindRemoved => Act::Kind(None),
        Mark::Focal(mm) => Act::Focal(Some(mm)),
        Mark::FocalRemoved => Act::Focal(None),
    }
}

/// Those of the frames of which something is stated.
fn of_stated(
    batch: &Batch<'_>,
    frames: &[i64],
    is_stated: fn((bool, bool, Option<i64>)) -> bool,
) -> Result<Vec<i64>, Failure> {
    let mut found = Vec::new();
    for frame_id in frames {
        if is_stated(batch.stated_of(*frame_id)?) {
            found.push(*frame_id);
        }
    }
    Ok(found)
}

/// First and last position, both from 1.
fn positions(said: Option<&str>, count: usize) -> Option<(usize, usize)> {
    let Some(said) = said else {
        return Some((1, count));
    };
    let (first, last) = said.split_once("..").unwrap_or((said, said));
    let (first, last): (usize, usize) = (first.trim().parse().ok()?, last.trim().parse().ok()?);
    (1 <= first && first <= last && last <= count).then_some((first, last))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_are_those_of_the_session() {
        assert_eq!(positions(None, 9), Some((1, 9)));
        assert_eq!(positions(Some("3"), 9), Some((3, 3)));
        assert_eq!(positions(Some("2..9"), 9), Some((2, 9)));
        for wrong in ["0", "4..2", "2..10", "x", "1..", "-1"] {
            assert_eq!(positions(Some(wrong), 9), None, "{wrong}");
        }
    }
}
