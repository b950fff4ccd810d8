//! The statements made on looking at frames, as they are in the log. Interprets none.

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::columns;
use crate::terms::failure::Failure;

/// A statement of the log about frames that were looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LookLogRow {
    /// Its number here.
    pub number: i64,
    /// When it was stated, in milliseconds from 1970 UTC.
    pub stated_ms: Option<i64>,
    /// Its type.
    pub word: String,
    /// Its content, as JSON.
    pub content: String,
    /// The number of the statement that it removes or replaces.
    pub takes_back: Option<i64>,
}

columns!(LookLogRow: number stated_ms word content takes_back);

impl Batch<'_> {
    /// The statements made on looking, in order.
    pub fn look_log(&self) -> Result<Vec<LookLogRow>, Failure> {
        self.all(
            "SELECT log.number, log.stated_ms, word.word, log.content, log.takes_back
             FROM stated_log AS log JOIN stated_word AS word USING (word_id)
             WHERE word.word IN ('looked', 'chosen', 'note', 'trail') ORDER BY log.number",
            [],
        )
    }

    /// The clock of this computer, as read by SQLite: milliseconds from 1970 UTC. Statements of one moment are one act, so it is later
    /// than that of every statement in the log.
    pub fn now_ms(&self) -> Result<i64, Failure> {
        self.one(
            "SELECT max(CAST(unixepoch('now', 'subsec') * 1000 AS INTEGER),
             1 + ifnull((SELECT stated_ms FROM stated_log ORDER BY number DESC LIMIT 1), 0))",
            [],
        )
    }
}
