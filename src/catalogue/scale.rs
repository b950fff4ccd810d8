//! Angles, moments and words as the whole numbers stored in tables with a row per frame. Knows no table.

use crate::terms::day::DAY_S;
use crate::terms::digits::date_and_time;
use crate::terms::field_kind::LOWER_BITS;
use crate::terms::field_kind::ONCE_ROUND;
use crate::terms::field_kind::TENTHS;
use crate::terms::field_words::FORMATS;
use crate::terms::time::WallTime;
use crate::terms::words::Listed;

/// An altitude or a distance, in tenths of an arcsecond.
pub(super) fn tenths(deg: f64) -> i64 {
    whole(deg * TENTHS)
}

/// A direction modulo 360°, in tenths of an arcsecond from -180° to 180°.
pub(super) fn tenths_round(deg: f64) -> i64 {
    let turned = deg.rem_euclid(360.0);
    tenths(if turned > 180.0 {
        turned - 360.0
    } else {
        turned
    })
}

/// Altitude and azimuth in one number: the altitude in tenths of an arcsecond times 2^24, plus the azimuth in tenths,
/// less than a full circle. The two of them take six bytes.
pub(super) fn direction(alt_deg: f64, az_deg: f64) -> i64 {
    (tenths(alt_deg) << LOWER_BITS) | tenths(az_deg.rem_euclid(360.0)).rem_euclid(ONCE_ROUND)
}

/// A number in millionths.
pub(super) fn millionths(number: f64) -> i64 {
    whole(number * 1e6)
}

/// The word for an unknown container.
const UNKNOWN: &str = "unknown";

/// The index of a container in the field table; that of the unknown for a word that is not there.
pub(super) fn format_number(word: &str) -> i64 {
    let unknown = || FORMATS.iter().position(|known| *known == UNKNOWN);
    let at = FORMATS.iter().position(|known| *known == word);
    i64::try_from(at.or_else(unknown).unwrap_or_default()).unwrap_or(i64::MAX)
}

/// The container with an index; the unknown one for an index that is not there.
pub(super) fn known_format(number: i64) -> &'static str {
    let known = usize::try_from(number).ok().and_then(|at| FORMATS.get(at));
    known.copied().unwrap_or(UNKNOWN)
}

/// A number in thousandths.
pub(super) fn thousandths(number: f64) -> i64 {
    whole(number * 1e3)
}

/// Bits of a rate in thousandths: rates up to a thousand an hour, five times the greatest ZHR of the shower table.
const RATE_BITS: u32 = 20;

/// Two rates in one number: the lower bits have the rate under a 6.5-magnitude sky in thousandths, the upper ones how
/// many of these the sky of the frame costs. On a dark night that is zero, and the number as small as the rate alone.
pub(super) fn rates(rate: f64, seen_rate: f64) -> i64 {
    let rate = thousandths(rate).clamp(0, (1 << RATE_BITS) - 1);
    ((rate - thousandths(seen_rate)) << RATE_BITS) | rate
}

/// The nearest whole number. Values stored this way are bounded by their meaning; a number beyond the range saturates.
#[allow(clippy::cast_possible_truncation)] // `as` saturates
fn whole(number: f64) -> i64 {
    number.round() as i64
}

/// The date of a number of days after 1970-01-01.
pub(super) fn date_of(day: i64) -> Option<String> {
    let at = WallTime::from_seconds(day.checked_mul(DAY_S)?, "")?;
    let text = date_and_time(at.seconds())?;
    String::from_utf8(text[..10].to_vec()).ok()
}

/// The clock reading stored as seconds and the digits of a fraction.
pub(super) fn reading_of(seconds: i64, fraction: Option<&str>) -> Option<WallTime> {
    WallTime::from_seconds(seconds, fraction.unwrap_or(""))
}

/// A word's index in its list, in the order that the tables number it.
pub(super) trait Numbered: Listed {
    /// This word's index.
    fn number(self) -> Option<i64> {
        let at = Self::LIST.iter().position(|one| *one == self)?;
        i64::try_from(at).ok()
    }
}

impl<W: Listed> Numbered for W {}

/// The word at an index of its list.
pub(super) fn numbered<N: Listed>(number: Option<i64>) -> Option<N> {
    let at = usize::try_from(number?).ok()?;
    N::LIST.get(at).copied()
}

#[cfg(test)]
#[path = "scale_tests.rs"]
mod tests;
