//! The least and the greatest value of a numeric field, so that a query that cannot find anything is refused.

use crate::query::mistake::Mistake;
use crate::query::scan::Op;
use crate::terms::field::Field;
use crate::terms::field_kind::Limits;
use std::ops::Range;

/// Refuses a comparison that no value of the field can satisfy, and a value that the field cannot have.
pub(super) fn ensure_can_occur(
    name: &str,
    field: &Field,
    op: Op,
    number: f64,
    span: Range<usize>,
) -> Result<(), Mistake> {
    let Limits { low, high, .. } = field.limits;
    let outside = number < low || number > high;
    let empty = match op {
        Op::Below => number <= low,
        Op::Above => number >= high,
        _ => false,
    };
    if !outside && !empty {
        return Ok(());
    }
    let unit = match field.kind {
        crate::terms::field_kind::FieldKind::Number(unit)
        | crate::terms::field_kind::FieldKind::Whole(unit) => unit.sign(),
        _ => "",
    };
    let range = match (low.is_finite(), high.is_finite()) {
        (true, true) => format!("goes from {low}{unit} to {high}{unit}"),
        _ => format!("goes from {low}{unit} upwards"),
    };
    let message = if outside {
        format!("{name} cannot be {number}{unit}")
    } else {
        format!("{name} can never be {} {number}{unit}", in_words(op))
    };
    Err(Mistake::new(message, span).hint(format!("{name} {range}")))
}

const fn in_words(op: Op) -> &'static str {
    match op {
        Op::Below => "below",
        Op::Above => "above",
        _ => "equal to",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::field::FIELDS;
    use crate::terms::field_kind::FieldKind;
    use crate::terms::field_radiant::RADIANT_FIELDS;

    #[test]
    fn every_number_a_query_can_ask_for_has_its_limits() {
        let all = || FIELDS.iter().chain(RADIANT_FIELDS);
        for field in all() {
            let numeric = matches!(field.kind, FieldKind::Number(_) | FieldKind::Whole(_));
            let Limits { low, high, .. } = field.limits;
            let asked = numeric && !field.name.is_empty();
            // A radiant may be drawn at any distance from the picture.
            let anywhere = field.key.ends_with("x_px") || field.key.ends_with("y_px");
            assert!(low.is_finite() || !asked || anywhere, "{}", field.key);
            assert!(numeric || !low.is_finite(), "{}", field.key);
            assert!(low < high, "{}", field.key);
        }
    }
}
