//! A row of the log -> the statement in it.

use crate::catalogue::statements::LogRow;
use crate::framelist::statement_from;
use crate::terms::failure::Failure;
use crate::terms::statement::Act;

/// The statement in a row of the log.
pub fn act_of(row: &LogRow) -> Result<Act, Failure> {
    act_in(row.number, &row.word, &row.content)
}

/// The statement of a number, from its word and its content.
pub(crate) fn act_in(number: i64, word: &str, content: &str) -> Result<Act, Failure> {
    statement_from(word, content).map_err(|why| {
        Failure::catalogue(format!(
            "statement {number} of the catalogue cannot be read: {why}"
        ))
        .hint(
            "another program changed it, or a later framefall wrote it; use a backup, or the \
               later framefall",
        )
    })
}
