//! Marks a session's frames, and groups the night again.

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::night::NightScope;
use crate::terms::failure::Failure;
use crate::terms::failure::no_session;
use crate::terms::plural::counted;
use crate::terms::statement::Act;
use crate::usecase::derive::rederive::Concerned;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::derive::rederive::rederive;
use crate::usecase::statements::state::state;

/// What is said of frames.
#[derive(Clone, Copy, Debug)]
pub struct Said<'a> {
    /// Their kind, their focal length.
    pub acts: &'a [Act],
    /// Which frames of the session, by position from 1: `3`, `1..5`; all if not given.
    pub frames: Option<&'a str>,
}

/// The result of marking.
#[derive(Clone, Debug, PartialEq)]
pub struct Marked {
    /// Frames that were named.
    pub frames: u64,
    /// Of these, those of which the same was not stated before.
    pub changed: u64,
    /// What followed: another focal length is another framing.
    pub done: Rederived,
}

/// Focal lengths from a telephone's lens to a large telescope, in millimetres.
///
/// Source: common practice, no source.
const FOCALS_MM: std::ops::RangeInclusive<f64> = 1.0..=20_000.0;

/// Marks a session's frames, and groups its night again.
///
/// Refuses: a session that does not exist, positions it does not have, a focal length that no lens has.
pub fn mark_session(
    catalogue: &mut Catalogue,
    session: i64,
    said: &Said<'_>,
) -> Result<Marked, Failure> {
    let refuse = |message: String| Failure::words(message);
    let mut focals = said.acts.iter().filter_map(|act| match act {
        Act::Focal(mm) => *mm,
        _ => None,
    });
    if let Some(mm) = focals.find(|mm| !FOCALS_MM.contains(mm)) {
        return Err(refuse(format!(
            "a focal length is between {} and {} mm, not {mm}",
            FOCALS_MM.start(),
            FOCALS_MM.end()
        ))
        .hint("give it in millimetres: --focal 14"));
    }
    let frames = catalogue.night_frames(&NightScope::Session(session))?;
    if frames.is_empty() {
        return Err(no_session(session));
    }
    let (first, last) = positions(said.frames, frames.len()).ok_or_else(|| {
        let (typed, count) = (said.frames.unwrap_or_default(), frames.len());
        refuse(if is_range(typed) {
            let has = counted(count as u64, "frame");
            format!("session {session} has {has}; {typed} is out of range")
        } else {
            format!("'{typed}' is not a frame number of session {session} (1 to {count})")
        })
        .hint("write 3, or 1..5; framefall frames 'session = N' lists them by seq")
    })?;
    let chosen: Vec<i64> = frames[first - 1..last].iter().map(|f| f.frame_id).collect();
    let note = |batch: &Batch<'_>| {
        let mut all = Concerned::default();
        all.nights.extend(batch.night_of(session)?);
        for act in said.acts {
            let concerned = match act {
                // A removal applies only to frames with a statement.
                Act::Kind(None) => of_stated(batch, &chosen, |stated| stated.0)?,
                Act::Focal(None) => of_stated(batch, &chosen, |stated| stated.1)?,
                _ => chosen.clone(),
            };
            if !concerned.is_empty() {
                let effect = state(batch, act, concerned)?;
                all.restated = all.restated.max(effect.restated);
                all.nights.extend(effect.nights);
            }
        }
        Ok(all)
    };
    let done = rederive(catalogue, Mode::Lasting, note, &mut |_, _| {})?;
    Ok(Marked {
        frames: chosen.len() as u64,
        changed: done.restated,
        done,
    })
}

/// Those of the frames with a statement of this type.
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

/// Whether a text is a number or a range of numbers, wherever they lie.
fn is_range(text: &str) -> bool {
    let (first, last) = text.split_once("..").unwrap_or((text, text));
    [first, last].iter().all(|end| {
        let end = end.trim();
        !end.is_empty() && end.bytes().all(|byte| byte.is_ascii_digit())
    })
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
