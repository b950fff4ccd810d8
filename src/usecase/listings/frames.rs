//! Query -> rows; if there are none, the condition that excluded the last frame.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Ask;
use crate::query;
use crate::query::Checked;
use crate::query::Compiled;
use crate::query::Op;
use crate::query::Test;
use crate::query::Value;
use crate::sky::showers::showers;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Table;
use crate::terms::picture::shown_at;
use crate::terms::plural::counted;
use crate::terms::plural::either;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;
use crate::terms::shower::ShowerCode;

/// Every shower's code, for the query's checks.
pub fn shower_codes() -> Vec<ShowerCode> {
    showers().iter().map(|shower| shower.code).collect()
}

/// Checks a query's text.
pub fn compile(text: &str) -> Result<Compiled, Failure> {
    query::compile(text, &shower_codes())
}

/// The list of fields, for help.
pub fn fields_help() -> String {
    query::help_text(&shower_codes())
}

/// Passes every frame of a request to `each`, in order; returns how many there were.
pub fn list(
    catalogue: &Catalogue,
    ask: &Ask<'_>,
    each: &mut dyn FnMut(&FrameRow) -> Result<(), Failure>,
) -> Result<u64, Failure> {
    let mut rows = 0;
    catalogue.fetch(ask, |row| {
        rows += 1;
        each(&row)?;
        Ok(true)
    })?;
    Ok(rows)
}

/// A row whose radiants are placed in the picture as it is shown. Its columns tell the orientation and the size of the picture.
pub fn as_shown(row: &FrameRow, columns: &[ColumnSource]) -> FrameRow {
    let number = |key: &str| {
        let at = columns
            .iter()
            .position(|column| column.field().key == key)?;
        match row.cells.get(at)? {
            Cell::Whole(value) => Some(*value),
            _ => None,
        }
    };
    let edge = |key: &str| number(key).map(|px| px as f64 - 1.0);
    let orientation = number("orientation").and_then(|value| u8::try_from(value).ok());
    let size = edge("width_px").zip(edge("height_px"));
    let turned = |place: (Option<f64>, Option<f64>)| {
        let shown = place
            .0
            .zip(place.1)
            .zip(size)
            .map(|(at, size)| shown_at(at, size, orientation));
        (shown.map(|(x, _)| x), shown.map(|(_, y)| y))
    };
    let mut shown = row.clone();
    for radiant in &mut shown.radiants {
        let at = &mut radiant.picture;
        (at.x_px, at.y_px) = turned((at.x_px, at.y_px));
        (at.seen_x_px, at.seen_y_px) = turned((at.seen_x_px, at.seen_y_px));
    }
    shown
}

/// The most frames counted to explain an empty answer: the explanation must not cost more than the answer.
const MANY: u64 = 10_000;

/// Explains why a query found nothing: how many frames satisfy the conditions before the one that excluded the last,
/// and their values of its field.
pub fn why_none(catalogue: &Catalogue, compiled: &Compiled) -> Result<String, Failure> {
    let all = catalogue.count_up_to(&Checked::Every, MANY + 1)?;
    if all == 0 {
        return Ok("the catalogue has no frames yet; run framefall ingest DUMP first".into());
    }
    let conditions: &[Checked] = match &compiled.tree {
        Checked::All(parts) => parts,
        one => std::slice::from_ref(one),
    };
    let mut before = all;
    for (at, condition) in conditions.iter().enumerate() {
        let so_far = Checked::All(conditions[..=at].to_vec());
        let left = catalogue.count_up_to(&so_far, MANY + 1)?;
        if left > 0 {
            before = left;
            continue;
        }
        let whose = match at {
            0 => format!("none of {} has {condition}", the_frames(before)),
            _ => format!(
                "{} have {}, but none of them has {condition}",
                frames(before),
                Checked::All(conditions[..at].to_vec())
            ),
        };
        let values = if at == 0 || before <= MANY {
            values_of(catalogue, &conditions[..at], condition)?
        } else {
            String::new()
        };
        return Ok(format!("{whose}{values}"));
    }
    Ok("no frame matches all of it".into())
}

fn frames(count: u64) -> String {
    if count > MANY {
        return format!("more than {MANY} frames");
    }
    counted(count, "frame")
}

fn the_frames(count: u64) -> String {
    if count > MANY {
        return "the frames".to_owned();
    }
    format!("the {}", counted(count, "frame"))
}

/// What the remaining frames have in the field of a condition: the lowest and highest of numbers and moments, text that the
/// wanted one is a part of; and what to do where it is not known.
fn values_of(
    catalogue: &Catalogue,
    before: &[Checked],
    condition: &Checked,
) -> Result<String, Failure> {
    let Checked::Test(source, test @ (Test::Compare(..) | Test::Between(..))) = condition else {
        return Ok(String::new());
    };
    if matches!(source.field().kind, FieldKind::Text | FieldKind::Words(_)) {
        return match test {
            Test::Compare(Op::Equal, Value::Text(wanted)) => {
                part_of(catalogue, before, *source, wanted)
            }
            _ => Ok(String::new()),
        };
    }
    let (lowest, highest) = catalogue.extremes(&Checked::All(before.to_vec()), *source)?;
    Ok(match (cell(&lowest, *source), cell(&highest, *source)) {
        (Some(low), Some(high)) if low == high => {
            format!("; it is {low} for all of them where known")
        }
        (Some(low), Some(high)) => format!("; it runs from {low} to {high}"),
        _ => format!("; it is not known for any of them{}", cure(*source)),
    })
}

/// `camera = K2` where a camera's name holds it: the condition that finds it.
fn part_of(
    catalogue: &Catalogue,
    before: &[Checked],
    source: ColumnSource,
    text: &str,
) -> Result<String, Failure> {
    let like = Checked::Test(source, Test::Like(format!("*{text}*")));
    let mut all = before.to_vec();
    all.push(like.clone());
    let found = catalogue.count_up_to(&Checked::All(all), MANY + 1)?;
    Ok(match found {
        0 => String::new(),
        some => format!("; {} {} {like}", frames(some), either(some, "has", "have")),
    })
}

/// What makes an unknown value known.
fn cure(source: ColumnSource) -> &'static str {
    match source.field().table {
        Table::Site | Table::Sky | Table::Radiant => {
            ": state where they were taken, framefall site assign NAME --session NUMBER"
        }
        Table::Time => {
            ": state where they were taken (framefall site assign) or the zone of the clock (framefall clock zone)"
        }
        _ => "",
    }
}

fn cell(cell: &Cell, source: ColumnSource) -> Option<String> {
    let unit = match source.field().kind {
        FieldKind::Number(unit) | FieldKind::Whole(unit) => unit.sign(),
        _ => "",
    };
    match cell {
        Cell::Unknown => None,
        Cell::Text(text) => Some(text.clone()),
        Cell::Whole(whole) => Some(format!("{whole}{unit}")),
        Cell::Number(number) => Some(format!("{}{unit}", (number * 1000.0).round() / 1000.0)),
    }
}
