//! Reads numbers with their units into a field's own unit: `30deg`, `1/200s`, `2.5h`. Knows no limits.

use std::ops::Range;

use crate::query::mistake::Mistake;
use crate::query::mistake::one_of;
use crate::query::mistake::quoted;
use crate::query::tree::Form;
use crate::query::tree::Value;
use crate::terms::field::Field;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Unit;

/// A unit in which a number can be written: its sign, and the two factors that convert to the field's own unit. Two, so
/// that `7ms` becomes exactly the same number as `0.007`.
struct Measure(&'static str, f64, f64);

/// The units that fit a field, its own first.
fn measures(field: &Field) -> &'static [Measure] {
    let (FieldKind::Number(unit) | FieldKind::Whole(unit)) = field.kind else {
        return &[];
    };
    match unit {
        Unit::Fraction => &[Measure("%", 1.0, 100.0)],
        Unit::One | Unit::FNumber => &[],
        Unit::Degrees => &[Measure("deg", 1.0, 1.0), Measure("°", 1.0, 1.0)],
        Unit::Seconds => &[
            Measure("s", 1.0, 1.0),
            Measure("ms", 1.0, 1000.0),
            Measure("min", 60.0, 1.0),
            Measure("h", 3600.0, 1.0),
        ],
        Unit::Millimetres => &[
            Measure("mm", 1.0, 1.0),
            Measure("cm", 10.0, 1.0),
            Measure("m", 1000.0, 1.0),
        ],
        Unit::Metres => &[
            Measure("m", 1.0, 1.0),
            Measure("km", 1000.0, 1.0),
            Measure("cm", 1.0, 100.0),
            Measure("mm", 1.0, 1000.0),
        ],
        Unit::Pixels => &[Measure("px", 1.0, 1.0)],
        Unit::Celsius => &[Measure("°C", 1.0, 1.0), Measure("C", 1.0, 1.0)],
        Unit::Bytes => &[
            Measure("B", 1.0, 1.0),
            Measure("kB", 1e3, 1.0),
            Measure("MB", 1e6, 1.0),
            Measure("GB", 1e9, 1.0),
            Measure("KiB", 1024.0, 1.0),
            Measure("MiB", 1_048_576.0, 1.0),
            Measure("GiB", 1_073_741_824.0, 1.0),
        ],
        Unit::PerHour => &[Measure("/h", 1.0, 1.0)],
    }
}

/// The signs of the units that fit a field.
pub(super) fn unit_signs(field: &Field) -> Vec<&'static str> {
    measures(field).iter().map(|m| m.0).collect()
}

/// Reads a number in the field's unit.
///
/// Refuses: quotes, anything that is not a number, a unit that does not fit, a division by zero, a number too great.
pub(super) fn read(value: &Value, name: &str, field: &Field) -> Result<f64, Mistake> {
    if value.form == Form::Quoted {
        let hint = format!("{name} is a number: leave out the quotes");
        return Err(Mistake::new("a number must not be in quotes", value.span.clone()).hint(hint));
    }
    let text = aperture(&value.text, field);
    let skipped = value.text.len() - text.len();
    let Some((number, length)) = number_at(text) else {
        return Err(not_a_number(value, name, field));
    };
    let after = &text[length..];
    let (unit, span) = match &value.unit {
        Some(unit) if after.is_empty() => (unit.text.as_str(), unit.span.clone()),
        Some(_) => return Err(not_a_number(value, name, field)),
        None if !begins_unit(after) => return Err(not_a_number(value, name, field)),
        None => {
            let start = value.span.start + skipped + length;
            (after, start..value.span.end)
        }
    };
    let (times, over) = factors(unit, span, &value.text, name, field)?;
    let (top, bottom) = number;
    let number = top / bottom * times / over;
    if bottom == 0.0 {
        let message = format!("{} divides by zero", quoted(&value.text));
        let hint = "the number below the stroke must not be 0: 1/200";
        return Err(Mistake::new(message, value.span.clone()).hint(hint));
    }
    if !number.is_finite() || bottom.is_infinite() {
        return Err(too_great(value));
    }
    // Minus zero is zero.
    Ok(if number == 0.0 { 0.0 } else { number })
}

/// The mistake of a number that is too great for any field.
pub(super) fn too_great(value: &Value) -> Mistake {
    let message = format!("{} is too large", quoted(&value.text));
    Mistake::new(message, value.whole_span()).hint("write a smaller number")
}

/// Whether the text after a number could be a unit, known or not; an empty text could too.
fn begins_unit(after: &str) -> bool {
    after.is_empty()
        || after.starts_with(|c: char| c.is_alphabetic() || matches!(c, '°' | '%' | '/'))
}

/// `f/2.8` without its `f/`, for an aperture.
fn aperture<'t>(text: &'t str, field: &Field) -> &'t str {
    if !matches!(field.kind, FieldKind::Number(Unit::FNumber)) {
        return text;
    }
    ["f/", "F/", "f", "F"]
        .iter()
        .find_map(|sign| text.strip_prefix(sign))
        .unwrap_or(text)
}

/// The number at the start of a text, as numerator and denominator, and its length in bytes.
fn number_at(text: &str) -> Option<((f64, f64), usize)> {
    let (top, length) = decimal_at(text)?;
    if let Some(rest) = text[length..].strip_prefix('/')
        && let Some((bottom, more)) = decimal_at(rest)
        && rest.starts_with(|c: char| c.is_ascii_digit())
    {
        return Some(((top, bottom), length + 1 + more));
    }
    Some(((top, 1.0), length))
}

/// A decimal number: sign, digits, point, exponent.
fn decimal_at(text: &str) -> Option<(f64, usize)> {
    let mut plain = String::new();
    let mut at = 0;
    if let Some(sign) = text.chars().next().filter(|c| matches!(c, '+' | '-' | '−')) {
        // A typographic minus counts as a minus.
        plain.push(if sign == '−' { '-' } else { sign });
        at = sign.len_utf8();
    }
    let digits = |from: usize| text[from..].bytes().take_while(u8::is_ascii_digit).count();
    let whole = digits(at);
    plain.push_str(&text[at..at + whole]);
    at += whole;
    let mut parts = whole;
    if text[at..].starts_with('.') {
        let part = digits(at + 1);
        if part > 0 {
            plain.push_str(&text[at..=at + part]);
            at += 1 + part;
            parts += part;
        }
    }
    if parts == 0 {
        return None;
    }
    if let Some(rest) = text[at..].strip_prefix(['e', 'E']) {
        let sign = usize::from(rest.starts_with(['+', '-']));
        let power = digits(at + 1 + sign);
        if power > 0 {
            plain.push_str(&text[at..at + 1 + sign + power]);
            at += 1 + sign + power;
        }
    }
    Some((plain.parse().ok()?, at))
}

/// `40.5N` as a query writes it: north and east are positive.
fn without_compass(unit: &str, written: &str, field: &Field) -> Option<String> {
    let is_letter = match field.key {
        "lat_deg" => "NnSs".contains(unit),
        "lon_deg" => "EeWw".contains(unit),
        _ => false,
    };
    let number = written.trim_end_matches(char::is_alphabetic);
    let number = match unit {
        "S" | "s" | "W" | "w" if !number.starts_with('-') => format!("-{number}"),
        _ => number.to_owned(),
    };
    is_letter
        .then(|| format!("write {number}: north and east are positive, south and west negative"))
}

fn factors(
    unit: &str,
    span: Range<usize>,
    written: &str,
    name: &str,
    field: &Field,
) -> Result<(f64, f64), Mistake> {
    if unit.is_empty() {
        return Ok((1.0, 1.0));
    }
    let fitting = measures(field);
    if let Some(Measure(_, times, over)) = fitting.iter().find(|m| m.0 == unit) {
        return Ok((*times, *over));
    }
    let signs = unit_signs(field);
    let mistake = Mistake::new(format!("{} is not a unit of {name}", quoted(unit)), span);
    if unit
        .strip_prefix('/')
        .is_some_and(|below| below.starts_with(|c: char| c.is_ascii_digit()))
    {
        return Err(mistake.hint("a fraction is two numbers and a stroke, without spaces: 1/200"));
    }
    if let Some(hint) = without_compass(unit, written, field) {
        return Err(mistake.hint(hint));
    }
    let in_other_case = signs.iter().filter(|s| s.eq_ignore_ascii_case(unit));
    let meant: Vec<&str> = match unit {
        "K" | "KB" | "kb" if signs.contains(&"kB") => vec!["kB", "KiB"],
        "sec" | "second" | "seconds" => vec!["s"],
        "hr" | "hour" | "hours" => vec!["h"],
        // A metre is not a minute.
        "m" | "minute" | "minutes" => vec!["min"],
        "degree" | "degrees" | "d" => vec!["deg"],
        _ => in_other_case.copied().collect(),
    }
    .into_iter()
    .filter(|sign| signs.contains(sign))
    .collect();
    Err(mistake.hint(if signs.is_empty() {
        format!("{name} is a pure number: leave out the unit")
    } else if meant.is_empty() {
        format!("write {}; a bare number is in {}", one_of(&signs), signs[0])
    } else {
        format!("did you mean {}?", one_of(&meant))
    }))
}

fn not_a_number(value: &Value, name: &str, field: &Field) -> Mistake {
    let text = value.text.as_str();
    let hint = match text.to_ascii_lowercase().as_str() {
        "known" => format!("write {name} is known"),
        "unknown" | "null" | "none" => format!("write {name} is unknown"),
        _ => match measures(field).first() {
            Some(Measure(sign, ..)) => format!("{name} is a number, in {sign} or without a unit"),
            None => format!("{name} is a number"),
        },
    };
    Mistake::new(
        format!("{} is not a number", quoted(text)),
        value.span.clone(),
    )
    .hint(hint)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::field::field_named;

    fn number(field: &str, text: &str) -> Result<f64, String> {
        let field = field_named(field).unwrap();
        let value = Value {
            text: text.to_owned(),
            span: 0..text.len(),
            form: Form::Bare,
            unit: None,
        };
        read(&value, field.name, field).map_err(|m| format!("{:?}", m.span))
    }

    #[test]
    #[allow(clippy::float_cmp)] // The written number and the written unit must give the same bits.
    fn units_lead_to_exactly_the_number_that_was_meant() {
        for (field, text, expect) in [
            ("moon.alt", "30", 30.0),
            ("moon.alt", "-30.5deg", -30.5),
            ("moon.alt", "+30°", 30.0),
            ("moon.alt", "−30°", -30.0),
            ("moon.alt", ".5", 0.5),
            ("moon.alt", "3e1", 30.0),
            ("moon.alt", "3E-1deg", 0.3),
            ("exposure", "1/200s", 0.005),
            ("exposure", "1/200", 0.005),
            ("exposure", "1/3s", 1.0 / 3.0),
            ("exposure", "7ms", 0.007),
            ("exposure", "9ms", 0.009),
            ("exposure", "2.5min", 150.0),
            ("exposure", "2.5h", 9000.0),
            ("focal", "1.4cm", 14.0),
            ("focal", "0.2m", 200.0),
            ("elev", "2.4km", 2400.0),
            ("temperature", "-5°C", -5.0),
            ("temperature", "-5C", -5.0),
            ("aperture", "f/2.8", 2.8),
            ("aperture", "f2.8", 2.8),
            ("aperture", "2.8", 2.8),
            ("bytes", "24MB", 24e6),
            ("bytes", "24MiB", 25_165_824.0),
            ("width", "6000px", 6000.0),
            ("moon.lit", "7%", 0.07),
            ("moon.lit", "-0", 0.0),
        ] {
            assert_eq!(number(field, text), Ok(expect), "{field} {text}");
        }
        assert!(number("moon.alt", "-0").unwrap().is_sign_positive());
    }

    #[test]
    fn a_wrong_unit_is_pointed_at() {
        for (field, text, at) in [
            ("moon.alt", "30s", "2..3"),
            ("exposure", "1/200mm", "5..7"),
            ("exposure", "2.5m", "3..4"),
            ("iso", "100s", "3..4"),
            ("bytes", "24mb", "2..4"),
            ("temperature", "5°", "1..3"),
            ("aperture", "f/2.8mm", "5..7"),
            ("moon.alt", "x", "0..1"),
            ("moon.alt", "", "0..0"),
            ("moon.alt", ".", "0..1"),
            ("moon.alt", "-", "0..1"),
            ("moon.alt", "1e999", "0..5"),
            ("moon.alt", "1/0", "0..3"),
            ("moon.alt", "1/1e400", "0..7"),
            ("moon.alt", "1e400/1e400", "0..11"),
            ("moon.alt", "1/", "1..2"),
            ("moon.alt", "30:5", "0..4"),
            ("moon.alt", "2023-12-13", "0..10"),
            ("moon.alt", "inf", "0..3"),
            ("moon.alt", "nan", "0..3"),
        ] {
            assert_eq!(number(field, text), Err(at.to_owned()), "{field} {text}");
        }
    }
}
