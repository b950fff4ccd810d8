//! The Sun over one place through some nights, requested from the caller at steps of five minutes. Judges nothing.

use std::collections::HashMap;

use crate::terms::day::DAY_MS;
use crate::terms::time::Utc;

/// The steps, in milliseconds. Between them the altitude is interpolated linearly, good to 0.01°.
const STEP_MS: i64 = 300_000;

/// The Sun at the end of a usual session, in degrees: photographers work until the sky gets bright.
///
/// Source: common practice, no source: the middle of nautical twilight is at -9°.
const USUAL_END_DEG: f64 = -10.0;

/// The longest night searched, in milliseconds: 20 hours.
const LONGEST_NIGHT_MS: i64 = 20 * 3_600_000;

/// The Sun's altitude over a place.
pub struct SunCurve<'a> {
    ask: &'a mut dyn FnMut(Utc) -> Option<f64>,
    known: HashMap<i64, f64>,
}

impl<'a> SunCurve<'a> {
    /// Requests the altitude in degrees at an instant from `ask`.
    pub fn new(ask: &'a mut dyn FnMut(Utc) -> Option<f64>) -> Self {
        Self {
            ask,
            known: HashMap::new(),
        }
    }

    /// The altitude in degrees at milliseconds of UTC; 90 if unknown.
    pub fn alt_deg(&mut self, at_ms: i64) -> f64 {
        let step = at_ms.div_euclid(STEP_MS);
        let share = at_ms.rem_euclid(STEP_MS) as f64 / STEP_MS as f64;
        self.at_step(step) * (1.0 - share) + self.at_step(step + 1) * share
    }

    /// The greatest altitude over a stretch of at most two days.
    pub fn highest_deg(&mut self, from_ms: i64, until_ms: i64) -> f64 {
        let until_ms = until_ms.min(from_ms + 2 * DAY_MS);
        let inner = from_ms.div_euclid(STEP_MS) + 1..=until_ms.div_euclid(STEP_MS);
        let ends = self.alt_deg(from_ms).max(self.alt_deg(until_ms));
        inner.fold(ends, |highest, step| highest.max(self.at_step(step)))
    }

    /// How long before an instant the Sun sank to where sessions usually begin, in hours; negative if it had not yet.
    /// `None` if it is down for longer than a night.
    pub fn since_dusk_h(&mut self, at_ms: i64) -> Option<f64> {
        self.hours_from_usual_end(at_ms, -1)
    }

    /// How long after an instant it rises to that altitude.
    pub fn until_dawn_h(&mut self, at_ms: i64) -> Option<f64> {
        self.hours_from_usual_end(at_ms, 1)
    }

    fn hours_from_usual_end(&mut self, at_ms: i64, way: i64) -> Option<f64> {
        let is_down = self.alt_deg(at_ms) < USUAL_END_DEG;
        // From a bright sky towards the night, otherwise out of the night.
        let way = if is_down { way } else { -way };
        let steps = LONGEST_NIGHT_MS / STEP_MS;
        let crossing = (1..=steps)
            .find(|i| (self.alt_deg(at_ms + way * i * STEP_MS) < USUAL_END_DEG) != is_down)?;
        let hours = crossing as f64 * STEP_MS as f64 / 3_600_000.0;
        Some(if is_down { hours } else { -hours })
    }

    fn at_step(&mut self, step: i64) -> f64 {
        let ask = &mut self.ask;
        *self.known.entry(step).or_insert_with(|| {
            Utc::from_unix_ms(step * STEP_MS)
                .and_then(ask)
                .unwrap_or(90.0)
        })
    }
}
