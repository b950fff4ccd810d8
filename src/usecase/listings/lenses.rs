//! How lenses draw stars, by focal length and aperture, over the frames of a query. No formula, no SQL.

use std::collections::BTreeMap;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Ask;
use crate::catalogue::select::Detail;
use crate::query::Checked;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::field_keyed;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Number;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::lens_use::LensUse;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;

/// Focal lengths and apertures are told apart to a hundredth.
const PARTS: f64 = 100.0;

const KEYS: [&str; 5] = [
    "lens",
    "focal_mm",
    "f_number",
    "star_width_px",
    "corner_width_px",
];

#[rustfmt::skip] // a row a column
const LENSES: &[Field] = &[
    sheet_column("lens", "lens", Text, 0),
    sheet_column("focal", "focal_mm", Number(Unit::Millimetres), 1),
    sheet_column("aperture", "f_number", Number(Unit::FNumber), 1),
    sheet_column("frames", "frames", Whole(Unit::One), 0),
    sheet_column("measured", "measured", Whole(Unit::One), 0),
    sheet_column("star_width", "star_width_px", Number(Unit::Pixels), 2),
    sheet_column("corner_width", "corner_width_px", Number(Unit::Pixels), 2),
    sheet_column("corner ratio", "corner_ratio", Number(Unit::One), 2),
];

/// The frames of one lens at one setting.
#[derive(Default)]
struct Taken {
    frames: u64,
    widths: Vec<(f32, f32)>,
}

/// The lenses of the frames of a query at each focal length and aperture, by name; frames without a lens's name last.
pub fn lens_uses(catalogue: &Catalogue, query: &Checked) -> Result<Vec<LensUse>, Failure> {
    let columns: Vec<ColumnSource> = KEYS
        .into_iter()
        .filter_map(field_keyed)
        .map(ColumnSource::Frame)
        .collect();
    let ask = Ask {
        query,
        columns: &columns,
        detail: Detail::Columns,
        order: &[],
        limit: None,
    };
    let mut all: BTreeMap<(bool, String, Option<i64>, Option<i64>), Taken> = BTreeMap::new();
    catalogue.fetch(&ask, |row| {
        let [lens, focal, aperture, middle, corner] = row.cells.as_slice() else {
            return Ok(true);
        };
        let (unnamed, lens) = match lens {
            Cell::Text(name) => (false, name.clone()),
            _ => (true, String::new()),
        };
        let taken = all
            .entry((unnamed, lens, parts(focal), parts(aperture)))
            .or_default();
        taken.frames += 1;
        #[allow(clippy::cast_possible_truncation)] // a width in pixels
        if let (Cell::Number(middle), Cell::Number(corner)) = (middle, corner) {
            taken.widths.push((*middle as f32, *corner as f32));
        }
        Ok(true)
    })?;
    let whole = |parts: Option<i64>| parts.map(|parts| parts as f64 / PARTS);
    Ok(all
        .into_iter()
        .map(|((unnamed, lens, focal, aperture), taken)| LensUse {
            lens: (!unnamed).then_some(lens),
            focal_mm: whole(focal),
            f_number: whole(aperture),
            frames: taken.frames,
            measured: taken.widths.len() as u64,
            star_width_px: median(taken.widths.iter().map(|(middle, _)| *middle)),
            corner_width_px: median(taken.widths.iter().map(|(_, corner)| *corner)),
        })
        .collect())
}

#[allow(clippy::cast_possible_truncation)] // a setting of a lens
fn parts(cell: &Cell) -> Option<i64> {
    match cell {
        Cell::Number(value) => Some((value * PARTS).round() as i64),
        Cell::Whole(value) => Some(value * PARTS as i64),
        _ => None,
    }
}

fn median(values: impl Iterator<Item = f32>) -> Option<f64> {
    let mut values: Vec<f32> = values.collect();
    values.sort_by(f32::total_cmp);
    let (low, high) = ((values.len().checked_sub(1)?) / 2, values.len() / 2);
    Some(f64::midpoint(values[low].into(), values[high].into()))
}

/// The same as a table, and how many frames there are.
pub fn lens_sheet(catalogue: &Catalogue, query: &Checked) -> Result<(Sheet, u64), Failure> {
    let uses = lens_uses(catalogue, query)?;
    let number = |value: Option<f64>| value.map_or(Cell::Unknown, Cell::Number);
    let whole = |count: u64| Cell::Whole(i64::try_from(count).unwrap_or(i64::MAX));
    let sum = uses.iter().map(|one| one.frames).sum();
    let rows = uses
        .into_iter()
        .map(|one| {
            let ratio = one.corner_ratio();
            vec![
                one.lens.map_or(Cell::Unknown, Cell::Text),
                number(one.focal_mm),
                number(one.f_number),
                whole(one.frames),
                whole(one.measured),
                number(one.star_width_px),
                number(one.corner_width_px),
                number(ratio),
            ]
        })
        .collect();
    let sheet = Sheet {
        columns: LENSES,
        rows,
        when_empty: "no frames",
    };
    Ok((sheet, sum))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_median_is_the_middle_or_the_mean_of_two() {
        assert_eq!(median([3.0, 1.0, 2.0].into_iter()), Some(2.0));
        assert_eq!(median([4.0, 1.0, 2.0, 3.0].into_iter()), Some(2.5));
        assert_eq!(median([7.0].into_iter()), Some(7.0));
        assert_eq!(median(std::iter::empty()), None);
    }
}
