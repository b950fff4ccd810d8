//! Calibration sets -> rows: a list of its own for each kind, beside the list of lights. Accesses no disk.

use std::io::Write;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Detail;
use crate::framelist::Column;
use crate::framelist::Hashed;
use crate::framelist::ListDigest;
use crate::framelist::ListWriter;
use crate::terms::basis::Kind;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::FIELDS;
use crate::terms::handoff::MATCH_COLUMNS;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::calibration::Calibration;
use crate::usecase::handoff::calibration::CalibrationSet;
use crate::usecase::handoff::calibration::Serving;
use crate::usecase::handoff::calibration::Whose;
use crate::usecase::handoff::listed::listed;
use crate::usecase::handoff::listed::refuse_newline;
use crate::usecase::handoff::write::file_cell;

/// The columns about a calibration frame itself.
const OF_THE_FRAME: &[&str] = &[
    "path",
    "file",
    "dump",
    "format",
    "bytes",
    "camera",
    "lens",
    "exposure_s",
    "f_number",
    "iso",
    "focal_mm",
    "temperature_c",
    "clock_local",
    "start_utc",
    "night",
    "session",
    "seq",
    "kind",
    "health",
];

/// A list of calibration frames that was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CalibrationList {
    /// The kind of its frames.
    pub kind: Kind,
    /// The session of the lights, if each session has its own list.
    pub session: Option<i64>,
    /// How many frames.
    pub frames: u64,
    /// Its file name.
    pub file: String,
    /// Its bytes and their hash.
    pub digest: ListDigest,
}

/// Writes the list of one kind; returns its digest.
///
/// A row for each frame and each run of lights that it calibrates, with how well it fits; in a list of paths each file
/// once.
pub fn write_calibration(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    found: &Calibration,
    kind: Kind,
    whose: Whose,
    out: &mut dyn Write,
) -> Result<ListDigest, Failure> {
    let mut hashed = Hashed::new(out);
    let mut places = catalogue.places();
    if order.format.wants_path_bytes() {
        let mut writer = ListWriter::new(order.format, Vec::new(), None, &mut hashed);
        for frame in found.files_of(kind, whose) {
            let path = listed(order.paths, &places.file(frame.file_id)?.path())?;
            refuse_newline(order.format, &path)?;
            writer.row(&FrameRow {
                path_bytes: path.into_os_string().into_encoded_bytes(),
                ..FrameRow::default()
            })?;
        }
        writer.finish()?;
        return Ok(hashed.digest());
    }
    let kept: Vec<ColumnSource> = OF_THE_FRAME
        .iter()
        .filter_map(|key| FIELDS.iter().find(|field| field.key == *key))
        .map(ColumnSource::Frame)
        .collect();
    let columns = kept
        .iter()
        .copied()
        .chain(MATCH_COLUMNS.iter().map(ColumnSource::Frame))
        .map(Column::of)
        .collect();
    let mut writer = ListWriter::of_columns(order.format, columns, None, &mut hashed);
    for set in found.sets_of(kind, whose) {
        let ids = set.frames.iter().map(|frame| frame.frame_id);
        let mut of = set.frames.iter();
        catalogue.fetch_listed(ids, &kept, Detail::Columns, |row| {
            let Some(frame) = of.next() else {
                return Ok(false);
            };
            let file = places.file(frame.file_id)?;
            let path = listed(order.paths, &file.path())?;
            for (source, cell) in kept.iter().zip(&mut row.cells) {
                if let Some(of_file) = file_cell(source.field().key, &file, &path) {
                    *cell = of_file;
                }
            }
            row.cells.extend(how_it_matches(set, frame));
            writer.row(row)?;
            Ok(true)
        })?;
    }
    writer.finish()?;
    Ok(hashed.digest())
}

/// The cells of [`MATCH_COLUMNS`].
fn how_it_matches(set: &CalibrationSet, frame: &Serving) -> [Cell; 7] {
    let whole = |n: Option<i64>| n.map_or(Cell::Unknown, Cell::Whole);
    let rounded = |n: Option<f64>, to: f64| {
        // Adding zero makes a negative zero plain.
        n.map_or(Cell::Unknown, |n| Cell::Number((n * to).round() / to + 0.0))
    };
    [
        whole(set.lights.settings.session),
        Cell::Text(set.settings.clone()),
        whole(i64::try_from(set.lights.frames.len()).ok()),
        Cell::Text(set.grade.word().to_owned()),
        rounded(frame.nearness.exposure_diff_s, 1e6),
        rounded(frame.nearness.temperature_diff_c, 1e3),
        rounded(frame.nearness.days, 1e3),
    ]
}
