//! Query -> rows; when there are none, says which condition took the last frame away.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Ask;
use crate::query;
use crate::query::Checked;
use crate::query::Compiled;
use crate::query::Test;
use crate::sky::showers::showers;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field_kind::FieldKind;
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

/// Gives every frame that an ask finds to `each`, in its order; how many there were.
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

/// Frames are counted no farther than this to say why none was found: the reason must not cost more than the answer.
const MANY: u64 = 10_000;

/// Says why a query found nothing: how many frames satisfy the conditions before the one that took the last away,
/// and what values of its field they have.
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
            0 => format!("of {} in the catalogue", frames(before)),
            _ => format!(
                "of {} with {}",
                frames(before),
                Checked::All(conditions[..at].to_vec())
            ),
        };
        let values = if at == 0 || before <= MANY {
            values_of(catalogue, &conditions[..at], condition)?
        } else {
            String::new()
        };
        return Ok(format!("{whose}, none has {condition}{values}"));
    }
    Ok("no frame matches all of it".into())
}

fn frames(count: u64) -> String {
    if count > MANY {
        return format!("more than {MANY} frames");
    }
    format!("{count} {}", if count == 1 { "frame" } else { "frames" })
}

/// The lowest and highest value that the remaining frames have in the field of a condition on a number or a moment.
fn values_of(
    catalogue: &Catalogue,
    before: &[Checked],
    condition: &Checked,
) -> Result<String, Failure> {
    let Checked::Test(source, Test::Compare(..) | Test::Between(..)) = condition else {
        return Ok(String::new());
    };
    if matches!(source.field().kind, FieldKind::Text | FieldKind::Words(_)) {
        return Ok(String::new());
    }
    let (lowest, highest) = catalogue.extremes(&Checked::All(before.to_vec()), *source)?;
    Ok(match (cell(&lowest, *source), cell(&highest, *source)) {
        (Some(low), Some(high)) if low == high => {
            format!("; it is {low} for all of them where known")
        }
        (Some(low), Some(high)) => format!("; it runs from {low} to {high}"),
        _ => "; it is not known for any of them".into(),
    })
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
