//! A file of one table: rows are held until a row group is full, so that memory does not grow with their number.

use std::io::Write;
use std::sync::Arc;

use parquet::basic::Compression;
use parquet::basic::ZstdLevel;
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::metadata::SortingColumn;
use parquet::file::properties::EnabledStatistics;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;

use crate::framelist::dataset::held::Held;
use crate::framelist::dataset::schema::DataColumn;
use crate::framelist::dataset::schema::schema;
use crate::terms::failure::Failure;
use crate::terms::records::Cell;

/// Rows of a row group: enough that columns compress well, few enough that a group of the widest table stays at some
/// tens of megabytes.
const ROWS_A_GROUP: usize = 100_000;

/// Bytes of texts after which a row group ends, however few rows it has.
const TEXT_A_GROUP: usize = 64 << 20;

/// What a file contains besides its rows.
#[derive(Clone, Copy, Debug)]
pub struct About<'a> {
    /// The table's name: `frames`.
    pub table: &'a str,
    /// The program and its version, in the form of the format: `framefall version 0.1.0`.
    pub made_by: &'a str,
    /// Keys and values for readers of the file.
    pub notes: &'a [(String, String)],
    /// The key of the column that its rows are ordered by, unknown values last.
    pub ordered_by: &'a str,
}

/// A Parquet file that grows row by row.
pub struct TableFile<W: Write + Send> {
    file: SerializedFileWriter<W>,
    columns: Vec<DataColumn>,
    held: Vec<Held>,
    rows_held: usize,
}

impl<W: Write + Send> TableFile<W> {
    /// Begins a file of these columns.
    pub fn begin(columns: &[DataColumn], about: &About<'_>, out: W) -> Result<Self, Failure> {
        let notes = about
            .notes
            .iter()
            .map(|(key, value)| KeyValue::new(key.clone(), value.clone()));
        let ordered = columns
            .iter()
            .position(|column| column.field.key == about.ordered_by)
            .and_then(|at| i32::try_from(at).ok())
            .map(|column_idx| {
                vec![SortingColumn {
                    column_idx,
                    descending: false,
                    nulls_first: false,
                }]
            });
        let properties = WriterProperties::builder()
            .set_created_by(about.made_by.to_owned())
            .set_compression(Compression::ZSTD(ZstdLevel::default()))
            .set_statistics_enabled(EnabledStatistics::Page)
            .set_key_value_metadata(Some(notes.collect()))
            .set_sorting_columns(ordered)
            .build();
        let types = schema(about.table, columns).map_err(not_written)?;
        let file =
            SerializedFileWriter::new(out, types, Arc::new(properties)).map_err(not_written)?;
        Ok(Self {
            file,
            held: columns.iter().map(Held::of).collect(),
            columns: columns.to_vec(),
            rows_held: 0,
        })
    }

    /// Adds one row, its cells in the order of the columns: instants as milliseconds and dates as days since 1970,
    /// readings as their text.
    ///
    /// Refuses: an unknown value in a column that must not have one. Fails if the file cannot be written.
    pub fn row(&mut self, cells: &[Cell]) -> Result<(), Failure> {
        if cells.len() != self.held.len() {
            let message = format!(
                "a row of the Parquet export has {} cells for {} columns",
                cells.len(),
                self.held.len()
            );
            return Err(Failure::bug(message));
        }
        for ((held, cell), column) in self.held.iter_mut().zip(cells).zip(&self.columns) {
            if !held.push(cell) {
                let message = format!("a row of the Parquet export lacks its {}", column.field.key);
                return Err(Failure::bug(message));
            }
        }
        self.rows_held += 1;
        let texts = || self.held.iter().map(Held::text_bytes).sum::<usize>();
        if self.rows_held >= ROWS_A_GROUP
            || (self.rows_held.is_multiple_of(1_024) && texts() > TEXT_A_GROUP)
        {
            self.end_group().map_err(not_written)?;
        }
        Ok(())
    }

    /// Writes the remaining rows and the end; returns the underlying writer.
    pub fn finish(mut self) -> Result<W, Failure> {
        self.end_group()
            .and_then(|()| self.file.into_inner())
            .map_err(not_written)
    }

    fn end_group(&mut self) -> Result<(), ParquetError> {
        if self.rows_held == 0 {
            return Ok(());
        }
        let mut group = self.file.next_row_group()?;
        for held in &mut self.held {
            let Some(mut column) = group.next_column()? else {
                return Err(ParquetError::General("a column is left over".into()));
            };
            held.write(&mut column)?;
            column.close()?;
        }
        group.close()?;
        self.rows_held = 0;
        Ok(())
    }
}

fn not_written(error: ParquetError) -> Failure {
    // The system's message is more precise than the library's: no space left, not permitted.
    let failure = Failure::output("the Parquet export could not be written");
    match error {
        ParquetError::External(cause) => failure.because(cause),
        other => failure.because(other),
    }
}
