//! Exposures as photographers write them. Parses no text.

/// A frame without light is a bias up to this exposure; a longer one is a dark.
///
/// Source: common practice, no source: a bias is taken at the shortest exposure.
pub const LONGEST_BIAS_S: f64 = 0.002;

/// How near an exposure must be to a fraction of a second to be written as one: cameras write 1/30 s as 0.0333.
const NEAR: f64 = 1e-3;

/// The denominator of an exposure that is one over a whole number of a second: 200 for 0.005 s. `None` from 1 s on, and
/// for 0.28 s, which is not such a fraction.
pub fn part_of_second(seconds: f64) -> Option<f64> {
    let parts = (1.0 / seconds).round();
    (seconds > 0.0 && parts >= 2.0 && (seconds * parts - 1.0).abs() < NEAR).then_some(parts)
}

/// An exposure with its unit: `20 s`, `1/200 s`, `0.28 s`.
pub fn exposure_text(seconds: f64) -> String {
    if let Some(parts) = part_of_second(seconds) {
        return format!("1/{parts} s");
    }
    let text = format!("{seconds:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} s")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_parts_of_a_second_are_fractions() {
        for (seconds, text) in [
            (20.0, "20 s"),
            (1.3, "1.3 s"),
            (0.5, "1/2 s"),
            (0.28, "0.28 s"),
            (0.3, "0.3 s"),
            (0.0333, "1/30 s"),
            (0.005, "1/200 s"),
            (1.0 / 8000.0, "1/8000 s"),
            (0.0, "0 s"),
        ] {
            assert_eq!(exposure_text(seconds), text);
        }
    }
}
