//! Peaks of showers in words, no more precise than their source. No sums, no formula of the sky.

use crate::report::words::duration;
use crate::report::words::number;
use crate::terms::night::PeakTime;
use crate::terms::time::Utc;

/// When a shower peaks, in UTC, no more precise than its source: `2025-12-14 08:00 ± 1 h`.
pub fn peak(peak: PeakTime) -> String {
    let at = peak_instant(peak);
    let at = at.trim_end_matches('Z').replace('T', " ");
    // Non-breaking: the error stays on the line of the instant.
    format!(
        "{at}\u{a0}±\u{a0}{}",
        peak_error(peak).replace(' ', "\u{a0}")
    )
}

/// The instant of a peak to the hour, or to the minute if the source is better than an hour.
pub fn peak_instant(peak: PeakTime) -> String {
    let step_ms = if peak.error_h < 1.0 {
        60_000
    } else {
        3_600_000
    };
    let ms = peak.at.unix_ms();
    let rounded = (ms + step_ms / 2).div_euclid(step_ms) * step_ms;
    let at = Utc::from_unix_ms(rounded).unwrap_or(peak.at).to_string();
    format!("{}Z", at.get(..16).unwrap_or(&at))
}

/// The uncertainty of a peak: `12 h`, `7 min`.
fn peak_error(peak: PeakTime) -> String {
    if peak.error_h < 1.0 {
        format!("{} min", number(peak.error_h * 60.0, 0))
    } else {
        format!("{} h", number(peak.error_h, 0))
    }
}

/// How long before or after the peak an instant is, no more precise than the peak.
pub fn from_peak(at_ms: i64, peak: PeakTime) -> String {
    let off_h = (at_ms - peak.at.unix_ms()) as f64 / 3_600_000.0;
    if off_h.abs() <= peak.error_h {
        return format!("at the peak, which is known to {}", peak_error(peak));
    }
    let length = if off_h.abs() >= 48.0 {
        format!("{} days", number(off_h.abs() / 24.0, 1))
    } else if peak.error_h < 1.0 {
        duration(off_h * 3_600.0)
    } else {
        format!("{} h", number(off_h.abs(), 0))
    };
    let side = if off_h < 0.0 { "before" } else { "after" };
    format!("{length} {side} the peak")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn peaks_are_told_as_well_as_they_are_known() {
        let at = Utc::parse("2025-12-14T08:12:41Z").unwrap();
        let after = |minutes: i64| at.unix_ms() + minutes * 60_000;
        for (error_h, shown, minutes, from) in [
            (
                12.2,
                "2025-12-14 08:00 ± 12 h",
                180,
                "at the peak, which is known to 12 h",
            ),
            (
                12.2,
                "2025-12-14 08:00 ± 12 h",
                -1_824,
                "30 h before the peak",
            ),
            (1.2, "2025-12-14 08:00 ± 1 h", 192, "3 h after the peak"),
            (
                0.12,
                "2025-12-14 08:13 ± 7 min",
                192,
                "3 h 12 min after the peak",
            ),
            (
                0.12,
                "2025-12-14 08:13 ± 7 min",
                -3_600,
                "2.5 days before the peak",
            ),
        ] {
            let known = PeakTime { at, error_h };
            assert_eq!(peak(known).replace('\u{a0}', " "), shown);
            assert_eq!(from_peak(after(minutes), known), from);
        }
    }
}
