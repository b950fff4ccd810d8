//! Spans of time and amounts of bytes as people type them: `2h`, `200GB`.

use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;

const SPANS: &[(&str, f64)] = &[
    ("s", 1.0),
    ("min", 60.0),
    ("m", 60.0),
    ("h", 3600.0),
    ("d", 86_400.0),
];

const SIZES: &[(&str, f64)] = &[
    ("MB", 1e6),
    ("GB", 1e9),
    ("TB", 1e12),
    ("MiB", 1_048_576.0),
    ("GiB", 1_073_741_824.0),
    ("TiB", 1_099_511_627_776.0),
];

/// Seconds from `90s`, `30min`, `2h`, `1d`.
pub fn parse_span(text: &str) -> Result<f64, Failure> {
    amount(text, SPANS).ok_or_else(|| {
        Failure::new(
            FailureKind::Words,
            format!("'{text}' is not a span of time"),
        )
        .hint("write it as 30min or 2h")
    })
}

/// Bytes from `500MB`, `200GB`, `2TB`; with `i` between, in powers of 1024.
pub fn parse_bytes(text: &str) -> Result<u64, Failure> {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    // positive, and bounded by the cast
    amount(text, SIZES)
        .map(|bytes| bytes as u64)
        .ok_or_else(|| {
            Failure::new(
                FailureKind::Words,
                format!("'{text}' is not an amount of bytes"),
            )
            .hint("write it as 500MB or 200GB")
        })
}

fn amount(text: &str, units: &[(&str, f64)]) -> Option<f64> {
    let text = text.trim();
    let digits = text.find(|c: char| !c.is_ascii_digit() && c != '.')?;
    let (number, unit) = text.split_at(digits);
    let unit = unit.trim();
    let (_, factor) = units
        .iter()
        .find(|(name, _)| name.eq_ignore_ascii_case(unit))?;
    let number: f64 = number.parse().ok()?;
    (number > 0.0).then_some(number * factor)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_and_amounts_with_their_units() {
        assert!((parse_span("2h").unwrap() - 7200.0).abs() < 1e-9);
        assert!((parse_span("1.5 min").unwrap() - 90.0).abs() < 1e-9);
        assert_eq!(parse_bytes("200GB").unwrap(), 200_000_000_000);
        assert_eq!(parse_bytes("1GiB").unwrap(), 1 << 30);
        for wrong in ["", "2", "h", "-1h", "0h", "2 weeks", "1.2.3h"] {
            assert!(parse_span(wrong).is_err(), "{wrong}");
        }
        for wrong in ["200", "GB", "2XB", "-1GB"] {
            assert!(parse_bytes(wrong).is_err(), "{wrong}");
        }
    }
}
