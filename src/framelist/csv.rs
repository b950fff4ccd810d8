//! Rows as CSV: RFC 4180, a heading of keys, nothing where a value is not known.
//!
//! Where a spreadsheet would run a text, or a part of it, as a formula, an apostrophe stands before it. Numbers, moments,
//! words of the vocabulary and offsets such as `+01:00` are ours and stay as they are.

use std::io;
use std::io::Write;

use crate::framelist::cell;
use crate::framelist::keys::Column;
use crate::terms::field::FieldKind;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;

/// Writes rows as CSV.
pub(super) struct CsvWriter<W: Write> {
    columns: Vec<Column>,
    out: csv::Writer<W>,
    begun: bool,
    field: String,
}

impl<W: Write> CsvWriter<W> {
    pub fn new(columns: Vec<Column>, out: W) -> Self {
        let out = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(out);
        Self {
            columns,
            out,
            begun: false,
            field: String::new(),
        }
    }

    fn begin(&mut self) -> io::Result<()> {
        if !self.begun {
            self.begun = true;
            let keys = self.columns.iter().map(|c| &c.key);
            self.out.write_record(keys).map_err(cause)?;
        }
        Ok(())
    }

    pub fn row(&mut self, row: &FrameRow) -> io::Result<()> {
        self.begin()?;
        let cells = row.cells.iter().chain(std::iter::repeat(&Cell::Unknown));
        for (column, cell) in self.columns.iter().zip(cells) {
            self.field.clear();
            match cell {
                Cell::Unknown => {}
                Cell::Whole(number) => self.field.push_str(&number.to_string()),
                Cell::Number(number) => {
                    cell::write_kept(*number, column.field(), &mut self.field);
                }
                Cell::Text(text) => {
                    let foreign = matches!(column.field().kind, FieldKind::Text);
                    if foreign {
                        push_harmless(&mut self.field, text);
                    } else {
                        self.field.push_str(text);
                    }
                }
            }
            self.out.write_field(&self.field).map_err(cause)?;
        }
        self.out.write_record(None::<&[u8]>).map_err(cause)
    }

    /// Goes on behind rows that another wrote.
    pub const fn go_on(&mut self) {
        self.begun = true;
    }

    /// The writer underneath, the list not ended.
    pub fn pause(self) -> io::Result<W> {
        self.out
            .into_inner()
            .map_err(csv::IntoInnerError::into_error)
    }

    pub fn finish(mut self) -> io::Result<W> {
        self.begin()?;
        self.out
            .into_inner()
            .map_err(csv::IntoInnerError::into_error)
    }
}

/// The disk's own error, so that a closed pipe is still known for one.
fn cause(error: csv::Error) -> io::Error {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => error,
        other => io::Error::other(format!("{other:?}")),
    }
}

/// Signs that make a text a formula where a cell begins with them. Source: common practice, no standard; the full-width
/// signs count where the keyboard writes them.
const BEGIN_FORMULAS: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];
/// Signs behind which a spreadsheet may begin another cell, whatever the standard says: where the decimal sign is a comma,
/// cells are parted by semicolons, and quotes in the middle of a cell protect nothing.
const BEGIN_CELLS: [char; 6] = [';', ',', '\t', '\r', '\n', '|'];

/// Writes a text with an apostrophe before each sign by which a spreadsheet could take it, or a part of it, for a formula.
fn push_harmless(field: &mut String, text: &str) {
    if is_offset(text) || !text.contains(BEGIN_FORMULAS) {
        field.push_str(text);
        return;
    }
    let mut begins = true;
    for sign in text.chars() {
        if begins && BEGIN_FORMULAS.contains(&sign) && !(sign == '\n' && field.ends_with('\r')) {
            field.push('\'');
        }
        field.push(sign);
        // A quote at the beginning of a cell is not part of its text.
        begins = BEGIN_CELLS.contains(&sign) || (begins && sign == '"');
    }
}

/// `+01:00`
fn is_offset(text: &str) -> bool {
    let bytes = text.as_bytes();
    bytes.len() == 6
        && bytes[3] == b':'
        && [1, 2, 4, 5].iter().all(|&at| bytes[at].is_ascii_digit())
}
