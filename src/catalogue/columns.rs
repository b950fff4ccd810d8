//! Converts columns to values.

use rusqlite::Row;

use crate::catalogue::scale::reading_of;
use crate::terms::fingerprint::Fingerprint;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// Reads an instant stored as milliseconds.
pub(super) fn instant(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Utc>> {
    Ok(row
        .get::<_, Option<i64>>(column)?
        .and_then(Utc::from_unix_ms))
}

/// Reads the same as text.
pub(super) fn instant_text(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<String>> {
    Ok(instant(row, column)?.map(|at| at.to_string()))
}

/// Reads a clock reading stored in two columns: its seconds, followed by the digits of its fraction.
pub(super) fn reading(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<WallTime>> {
    let seconds: Option<i64> = row.get(column)?;
    let fraction = row.get_ref(column + 1)?.as_str_or_null()?;
    Ok(seconds.and_then(|seconds| reading_of(seconds, fraction)))
}

/// Reads the stored part of a fingerprint.
pub(super) fn fingerprint(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Fingerprint>> {
    Ok(row
        .get_ref(column)?
        .as_blob_or_null()?
        .and_then(Fingerprint::from_bytes))
}

/// Reads a text column through a parser; a text that it rejects counts as unknown.
pub(super) fn parsed<T>(
    row: &Row<'_>,
    column: usize,
    parse: impl Fn(&str) -> Option<T>,
) -> rusqlite::Result<Option<T>> {
    Ok(row.get_ref(column)?.as_str_or_null()?.and_then(parse))
}
