//! The values of one column until its row group is full. Knows no file.

use parquet::column::writer::ColumnWriterImpl;
use parquet::data_type::ByteArray;
use parquet::data_type::ByteArrayType;
use parquet::data_type::DataType;
use parquet::data_type::DoubleType;
use parquet::data_type::Int32Type;
use parquet::data_type::Int64Type;
use parquet::errors::Result;
use parquet::file::writer::SerializedColumnWriter;

use crate::framelist::dataset::schema::DataColumn;
use crate::framelist::dataset::schema::Presence;
use crate::terms::field_kind::FieldKind;
use crate::terms::records::Cell;
use crate::terms::time::WallTime;

/// Texts prepared for the writer at a time.
const TEXTS_AT_ONCE: usize = 4_096;

/// The values of a column, and which rows have one.
pub(super) struct Held {
    presence: Presence,
    values: Values,
    /// 1 for a row with a value, 0 for one without: the format's definition levels. Empty if each has one.
    levels: Vec<i16>,
}

enum Values {
    Whole(Vec<i64>),
    Reading(Vec<i64>),
    Day(Vec<i32>),
    Number(Vec<f64>),
    Text(Texts),
}

/// Texts in one block of memory. Equal neighbours share their position: bodies, sites, words.
#[derive(Default)]
struct Texts {
    bytes: Vec<u8>,
    /// First byte and length of each.
    places: Vec<(usize, usize)>,
}

impl Held {
    pub(super) fn of(column: &DataColumn) -> Self {
        Self {
            presence: column.presence,
            values: match column.field.kind {
                FieldKind::Text | FieldKind::Words(_) | FieldKind::Local => {
                    Values::Text(Texts::default())
                }
                FieldKind::Number(_) => Values::Number(Vec::new()),
                FieldKind::Whole(_) | FieldKind::Instant => Values::Whole(Vec::new()),
                FieldKind::Reading => Values::Reading(Vec::new()),
                FieldKind::Date => Values::Day(Vec::new()),
            },
            levels: Vec::new(),
        }
    }

    /// Adds the value of one more row. A value that the column's type cannot hold counts as unknown.
    ///
    /// Returns `false` and adds nothing if the value is unknown and must not be.
    pub(super) fn push(&mut self, cell: &Cell) -> bool {
        let known = match (&mut self.values, cell) {
            (Values::Whole(held), Cell::Whole(whole)) => put(held, Some(*whole)),
            (Values::Day(held), Cell::Whole(day)) => put(held, i32::try_from(*day).ok()),
            (Values::Reading(held), Cell::Text(text)) => {
                put(held, WallTime::parse(text).map(WallTime::reading_us))
            }
            (Values::Number(held), Cell::Number(number)) => {
                put(held, number.is_finite().then_some(*number))
            }
            (Values::Number(held), Cell::Whole(whole)) => put(held, Some(*whole as f64)),
            (Values::Text(held), Cell::Text(text)) => held.put(text),
            _ => false,
        };
        match self.presence {
            Presence::Always => known,
            Presence::Optional => {
                self.levels.push(i16::from(known));
                true
            }
        }
    }

    /// Bytes of its texts, which limit row groups besides the number of rows.
    pub(super) fn text_bytes(&self) -> usize {
        match &self.values {
            Values::Text(texts) => texts.bytes.len(),
            _ => 0,
        }
    }

    /// Writes its values as one column of a row group, and clears them.
    pub(super) fn write(&mut self, column: &mut SerializedColumnWriter<'_>) -> Result<()> {
        let levels = match self.presence {
            Presence::Optional => Some(self.levels.as_slice()),
            Presence::Always => None,
        };
        match &mut self.values {
            Values::Whole(held) | Values::Reading(held) => {
                write_all::<Int64Type>(column.typed(), held, levels)?;
            }
            Values::Day(held) => write_all::<Int32Type>(column.typed(), held, levels)?,
            Values::Number(held) => write_all::<DoubleType>(column.typed(), held, levels)?,
            Values::Text(texts) => texts.write(column.typed(), levels)?,
        }
        self.levels.clear();
        Ok(())
    }
}

fn put<T>(held: &mut Vec<T>, value: Option<T>) -> bool {
    let known = value.is_some();
    held.extend(value);
    known
}

fn write_all<T: DataType>(
    column: &mut ColumnWriterImpl<'_, T>,
    held: &mut Vec<T::T>,
    levels: Option<&[i16]>,
) -> Result<()> {
    column.write_batch(held, levels, None)?;
    held.clear();
    Ok(())
}

impl Texts {
    fn put(&mut self, text: &str) -> bool {
        let last = self.places.last().copied();
        let same = last.filter(|(at, length)| &self.bytes[*at..at + length] == text.as_bytes());
        self.places.push(same.unwrap_or_else(|| {
            let at = self.bytes.len();
            self.bytes.extend_from_slice(text.as_bytes());
            (at, text.len())
        }));
        true
    }

    fn write(
        &mut self,
        column: &mut ColumnWriterImpl<'_, ByteArrayType>,
        levels: Option<&[i16]>,
    ) -> Result<()> {
        let bytes = ByteArray::from(std::mem::take(&mut self.bytes));
        let mut texts: Vec<ByteArray> = Vec::with_capacity(TEXTS_AT_ONCE);
        let mut places = self.places.drain(..);
        let rows = levels.map_or(places.len(), <[i16]>::len);
        let mut at = 0;
        // A block of rows at a time, with as many texts as it has.
        while at < rows {
            let stretch = at..rows.min(at + TEXTS_AT_ONCE);
            at = stretch.end;
            let levels = levels.map(|levels| &levels[stretch.clone()]);
            let known = levels.map_or(stretch.len(), |levels| {
                levels.iter().filter(|level| **level == 1).count()
            });
            texts.clear();
            texts.extend(
                places
                    .by_ref()
                    .take(known)
                    .map(|(from, length)| bytes.slice(from, length)),
            );
            column.write_batch(&texts, levels, None)?;
        }
        Ok(())
    }
}
