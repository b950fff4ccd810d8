//! Converts columns to values: each type knows which columns it takes, from the next one on.

use std::path::PathBuf;

use rusqlite::Row;
use rusqlite::types::FromSql;
use rusqlite::types::ValueRef;

use crate::catalogue::names::on_disk;
use crate::catalogue::scale::numbered;
use crate::catalogue::scale::reading_of;
use crate::terms::basis::ClockTag;
use crate::terms::basis::Health;
use crate::terms::basis::Kind;
use crate::terms::basis::Twilight;
use crate::terms::fingerprint::Fingerprint;
use crate::terms::records::Extent;
use crate::terms::shower::ShowerCode;
use crate::terms::site::GpsPosition;
use crate::terms::site::Place;
use crate::terms::statement::Body;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::terms::turn::Turn;
use crate::terms::turn::TurnBasis;
use crate::terms::volume::Volume;

/// The columns of a row that are not read yet.
pub(super) struct Columns<'r> {
    row: &'r Row<'r>,
    at: usize,
}

impl<'r> Columns<'r> {
    /// Those from one on.
    pub(super) fn from(row: &'r Row<'r>, at: usize) -> Self {
        Self { row, at }
    }

    /// The value of the next ones.
    pub(super) fn next<T: FromColumns>(&mut self) -> rusqlite::Result<T> {
        T::read(self)
    }

    fn raw(&mut self) -> rusqlite::Result<ValueRef<'r>> {
        self.at += 1;
        self.row.get_ref(self.at - 1)
    }

    /// The value of the next one alone.
    fn one<T: FromSql>(&mut self) -> rusqlite::Result<T> {
        self.at += 1;
        self.row.get(self.at - 1)
    }

    fn whole(&mut self) -> rusqlite::Result<Option<i64>> {
        self.next()
    }
}

/// A value that is read from one column or several.
pub(super) trait FromColumns: Sized {
    /// Reads it from the next columns.
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self>;
}

/// The value of a row's first columns.
pub(super) fn read<T: FromColumns>(row: &Row<'_>) -> rusqlite::Result<T> {
    Columns::from(row, 0).next()
}

/// Reads a struct: its fields are in the columns in the order in which they are named here. Others have the values after the
/// semicolon.
macro_rules! columns {
    ($struct:ty: $($field:ident)* $(; $($rest:tt)*)?) => {
        impl $crate::catalogue::columns::FromColumns for $struct {
            fn read(columns: &mut $crate::catalogue::columns::Columns<'_>) -> rusqlite::Result<Self> {
                Ok(Self { $($field: columns.next()?,)* $($($rest)*)? })
            }
        }
    };
}
pub(super) use columns;

macro_rules! plain {
    ($($type:ty),*) => {$(
        impl FromColumns for $type {
            fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
                columns.one()
            }
        }

        impl FromColumns for Option<$type> {
            fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
                columns.one()
            }
        }
    )*};
}
plain!(
    i64,
    i32,
    u8,
    f64,
    f32,
    bool,
    String,
    Vec<u8>,
    [u8; 6],
    [u8; 16],
    [u8; 32]
);

/// SQLite has signed numbers only; counts and sizes are never negative.
impl FromColumns for u64 {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        Ok(columns.next::<i64>()?.unsigned_abs())
    }
}

impl FromColumns for u32 {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        columns.one()
    }
}

/// One out of range counts as unknown.
macro_rules! unsigned {
    ($($type:ty),*) => {$(
        impl FromColumns for Option<$type> {
            fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
                Ok(columns.whole()?.and_then(|number| number.try_into().ok()))
            }
        }
    )*};
}
unsigned!(u64, u32);

macro_rules! tuples {
    ($($part:ident)*) => {
        impl<$($part: FromColumns),*> FromColumns for ($($part,)*) {
            fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
                Ok(($(columns.next::<$part>()?,)*))
            }
        }

        /// Known where every part is.
        impl<$($part),*> FromColumns for Option<($($part,)*)>
        where
            $(Option<$part>: FromColumns),*
        {
            #[allow(non_snake_case)] // a part is named as its type
            fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
                $(let $part: Option<$part> = columns.next()?;)*
                let all = || Some(($($part?,)*));
                Ok(all())
            }
        }
    };
}
tuples!(A B);
tuples!(A B C);

impl<T: FromColumns, const N: usize> FromColumns for [T; N]
where
    [T; N]: Parts,
{
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        let mut parts = Vec::with_capacity(N);
        for _ in 0..N {
            parts.push(columns.next()?);
        }
        parts
            .try_into()
            .map_err(|_| rusqlite::Error::InvalidColumnIndex(columns.at))
    }
}

/// Arrays with a column for each part.
pub(super) trait Parts {}
impl Parts for [f64; 3] {}
impl Parts for [Option<i64>; 3] {}
impl Parts for [Option<String>; 3] {}

/// An instant stored as milliseconds; one beyond the calendar counts as unknown.
impl FromColumns for Option<Utc> {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        Ok(columns.whole()?.and_then(Utc::from_unix_ms))
    }
}

/// A clock reading stored in two columns: its seconds, followed by the digits of its fraction.
impl FromColumns for Option<WallTime> {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        let seconds = columns.whole()?;
        let fraction = columns.raw()?.as_str_or_null()?;
        Ok(seconds.and_then(|seconds| reading_of(seconds, fraction)))
    }
}

/// Where it begins and how long it is.
impl FromColumns for Option<Extent> {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        let (offset, length): (Option<u64>, Option<u64>) = columns.next()?;
        Ok((offset.zip(length)).map(|(offset, length)| Extent { offset, length }))
    }
}

/// Latitude, longitude and elevation; without the last it is at sea level.
impl FromColumns for Option<Place> {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        let (at, elev): (Option<(f64, f64)>, Option<f64>) = columns.next()?;
        Ok(at.and_then(|(lat, lon)| Place::new(lat, lon, elev.unwrap_or(0.0))))
    }
}

/// Its angle, and by what it is known.
impl FromColumns for Option<Turn> {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        let both: Option<(f64, TurnBasis)> = columns.next()?;
        Ok(both.map(|(deg, basis)| Turn { deg, basis }))
    }
}

/// The path of a file: root, folder and name, each as text and as bytes.
impl FromColumns for PathBuf {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        Ok(on_disk(columns.next()?, columns.next()?, columns.next()?))
    }
}

/// Words; one that is not known counts as unknown.
macro_rules! words {
    ($($type:ty: $parse:expr),* $(,)?) => {$(
        impl $crate::catalogue::columns::FromColumns for Option<$type> {
            fn read(columns: &mut $crate::catalogue::columns::Columns<'_>) -> rusqlite::Result<Self> {
                columns.word($parse)
            }
        }
    )*};
}
pub(super) use words;

words! { ShowerCode: ShowerCode::parse, Twilight: Twilight::from_word, TurnBasis: TurnBasis::from_word }

impl Columns<'_> {
    /// A word through a parser.
    pub(super) fn word<T>(
        &mut self,
        parse: impl Fn(&str) -> Option<T>,
    ) -> rusqlite::Result<Option<T>> {
        Ok(self.raw()?.as_str_or_null()?.and_then(parse))
    }
}

/// By its word, or by the number of that.
impl FromColumns for Option<Kind> {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        match columns.raw()? {
            ValueRef::Integer(number) => Ok(numbered(Some(number))),
            word => Ok(word.as_str_or_null()?.and_then(Kind::from_word)),
        }
    }
}

/// By the number of its word.
macro_rules! numbers {
    ($($type:ty),*) => {$(
        impl FromColumns for Option<$type> {
            fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
                Ok(numbered(columns.whole()?))
            }
        }
    )*};
}
numbers!(ClockTag, Health);

/// The stored part of one.
impl FromColumns for Option<Fingerprint> {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        let bytes = columns.raw()?.as_blob_or_null()?;
        Ok(bytes.and_then(Fingerprint::from_bytes))
    }
}

columns!(Body: make model serial);
columns!(GpsPosition: lat_deg lon_deg elev_m);
columns!(Volume: id label; below: None);

/// Reads an instant stored as milliseconds.
pub(super) fn instant(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Utc>> {
    Columns::from(row, column).next()
}

/// Reads the same as text.
pub(super) fn instant_text(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<String>> {
    Ok(instant(row, column)?.map(|at| at.to_string()))
}

/// Reads a clock reading stored in two columns: its seconds, followed by the digits of its fraction.
pub(super) fn reading(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<WallTime>> {
    Columns::from(row, column).next()
}

/// Reads the stored part of a fingerprint.
pub(super) fn fingerprint(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Fingerprint>> {
    Columns::from(row, column).next()
}

/// Reads a text column through a parser; a text that it rejects counts as unknown.
pub(super) fn parsed<T>(
    row: &Row<'_>,
    column: usize,
    parse: impl Fn(&str) -> Option<T>,
) -> rusqlite::Result<Option<T>> {
    Ok(row.get_ref(column)?.as_str_or_null()?.and_then(parse))
}
