//! Where each session's camera pointed, as a small sheet. No formula.

use std::collections::BTreeMap;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Ask;
use crate::catalogue::select::Detail;
use crate::query::Compiled;
use crate::sky::direction::Direction;
use crate::terms::angle::Angle;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::field_keyed;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Number;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;

/// What is asked of each frame.
const KEYS: [&str; 8] = [
    "session",
    "night",
    "camera",
    "pointing",
    "stars_found",
    "point_alt_deg",
    "point_az_deg",
    "point_roll_deg",
];

#[rustfmt::skip] // a row a column
const COLUMNS: &[Field] = &[
    sheet_column("session", "session", Whole(Unit::One), 0),
    sheet_column("night", "night", Text, 0),
    sheet_column("camera", "camera", Text, 0),
    sheet_column("frames", "frames", Whole(Unit::One), 0),
    sheet_column("examined", "examined", Whole(Unit::One), 0),
    sheet_column("known", "known", Whole(Unit::One), 0),
    sheet_column("weak", "weak", Whole(Unit::One), 0),
    sheet_column("alt", "point_alt_deg", Number(Unit::Degrees), 2),
    sheet_column("az", "point_az_deg", Number(Unit::Degrees), 2),
    sheet_column("roll", "point_roll_deg", Number(Unit::Degrees), 2),
    sheet_column("moved", "moved_deg", Number(Unit::Degrees), 2),
    sheet_column("stars", "stars_found", Whole(Unit::One), 0),
    sheet_column("not known", "not_known", Text, 0),
];

/// What is gathered of a session.
#[derive(Default)]
struct Gathered {
    night: Option<String>,
    camera: Option<String>,
    frames: i64,
    examined: i64,
    known: i64,
    weak: i64,
    looks: Vec<(f64, f64, f64)>,
    stars: Vec<f64>,
    reasons: BTreeMap<String, u64>,
}

/// One row a session: how many of its frames were examined, of how many the pointing is known, and weak; where the camera pointed in the middle one of those whose pointing
/// over the horizon is known, how far any of them is from it, and why it is not known of others.
pub fn pointing_sheet(catalogue: &Catalogue, compiled: &Compiled) -> Result<Sheet, Failure> {
    let columns: Vec<ColumnSource> = KEYS
        .iter()
        .filter_map(|key| field_keyed(key).map(ColumnSource::Frame))
        .collect();
    let ask = Ask {
        query: &compiled.tree,
        columns: &columns,
        detail: Detail::Columns,
        order: &[],
        limit: None,
    };
    let mut sessions: BTreeMap<Option<i64>, Gathered> = BTreeMap::new();
    catalogue.fetch(&ask, |row| {
        let text = |at: usize| match row.cells.get(at) {
            Some(Cell::Text(text)) => Some(text.clone()),
            _ => None,
        };
        let number = |at: usize| match row.cells.get(at) {
            Some(Cell::Number(number)) => Some(*number),
            Some(Cell::Whole(whole)) => Some(*whole as f64),
            _ => None,
        };
        let session = match row.cells.first() {
            Some(Cell::Whole(session)) => Some(*session),
            _ => None,
        };
        let one = sessions.entry(session).or_default();
        one.frames += 1;
        one.night = one.night.take().or_else(|| text(1));
        one.camera = one.camera.take().or_else(|| text(2));
        if let Some(word) = text(3) {
            one.examined += 1;
            match word.as_str() {
                "good" | "stated" => one.known += 1,
                "weak" => {
                    one.known += 1;
                    one.weak += 1;
                }
                _ => *one.reasons.entry(word).or_default() += 1,
            }
        }
        one.stars.extend(number(4));
        if let (Some(alt), Some(az), Some(roll)) = (number(5), number(6), number(7)) {
            one.looks.push((alt, az, roll));
        }
        Ok(true)
    })?;
    Ok(Sheet {
        columns: COLUMNS,
        rows: sessions.into_iter().map(row).collect(),
        when_empty: "no frames that may show stars",
    })
}

fn row((session, one): (Option<i64>, Gathered)) -> Vec<Cell> {
    let middle = one.looks.get(one.looks.len() / 2).copied();
    let direction = |(alt, az, _): (f64, f64, f64)| {
        Direction::from_alt_az(Angle::from_deg(alt), Angle::from_deg(az))
    };
    let moved = middle.map(|middle| {
        let from = direction(middle);
        let apart = one
            .looks
            .iter()
            .map(|look| direction(*look).angle_to(from).deg());
        apart.fold(0.0, f64::max)
    });
    let mut stars = one.stars;
    stars.sort_by(f64::total_cmp);
    let reasons: Vec<String> = one
        .reasons
        .iter()
        .map(|(reason, count)| format!("{reason} {count}"))
        .collect();
    let number = |value: Option<f64>| value.map_or(Cell::Unknown, Cell::Number);
    let text = |value: Option<String>| value.map_or(Cell::Unknown, Cell::Text);
    #[allow(clippy::cast_possible_truncation)] // a count of at most some hundreds
    let stars = stars
        .get(stars.len() / 2)
        .map_or(Cell::Unknown, |count| Cell::Whole(*count as i64));
    vec![
        session.map_or(Cell::Unknown, Cell::Whole),
        text(one.night),
        text(one.camera),
        Cell::Whole(one.frames),
        Cell::Whole(one.examined),
        Cell::Whole(one.known),
        Cell::Whole(one.weak),
        number(middle.map(|m| m.0)),
        number(middle.map(|m| m.1)),
        number(middle.map(|m| m.2)),
        number(moved),
        stars,
        text((!reasons.is_empty()).then(|| reasons.join(", "))),
    ]
}
