//! Puts values from the catalogue into cells: moments as text. Reuses the cell's string buffer, since one row is reused
//! for a whole list. Queries nothing.

use std::fmt::Write;

use rusqlite::types::ValueRef;

use crate::catalogue::scale::date_of;
use crate::catalogue::scale::reading_of;
use crate::terms::digits::put;
use crate::terms::field_kind::FieldKind;
use crate::terms::local::LocalClock;
use crate::terms::local::push_local;
use crate::terms::records::Cell;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// Puts a value into a cell.
pub(super) fn put_cell(held: &mut Cell, value: ValueRef<'_>, kind: FieldKind) {
    match (value, kind) {
        (ValueRef::Text(text), FieldKind::Text | FieldKind::Words(_)) => {
            match std::str::from_utf8(text) {
                Ok(text) => put_text(held, Some(text)),
                Err(_) => *held = cell(value, kind),
            }
        }
        (ValueRef::Integer(ms), FieldKind::Instant) => put_instant(held, Some(ms)),
        _ => *held = cell(value, kind),
    }
}

/// Puts a text into a cell.
pub(super) fn put_text(held: &mut Cell, text: Option<&str>) {
    match text {
        Some(text) => put_written(held, |room| room.push_str(text)),
        None => *held = Cell::Unknown,
    }
}

/// Puts an instant into a cell, by its milliseconds.
pub(super) fn put_instant(held: &mut Cell, ms: Option<i64>) {
    match ms.and_then(Utc::from_unix_ms) {
        Some(at) => put_written(held, |room| at.push_to(room)),
        None => *held = Cell::Unknown,
    }
}

/// Puts a clock reading into a cell, by its seconds and the digits of its fraction.
pub(super) fn put_reading(held: &mut Cell, seconds: Option<i64>, fraction: Option<&str>) {
    match seconds.and_then(|s| reading_of(s, fraction)) {
        Some(at) => put_written(held, |room| {
            let _ = write!(room, "{at}");
        }),
        None => *held = Cell::Unknown,
    }
}

/// Puts the local time of an instant into a cell, by its milliseconds and the zone.
pub(super) fn put_local(held: &mut Cell, ms: Option<i64>, zone: &Cell, clock: &mut LocalClock) {
    let at = match zone {
        Cell::Text(zone) => ms.and_then(|ms| Some((ms, clock.offset_s(zone, ms)?))),
        _ => None,
    };
    match at {
        Some((ms, offset_s)) => put_written(held, |room| {
            push_local(ms, offset_s, room);
        }),
        None => *held = Cell::Unknown,
    }
}

/// Puts an offset from UTC into a cell, by its seconds: `+01:00`, with seconds if they are not zero.
pub(super) fn put_offset(held: &mut Cell, offset_s: Option<i64>) {
    let Some(offset_s) = offset_s else {
        *held = Cell::Unknown;
        return;
    };
    let mut text = *b"+00:00:00";
    if offset_s < 0 {
        text[0] = b'-';
    }
    let s = offset_s.abs();
    put(&mut text[1..3], s / 3_600);
    put(&mut text[4..6], s / 60 % 60);
    put(&mut text[7..], s % 60);
    let shown = if s % 60 == 0 { &text[..6] } else { &text[..] };
    put_text(held, std::str::from_utf8(shown).ok());
}

/// Puts the written text into a cell.
fn put_written(held: &mut Cell, write: impl FnOnce(&mut String)) {
    let mut room = match std::mem::replace(held, Cell::Unknown) {
        Cell::Text(text) => text,
        _ => String::new(),
    };
    room.clear();
    write(&mut room);
    *held = Cell::Text(room);
}

/// Puts a path into a cell: a folder with its slash, and a name in it.
pub(super) fn put_path(held: &mut Cell, folder: &Cell, name: Option<&str>) {
    match (folder, name) {
        (Cell::Text(folder), Some(name)) => {
            put_text(held, Some(folder));
            if let Cell::Text(room) = held {
                room.push_str(name);
            }
        }
        _ => *held = Cell::Unknown,
    }
}

/// A value from the catalogue.
pub(super) fn cell(value: ValueRef<'_>, kind: FieldKind) -> Cell {
    let text = |text: Option<String>| text.map_or(Cell::Unknown, Cell::Text);
    match (value, kind) {
        (ValueRef::Null, _) => Cell::Unknown,
        (ValueRef::Integer(ms), FieldKind::Instant) => {
            text(Utc::from_unix_ms(ms).map(|at| at.to_string()))
        }
        (ValueRef::Integer(day), FieldKind::Date) => text(date_of(day)),
        (ValueRef::Integer(seconds), FieldKind::Reading) => {
            text(reading_of(seconds, None).map(|at| at.to_string()))
        }
        (ValueRef::Integer(ms), FieldKind::Local) => {
            let reading = WallTime::from_seconds(ms.div_euclid(1_000), "");
            let reading = reading.and_then(|at| at.plus_ms(ms.rem_euclid(1_000)));
            text(reading.map(|at| at.to_string()))
        }
        (ValueRef::Integer(whole), _) => Cell::Whole(whole),
        (ValueRef::Real(number), _) => Cell::Number(number),
        (ValueRef::Text(text) | ValueRef::Blob(text), _) => {
            Cell::Text(String::from_utf8_lossy(text).into_owned())
        }
    }
}
