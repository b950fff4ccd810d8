//! The log of statements: appended to and read, never changed. Does not interpret statements.

use rusqlite::Connection;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::read;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::rows::signed;
use crate::terms::failure::Failure;
use crate::terms::statement::FramePart;
use crate::terms::statement::StatementId;
use crate::terms::time::Utc;

/// A statement of the log, without its frames.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LogRow {
    /// Its number here.
    pub number: i64,
    /// Its identity in every catalogue.
    pub id: StatementId,
    /// When it was stated; `None` if an earlier version did not record it.
    pub stated: Option<Utc>,
    /// Its type.
    pub word: String,
    /// Its content, as JSON.
    pub content: String,
    /// The number of the statement that it removes or replaces.
    pub takes_back: Option<i64>,
    /// The first statement that removes or replaces it.
    pub taken_back_by: Option<i64>,
    /// How many frames it is about.
    pub frames: i64,
    /// How many of them are not here.
    pub not_here: i64,
}

columns!(LogRow: number id stated word content takes_back taken_back_by frames not_here);

/// The identity and time of a statement.
#[derive(Clone, Copy, Debug)]
pub enum Stamp {
    /// It is made now.
    Now,
    /// It is part of an act of this moment, in milliseconds from 1970 UTC.
    At(i64),
    /// It comes from another catalogue.
    Taken(StatementId, Option<Utc>),
}

const ROWS: &str =
    "SELECT log.number, log.identity, log.stated_ms, word.word, log.content, log.takes_back,
            (SELECT min(later.number) FROM stated_log AS later WHERE later.takes_back = log.number),
            (SELECT ifnull(sum(part.frames), 0) FROM stated_frames AS part WHERE part.number = log.number),
            (SELECT count(*) FROM pending_statement AS pending WHERE pending.number = log.number)
     FROM stated_log AS log JOIN stated_word AS word USING (word_id)";

impl Catalogue {
    /// Every statement, in the order in which they took effect.
    pub fn statements(&self) -> Result<Vec<LogRow>, Failure> {
        self.step(|db| rows(db, ""))
    }

    /// The frames of a statement, part by part.
    pub fn statement_frames(&self, number: i64) -> Result<Vec<FramePart>, Failure> {
        self.all(
            "SELECT dump, frames, first_s, last_s, marks FROM stated_frames WHERE number = ? ORDER BY part",
            [number],
        )
    }
}

impl Batch<'_> {
    /// Appends a statement and returns its number.
    pub fn log_statement(
        &self,
        stamp: Stamp,
        word: &str,
        content: &str,
        takes_back: Option<i64>,
    ) -> Result<i64, Failure> {
        self.step(|db| {
            let word_id = word_id(db, word)?;
            let (id, stated_ms): (StatementId, Option<i64>) = match stamp {
                // The clock of this computer, as read by SQLite.
                Stamp::Now => db.prepare_cached(
                        "SELECT randomblob(16), CAST(unixepoch('now', 'subsec') * 1000 AS INTEGER)",
                    )?
                    .query_row([], |row| Ok((row.get(0)?, row.get(1)?)))?,
                Stamp::At(ms) => (
                    db.prepare_cached("SELECT randomblob(16)")?
                        .query_row([], |row| row.get(0))?,
                    Some(ms),
                ),
                Stamp::Taken(id, stated) => (id, stated.map(Utc::unix_ms)),
            };
            db.prepare_cached(
                "INSERT INTO stated_log (identity, stated_ms, word_id, content, takes_back) VALUES (?, ?, ?, ?, ?)",
            )?
            .insert(params![id, stated_ms, word_id, content, takes_back])
        })
    }

    /// Appends frames to a statement.
    pub fn log_frames(&self, number: i64, part: &FramePart) -> Result<(), Failure> {
        self.change(
            "INSERT INTO stated_frames (number, part, dump, frames, first_s, last_s, marks)
             SELECT ?1, 1 + ifnull(max(part), 0), ?2, ?3, ?4, ?5, ?6 FROM stated_frames WHERE number = ?1",
            params![
                number,
                part.dump,
                signed(part.frames),
                part.first_s,
                part.last_s,
                part.marks
            ],
        )
    }

    /// The number of a statement here, and how many parts of its frames are recorded.
    pub fn statement_known(&self, id: StatementId) -> Result<Option<(i64, usize)>, Failure> {
        self.row_if_any(
            "SELECT number, (SELECT count(*) FROM stated_frames AS part WHERE part.number = log.number)
             FROM stated_log AS log WHERE identity = ?",
            [id],
            |row| {
                let parts: i64 = row.get(1)?;
                Ok((row.get(0)?, usize::try_from(parts).unwrap_or(0)))
            },
        )
    }

    /// The statements of these types, in order.
    pub fn statements_of(&self, words: &[&str]) -> Result<Vec<LogRow>, Failure> {
        let list: Vec<String> = words.iter().map(|word| format!("'{word}'")).collect();
        let of = format!("WHERE word.word IN ({})", list.join(", "));
        self.step(|db| rows(db, &of))
    }

    /// The statement of that number.
    pub fn statement(&self, number: i64) -> Result<Option<LogRow>, Failure> {
        self.step(|db| Ok(rows(db, &format!("WHERE log.number = {number}"))?.pop()))
    }
}

fn rows(db: &Connection, of: &str) -> rusqlite::Result<Vec<LogRow>> {
    db.prepare(&format!("{ROWS} {of} ORDER BY log.number"))?
        .query_map([], read)?
        .collect()
}

columns!(FramePart: dump frames first_s last_s marks);

/// The number of a word, existing or new.
pub(super) fn word_id(db: &Connection, word: &str) -> rusqlite::Result<i64> {
    db.prepare_cached("INSERT OR IGNORE INTO stated_word (word) VALUES (?)")?
        .execute([word])?;
    db.prepare_cached("SELECT word_id FROM stated_word WHERE word = ?")?
        .query_row([word], |row| row.get(0))
}
