//! The least and the greatest value that a numeric field can hold, so that a query that cannot find anything says so.

use crate::query::mistake::Mistake;
use crate::query::scan::Op;
use crate::terms::field::Field;
use std::ops::Range;

/// Key, least, greatest. Infinite where there is no end.
///
/// Sources: angles by their definition (azimuth from north through east, longitude east positive);
/// orientation by EXIF 2.3, tag 0x0112 (from memory); elevation as `terms::site` takes it; temperature by absolute
/// zero; the rest cannot be negative.
const LIMITS: &[(&str, f64, f64)] = &[
    ("bytes", 0.0, f64::INFINITY),
    ("exposure_s", 0.0, f64::INFINITY),
    ("f_number", 0.0, f64::INFINITY),
    ("iso", 0.0, f64::INFINITY),
    ("focal_mm", 0.0, f64::INFINITY),
    ("focal35_mm", 0.0, f64::INFINITY),
    ("width_px", 0.0, f64::INFINITY),
    ("height_px", 0.0, f64::INFINITY),
    ("orientation", 1.0, 8.0),
    ("temperature_c", -273.15, f64::INFINITY),
    ("shutter_count", 0.0, f64::INFINITY),
    ("time_error_s", 0.0, f64::INFINITY),
    ("lat_deg", -90.0, 90.0),
    ("lon_deg", -180.0, 180.0),
    ("elev_m", -500.0, 60_000.0),
    ("session", 1.0, f64::INFINITY),
    ("seq", 1.0, f64::INFINITY),
    ("sun_alt_deg", -90.0, 90.0),
    ("moon_alt_deg", -90.0, 90.0),
    ("moon_az_deg", 0.0, 360.0),
    ("moon_lit", 0.0, 1.0),
    ("lst_deg", 0.0, 360.0),
    ("turn_deg", -400.0, 400.0),
    ("solar_lon_deg", 0.0, 360.0),
    ("alt_deg", -90.0, 90.0),
    ("az_deg", 0.0, 360.0),
    ("seen_alt_deg", -90.0, 90.0),
    ("seen_az_deg", 0.0, 360.0),
    ("moon_sep_deg", 0.0, 180.0),
    ("rate", 0.0, f64::INFINITY),
    ("seen_rate", 0.0, f64::INFINITY),
];

/// The least and the greatest value of a field.
pub(super) fn limits(field: &Field) -> (f64, f64) {
    LIMITS
        .iter()
        .find(|(key, ..)| *key == field.key)
        .map_or((f64::NEG_INFINITY, f64::INFINITY), |&(_, low, high)| {
            (low, high)
        })
}

/// Whether the field goes round a circle: 350° and 10° are neighbours.
pub(super) fn goes_round(field: &Field) -> bool {
    limits(field) == (0.0, 360.0) || field.key == "lon_deg"
}

/// Refuses a comparison that no value of the field can satisfy, and a value that the field cannot hold.
pub(super) fn ensure_can_occur(
    name: &str,
    field: &Field,
    op: Op,
    number: f64,
    span: Range<usize>,
) -> Result<(), Mistake> {
    let (low, high) = limits(field);
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
        crate::terms::field::FieldKind::Number(unit)
        | crate::terms::field::FieldKind::Whole(unit) => unit.sign(),
        _ => "",
    };
    let range = match (low.is_finite(), high.is_finite()) {
        (true, true) => format!("runs from {low}{unit} to {high}{unit}"),
        _ => format!("runs from {low}{unit} upwards"),
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
    use crate::terms::field::FieldKind;
    use crate::terms::field::RADIANT_FIELDS;

    #[test]
    fn every_number_a_query_can_ask_for_has_its_limits() {
        let all = || FIELDS.iter().chain(RADIANT_FIELDS);
        for field in all().filter(|f| !f.name.is_empty()) {
            let numeric = matches!(field.kind, FieldKind::Number(_) | FieldKind::Whole(_));
            let listed = LIMITS.iter().any(|(key, ..)| *key == field.key);
            assert_eq!(numeric, listed, "{}", field.key);
        }
        for (key, low, high) in LIMITS {
            assert!(all().any(|f| f.key == *key), "{key} is no field");
            assert!(low < high, "{key}");
        }
    }
}
