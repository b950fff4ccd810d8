//! Takes back what was stated on looking, one act after the other, and states it again. Everything follows from the log of statements,
//! so there is no limit, and a restart changes nothing.
//!
//! A statement that takes back another has its number. One that states something again has the number of the statement that took it
//! back. So a statement counts as taken back if one that counts has its number.

use std::collections::BTreeMap;
use std::collections::HashMap;
use std::collections::HashSet;

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::look_log::LookLogRow;
use crate::catalogue::statements::Stamp;
use crate::framelist::statement_content;
use crate::terms::failure::Failure;
use crate::terms::frame_marks::FrameMark;
use crate::terms::frame_marks::unpack;
use crate::terms::statement::Act;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::examine::in_force::derive_paths;
use crate::usecase::statements::apply::apply;
use crate::usecase::statements::frames::Found;
use crate::usecase::statements::frames::log_frames;
use crate::usecase::statements::logged::act_in;
use crate::usecase::statements::words::act_words;

/// What was taken back or stated again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Undone {
    /// The statements, in words.
    pub statements: Vec<String>,
    /// The frames they are about.
    pub frames: Vec<i64>,
}

/// Which way to go through the log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Takes back the last act.
    Back,
    /// States again what was taken back last, unless something else was stated since.
    Again,
}

/// Takes back the last act of looking that is about one of these frames, or states it again. One act may be several
/// statements: those of one moment.
pub fn undo(
    catalogue: &mut Catalogue,
    is_about: &dyn Fn(i64) -> bool,
    direction: Direction,
    mode: Mode,
) -> Result<Option<Undone>, Failure> {
    let batch = catalogue.batch()?;
    let log = batch.look_log()?;
    let inactive = inactive(&log);
    let is_open = |row: &LookLogRow| {
        let is_original = row.takes_back.is_none();
        !inactive.contains(&row.number) && is_original == (direction == Direction::Back)
    };
    let taken_back: HashMap<i64, &LookLogRow> = log.iter().map(|row| (row.number, row)).collect();
    let mut act: Vec<&LookLogRow> = Vec::new();
    let mut frames = Vec::new();
    for row in log.iter().rev() {
        if let Some(first) = act.first() {
            if is_open(row) && row.stated_ms.is_some() && row.stated_ms == first.stated_ms {
                frames.extend(frames_of(&batch, row.number)?);
                act.push(row);
                continue;
            }
            break;
        }
        if inactive.contains(&row.number) {
            continue;
        }
        let of_row = frames_of(&batch, row.number)?;
        let concerns = of_row.iter().any(|id| is_about(*id));
        if !concerns {
            continue;
        }
        // Only what takes back an original can be stated again; what states again is left alone.
        let takes_original = row
            .takes_back
            .and_then(|of| taken_back.get(&of))
            .is_some_and(|of| of.takes_back.is_none());
        match direction {
            Direction::Again if row.takes_back.is_none() => break,
            Direction::Again if takes_original => {}
            Direction::Back if row.takes_back.is_none() => {}
            _ => continue,
        }
        frames.extend(of_row);
        act.push(row);
    }
    if act.is_empty() {
        return Ok(None);
    }
    let now = batch.now_ms()?;
    let mut statements = Vec::new();
    for row in act {
        statements.push(match direction {
            Direction::Back => take_back(&batch, &log, row, now)?,
            Direction::Again => state_again(&batch, &taken_back, row, now)?,
        });
    }
    frames.sort_unstable();
    frames.dedup();
    if mode == Mode::Lasting {
        batch.commit()?;
    }
    Ok(Some(Undone { statements, frames }))
}

/// The numbers of statements that were taken back.
fn inactive(log: &[LookLogRow]) -> HashSet<i64> {
    let mut inactive = HashSet::new();
    for row in log.iter().rev() {
        if let Some(of) = row.takes_back
            && !inactive.contains(&row.number)
        {
            inactive.insert(of);
        }
    }
    inactive
}

fn take_back(
    batch: &Batch<'_>,
    log: &[LookLogRow],
    row: &LookLogRow,
    now: i64,
) -> Result<String, Failure> {
    let act = act_of(row)?;
    let mut open: HashSet<i64> = frames_of(batch, row.number)?.into_iter().collect();
    let clocks: HashSet<Option<i64>> = marks_of(batch, row.number)?
        .into_iter()
        .map(|mark| mark.clock_s)
        .collect();
    // What was stated before, statement by statement; nothing for the rest.
    let mut before: Vec<(Act, Vec<i64>)> = Vec::new();
    for earlier in log.iter().rev().filter(|r| r.number < row.number) {
        if open.is_empty() {
            break;
        }
        if earlier.word != row.word {
            continue;
        }
        let stated = act_of(earlier)?;
        if !is_about_the_same(&stated, &act) {
            continue;
        }
        let may_be = marks_of(batch, earlier.number)?
            .iter()
            .any(|mark| clocks.contains(&mark.clock_s));
        if !may_be {
            continue;
        }
        let of_earlier = frames_of(batch, earlier.number)?;
        let found: Vec<i64> = of_earlier
            .into_iter()
            .filter(|frame| open.remove(frame))
            .collect();
        if !found.is_empty() {
            before.push((stated, found));
        }
    }
    let mut rest: Vec<i64> = open.into_iter().collect();
    rest.sort_unstable();
    if !rest.is_empty() {
        before.push((nothing(&act), rest));
    }
    let mut by_content: BTreeMap<String, (Act, Vec<i64>)> = BTreeMap::new();
    for (stated, frames) in before {
        let entry = by_content
            .entry(statement_content(&stated))
            .or_insert_with(|| (stated, Vec::new()));
        entry.1.extend(frames);
    }
    for (stated, frames) in by_content.into_values() {
        log_and_apply(batch, &stated, frames, row.number, now)?;
    }
    Ok(act_words(&act))
}

fn state_again(
    batch: &Batch<'_>,
    rows: &HashMap<i64, &LookLogRow>,
    row: &LookLogRow,
    now: i64,
) -> Result<String, Failure> {
    let original = row.takes_back.and_then(|of| rows.get(&of));
    let act = act_of(original.copied().unwrap_or(row))?;
    log_and_apply(batch, &act, frames_of(batch, row.number)?, row.number, now)?;
    Ok(act_words(&act))
}

fn log_and_apply(
    batch: &Batch<'_>,
    act: &Act,
    frames: Vec<i64>,
    takes_back: i64,
    now: i64,
) -> Result<(), Failure> {
    let content = statement_content(act);
    let number = batch.log_statement(Stamp::At(now), act.word(), &content, Some(takes_back))?;
    log_frames(batch, number, &frames)?;
    apply(batch, act, frames.clone())?;
    if matches!(act, Act::Trail(..)) {
        for frame_id in frames {
            derive_paths(batch, frame_id)?;
        }
    }
    Ok(())
}

fn act_of(row: &LookLogRow) -> Result<Act, Failure> {
    act_in(row.number, &row.word, &row.content)
}

fn is_about_the_same(one: &Act, other: &Act) -> bool {
    match (one, other) {
        (Act::Trail(ends, _), Act::Trail(others, _)) => ends == others,
        _ => one.word() == other.word(),
    }
}

/// The act after which nothing is stated.
fn nothing(act: &Act) -> Act {
    match act {
        Act::Chosen(_) => Act::Chosen(None),
        Act::Note(_) => Act::Note(None),
        Act::Trail(ends, _) => Act::Trail(*ends, None),
        _ => Act::Looked(false),
    }
}

fn frames_of(batch: &Batch<'_>, number: i64) -> Result<Vec<i64>, Failure> {
    let mut found = Found::default();
    for part in batch.statement_frames(number)? {
        found.look_up(batch, &part)?;
    }
    Ok(found.frames)
}

fn marks_of(batch: &Batch<'_>, number: i64) -> Result<Vec<FrameMark>, Failure> {
    let mut marks = Vec::new();
    for part in batch.statement_frames(number)? {
        marks.extend(unpack(part.first_s, &part.marks).unwrap_or_default());
    }
    Ok(marks)
}
