//! Loads the statements of another catalogue: all of them or none, and none twice.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::statements::Stamp;
use crate::framelist::read_statement;
use crate::framelist::statement_content;
use crate::terms::failure::Failure;
use crate::terms::frame_marks::FrameMark;
use crate::terms::statement::Act;
use crate::terms::statement::Statement;
use crate::usecase::derive::rederive::Concerned;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::derive::rederive::rederive;
use crate::usecase::statements::apply::apply;
use crate::usecase::statements::apply_site::resolve;
use crate::usecase::statements::frames::Found;
use crate::usecase::statements::in_force::is_in_force;
use crate::usecase::statements::state::statements_in_force;

/// The result of loading statements.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Taken {
    /// Statements that are new here.
    pub new: u64,
    /// Statements that the catalogue already had.
    pub known: u64,
    /// Of the new ones, those that state what was already in force.
    pub no_effect: u64,
    /// Frames that the new ones are about and that are here.
    pub frames: BTreeSet<i64>,
    /// Frames that they are about and that are not here, by the labels of their dumps.
    pub not_here: BTreeMap<String, BTreeSet<FrameMark>>,
    /// Their effects.
    pub done: Rederived,
}

/// Reads statements, one per line.
///
/// Refuses: lines that are not statements, by their numbers; a file without any; one that ends within a line.
pub fn read_statements(text: &str) -> Result<Vec<Statement>, Failure> {
    let refuse = |message: String| {
        Failure::words(message)
            .hint("such files are written by framefall statement save; nothing was changed")
    };
    let mut all = Vec::new();
    for (number, line) in (1..).zip(text.lines()) {
        if line.trim().is_empty() {
            continue;
        }
        let statement = read_statement(line)
            .map_err(|why| refuse(format!("line {number} is not a statement: {why}")))?;
        all.push(statement);
    }
    if all.is_empty() {
        return Err(refuse("the file contains no statements".to_owned()));
    }
    Ok(all)
}

/// Loads statements in their order and derives the frames concerned again, in one transaction. Statements about frames
/// that are not here wait for them.
///
/// Refuses, and changes nothing: statements that contradict those of this catalogue.
pub fn take_statements(
    catalogue: &mut Catalogue,
    statements: &[Statement],
    mode: Mode,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<Taken, Failure> {
    let mut taken = Taken::default();
    let state = |batch: &Batch<'_>| {
        let mut all = Concerned::default();
        for (number, statement) in (1..).zip(statements) {
            let effect = take(batch, statement, &mut taken).map_err(|failure| Failure {
                message: format!(
                    "statement {number} of the file ({}) cannot be loaded: {}",
                    statement.act.word(),
                    failure.message
                ),
                ..failure
            })?;
            all.frames.extend(effect.frames);
            all.nights.extend(effect.nights);
            all.restated += effect.restated;
        }
        all.frames.sort_unstable();
        all.frames.dedup();
        Ok(all)
    };
    let done = rederive(catalogue, mode, state, watch)?;
    taken.done = done;
    Ok(taken)
}

/// Loads one statement.
fn take(batch: &Batch<'_>, statement: &Statement, taken: &mut Taken) -> Result<Concerned, Failure> {
    let act = &statement.act;
    let known = batch.statement_known(statement.id)?;
    let (number, parts_known) = if let Some((number, parts)) = known {
        taken.known += 1;
        if parts >= statement.frames.len() {
            return Ok(Concerned::default());
        }
        (number, parts)
    } else {
        taken.new += 1;
        let takes_back = match statement.takes_back {
            Some(id) => batch.statement_known(id)?.map(|(number, _)| number),
            None => None,
        };
        let content = statement_content(act);
        let stamp = Stamp::Taken(statement.id, statement.stated);
        // Checked before the statement is in the log.
        let has_no_effect = is_in_force(batch, act)?;
        let number = batch.log_statement(stamp, act.word(), &content, takes_back)?;
        // A fact that was stated twice is in force until both statements are removed.
        if has_no_effect || (act.is_removal() && !statements_in_force(batch, act)?.is_empty()) {
            taken.no_effect += 1;
            return Ok(Concerned::default());
        }
        (number, 0)
    };
    let mut found = Found::default();
    let site_id = match act {
        Act::Place(site) => Some(resolve(batch, site)?),
        _ => None,
    };
    for part in &statement.frames[parts_known..] {
        batch.log_frames(number, part)?;
        let before = found.absent.len();
        found.look_up(batch, part)?;
        if found.absent.len() > before {
            let not_here = taken.not_here.entry(part.dump.clone()).or_default();
            not_here.extend(found.absent[before..].iter().cloned());
        }
    }
    if let Act::Label(dump, _, Some(mark)) = act
        && batch.frames_marked(mark)?.is_empty()
    {
        batch.await_frame(number, mark, None)?;
        let not_here = taken.not_here.entry(dump.clone()).or_default();
        not_here.insert(mark.clone());
        return Ok(Concerned::default());
    }
    for mark in &found.absent {
        batch.await_frame(number, mark, site_id)?;
    }
    taken.frames.extend(&found.frames);
    apply(batch, act, found.frames)
}
