//! A list of frames in any format, for `frames` and `export`.

use std::io::Write;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::catalogue::select::Ask;
use crate::catalogue::select::Detail;
use crate::catalogue::select::Order;
use crate::cli::commands::rebuild::warn_if_stale;
use crate::cli::print;
use crate::cli::setting::Setting;
use crate::framelist::Column;
use crate::framelist::Format;
use crate::framelist::ListWriter;
use crate::framelist::columns_for;
use crate::query::Compiled;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::picture::Positions;
use crate::terms::plural::counted;
use crate::terms::plural::either;
use crate::usecase::listings::answers::compile_with_names;
use crate::usecase::listings::answers::names_saved_queries;
use crate::usecase::listings::frames::as_shown;
use crate::usecase::listings::frames::compile;
use crate::usecase::listings::frames::list;
use crate::usecase::listings::sessions::Times;

/// The appearance of a list.
#[derive(Clone, Copy, Debug)]
pub struct Look<'a> {
    /// Its form.
    pub format: Format,
    /// Its columns; the format's own if there are none.
    pub show: Option<&'a [ColumnSource]>,
    /// Its sort keys; by start if there are none.
    pub order: &'a [Order],
    /// The most rows.
    pub limit: Option<u64>,
    /// In which picture places of radiants are told.
    pub positions: Positions,
    /// Whose time a table without chosen columns shows.
    pub times: Times,
    /// The width of the screen it goes to.
    pub width: Option<usize>,
}

/// Checks a query and opens the catalogue to read. The query first: a typing mistake is reported even without a
/// catalogue, unless the query names saved ones. Warns if the answer uses stale rows.
pub fn compile_and_open(text: &str, setting: &Setting) -> Result<(Compiled, Catalogue), Failure> {
    let (compiled, catalogue) = if names_saved_queries(text) {
        let catalogue = setting.open(Purpose::Read)?;
        (compile_with_names(&catalogue, text)?, catalogue)
    } else {
        (compile(text)?, setting.open(Purpose::Read)?)
    };
    warn_if_stale(&catalogue)?;
    Ok((compiled, catalogue))
}

/// The columns of a list.
///
/// Refuses: chosen columns for a list of paths.
pub fn columns(look: &Look<'_>, compiled: &Compiled) -> Result<Vec<Column>, Failure> {
    match look.show {
        Some(_) if look.format.wants_path_bytes() => {
            Err(Failure::words("a list of paths has no columns")
                .hint("leave out --show, or use --as csv"))
        }
        Some(show) => {
            let mut columns: Vec<Column> = show.iter().map(|source| Column::of(*source)).collect();
            if look.format == Format::Table {
                columns.extend(Column::zone_aside());
            }
            Ok(columns)
        }
        None if look.format == Format::Table => {
            let columns = columns_for(look.format, &compiled.showers_named).into_iter();
            Ok(match look.times {
                Times::Local => columns.collect(),
                Times::Utc => columns.map(Column::in_utc).collect(),
            })
        }
        None => Ok(columns_for(look.format, &compiled.showers_named)),
    }
}

/// Writes the frames of a query as they come; returns how many there were.
pub fn write(
    catalogue: &Catalogue,
    compiled: &Compiled,
    look: &Look<'_>,
    out: &mut dyn Write,
) -> Result<u64, Failure> {
    let columns = columns(look, compiled)?;
    let sources: Vec<ColumnSource> = columns
        .iter()
        .map(|column| match look.positions {
            Positions::AsStored => column.source,
            Positions::AsShown => column.source.as_shown(),
        })
        .collect();
    let ask = Ask {
        query: &compiled.tree,
        columns: &sources,
        detail: detail(look),
        order: look.order,
        limit: look.limit,
    };
    let mut writer = match look.show {
        Some(_) => ListWriter::of_columns(look.format, columns, look.width, out),
        None => ListWriter::new(look.format, columns, look.width, out),
    };
    let rows = list(catalogue, &ask, &mut |row| match look.positions {
        Positions::AsShown if !row.radiants.is_empty() => writer.row(&as_shown(row, &sources)),
        _ => writer.row(row),
    })?;
    let written = writer.finish()?;
    print::too_narrow(&written.left_out);
    if written.without_file > 0 {
        let without = written.without_file;
        print::warn(&format!(
            "{} {} no file",
            counted(without, "frame"),
            either(without, "has", "have")
        ));
    }
    Ok(rows)
}

/// The data of each frame that a list needs besides its columns.
pub const fn detail(look: &Look<'_>) -> Detail {
    if look.show.is_none() && look.format.wants_files_and_radiants() {
        Detail::Everything
    } else if look.format.wants_path_bytes() {
        Detail::Path
    } else {
        Detail::Columns
    }
}
