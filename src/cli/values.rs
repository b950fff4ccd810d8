//! Values of options as people type them: numbers with their unit or without, and what to write instead.

use clap::builder::PossibleValue;
use clap::builder::PossibleValuesParser;
use clap::builder::TypedValueParser;

use crate::terms::day::DAY_MS;

/// Feet given instead of metres are recognised by their unit. Source: the international foot of 1959, 0.3048 m exactly.
const FOOT_M: f64 = 0.3048;

/// A word of an option, its meaning, and its help.
pub type Word<T> = (&'static str, T, &'static str);

/// One of these words.
pub fn words<T: Copy + Send + Sync + 'static>(
    table: impl Into<Vec<Word<T>>>,
) -> impl TypedValueParser<Value = T> {
    let table = table.into();
    let known = table
        .iter()
        .map(|(word, _, help)| PossibleValue::new(*word).help(*help));
    PossibleValuesParser::from(known.collect::<Vec<_>>()).try_map(move |typed| {
        let row = table.iter().find(|(word, ..)| *word == typed);
        row.map(|(_, meaning, _)| *meaning).ok_or("an unknown word")
    })
}

/// A focal length: `14`, `14mm`, `14 mm`.
pub fn millimetres(text: &str) -> Result<f64, String> {
    with_unit(text, &["mm"], "14 or 14mm")
}

/// An elevation: `1905`, `1905m`, `-12 m`.
pub fn metres(text: &str) -> Result<f64, String> {
    let feet = text.trim().trim_end_matches(['t', 'T', '\'']);
    if let Some(feet) = feet.strip_suffix(['f', 'F'])
        && let Ok(feet) = feet.trim().parse::<f64>()
    {
        return Err(format!("it is in metres: write {:.0}", feet * FOOT_M));
    }
    with_unit(text, &["m"], "1905 or 1905m")
}

/// The brightness of a sky: `21.4`, `21.4mag`.
pub fn sky_brightness(text: &str) -> Result<f64, String> {
    with_unit(
        text,
        &["mag/arcsec²", "mag/arcsec2", "mag"],
        "21.4, in mag/arcsec²",
    )
}

/// A star's magnitude: `6.1`, `6.1mag`.
pub fn magnitude(text: &str) -> Result<f64, String> {
    with_unit(text, &["mag"], "6.1, a magnitude")
}

/// The number of a session.
pub fn session(text: &str) -> Result<i64, String> {
    match text.trim().parse() {
        Ok(number) if number > 0 => Ok(number),
        _ => {
            Err("a session is named by its number, such as 4; framefall sessions lists them".into())
        }
    }
}

/// A most that a list may have.
pub fn most(text: &str) -> Result<u64, String> {
    text.trim().parse().map_err(|_| {
        "it is a count of frames, such as 100; leave the option out for all of them".into()
    })
}

/// The same where none would be no list.
pub fn most_from_one(text: &str) -> Result<u64, String> {
    most(text).and_then(|most| {
        if most == 0 {
            Err("a list of no frames is none; write 1 or more, or leave the option out".into())
        } else {
            Ok(most)
        }
    })
}

/// How far a clock was wrong, in milliseconds: `1h`, `90s`, `1h2min30s`, `1.5 h`.
pub fn span_ms(text: &str) -> Result<i64, String> {
    const TEN_YEARS_MS: f64 = 3_650.0 * DAY_MS as f64;
    if text.trim().starts_with(['-', '+', '\u{2212}']) {
        return Err(
            "leave out the sign: --fast means ahead of the true time, --slow behind it".to_owned(),
        );
    }
    let span_ms = milliseconds(text)?;
    if span_ms > TEN_YEARS_MS {
        return Err("a clock that is years wrong is put right with --read and --true".to_owned());
    }
    #[allow(clippy::cast_possible_truncation)] // bounded just above
    Ok(span_ms.round() as i64)
}

/// For how long to work, in seconds, above 0: `90s`, `30min`, `2h`, `1d`.
pub fn duration_s(text: &str) -> Result<f64, String> {
    let above_zero = milliseconds(text).ok().filter(|span_ms| *span_ms > 0.0);
    above_zero
        .map(|span_ms| span_ms / 1000.0)
        .ok_or_else(|| "write it as 30min or 2h".to_owned())
}

/// An amount of bytes above 0: `500MB`, `200GB`, `2TB`; with `i` between, in powers of 1024.
pub fn bytes(text: &str) -> Result<u64, String> {
    const UNITS: &[(&str, f64)] = &[
        ("MB", 1e6),
        ("GB", 1e9),
        ("TB", 1e12),
        ("MiB", 1_048_576.0),
        ("GiB", 1_073_741_824.0),
        ("TiB", 1_099_511_627_776.0),
    ];
    let amount = || {
        let text = text.trim();
        let (number, unit) = text.split_at(text.find(|c: char| !c.is_ascii_digit() && c != '.')?);
        let unit = unit.trim();
        let (_, factor) = UNITS
            .iter()
            .find(|(name, _)| name.eq_ignore_ascii_case(unit))?;
        let bytes = number.parse::<f64>().ok()? * factor;
        (bytes > 0.0).then_some(bytes)
    };
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive; `as` saturates
    amount()
        .map(|bytes| bytes as u64)
        .ok_or_else(|| "write it as 500MB or 200GB".to_owned())
}

fn milliseconds(text: &str) -> Result<f64, String> {
    const UNITS: &[(&str, f64)] = &[
        ("ms", 1.0),
        ("min", 60_000.0),
        ("m", 60_000.0),
        ("s", 1_000.0),
        ("h", 3_600_000.0),
        ("d", DAY_MS as f64),
    ];
    let wrong = || "write 1h, 90s or 1h2min30s".to_owned();
    let typed = text.to_ascii_lowercase();
    let mut rest = typed.trim();
    let mut sum_ms = 0.0;
    if rest.is_empty() {
        return Err(wrong());
    }
    while !rest.is_empty() {
        let digits = rest
            .find(|c: char| !c.is_ascii_digit() && c != '.')
            .ok_or_else(|| format!("say the unit: {text}s, {text}min or {text}h"))?;
        let (number, after) = rest.split_at(digits);
        let after = after.trim_start();
        let (unit, ms) = UNITS
            .iter()
            .find(|(unit, _)| after.starts_with(unit))
            .ok_or_else(wrong)?;
        sum_ms += number.parse::<f64>().map_err(|_| wrong())? * ms;
        rest = after[unit.len()..].trim_start();
    }
    Ok(sum_ms)
}

fn with_unit(text: &str, units: &[&str], right: &str) -> Result<f64, String> {
    let typed = text.trim();
    let number = units
        .iter()
        .find_map(|unit| typed.strip_suffix(unit))
        .unwrap_or(typed)
        .trim_end();
    match number.parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err(match number.replace(',', ".").parse::<f64>() {
            Ok(meant) if number.contains(',') => format!("write {meant}, with a point"),
            _ => format!("write {right}"),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_may_be_typed() {
        assert_eq!(millimetres("14mm"), Ok(14.0));
        assert_eq!(millimetres("14 mm"), Ok(14.0));
        assert_eq!(millimetres("8.5"), Ok(8.5));
        assert_eq!(metres("1905m"), Ok(1905.0));
        assert_eq!(metres("-12 m"), Ok(-12.0));
        assert_eq!(metres("6250ft"), Err("it is in metres: write 1905".into()));
        assert_eq!(millimetres("14,5"), Err("write 14.5, with a point".into()));
        assert_eq!(millimetres("wide"), Err("write 14 or 14mm".into()));
        assert_eq!(millimetres("inf"), Err("write 14 or 14mm".into()));
        assert_eq!(sky_brightness("21.4 mag/arcsec²"), Ok(21.4));
        assert!(session("-1").is_err() && session("0").is_err() && session("four").is_err());
        assert!(most("-1").unwrap_err().contains("a count of frames"));
        assert_eq!(most("0"), Ok(0));
        assert!(most_from_one("0").is_err());
        assert_eq!(span_ms("1h"), Ok(3_600_000));
        assert_eq!(span_ms("1h 2min 30s"), Ok(3_750_000));
        assert_eq!(span_ms("1.5 h"), Ok(5_400_000));
        assert_eq!(span_ms("0s"), Ok(0));
        assert_eq!(span_ms("90"), Err("say the unit: 90s, 90min or 90h".into()));
        for wrong in ["", "h", "1x", "-1h", "1h2", "9999999d"] {
            assert!(span_ms(wrong).is_err(), "{wrong}");
        }
    }
    #[test]
    fn durations_and_amounts_with_their_units() {
        assert_eq!(duration_s("2h"), Ok(7200.0));
        assert_eq!(duration_s("1.5 min"), Ok(90.0));
        assert_eq!(bytes("200GB"), Ok(200_000_000_000));
        assert_eq!(bytes("1GiB"), Ok(1 << 30));
        for wrong in ["", "2", "h", "-1h", "0h", "2 weeks", "1.2.3h"] {
            assert!(duration_s(wrong).is_err(), "{wrong}");
        }
        for wrong in ["200", "GB", "2XB", "-1GB"] {
            assert!(bytes(wrong).is_err(), "{wrong}");
        }
    }
}
