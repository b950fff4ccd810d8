//! Spans of time in words, for messages. Knows no instants.

const MINUTE: f64 = 60.0;
const HOUR: f64 = 3_600.0;
const DAY: f64 = 86_400.0;

/// A span to a tenth of a second: `6 h 0 min 10 s`, `1 h`, `48.3 s`, `3 d 2 h`. Its sign does not count.
pub fn in_words(seconds: f64) -> String {
    let tenths = (seconds.abs() * 10.0).round();
    let whole = |unit: f64| (tenths / (unit * 10.0)).floor();
    let s = tenths % 600.0 / 10.0;
    let days = if tenths < 2.0 * DAY * 10.0 {
        0.0
    } else {
        whole(DAY)
    };
    let parts = [
        (days, "d"),
        (whole(HOUR) - days * 24.0, "h"),
        (whole(MINUTE) % 60.0, "min"),
        (s, "s"),
    ];
    let first = parts.iter().position(|(n, _)| *n > 0.0).unwrap_or(3);
    let last = parts.iter().rposition(|(n, _)| *n > 0.0).unwrap_or(3);
    let words: Vec<String> = parts[first..=last]
        .iter()
        .map(|(n, unit)| format!("{n} {unit}"))
        .collect();
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_in_words() {
        for (seconds, expect) in [
            (-3600.0, "1 h"),
            (48.25, "48.3 s"),
            (-119.96, "2 min"),
            (86_400.0, "24 h"),
            (21_610.0, "6 h 0 min 10 s"),
            (3_660.0, "1 h 1 min"),
            (0.0, "0 s"),
            (2.0 * 86_400.0 + 7_200.0, "2 d 2 h"),
        ] {
            assert_eq!(in_words(seconds), expect);
        }
    }
}
