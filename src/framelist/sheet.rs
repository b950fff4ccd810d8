//! A sheet of anything but frames in the forms that frames have, paths left out.

use std::io::Write;

use crate::framelist::Column;
use crate::framelist::Format;
use crate::framelist::csv::CsvWriter;
use crate::framelist::json::Shape;
use crate::framelist::json::write_sheet as write_json;
use crate::framelist::not_written;
use crate::framelist::table::LeaveOut;
use crate::framelist::table::TableWriter;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::records::FrameRow;
use crate::terms::sheet::Sheet;

/// Writes a sheet. `width` is the terminal's, `None` where the sheet goes elsewhere; paths come as lines of JSON.
///
/// Gives the headings of the columns for which the screen was too narrow. An empty sheet is its note in a table, a heading in CSV, an empty array in JSON.
pub fn write_sheet(
    sheet: Sheet,
    format: Format,
    width: Option<usize>,
    out: &mut dyn Write,
) -> Result<Vec<String>, Failure> {
    let mut left_out = Vec::new();
    let columns = || -> Vec<Column> {
        sheet
            .columns
            .iter()
            .map(|field| Column::of(ColumnSource::Frame(field)))
            .collect()
    };
    let written = match format {
        Format::Table if sheet.rows.is_empty() => writeln!(out, "{}", sheet.when_empty),
        Format::Table => {
            let mut table = TableWriter::new(columns(), width, LeaveOut::Last, out);
            rows(sheet)
                .try_for_each(|row| table.row(&row))
                .and_then(|()| table.finish())
                .map(|(_, left)| left_out = left)
        }
        Format::Csv => {
            let mut csv = CsvWriter::new(columns(), out);
            rows(sheet)
                .try_for_each(|row| csv.row(&row))
                .and_then(|()| csv.finish().map(|_| ()))
        }
        Format::Json => write_json(&sheet, Shape::Array, out),
        Format::Jsonl | Format::Paths | Format::Paths0 => write_json(&sheet, Shape::Lines, out),
    };
    written.map_err(not_written)?;
    Ok(left_out)
}

fn rows(sheet: Sheet) -> impl Iterator<Item = FrameRow> {
    sheet.rows.into_iter().map(|cells| FrameRow {
        cells,
        ..FrameRow::default()
    })
}
