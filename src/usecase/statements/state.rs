//! A statement made here and now: first logged, then applied.

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::statements::LogRow;
use crate::catalogue::statements::Stamp;
use crate::framelist::statement_content;
use crate::terms::failure::Failure;
use crate::terms::statement::Act;
use crate::usecase::derive::rederive::Concerned;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::derive::rederive::rederive;
use crate::usecase::statements::apply::apply;
use crate::usecase::statements::frames::log_frames;
use crate::usecase::statements::logged::act_of;

/// Logs a statement and applies it.
///
/// A removal removes every statement that put the same fact in force.
pub fn state(batch: &Batch<'_>, act: &Act, frames: Vec<i64>) -> Result<Concerned, Failure> {
    state_at(batch, act, frames, Stamp::Now)
}

/// The same with the moment of an act of several statements.
pub fn state_at(
    batch: &Batch<'_>,
    act: &Act,
    frames: Vec<i64>,
    stamp: Stamp,
) -> Result<Concerned, Failure> {
    let content = statement_content(act);
    let note = |takes_back| batch.log_statement(stamp, act.word(), &content, takes_back);
    if act.is_removal() {
        let in_force = statements_in_force(batch, act)?;
        for row in &in_force {
            note(Some(row.number))?;
        }
        if in_force.is_empty() {
            note(None)?;
        }
    } else {
        let replaced = match act {
            Act::Query(..) => statements_in_force(batch, act)?.pop(),
            Act::SiteChange(was, _) => {
                statements_in_force(batch, &Act::SiteRemoval(was.clone()))?.pop()
            }
            _ => None,
        };
        let number = note(replaced.map(|row| row.number))?;
        log_frames(batch, number, &frames)?;
    }
    apply(batch, act, frames)
}

/// States something of these frames, and derives again what depends on it.
///
/// Gives: the number of the resulting fix, zone, site or track.
pub fn state_and_derive(
    catalogue: &mut Catalogue,
    act: &Act,
    frames: Vec<i64>,
    mode: Mode,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<(i64, Rederived), Failure> {
    let mut id = 0;
    let stated = |batch: &Batch<'_>| {
        let concerned = state(batch, act, frames)?;
        id = concerned.id;
        Ok(concerned)
    };
    let done = rederive(catalogue, mode, stated, watch)?;
    Ok((id, done))
}

/// States something that nothing derived depends on.
pub fn state_alone(catalogue: &mut Catalogue, act: &Act) -> Result<(), Failure> {
    let batch = catalogue.batch()?;
    state(&batch, act, Vec::new())?;
    batch.commit()
}

/// Begins a statement whose frames follow step by step; returns its number.
pub fn begin(batch: &Batch<'_>, act: &Act) -> Result<i64, Failure> {
    batch.log_statement(Stamp::Now, act.word(), &statement_content(act), None)
}

/// The statements that put in force what an act puts in force or removes, except those that were removed.
pub(super) fn statements_in_force(batch: &Batch<'_>, act: &Act) -> Result<Vec<LogRow>, Failure> {
    let words: &[&str] = match act {
        Act::Zone(..) | Act::ZoneRemoval(..) => &["zone"],
        Act::Fix(..) | Act::FixRemoval(..) => &["fix"],
        Act::Site(_) | Act::SiteChange(..) | Act::SiteRemoval(_) => &["site", "site-change"],
        Act::Track(..) | Act::TrackRemoval(_) => &["track"],
        Act::Query(..) | Act::QueryRemoval(_) => &["query"],
        Act::Place(_)
        | Act::Kind(_)
        | Act::Focal(_)
        | Act::Looked(_)
        | Act::Chosen(_)
        | Act::Note(_)
        | Act::Trail(..)
        | Act::Pointing(_)
        | Act::Label(..) => &[],
    };
    let Some(key) = act.key().filter(|_| !words.is_empty()) else {
        return Ok(Vec::new());
    };
    let mut in_force = Vec::new();
    for row in batch.statements_of(words)? {
        if row.taken_back_by.is_none() && act_of(&row)?.key().as_ref() == Some(&key) {
            in_force.push(row);
        }
    }
    Ok(in_force)
}
