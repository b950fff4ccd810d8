//! A sheet of anything except frames, in the same formats as frames, except paths.

use std::io::Write;

use crate::framelist::Column;
use crate::framelist::Format;
use crate::framelist::ListWriter;
use crate::framelist::not_written;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;
use crate::terms::sheet::Sheet;

/// Writes a sheet row by row. Memory does not grow with the number of rows.
pub struct SheetWriter<'o> {
    list: ListWriter<&'o mut dyn Write>,
    format: Format,
    when_empty: &'static str,
}

impl<'o> SheetWriter<'o> {
    /// A sheet with these columns. `width` is the terminal's, `None` if the sheet goes elsewhere; paths come as lines
    /// of JSON. `when_empty` is shown in a table without rows.
    pub fn of(
        columns: Vec<Column>,
        when_empty: &'static str,
        format: Format,
        width: Option<usize>,
        out: &'o mut dyn Write,
    ) -> Self {
        Self {
            list: ListWriter::of_sheet(format, columns, width, out),
            format,
            when_empty,
        }
    }

    /// Writes one row; its cells are in the order of the columns.
    pub fn row(&mut self, cells: Vec<Cell>) -> Result<(), Failure> {
        self.list.row(&FrameRow {
            cells,
            ..FrameRow::default()
        })
    }

    /// Writes the end. Returns the headings of the columns left out because the screen was too narrow.
    ///
    /// An empty sheet is its note in a table, a heading in CSV, an empty array in JSON.
    pub fn finish(self) -> Result<Vec<String>, Failure> {
        let written = self.list.finish()?;
        if written.rows == 0 && self.format == Format::Table {
            writeln!(written.out, "{}", self.when_empty).map_err(not_written)?;
        }
        Ok(written.left_out)
    }
}

/// Writes a whole sheet, as [`SheetWriter`] does.
pub fn write_sheet(
    sheet: Sheet,
    format: Format,
    width: Option<usize>,
    out: &mut dyn Write,
) -> Result<Vec<String>, Failure> {
    let columns = sheet.columns.iter().map(ColumnSource::Frame);
    let columns = columns.map(Column::of).collect();
    let mut writer = SheetWriter::of(columns, sheet.when_empty, format, width, out);
    for row in sheet.rows {
        writer.row(row)?;
    }
    writer.finish()
}
