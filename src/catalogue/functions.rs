//! Functions of a connection beyond SQL: lists of numbers as tables, and local time. Runs no statement.

use std::sync::Mutex;

use rusqlite::Connection;
use rusqlite::functions::FunctionFlags;

use crate::terms::local::LocalClock;

/// Adds to a connection `rarray(?)`, a list of numbers as a table of one column, so that one statement can request many rows;
/// and `local_ms(start_ms, zone)`, milliseconds from the local 1970-01-01T00:00, NULL where either is not known.
pub fn give_functions(db: &Connection) -> rusqlite::Result<()> {
    rusqlite::vtab::array::load_module(db)?;
    let clock = Mutex::new(LocalClock::default());
    let flags = FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_DETERMINISTIC;
    db.create_scalar_function("local_ms", 2, flags, move |context| {
        let at_ms = context.get_raw(0).as_i64_or_null()?;
        let zone = context.get_raw(1).as_str_or_null()?;
        let (Some(at_ms), Some(zone), Ok(mut clock)) = (at_ms, zone, clock.lock()) else {
            return Ok(None);
        };
        let offset_s = clock.offset_s(zone, at_ms);
        Ok(offset_s.and_then(|offset_s| at_ms.checked_add(i64::from(offset_s) * 1_000)))
    })
}
