//! How far a clock was off between two fixes and outside them: a straight line, and its uncertainty. Knows no zones.

use crate::clock::epochs::Applying;
use crate::terms::clock::ClockFix;
use crate::terms::day::DAY_MS;
use crate::terms::time::WallTime;

/// One-sigma error of comparing two clocks by eye or by a picture, in seconds.
///
/// Source: common practice, no source.
pub const FIX_ERROR_S: f64 = 1.0;

/// How fast a quartz clock of unknown rate drifts, one sigma, in seconds a day: 20 parts in a million.
///
/// Source: frequency tolerance of 32.768 kHz tuning-fork crystals in manufacturers' data sheets (from memory).
pub const UNKNOWN_RATE_S_PER_DAY: f64 = 1.7;

/// How far a quartz clock of known mean rate deviates from it, one sigma, in seconds a day: 6 parts in a million. The
/// uncertainty outside two fixes grows by this much a day, in addition to that of the measured drift.
///
/// Source: the same data sheets' -0.034 parts in a million a square kelvin about 25 °C, for a swing of 13 K (from
/// memory).
pub const KNOWN_RATE_S_PER_DAY: f64 = 0.5;

/// The fastest plausible lasting drift, in seconds a day: 116 parts in a million.
///
/// Source: our choice: several times the worst tuning-fork crystal in the cold.
pub const FASTEST_DRIFT_S_PER_DAY: f64 = 10.0;

/// No running clock drifts faster than that within days; this many seconds in all are tolerated whatever the days.
///
/// Source: our choice: it allows for a fix that was read to the minute.
const FORGIVEN_S: f64 = 120.0;

/// This much of the difference between two fixes is reading error, whatever the time between them, in seconds.
///
/// Source: our choice: five times the error of both.
const DRIFT_ALLOWANCE_S: f64 = 7.0;

/// Zone settings are whole quarters of an hour; a fix more than half a quarter away from one is nearer to another, in
/// milliseconds.
///
/// Source: offsets in use, IANA time zone database.
pub(super) const QUARTER_MS: i64 = 900_000;
pub(super) const HALF_QUARTER_MS: i64 = QUARTER_MS / 2;

/// How far a clock was off at one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockError {
    /// How fast it was, in milliseconds; negative if it was slow.
    pub fast_ms: i64,
    /// One-sigma error of that, in seconds.
    pub sigma_s: f64,
}

/// The error at a reading, given fixes and how fast the clock was at each.
pub(super) fn error_at(
    applying: Applying,
    reading: WallTime,
    fast: &dyn Fn(&ClockFix) -> Option<i64>,
) -> Option<ClockError> {
    let since_ms = |fix: &ClockFix| (reading.reading_ms() - fix.reading.reading_ms()) as f64;
    let held = |fix: &ClockFix| {
        Some(ClockError {
            fast_ms: fast(fix)?,
            sigma_s: FIX_ERROR_S
                .hypot(UNKNOWN_RATE_S_PER_DAY * since_ms(fix).abs() / DAY_MS as f64),
        })
    };
    match applying {
        Applying::None => None,
        Applying::One(fix) => held(&fix),
        Applying::Two(a, b) => {
            let (since_a, since_b) = (since_ms(&a), since_ms(&b));
            let share = since_a / (since_a - since_b);
            let nearer = if since_a.abs() <= since_b.abs() {
                &a
            } else {
                &b
            };
            let gained_ms = fast(&b)? - fast(&a)?;
            let set_on_ms = set_on_ms(gained_ms, &a, &b);
            let drifted_ms = (gained_ms - set_on_ms) as f64;
            let a_day_s = drifted_ms / 1000.0 / ((since_a - since_b) / DAY_MS as f64);
            if !(0.0..=1.0).contains(&share) && a_day_s.abs() > FASTEST_DRIFT_S_PER_DAY {
                // No clock drifts like this: the fixes were read too coarsely.
                return held(nearer);
            }
            let compared = FIX_ERROR_S * (1.0 - share).hypot(share);
            let nearer_days = since_a.abs().min(since_b.abs()) / DAY_MS as f64;
            // Zone settings change at once, so the nearer fix decides.
            let set_on_ms = if *nearer == b { set_on_ms } else { 0 };
            #[allow(clippy::cast_possible_truncation)] // milliseconds of this program's years
            let fast_ms = fast(&a)? + set_on_ms + (drifted_ms * share).round() as i64;
            Some(ClockError {
                fast_ms,
                sigma_s: compared.hypot(KNOWN_RATE_S_PER_DAY * nearer_days),
            })
        }
    }
}

/// The part of a gain between two fixes that is a change of zone setting and not drift, in milliseconds: whole quarters
/// of an hour, if no clock drifts that much.
pub(super) fn set_on_ms(gained_ms: i64, a: &ClockFix, b: &ClockFix) -> i64 {
    if gained_ms.abs() <= most_ms(a, b) {
        0
    } else {
        gained_ms - without_quarters(gained_ms)
    }
}

/// The most that a clock gains or loses between two fixes, in milliseconds.
pub(super) fn most_ms(a: &ClockFix, b: &ClockFix) -> i64 {
    let days = (b.true_utc.unix_ms() - a.true_utc.unix_ms()).abs() as f64 / DAY_MS as f64;
    let drift_s = (FORGIVEN_S * days).min(FORGIVEN_S + FASTEST_DRIFT_S_PER_DAY * days);
    #[allow(clippy::cast_possible_truncation)] // some hours
    let most_ms = ((DRIFT_ALLOWANCE_S + drift_s) * 1000.0) as i64;
    most_ms
}

/// The difference between what a clock showed at a fix and UTC, in milliseconds: zone setting and error.
pub(super) fn plain_ms(fix: &ClockFix) -> i64 {
    fix.reading.reading_ms() - fix.true_utc.unix_ms()
}

/// The remainder of milliseconds after the nearest whole quarters of an hour.
pub(super) fn without_quarters(ms: i64) -> i64 {
    (ms + HALF_QUARTER_MS).rem_euclid(QUARTER_MS) - HALF_QUARTER_MS
}
