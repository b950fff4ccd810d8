//! The list of trails: stated ones, then candidates that were found and not judged, the likeliest meteor first.

use crate::catalogue::found_trails::KeptTrail;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::stated_trails::StatedTrail;
use crate::sky::look::Looker;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::FRAME_ID;
use crate::terms::field::Field;
use crate::terms::field::field_keyed;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Instant;
use crate::terms::field_kind::FieldKind::Number;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::found_trail::TrailClass;
use crate::terms::picture::Positions;
use crate::terms::picture::shown_at;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::terms::trail::Judgement;
use crate::terms::trail::PicturePoint;
use crate::terms::trail::TrailEnds;
use crate::terms::trail::TrailIs;
use crate::trails::words::doubt_words;
use crate::trails::words::evidence_words;
use crate::usecase::listings::answers::compile_with_names;
use crate::usecase::listings::answers::query_of_night_or_session;
use crate::usecase::looking::mark::rows_of;
use crate::usecase::looking::trail_paths::FramePaths;
use crate::usecase::looking::trail_paths::Path;
use crate::usecase::looking::trail_paths::RADIANTS;
use crate::usecase::looking::trail_paths::TrailDetail;
use crate::usecase::looking::trail_paths::radiant_rows;

#[rustfmt::skip] // a row a column
const TRAILS: &[Field] = &[
    sheet_column("trail", "trail", Whole(Unit::One), 0),
    sheet_column("candidate", "candidate", Text, 0),
    sheet_column("file", "file", Text, 0),
    sheet_column("start", "start_utc", Instant, 0),
    sheet_column("session", "session", Whole(Unit::One), 0),
    sheet_column("seq", "seq", Whole(Unit::One), 0),
    sheet_column("from x", "from_x_px", Number(Unit::Pixels), 1),
    sheet_column("from y", "from_y_px", Number(Unit::Pixels), 1),
    sheet_column("to x", "to_x_px", Number(Unit::Pixels), 1),
    sheet_column("to y", "to_y_px", Number(Unit::Pixels), 1),
    sheet_column("length", "length_px", Number(Unit::Pixels), 1),
    sheet_column("angle", "length_deg", Number(Unit::Degrees), 1),
    sheet_column("is", "is", Text, 0),
    sheet_column("shower", "shower", Text, 0),
    sheet_column("by path", "path_shower", Text, 0),
    sheet_column("miss", "miss_deg", Number(Unit::Degrees), 2),
    sheet_column("+-", "miss_error_deg", Number(Unit::Degrees), 2),
    sheet_column("chance", "chance", Number(Unit::Fraction), 3),
    sheet_column("score", "score", Number(Unit::One), 2),
    sheet_column("light", "light", Whole(Unit::One), 0),
    sheet_column("peak SNR", "peak_snr", Number(Unit::One), 1),
    sheet_column("line SNR", "line_snr", Number(Unit::One), 1),
    sheet_column("light curve", "light_curve", Text, 0),
    sheet_column("evidence", "evidence", Text, 0),
    sheet_column("doubts", "doubts", Text, 0),
];

/// The query for a night, a session's number, or a query itself.
pub fn query_of(of: &str) -> String {
    query_of_night_or_session(of).unwrap_or_else(|| of.trim().to_owned())
}

/// The trails of a night, of a session or of the frames of a query: stated ones in the order of the frames' starts, then
/// candidates, the likeliest meteor first. With every radiant, only stated trails. `class`: only candidates of that class.
/// Ends are told in the picture as stored, or as it is shown.
pub fn trail_sheet(
    catalogue: &Catalogue,
    of: &str,
    detail: TrailDetail,
    class: Option<TrailClass>,
    positions: Positions,
) -> Result<Sheet, Failure> {
    let asked = compile_with_names(catalogue, &query_of(of))?.tree;
    let keys = [
        "orientation",
        "width_px",
        "height_px",
        "file",
        "start_utc",
        "session",
        "seq",
    ];
    let mut columns = vec![ColumnSource::Frame(&FRAME_ID)];
    columns.extend(
        keys.into_iter()
            .filter_map(field_keyed)
            .map(ColumnSource::Frame),
    );
    let mut rows = Vec::new();
    let mut candidates = Vec::new();
    let mut looker = Looker::new();
    for frame in rows_of(catalogue, &asked, &columns)? {
        let [
            Cell::Whole(frame_id),
            orientation,
            width,
            height,
            of_frame @ ..,
        ] = frame.as_slice()
        else {
            continue;
        };
        let stated = match class {
            None => catalogue.trails_of(*frame_id)?,
            Some(_) => Vec::new(),
        };
        let found = match detail {
            TrailDetail::Row => catalogue.found_trails(*frame_id)?,
            TrailDetail::EveryRadiant => Vec::new(),
        };
        if stated.is_empty() && found.is_empty() {
            continue;
        }
        let paths = FramePaths::of(catalogue, *frame_id, &mut looker)?;
        let place = |at: (f64, f64)| match positions {
            Positions::AsStored => Some(at),
            Positions::AsShown => shown(at, [orientation, width, height]),
        };
        for trail in &stated {
            match detail {
                TrailDetail::Row => rows.push(stated_row(trail, of_frame, &paths, place)),
                TrailDetail::EveryRadiant => {
                    let number = Some(trail.trail_id);
                    let path = paths.path(trail);
                    rows.extend(radiant_rows(number, of_frame.first(), &path));
                }
            }
        }
        let signs = catalogue.sky_signs(*frame_id)?.unwrap_or_default();
        for kept in found {
            if class.is_none_or(|class| kept.trail.class == class) {
                let row = found_row(&kept, (of_frame, &signs), &paths, place);
                candidates.push((kept.trail.score, row));
            }
        }
    }
    candidates.sort_by(|a, b| b.0.total_cmp(&a.0));
    rows.extend(candidates.into_iter().map(|(_, row)| row));
    Ok(Sheet {
        columns: match detail {
            TrailDetail::Row => TRAILS,
            TrailDetail::EveryRadiant => RADIANTS,
        },
        rows,
        when_empty: "no trails are stated or found in these frames; framefall examine looks for them, framefall trails add states one",
    })
}

fn hundredths(value: f64) -> Cell {
    Cell::Number((value * 100.0).round() / 100.0)
}

/// A place in the picture as it is shown; nothing where its size is not known.
fn shown(at: (f64, f64), [orientation, width, height]: [&Cell; 3]) -> Option<(f64, f64)> {
    let number = |cell: &Cell| match cell {
        Cell::Whole(value) => Some(*value),
        _ => None,
    };
    let orientation = number(orientation).and_then(|value| u8::try_from(value).ok());
    let size = (number(width)? as f64, number(height)? as f64);
    Some(shown_at(at, size, orientation))
}

/// The ends of a trail as they are listed.
fn ends(from: Option<(f64, f64)>, to: Option<(f64, f64)>) -> Vec<Cell> {
    let both = |end: Option<(f64, f64)>| [end.map(|(x, _)| x), end.map(|(_, y)| y)];
    let numbers = both(from).into_iter().chain(both(to));
    numbers
        .map(|px| px.map_or(Cell::Unknown, Cell::Number))
        .collect()
}

fn stated_row(
    trail: &StatedTrail,
    of_frame: &[Cell],
    paths: &FramePaths,
    place: impl Fn((f64, f64)) -> Option<(f64, f64)>,
) -> Vec<Cell> {
    let TrailEnds { from, to } = trail.ends;
    let judged = &trail.judged;
    let shower = judged.shower.as_ref();
    let mut cells = vec![Cell::Whole(trail.trail_id), Cell::Unknown];
    cells.extend(of_frame.iter().cloned());
    let px = |point: PicturePoint| place((point.x_px(), point.y_px()));
    cells.extend(ends(px(from), px(to)));
    cells.push(hundredths(trail.ends.length_px()));
    cells.push(
        paths
            .length_deg(trail.ends)
            .map_or(Cell::Unknown, hundredths),
    );
    cells.push(Cell::Text(judged.is.word().to_owned()));
    cells.push(shower.map_or(Cell::Unknown, |shower| Cell::Text(shower.word().to_owned())));
    cells.extend(paths.path(trail).cells());
    cells.extend(std::iter::repeat_n(Cell::Unknown, 7));
    cells
}

fn found_row(
    kept: &KeptTrail,
    (of_frame, signs): (&[Cell], &str),
    paths: &FramePaths,
    place: impl Fn((f64, f64)) -> Option<(f64, f64)>,
) -> Vec<Cell> {
    let trail = &kept.trail;
    let evidence = &trail.evidence;
    let text = |words: Vec<String>| match words.join("; ") {
        text if text.is_empty() => Cell::Unknown,
        text => Cell::Text(text),
    };
    let mut cells = vec![Cell::Unknown, Cell::Text(format!("c{}", kept.trail_id))];
    cells.extend(of_frame.iter().cloned());
    cells.extend(ends(place(trail.from_px), place(trail.to_px)));
    cells.push(hundredths(f64::from(evidence.length_px)));
    // As if it were judged to be what it is taken for.
    let stated = as_stated(kept);
    let deg = stated.and_then(|stated| paths.length_deg(stated.ends));
    cells.push(deg.map_or(Cell::Unknown, hundredths));
    cells.push(Cell::Text(trail.class.word().to_owned()));
    cells.push(Cell::Unknown);
    let path = stated.map_or(Path::NoMeteor, |stated| paths.path(&stated));
    cells.extend(path.cells());
    cells.push(Cell::Number((trail.score * 1_000.0).round() / 1_000.0));
    cells.push(trail.light.map_or(Cell::Unknown, |l| Cell::Whole(l.into())));
    cells.push(hundredths(evidence.peak_snr.into()));
    cells.push(hundredths(evidence.line_snr.into()));
    cells.push(Cell::Text(trail.light_curve.words()));
    cells.push(text(evidence_words(evidence, trail.class)));
    cells.push(text(doubt_words(evidence, signs)));
    cells
}

/// A candidate as the stated trail that it would be.
pub(crate) fn as_stated(kept: &KeptTrail) -> Option<StatedTrail> {
    let ends = kept.trail.ends()?;
    let is = match kept.trail.class {
        TrailClass::Meteor => TrailIs::Meteor,
        TrailClass::MovingLight => TrailIs::Satellite,
        TrailClass::OtherLight => TrailIs::Other,
    };
    Some(StatedTrail {
        trail_id: kept.trail_id,
        frame_id: kept.frame_id,
        ends,
        judged: Judgement { is, shower: None },
    })
}
