//! Statements run on an open catalogue, in a batch too, with SQLite's errors as failures. They are prepared once and kept.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::Params;
use rusqlite::Row;

use crate::catalogue::columns::FromColumns;
use crate::catalogue::columns::read;
use crate::catalogue::failure::failed;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;

impl Catalogue {
    /// Runs one step on the database, and converts its error to a failure.
    pub(super) fn step<T>(
        &self,
        run: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, Failure> {
        run(&self.db).map_err(|e| failed(&self.path, e))
    }

    /// Every row of a SELECT.
    pub(super) fn rows<T, C: FromIterator<T>>(
        &self,
        sql: &str,
        values: impl Params,
        read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<C, Failure> {
        self.step(|db| db.prepare_cached(sql)?.query_map(values, read)?.collect())
    }

    /// The first row of a SELECT that always has one.
    pub(super) fn row<T>(
        &self,
        sql: &str,
        values: impl Params,
        read: impl FnOnce(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<T, Failure> {
        self.step(|db| db.prepare_cached(sql)?.query_row(values, read))
    }

    /// The first row of a SELECT, if it has any.
    pub(super) fn row_if_any<T>(
        &self,
        sql: &str,
        values: impl Params,
        read: impl FnOnce(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Option<T>, Failure> {
        self.step(|db| db.prepare_cached(sql)?.query_row(values, read).optional())
    }

    /// Every row of a SELECT, as what its columns are.
    pub(super) fn all<T: FromColumns, C: FromIterator<T>>(
        &self,
        sql: &str,
        values: impl Params,
    ) -> Result<C, Failure> {
        self.rows(sql, values, read)
    }

    /// The first row of a SELECT that always has one, as what its columns are.
    pub(super) fn one<T: FromColumns>(&self, sql: &str, values: impl Params) -> Result<T, Failure> {
        self.row(sql, values, read)
    }

    /// The first row of a SELECT, if it has any, as what its columns are.
    pub(super) fn one_if_any<T: FromColumns>(
        &self,
        sql: &str,
        values: impl Params,
    ) -> Result<Option<T>, Failure> {
        self.row_if_any(sql, values, read)
    }

    /// Passes every row of a SELECT on, as what its columns are.
    pub(super) fn each<T: FromColumns>(
        &self,
        sql: &str,
        values: impl Params,
        mut take: impl FnMut(T),
    ) -> Result<(), Failure> {
        self.step(|db| {
            let mut statement = db.prepare_cached(sql)?;
            let mut rows = statement.query(values)?;
            while let Some(row) = rows.next()? {
                take(read(row)?);
            }
            Ok(())
        })
    }

    /// Whether a SELECT has a row.
    pub(super) fn exists(&self, sql: &str, values: impl Params) -> Result<bool, Failure> {
        self.step(|db| db.prepare_cached(sql)?.exists(values))
    }

    /// Runs a statement, and returns how many rows it changed.
    pub(super) fn execute(&self, sql: &str, values: impl Params) -> Result<usize, Failure> {
        self.step(|db| db.prepare_cached(sql)?.execute(values))
    }

    /// Runs a statement, however many rows it changes.
    pub(super) fn change(&self, sql: &str, values: impl Params) -> Result<(), Failure> {
        self.execute(sql, values).map(|_| ())
    }

    /// Inserts a row, and returns its number.
    pub(super) fn insert(&self, sql: &str, values: impl Params) -> Result<i64, Failure> {
        self.step(|db| db.prepare_cached(sql)?.insert(values))
    }
}

/// Runs statements that delete the rows of a frame.
pub(super) fn forget(db: &Connection, statements: &[&str], frame_id: i64) -> rusqlite::Result<()> {
    for sql in statements {
        db.prepare_cached(sql)?.execute([frame_id])?;
    }
    Ok(())
}
