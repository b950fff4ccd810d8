//! The errors that a clock may have, each with its likelihood before any frame is examined. Does not know the Sun.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use jiff::Timestamp;
use jiff::ToSpan;
use jiff::tz::TimeZone;

use crate::clock::doubt::zoned::ZonedSite;
use crate::clock::resolve::offset_at;
use crate::clock::resolve::resolve_compatible;
use crate::clock::zone::Zone;
use crate::clock::zone::every_zone;
use crate::terms::clock::RunFrame;
use crate::terms::plural::counted;
use crate::terms::time::Utc;

/// How to move the dates of frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shift {
    /// Minutes later than dated; earlier where negative.
    Minutes(i64),
    /// Days by the clock, at the same time of day.
    Days(i64),
    /// Months by the clock, at the same day and time.
    Months(i64),
}

/// A shift, and the logarithm of its likelihood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// The shift.
    pub shift: Shift,
    /// The logarithm.
    pub weight: f64,
}

/// Hours by which a clock can be set wrong.
const MOST_HOURS: i64 = 14;

impl Shift {
    /// The shift in milliseconds for frames that begin with this one and are dated by this zone.
    pub fn later_ms(self, first: &RunFrame, zone: Option<&Zone>) -> Option<i64> {
        let step = match self {
            Self::Minutes(minutes) => return Some(minutes * 60_000),
            Self::Days(days) => days.days(),
            Self::Months(months) => months.months(),
        };
        let shown = first.reading.civil();
        let moved = shown.checked_add(step).ok()?;
        let later_ms = shown.duration_until(moved).as_secs() * 1000;
        let by_zone = zone.and_then(|zone| {
            let dated = resolve_compatible(first.reading, zone)?;
            let reading = first.reading.plus_ms(later_ms)?;
            let moved = resolve_compatible(reading, zone)?;
            (first.start_utc == Some(dated)).then(|| moved.unix_ms() - dated.unix_ms())
        });
        Some(by_zone.unwrap_or(later_ms))
    }

    /// Whether hours refine it: with another month or year, every hour of the night that fits this one fits too.
    pub const fn is_of_hours(self) -> bool {
        match self {
            Self::Minutes(_) => true,
            Self::Days(days) => days.abs() <= 2,
            Self::Months(_) => false,
        }
    }

    /// The clock's error in words: `1 h slow`.
    pub fn words(self) -> String {
        let (amount, way) = match self {
            Self::Minutes(n) => (amount_of_minutes(n.abs()), n),
            Self::Days(n) => (counted(n.unsigned_abs(), "day"), n),
            Self::Months(n) if n % 12 == 0 => (counted(n.unsigned_abs() / 12, "year"), n),
            Self::Months(n) => (counted(n.unsigned_abs(), "month"), n),
        };
        format!("{amount} {}", if way > 0 { "slow" } else { "fast" })
    }
}

fn amount_of_minutes(minutes: i64) -> String {
    match (minutes / 60, minutes % 60) {
        (hours, 0) => format!("{hours} h"),
        (0, rest) => format!("{rest} min"),
        (hours, rest) => format!("{hours} h {rest} min"),
    }
}

/// The hours and zones by which a clock may have been wrong.
///
/// Takes: the first frame in doubt; the photographer's own sites. Gives: whole hours, and the difference to every
/// offset from UTC that was in use then. Their likelihoods are common practice, no source: summer time first, then half
/// a day, the photographer's own zones and UTC, neighbouring zones, the rest, a day, a year. A year moves frames into
/// the night if the zone had other rules then.
pub fn of_hours(first: &RunFrame, sites: &[ZonedSite]) -> Vec<Prior> {
    let Some(at) = first.start_utc else {
        return Vec::new();
    };
    let used_min = (first.reading.reading_ms() - at.unix_ms()).div_euclid(60_000);
    let own: BTreeSet<i64> = sites
        .iter()
        .filter_map(|site| offset_at(at, site.zone.as_ref()?))
        .map(|offset_s| used_min - i64::from(offset_s) / 60)
        .collect();
    let in_use: BTreeSet<i64> = offsets_min(at).iter().map(|o| used_min - o).collect();
    let by_hours = (-MOST_HOURS..=MOST_HOURS).map(|h| h * 60);
    let all: BTreeSet<i64> = by_hours
        .chain(in_use.iter().copied())
        .filter(|minutes| (1..1440).contains(&minutes.abs()))
        .collect();
    // Half a day: someone who sets a clock in the evening as if it were morning makes it slow.
    let half_day = if first.reading.civil().hour() < 12 {
        720
    } else {
        -720
    };
    // Most people live in zones of whole hours.
    let from_whole_hours =
        |minutes: i64| in_use.contains(&minutes) && (used_min - minutes) % 60 == 0;
    let hours = all.into_iter().map(|minutes| {
        let likely = match minutes.abs() {
            60 => 1.0,
            720 if minutes == half_day => 0.8,
            720 => 0.6,
            _ if own.contains(&minutes) => 0.5,
            _ if minutes == used_min => 0.4,
            120 => 0.25,
            180 => 0.2,
            m if m > MOST_HOURS * 60 => 0.005,
            m if m > 720 => 0.02,
            _ if from_whole_hours(minutes) => 0.1,
            m if m % 60 == 0 => 0.05,
            1..60 => 0.03,
            _ => 0.01,
        };
        (Shift::Minutes(minutes), likely)
    });
    let days = [-1, 1].map(|d| (Shift::Days(d), 0.03));
    let years = [-12, 12].map(|months| (Shift::Months(months), 0.03));
    hours.chain(days).chain(years).map(prior).collect()
}

/// The dates by which a clock may have been wrong. Likelihoods: common practice, no source.
pub fn of_days() -> Vec<Prior> {
    let day = [-1, 1].map(|d| (Shift::Days(d), 0.3));
    let days = [-2, 2].map(|d| (Shift::Days(d), 0.02));
    day.into_iter().chain(days).map(prior).collect()
}

/// The months and years by which a clock may have been wrong, and years plus or minus a day: a body that counts 365
/// days per year shows such an error after a leap day.
///
/// Takes: the first frame in doubt. Likelihoods: common practice, no source.
pub fn of_years(first: &RunFrame) -> Vec<Prior> {
    let month = [-1, 1].map(|m| (Shift::Months(m), 0.1));
    let shown = first.reading.civil();
    let years = (1_i64..=30).flat_map(|y| [-y, y]).flat_map(|y| {
        let (year, beside) = if y.abs() == 1 {
            (0.3, 0.01)
        } else {
            (0.1, 0.002)
        };
        let whole_days = shown
            .checked_add((12 * y).months())
            .map(|moved| shown.duration_until(moved).as_hours() / 24);
        let with_a_day = whole_days.into_iter().flat_map(move |days| {
            let apart = [days - 1, days + 1];
            apart.map(|days| (Shift::Days(days), beside))
        });
        std::iter::once((Shift::Months(12 * y), year)).chain(with_a_day)
    });
    month.into_iter().chain(years).map(prior).collect()
}

fn prior((shift, likely): (Shift, f64)) -> Prior {
    Prior {
        shift,
        weight: f64::ln(likely),
    }
}

/// Every offset from UTC in use at an instant, in minutes east.
fn offsets_min(at: Utc) -> BTreeSet<i64> {
    static ZONES: LazyLock<Vec<TimeZone>> = LazyLock::new(every_zone);
    let Ok(stamp) = Timestamp::from_millisecond(at.unix_ms()) else {
        return BTreeSet::new();
    };
    ZONES
        .iter()
        .map(|zone| i64::from(zone.to_offset(stamp).seconds()) / 60)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::day::DAY_MS;
    use crate::terms::time::WallTime;

    #[test]
    fn errors_are_said_in_words() {
        let words = |shift: Shift| shift.words();
        assert_eq!(words(Shift::Minutes(60)), "1 h slow");
        assert_eq!(words(Shift::Minutes(-345)), "5 h 45 min fast");
        assert_eq!(words(Shift::Days(-1)), "1 day fast");
        assert_eq!(words(Shift::Months(12)), "1 year slow");
        assert_eq!(words(Shift::Days(365)), "365 days slow");
        assert_eq!(words(Shift::Months(-1)), "1 month fast");
    }

    #[test]
    fn a_year_of_365_and_of_366_days_is_tried_beside_the_calendar_year() {
        for (reading, calendar_d) in [("2024-08-12T23:00:00", 366), ("2025-08-12T23:00:00", 365)] {
            let first = RunFrame {
                reading: WallTime::parse(reading).unwrap(),
                ..frame()
            };
            let back: Vec<i64> = of_years(&first)
                .into_iter()
                .filter_map(|prior| {
                    let later_ms = prior.shift.later_ms(&first, None)?;
                    Some(-later_ms / DAY_MS).filter(|days| (360..370).contains(days))
                })
                .collect();
            assert_eq!(back[0], calendar_d, "the calendar year is likeliest");
            assert!(back.contains(&365) && back.contains(&366), "{back:?}");
        }
    }

    fn frame() -> RunFrame {
        RunFrame::read_at(1, WallTime::parse("2024-08-12T23:00:00").unwrap())
    }
}
