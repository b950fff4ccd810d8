//! Plan -> rows: a list in its format. Accesses no disk.

use std::io::Write;
use std::ops::Range;
use std::path::Path;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_name;
use crate::catalogue::places::FilePlace;
use crate::catalogue::snapshot::Snapshot;
use crate::framelist::Format;
use crate::framelist::Hashed;
use crate::framelist::ListDigest;
use crate::framelist::ListWriter;
use crate::framelist::not_written;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::handoff::PathsFrom;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::Shown;
use crate::usecase::handoff::columns::Laid;
use crate::usecase::handoff::columns::lay_out;
use crate::usecase::handoff::entry::Entry;
use crate::usecase::handoff::listed::listed;
use crate::usecase::handoff::plan::Part;
use crate::usecase::handoff::plan::Plan;
use crate::usecase::stretches::each_stretch;

/// Writes one list; returns its digest.
pub fn write_list(
    still: &mut Snapshot<'_>,
    order: &HandOrder<'_>,
    plan: &Plan,
    part: &Part,
    out: &mut dyn Write,
) -> Result<ListDigest, Failure> {
    let laid = lay_out(order)?;
    let entries = &plan.entries[part.entries.clone()];
    let mut hashed = Hashed::new(out);
    let make = |catalogue: &Catalogue, rows: Range<usize>, room: Vec<u8>| {
        stretch_of(catalogue, order, &laid, part, entries, rows, room)
    };
    each_stretch(still, entries.len(), order.stop, &make, &mut |bytes| {
        hashed.write_all(bytes).map_err(not_written)
    })?;
    Ok(hashed.digest())
}

/// Some rows of a list; the heading before the first, the end after the last.
fn stretch_of(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    laid: &Laid,
    part: &Part,
    entries: &[Entry],
    rows: Range<usize>,
    room: Vec<u8>,
) -> Result<Vec<u8>, Failure> {
    let (behind, is_last) = (rows.start as u64, rows.end == entries.len());
    let entries = &entries[rows];
    let columns = laid.columns.clone();
    let writer = match order.show {
        Some(_) => ListWriter::of_columns(order.format, columns, None, room),
        None => ListWriter::new(order.format, columns, None, room),
    };
    let mut writer = writer.behind(behind);
    let mut places = catalogue.places();
    if laid.own.len() == laid.shown.len() {
        let ids = entries.iter().map(|entry| entry.file_id);
        let mut of = entries.iter();
        places.each_file(ids, |file| {
            let mut row = FrameRow::default();
            if let Some(entry) = of.next() {
                lay_cells(&mut row, laid, part, entry);
            }
            of_file(&mut row, laid, order, &file)?;
            writer.row(&row)?;
            Ok(true)
        })?;
    } else {
        let ids = entries.iter().map(|entry| entry.frame_id);
        let mut of = entries.iter();
        catalogue.fetch_listed(ids, &laid.sources, laid.detail, |row| {
            let Some(entry) = of.next() else {
                return Ok(false);
            };
            lay_cells(row, laid, part, entry);
            if entry.other_file || *order.paths != PathsFrom::Absolute {
                of_file(row, laid, order, &places.file(entry.file_id)?)?;
            }
            writer.row(row)?;
            Ok(true)
        })?;
    }
    if is_last {
        writer.finish().map(|written| written.out)
    } else {
        writer.pause()
    }
}

/// Inserts the list's own cells among those of the catalogue.
fn lay_cells(row: &mut FrameRow, laid: &Laid, part: &Part, entry: &Entry) {
    row.cells.resize(laid.shown.len(), Cell::Unknown);
    let reference = part.reference.as_ref();
    for (at, shown) in &laid.own {
        let cell = &mut row.cells[*at];
        match (shown, reference) {
            (Shown::Reference, Some(r)) => match cell {
                Cell::Text(room) => room.clone_from(&r.path),
                _ => *cell = Cell::Text(r.path.clone()),
            },
            (Shown::ReferenceTurn, Some(r)) => {
                let turn = entry.turn_since(&r.entry);
                *cell = turn.map_or(Cell::Unknown, |turn| Cell::Number(turn.deg));
            }
            (Shown::ReferenceTurnBasis, Some(r)) => {
                let turn = entry.turn_since(&r.entry);
                *cell = turn.map_or(Cell::Unknown, |turn| {
                    Cell::Text(turn.basis.word().to_owned())
                });
            }
            _ => *cell = Cell::Unknown,
        }
    }
}

/// Fills a row with the exported file, and its path in the list's form.
fn of_file(
    row: &mut FrameRow,
    laid: &Laid,
    order: &HandOrder<'_>,
    file: &FilePlace,
) -> Result<(), Failure> {
    let path = listed(order.paths, &file.path())?;
    row.since.number = 0;
    for (shown, cell) in laid.shown.iter().zip(&mut row.cells) {
        if let Shown::Kept(ColumnSource::Frame(field)) = shown
            && let Some(of_file) = file_cell(field.key, file, &path)
        {
            *cell = of_file;
        }
    }
    if matches!(order.format, Format::Paths | Format::Paths0) {
        row.path_bytes = path.into_os_string().into_encoded_bytes();
    }
    Ok(())
}

/// The value of a column about the file, with its path in the list's form; `None` for other columns.
pub(super) fn file_cell(key: &str, file: &FilePlace, path: &Path) -> Option<Cell> {
    let text = |text: &str| Cell::Text(text.to_owned());
    Some(match key {
        "path" => Cell::Text(kept_name(path.as_os_str()).text),
        "file" => Cell::Text(kept_name(&file.name).text),
        "dump" => text(&file.folder.dump.label),
        "format" => text(file.format),
        "bytes" => Cell::Whole(i64::try_from(file.bytes).unwrap_or(i64::MAX)),
        "health" => text(file.health.word()),
        _ => return None,
    })
}
