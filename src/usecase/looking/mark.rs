//! Frames of a query: looked at or not, chosen or not, with a note.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Ask;
use crate::catalogue::select::Detail;
use crate::catalogue::stated_looks::StatedLook;
use crate::catalogue::statements::Stamp;
use crate::query::Checked;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::FRAME_ID;
use crate::terms::records::Cell;
use crate::terms::statement::Act;
use crate::terms::statement::LONGEST_NOTE;
use crate::terms::statement::note_of;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::statements::state::state_at;

/// What is said of frames; `None`: nothing about this.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LookSaid {
    /// Whether the photographer has looked at them.
    pub looked: Option<bool>,
    /// Whether they are wanted in the picture; `Some(None)` removes what was said.
    pub chosen: Option<Option<bool>>,
    /// The note about them; `Some(None)` removes it.
    pub note: Option<Option<String>>,
}

/// The result of marking.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LookMarked {
    /// Frames of the query.
    pub frames: u64,
    /// Those of which something else is said now.
    pub changed: u64,
}

/// A note from its text; an empty one removes the note.
///
/// Refuses: several lines, control characters, more than [`LONGEST_NOTE`] characters.
pub fn parse_note(text: &str) -> Result<Option<String>, Failure> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    note_of(text).map(Some).ok_or_else(|| {
        Failure::words(format!(
            "a note is one line of at most {LONGEST_NOTE} characters"
        ))
        .hint("shorten it, and leave out line breaks and other control characters")
    })
}

/// The numbers of the frames of a query, in the order of their starts.
pub fn frames_of(catalogue: &Catalogue, query: &Checked) -> Result<Vec<i64>, Failure> {
    let columns = [ColumnSource::Frame(&FRAME_ID)];
    let rows = rows_of(catalogue, query, &columns)?;
    let number = |cells: Vec<Cell>| match cells.first() {
        Some(Cell::Whole(frame_id)) => Some(*frame_id),
        _ => None,
    };
    Ok(rows.into_iter().filter_map(number).collect())
}

/// Columns of the frames of a query, in the order of their starts.
pub(super) fn rows_of(
    catalogue: &Catalogue,
    query: &Checked,
    columns: &[ColumnSource],
) -> Result<Vec<Vec<Cell>>, Failure> {
    let mut rows = Vec::new();
    let ask = Ask {
        query,
        columns,
        detail: Detail::Columns,
        order: &[],
        limit: None,
    };
    catalogue.fetch(&ask, |row| {
        rows.push(row.cells);
        Ok(true)
    })?;
    Ok(rows)
}

/// States this of frames. Frames of which it is said already are not stated again.
pub fn mark_frames(
    catalogue: &mut Catalogue,
    frames: &[i64],
    said: &LookSaid,
    mode: Mode,
) -> Result<LookMarked, Failure> {
    let batch = catalogue.batch()?;
    let acts = acts_of(said);
    let mut concerned: Vec<Vec<i64>> = vec![Vec::new(); acts.len()];
    let mut changed = 0;
    for frame_id in frames {
        let now = batch.look_of(*frame_id)?;
        let mut is_changed = false;
        for (act, concerned) in acts.iter().zip(&mut concerned) {
            if !is_said(act, &now) {
                concerned.push(*frame_id);
                is_changed = true;
            }
        }
        changed += u64::from(is_changed);
    }
    let now = batch.now_ms()?;
    for (act, frames) in acts.iter().zip(concerned) {
        if !frames.is_empty() {
            state_at(&batch, act, frames, Stamp::At(now))?;
        }
    }
    if mode == Mode::Lasting && changed > 0 {
        batch.commit()?;
    }
    Ok(LookMarked {
        frames: frames.len() as u64,
        changed,
    })
}

fn acts_of(said: &LookSaid) -> Vec<Act> {
    [
        said.looked.map(Act::Looked),
        said.chosen.map(Act::Chosen),
        said.note.clone().map(Act::Note),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Whether it is in force already. What was never said counts as not looked at.
fn is_said(act: &Act, now: &StatedLook) -> bool {
    match act {
        Act::Looked(looked) => now.looked.unwrap_or(false) == *looked,
        Act::Chosen(chosen) => now.chosen == *chosen,
        Act::Note(note) => now.note == *note,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_is_one_line() {
        assert_eq!(
            parse_note("  fireball, low \n").unwrap().as_deref(),
            Some("fireball, low")
        );
        assert_eq!(parse_note(" \n ").unwrap(), None);
        assert!(parse_note("two\nlines").is_err());
        assert!(parse_note(&"é".repeat(LONGEST_NOTE)).is_ok());
        assert!(parse_note(&"é".repeat(LONGEST_NOTE + 1)).is_err());
    }
}
