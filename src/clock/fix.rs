//! Clock fixes of one body -> how far its clock was off at any reading, and how surely. Sees no frames.

use crate::clock::rule::Rule;
use crate::clock::zone::Zone;
use crate::terms::clock::Before;
use crate::terms::clock::ClockFix;
use crate::terms::clock::ZoneStated;
use crate::terms::time::WallTime;

/// One-sigma error of a clock that nobody compared with the true time, in seconds.
///
/// Source: common practice, no source: set by hand to the minute, then left for a month of quartz drift.
pub const UNCHECKED_ERROR_S: f64 = 60.0;

/// One-sigma error of comparing two clocks by eye or by a picture, in seconds.
///
/// Source: common practice, no source.
pub const FIX_ERROR_S: f64 = 1.0;

/// How fast a quartz clock of unknown rate runs away, one sigma, in seconds a day: 20 parts in a million.
///
/// Source: frequency tolerance of 32.768 kHz tuning-fork crystals in manufacturers' data sheets (from memory).
pub const UNKNOWN_RATE_S_PER_DAY: f64 = 1.7;

/// How far a quartz clock of known mean rate strays from it, one sigma, in seconds a day: 6 parts in a million.
///
/// Source: the same data sheets' -0.034 parts in a million a square kelvin about 25 °C, for a swing of 13 K
/// (from memory).
pub const KNOWN_RATE_S_PER_DAY: f64 = 0.5;

/// No clock that runs at all drifts faster for long, in seconds a day: 116 parts in a million.
///
/// Source: our choice: several times the worst tuning-fork crystal in the cold.
pub const FASTEST_DRIFT_S_PER_DAY: f64 = 10.0;

/// No clock that runs at all drifts faster within days, in seconds a day; so much in all, in seconds, is let pass
/// whatever the days.
///
/// Source: our choice: it forgives a fix that was read to the minute.
const FORGIVEN_S: f64 = 120.0;

/// So much of the difference between two fixes is reading error, whatever the time between them, in seconds.
///
/// Source: our choice: five times the error of both.
const DRIFT_ALLOWANCE_S: f64 = 7.0;

const DAY_MS: f64 = 86_400_000.0;

/// How far a clock was off at one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockError {
    /// By how much it was fast, in milliseconds; negative when it was slow.
    pub fast_ms: i64,
    /// One-sigma error of that, in seconds.
    pub sigma_s: f64,
}

/// The clock of one body: its fixes and the zones it was set to.
#[derive(Clone, Debug, Default)]
pub struct BodyClock {
    fixes: Vec<ClockFix>,
    /// Stretches between two breaks, as ranges of `fixes`, with the reading each begins at.
    eras: Vec<(i64, std::ops::Range<usize>)>,
    zones: Vec<(ZoneStated, Zone)>,
}

impl BodyClock {
    /// Builds a body's clock. The order of fixes and zones does not matter; a zone that the database does not have
    /// is left out.
    pub fn new(mut fixes: Vec<ClockFix>, zones: Vec<ZoneStated>) -> Self {
        fixes.sort_by_key(|fix| (fix.reading, fix.true_utc));
        let mut eras: Vec<(i64, std::ops::Range<usize>)> = Vec::new();
        for (i, fix) in fixes.iter().enumerate() {
            match eras.last_mut() {
                Some((_, era)) if fix.before == Before::RanOn => era.end = i + 1,
                Some(_) => {
                    // Somewhere between the two fixes the clock was set anew: each reading follows the nearer one.
                    let (a, b) = (fixes[i - 1].reading.reading_ms(), fix.reading.reading_ms());
                    eras.push((a + (b - a) / 2, i..i + 1));
                }
                None => eras.push((i64::MIN, 0..1)),
            }
        }
        let mut zones: Vec<(ZoneStated, Zone)> = zones
            .into_iter()
            .filter_map(|stated| Zone::named(&stated.zone).map(|zone| (stated, zone)))
            .collect();
        // The statement that begins last holds; between two that begin together the one that ends first.
        zones.sort_by(|(a, _), (b, _)| {
            (
                b.from.is_some(),
                b.from,
                a.until.is_none(),
                a.until,
                &a.zone,
            )
                .cmp(&(
                    a.from.is_some(),
                    a.from,
                    b.until.is_none(),
                    b.until,
                    &b.zone,
                ))
        });
        Self { fixes, eras, zones }
    }

    /// The fixes, by reading.
    pub fn fixes(&self) -> &[ClockFix] {
        &self.fixes
    }

    /// Whether anything is stated of this clock.
    pub fn is_stated(&self) -> bool {
        !self.fixes.is_empty() || !self.zones.is_empty()
    }

    /// The zone the clock was set to at a reading, when it was stated.
    pub fn zone_at(&self, reading: WallTime) -> Option<&Zone> {
        self.zones
            .iter()
            .find(|(stated, _)| {
                stated.from.is_none_or(|from| from <= reading)
                    && stated.until.is_none_or(|until| reading < until)
            })
            .map(|(_, zone)| zone)
    }

    /// How far the clock was off at a reading; `None` without a fix.
    ///
    /// Takes: the rule by which the reading itself is read. Each fix is read by the offset its body wrote beside it,
    /// by the zone stated for its own reading, or by that rule: the first there is. Without a rule the whole
    /// difference between clock and UTC counts as its error.
    /// Gives: one fix shifts; between two the error is a straight line in the reading; outside them it is held, and
    /// grows less sure.
    pub fn error_at(&self, reading: WallTime, rule: Option<Rule<'_>>) -> Option<ClockError> {
        let at = reading.reading_ms();
        let era = self.eras.partition_point(|(from, _)| *from <= at);
        let fixes = &self.fixes[self.eras[era.checked_sub(1)?].1.clone()];
        let next = fixes.partition_point(|fix| fix.reading <= reading);
        let (before, after) = (next.checked_sub(1).map(|i| &fixes[i]), fixes.get(next));
        match (before, after) {
            (Some(a), Some(b)) => {
                let (fast_a, fast_b) = (self.fast_ms(a, rule)?, self.fast_ms(b, rule)?);
                let span = (b.reading.reading_ms() - a.reading.reading_ms()) as f64;
                let since = (at - a.reading.reading_ms()) as f64;
                let share = since / span;
                let nearer_days = since.min(span - since) / DAY_MS;
                let compared = FIX_ERROR_S * (1.0 - share).hypot(share);
                #[allow(clippy::cast_possible_truncation)] // between two whole numbers
                let fast_ms = fast_a + ((fast_b - fast_a) as f64 * share).round() as i64;
                Some(ClockError {
                    fast_ms,
                    sigma_s: compared.hypot(KNOWN_RATE_S_PER_DAY * nearer_days),
                })
            }
            (Some(only), None) | (None, Some(only)) => {
                let days = (at - only.reading.reading_ms()).abs() as f64 / DAY_MS;
                Some(ClockError {
                    fast_ms: self.fast_ms(only, rule)?,
                    sigma_s: FIX_ERROR_S.hypot(UNKNOWN_RATE_S_PER_DAY * days),
                })
            }
            (None, None) => None,
        }
    }

    /// By how much the clock was fast at a fix, read by what is known of that fix, else by `rule`, else as UTC.
    pub fn fast_ms(&self, fix: &ClockFix, rule: Option<Rule<'_>>) -> Option<i64> {
        let own = fix
            .written_offset_s
            .map(Rule::Offset)
            .or_else(|| self.zone_at(fix.reading).map(Rule::Zone));
        // Without a rule for the reading there is no zone to take off it either.
        let rule = rule.map_or(Rule::Offset(0), |rule| own.unwrap_or(rule));
        let shown = rule.resolve_near(fix.reading, fix.true_utc)?;
        Some(shown.unix_ms() - fix.true_utc.unix_ms())
    }

    /// The drift from each fix to the next of the same era, in seconds a day: positive when the clock gains.
    pub fn drifts(&self) -> Vec<(i64, f64)> {
        self.fixes
            .windows(2)
            .filter(|pair| pair[1].before == Before::RanOn)
            .filter_map(|pair| {
                let gained = self.gained_ms(&pair[0], &pair[1])?;
                let days =
                    (pair[1].true_utc.unix_ms() - pair[0].true_utc.unix_ms()) as f64 / DAY_MS;
                Some((pair[1].id, gained / 1000.0 / days))
            })
            .collect()
    }

    /// The first two neighbouring fixes of one era that no running clock can have shown, with what the clock would
    /// have gained between them, in seconds, and the days between.
    pub fn impossible(&self) -> Option<(&ClockFix, &ClockFix, f64, f64)> {
        self.fixes
            .windows(2)
            .filter(|pair| pair[1].before == Before::RanOn)
            .find_map(|pair| {
                let gained_s = self.gained_ms(&pair[0], &pair[1])? / 1000.0;
                let days =
                    (pair[1].true_utc.unix_ms() - pair[0].true_utc.unix_ms()).abs() as f64 / DAY_MS;
                let most = DRIFT_ALLOWANCE_S
                    + (FORGIVEN_S * days).min(FORGIVEN_S + FASTEST_DRIFT_S_PER_DAY * days);
                let backwards = pair[1].true_utc <= pair[0].true_utc;
                (backwards || gained_s.abs() > most).then_some((&pair[0], &pair[1], gained_s, days))
            })
    }

    /// What the clock gained from one fix to another. Where only one of them has an offset or zone of its own, the
    /// other is read by the same.
    fn gained_ms(&self, a: &ClockFix, b: &ClockFix) -> Option<f64> {
        let own = |fix: &ClockFix| {
            fix.written_offset_s
                .map(Rule::Offset)
                .or_else(|| self.zone_at(fix.reading).map(Rule::Zone))
        };
        let rule = own(a).or_else(|| own(b)).unwrap_or(Rule::Offset(0));
        Some((self.fast_ms(b, Some(rule))? - self.fast_ms(a, Some(rule))?) as f64)
    }
}

/// One-sigma error of a reading that shows whole seconds, tenths, hundredths, …: a step's width over the root of 12.
///
/// Source: standard deviation of an even spread over one step.
pub fn resolution_error_s(reading: WallTime) -> f64 {
    10_f64.powi(-i32::from(reading.fraction_digits())) / 12_f64.sqrt()
}

#[cfg(test)]
#[path = "fix_tests.rs"]
mod tests;
