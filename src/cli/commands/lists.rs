//! A list of frames in any form, for `frames` and `export` alike.

use std::io::Write;

use crate::catalogue::fetch::Detail;
use crate::catalogue::open::Catalogue;
use crate::cli::args::ListForm;
use crate::cli::print;
use crate::framelist::Format;
use crate::framelist::ListWriter;
use crate::framelist::columns_for;
use crate::pipeline::frames::list;
use crate::query::Compiled;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;

impl From<ListForm> for Format {
    fn from(form: ListForm) -> Self {
        match form {
            ListForm::Table => Self::Table,
            ListForm::Csv => Self::Csv,
            ListForm::Json => Self::Json,
            ListForm::Jsonl => Self::Jsonl,
            ListForm::Paths => Self::Paths,
            ListForm::Paths0 => Self::Paths0,
        }
    }
}

/// Writes the frames of a query, ordered by start, as they come; how many there were.
pub fn write(
    catalogue: &Catalogue,
    compiled: &Compiled,
    format: Format,
    limit: Option<u64>,
    width: Option<usize>,
    out: &mut dyn Write,
) -> Result<u64, Failure> {
    let columns = columns_for(format, &compiled.showers_named);
    let detail = if format.wants_files_and_radiants() {
        Detail::Everything
    } else if format.wants_path_bytes() {
        Detail::Path
    } else {
        Detail::Columns
    };
    let sources: Vec<ColumnSource> = columns.iter().map(|column| column.source).collect();
    let mut writer = ListWriter::new(format, columns, width, out);
    let rows = list(catalogue, compiled, &sources, detail, limit, &mut |row| {
        writer.row(row)
    })?;
    let written = writer.finish()?;
    print::too_narrow(&written.left_out);
    if written.without_file > 0 {
        print::complain(&format!(
            "{} frames have no file to name",
            written.without_file
        ));
    }
    Ok(rows)
}
