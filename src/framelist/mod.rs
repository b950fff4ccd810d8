//! Rows in, text out: a table for the screen, CSV, JSON, JSON lines, paths. Runs no SQL, opens no file.
//!
//! ```
//! # use framefall::framelist::{columns_for_csv, Format, ListWriter};
//! # use framefall::terms::records::FrameRow;
//! let mut list = ListWriter::new(Format::Csv, columns_for_csv(&[]), None, Vec::new());
//! list.row(&FrameRow::default())?;
//! let written = list.finish()?;
//! assert_eq!(written.rows, 1);
//! assert!(written.out.starts_with(b"path,file,dump,"));
//! # Ok::<(), framefall::terms::failure::Failure>(())
//! ```

mod calibration_note;
mod cell;
mod csv;
#[cfg(feature = "parquet")]
pub mod dataset;
mod format;
pub mod hash_list;
mod hashed;
mod json;
mod json_object;
mod keys;
mod manifest;
mod manifest_read;
mod paths;
mod sheet;
mod statement;
mod statement_content;
mod statement_pointing;
mod table;
mod table_times;
mod tree_record;

pub use calibration_note::CalibrationNote;
pub use calibration_note::ServingNote;
pub use format::Format;
pub use hashed::Hashed;
pub use hashed::ListDigest;
pub use keys::Column;
pub use keys::columns_for_csv;
pub use keys::columns_for_json;
pub use keys::columns_for_table;
pub use manifest::FileLines;
pub use manifest::ManifestFile;
pub use manifest::ManifestHead;
pub use manifest::ManifestLeftOut;
pub use manifest::ManifestList;
pub use manifest::ManifestOptions;
pub use manifest::ManifestReference;
pub use manifest::ManifestWriter;
pub use manifest::StateValue;
pub use manifest_read::PastManifest;
pub use manifest_read::read_manifest;
pub use paths::ends_line;
pub use paths::newline_in_path;
pub use sheet::SheetWriter;
pub use sheet::write_sheet;
pub use statement::read_statement;
pub use statement::statement_content;
pub use statement::statement_from;
pub use statement::statement_line;
pub use tree_record::RECORD_NAME;
pub use tree_record::Record;
pub use tree_record::RecordHead;
pub use tree_record::RecordedLink;
pub use tree_record::read_record;
pub use tree_record::write_record;

use std::io;
use std::io::Write;

use crate::framelist::csv::CsvWriter;
use crate::framelist::json::JsonWriter;
use crate::framelist::json::Objects;
use crate::framelist::json::Shape;
use crate::framelist::paths::PathWriter;
use crate::framelist::table::TableWriter;
use crate::terms::failure::Failure;
use crate::terms::records::FrameRow;
use crate::terms::shower::ShowerCode;

/// The columns of a list in this format; none for paths.
pub fn columns_for(format: Format, showers_named: &[ShowerCode]) -> Vec<Column> {
    match format {
        Format::Table => columns_for_table(showers_named),
        Format::Csv => columns_for_csv(showers_named),
        Format::Json | Format::Jsonl => columns_for_json(),
        Format::Paths | Format::Paths0 => Vec::new(),
    }
}

/// Writes a list, row by row. Memory does not grow with the number of rows.
pub struct ListWriter<W: Write> {
    form: Form<W>,
    rows: u64,
}

enum Form<W: Write> {
    Table(TableWriter<W>),
    Csv(Box<CsvWriter<W>>),
    Json(JsonWriter<W>),
    Paths(PathWriter<W>),
}

/// The result of writing a list.
#[derive(Debug)]
pub struct Written<W> {
    /// Rows passed in.
    pub rows: u64,
    /// The headings of the columns left out because the screen was too narrow.
    pub left_out: Vec<String>,
    /// Rows that a list of paths could not name, because the frame has no file.
    pub without_file: u64,
    /// The underlying writer, flushed.
    pub out: W,
}

impl<W: Write> ListWriter<W> {
    /// A list with these columns. `width` is the terminal's, in columns; `None` if the list goes elsewhere.
    ///
    /// Nothing is written before the first row or the end.
    pub fn new(format: Format, columns: Vec<Column>, width: Option<usize>, out: W) -> Self {
        Self::with(format, columns, Objects::WholeFrames, width, out)
    }

    /// The same with chosen columns: JSON holds their keys alone.
    pub fn of_columns(format: Format, columns: Vec<Column>, width: Option<usize>, out: W) -> Self {
        Self::with(format, columns, Objects::ChosenKeys, width, out)
    }

    /// A list of anything except frames: paths come as lines of JSON.
    fn of_sheet(format: Format, columns: Vec<Column>, width: Option<usize>, out: W) -> Self {
        let format = match format {
            Format::Paths | Format::Paths0 => Format::Jsonl,
            other => other,
        };
        Self::with(format, columns, Objects::ChosenKeys, width, out)
    }

    fn with(
        format: Format,
        columns: Vec<Column>,
        objects: Objects,
        width: Option<usize>,
        out: W,
    ) -> Self {
        let form = match format {
            Format::Table => Form::Table(TableWriter::new(columns, width, out)),
            Format::Csv => Form::Csv(Box::new(CsvWriter::new(columns, out))),
            Format::Json => Form::Json(JsonWriter::new(&columns, Shape::Array, objects, out)),
            Format::Jsonl => Form::Json(JsonWriter::new(&columns, Shape::Lines, objects, out)),
            Format::Paths => Form::Paths(PathWriter::new(b'\n', out)),
            Format::Paths0 => Form::Paths(PathWriter::new(b'\0', out)),
        };
        Self { form, rows: 0 }
    }

    /// The same list, continued after this many rows by another writer.
    pub fn behind(mut self, rows: u64) -> Self {
        match &mut self.form {
            Form::Csv(csv) if rows > 0 => csv.go_on(),
            Form::Json(json) => json.go_on(rows),
            _ => {}
        }
        self
    }

    /// Stops without the end of the list, which another writer continues.
    pub fn pause(self) -> Result<W, Failure> {
        match self.form {
            Form::Table(table) => table.finish().map(|(out, _)| out),
            Form::Csv(csv) => csv.pause(),
            Form::Json(json) => json.pause(),
            Form::Paths(paths) => paths.finish().map(|(out, _)| out),
        }
        .map_err(not_written)
    }

    /// Writes one row; its cells are in the order of the columns.
    ///
    /// Refuses: a path with a newline in a list of lines. Fails if the text cannot be written.
    pub fn row(&mut self, row: &FrameRow) -> Result<(), Failure> {
        self.rows += 1;
        match &mut self.form {
            Form::Table(table) => table.row(row).map_err(not_written),
            Form::Csv(csv) => csv.row(row).map_err(not_written),
            Form::Json(json) => json.row(row).map_err(not_written),
            Form::Paths(paths) => paths.row(row),
        }
    }

    /// Writes the remaining rows and the end. An empty list is an empty array, a heading alone, or nothing.
    pub fn finish(self) -> Result<Written<W>, Failure> {
        let (out, left_out, without_file) = match self.form {
            Form::Table(table) => table.finish().map(|(out, left)| (out, left, 0)),
            Form::Csv(csv) => csv.finish().map(|out| (out, Vec::new(), 0)),
            Form::Json(json) => json.finish().map(|out| (out, Vec::new(), 0)),
            Form::Paths(paths) => paths.finish().map(|(out, none)| (out, Vec::new(), none)),
        }
        .map_err(not_written)?;
        Ok(Written {
            rows: self.rows,
            left_out,
            without_file,
            out,
        })
    }
}

/// Whether a list failed because the reader of its pipe went away, as `head` does; that is not an error.
pub fn is_closed_pipe(failure: &Failure) -> bool {
    failure
        .source
        .as_deref()
        .and_then(|source| source.downcast_ref::<io::Error>())
        .is_some_and(|error| error.kind() == io::ErrorKind::BrokenPipe)
}

/// A list that could not be written to the disk or pipe.
pub fn not_written(error: io::Error) -> Failure {
    Failure::output("the list could not be written").because(error)
}
