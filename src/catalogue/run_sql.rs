//! Statements run on an open catalogue or in a batch, with SQLite's errors as failures.

use std::path::Path;

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::Params;
use rusqlite::Row;
use rusqlite::types::FromSql;

use crate::catalogue::batch::Batch;
use crate::catalogue::failure::failed;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;

/// A connection to a catalogue, and the file that its failures name. Statements are prepared once and kept.
pub(super) trait RunSql {
    /// The connection.
    fn connection(&self) -> &Connection;

    /// The file.
    fn file(&self) -> &Path;

    /// Runs one step on the database, and converts its error to a failure.
    fn step<T>(&self, run: impl FnOnce(&Connection) -> rusqlite::Result<T>) -> Result<T, Failure> {
        run(self.connection()).map_err(|e| failed(self.file(), e))
    }

    /// Every row of a SELECT.
    fn rows<T, C: FromIterator<T>>(
        &self,
        sql: &str,
        values: impl Params,
        read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<C, Failure> {
        self.step(|db| db.prepare_cached(sql)?.query_map(values, read)?.collect())
    }

    /// The first row of a SELECT that always has one.
    fn row<T>(
        &self,
        sql: &str,
        values: impl Params,
        read: impl FnOnce(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<T, Failure> {
        self.step(|db| db.prepare_cached(sql)?.query_row(values, read))
    }

    /// The first row of a SELECT, if it has any.
    fn row_if_any<T>(
        &self,
        sql: &str,
        values: impl Params,
        read: impl FnOnce(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Option<T>, Failure> {
        self.step(|db| db.prepare_cached(sql)?.query_row(values, read).optional())
    }

    /// The first column of every row of a SELECT.
    fn values<T: FromSql, C: FromIterator<T>>(
        &self,
        sql: &str,
        values: impl Params,
    ) -> Result<C, Failure> {
        self.rows(sql, values, |row| row.get(0))
    }

    /// The only value of a SELECT that always has one.
    fn value<T: FromSql>(&self, sql: &str, values: impl Params) -> Result<T, Failure> {
        self.row(sql, values, |row| row.get(0))
    }

    /// The only value of a SELECT, if it has any.
    fn value_if_any<T: FromSql>(
        &self,
        sql: &str,
        values: impl Params,
    ) -> Result<Option<T>, Failure> {
        self.row_if_any(sql, values, |row| row.get(0))
    }

    /// Runs a statement, and returns how many rows it changed.
    fn execute(&self, sql: &str, values: impl Params) -> Result<usize, Failure> {
        self.step(|db| db.prepare_cached(sql)?.execute(values))
    }

    /// Inserts a row, and returns its number.
    fn insert(&self, sql: &str, values: impl Params) -> Result<i64, Failure> {
        self.step(|db| db.prepare_cached(sql)?.insert(values))
    }
}

impl RunSql for Catalogue {
    fn connection(&self) -> &Connection {
        &self.db
    }

    fn file(&self) -> &Path {
        &self.path
    }
}

impl RunSql for Batch<'_> {
    fn connection(&self) -> &Connection {
        &self.tx
    }

    fn file(&self) -> &Path {
        self.path
    }
}
