//! The catalogue's own answers by the planned path of a query, complete and limited.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::sync::OnceLock;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::catalogue::select::Ask;
use framefall::catalogue::select::Detail;
use framefall::query::Checked;
use framefall::terms::column::ColumnSource;
use framefall::terms::field::field_named;
use framefall::terms::records::Cell;
use rusqlite::Connection;
use tempfile::TempDir;

use crate::query_meaning::archive::Row;
use crate::query_meaning::archive::fill;

/// A catalogue on the disk that holds the rows; the folder goes with what is given.
pub fn catalogue_of(rows: &[Row]) -> (TempDir, Catalogue) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.sqlite");
    fs::copy(empty(), &path).unwrap();
    let connection = Connection::open(&path).unwrap();
    connection
        .execute_batch("PRAGMA foreign_keys = OFF; PRAGMA synchronous = OFF; BEGIN")
        .unwrap();
    fill(&connection, rows);
    connection.execute_batch("COMMIT").unwrap();
    drop(connection);
    let catalogue = Catalogue::open(&path, Purpose::Read).unwrap();
    (folder, catalogue)
}

/// An empty catalogue, made once.
fn empty() -> &'static Path {
    static MADE: OnceLock<(TempDir, PathBuf)> = OnceLock::new();
    let (_, path) = MADE.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("catalogue.sqlite");
        drop(Catalogue::open(&path, Purpose::ChangeOrMake).unwrap());
        (folder, path)
    });
    path
}

/// The numbers of the frames that the catalogue answers with, in its order; at most so many.
pub fn answered(catalogue: &Catalogue, query: &Checked, limit: Option<u64>) -> Vec<i64> {
    let path = ColumnSource::Frame(field_named("path").unwrap());
    let ask = Ask {
        query,
        columns: &[path],
        detail: Detail::Columns,
        order: &[],
        limit,
    };
    let mut found = Vec::new();
    let fetched = catalogue.fetch(&ask, |row| {
        let Some(Cell::Text(path)) = row.cells.first() else {
            panic!("no path in {row:?}");
        };
        // /cards/a/100NIGHT/ID/NAME
        found.push(path.split('/').nth(4).unwrap().parse().unwrap());
        Ok(true)
    });
    fetched.unwrap();
    found
}
