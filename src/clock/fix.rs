//! Clock fixes of one body -> how far its clock was off at any reading, and with what uncertainty. Sees no frames.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::collections::HashMap;

use crate::clock::drift::ClockError;
use crate::clock::drift::HALF_QUARTER_MS;
use crate::clock::drift::error_at;
use crate::clock::drift::most_ms;
use crate::clock::drift::plain_ms;
use crate::clock::drift::set_on_ms;
use crate::clock::drift::without_quarters;
use crate::clock::epochs::Applying;
use crate::clock::epochs::Epochs;
use crate::clock::epochs::outermost_first;
use crate::clock::rule::Rule;
use crate::clock::steps::Steps;
use crate::clock::steps::Stretch;
use crate::clock::steps::stretches;
use crate::clock::zone::Zone;
use crate::clock::zone::some_zone_changed_by;
use crate::terms::clock::ClockFix;
use crate::terms::clock::FrameSet;
use crate::terms::clock::ZoneStated;
use crate::terms::day::DAY_MS;
use crate::terms::time::WallTime;

/// One-sigma error of a clock that nobody compared with the true time, in seconds.
///
/// Source: common practice, no source: set by hand to the minute, then left for a month of quartz drift.
pub const UNCHECKED_ERROR_S: f64 = 60.0;

/// The most by which summer time advances a clock, in milliseconds: two hours, at Troll.
///
/// Source: IANA time zone database, changes of summer time in force (from memory).
const MOST_SUMMER_TIME_MS: i64 = 7_200_000;

/// What is known, apart from clock fixes, of a clock's zone setting.
#[derive(Clone, Copy, Debug)]
pub enum Setting<'z> {
    /// The body wrote it beside the reading or in its maker note.
    Written(i32),
    /// It was stated, or GPS time stamps show it.
    Known(Rule<'z>),
    /// Only the place of the frame is known: the zone of that place, if there is one.
    Place(Option<&'z Zone>),
}

/// How far a clock was off, and how to interpret the corrected reading.
#[derive(Clone, Copy, Debug)]
pub struct Correction<'z> {
    /// How to interpret the corrected reading; `None` if unknown.
    pub rule: Option<Rule<'z>>,
    /// The error; `None` if no fix applies.
    pub error: Option<ClockError>,
    /// Whether the zone setting comes from the fixes themselves.
    pub setting_by_fix: bool,
}

/// The clock of one body: its fixes and the zones it was set to.
#[derive(Clone, Debug)]
pub struct BodyClock {
    fixes: Vec<ClockFix>,
    /// The epochs of frames to which no fix is limited.
    epochs: Epochs,
    /// The epochs of the other frames: those that the same fixes are limited to together.
    of_frames: Vec<(BTreeSet<FrameSet>, Epochs)>,
    /// Which of these a frame has.
    frames: HashMap<i64, usize>,
    /// Every two neighbouring fixes of one epoch.
    neighbours: Vec<(ClockFix, ClockFix)>,
    zones: Vec<(ZoneStated, Zone)>,
    /// Which zone is stated for each reading.
    zone_of: Steps<Option<usize>>,
}

impl Default for BodyClock {
    fn default() -> Self {
        Self::new(Vec::new(), Vec::new())
    }
}

impl BodyClock {
    /// Builds a body's clock. The order of fixes and zones does not matter; a zone that is not in the database is left
    /// out.
    pub fn new(mut fixes: Vec<ClockFix>, zones: Vec<ZoneStated>) -> Self {
        fixes.sort_by_key(|fix| (fix.reading, fix.true_utc));
        let mut zones: Vec<(ZoneStated, Zone)> = zones
            .into_iter()
            .filter_map(|stated| Zone::named(&stated.zone).map(|zone| (stated, zone)))
            .collect();
        zones.sort_by(|(a, _), (b, _)| {
            outermost_first(a.from, a.until)
                .cmp(&outermost_first(b.from, b.until))
                .then_with(|| b.zone.cmp(&a.zone))
        });
        let mut zone_of = Steps::constant(None);
        for (i, (stated, _)) in zones.iter().enumerate() {
            zone_of = zone_of.with((stated.from, stated.until), &Steps::constant(Some(i)));
        }
        let of_all: Vec<ClockFix> = fixes
            .iter()
            .filter(|f| f.frames.is_none())
            .copied()
            .collect();
        Self {
            epochs: Epochs::of(&of_all),
            of_frames: Vec::new(),
            frames: HashMap::new(),
            neighbours: Epochs::of(&fixes).neighbours,
            fixes,
            zones,
            zone_of,
        }
    }

    /// The same with the frames that fixes are limited to: the set and the number of each.
    #[must_use]
    pub fn with_frames(mut self, members: impl IntoIterator<Item = (FrameSet, i64)>) -> Self {
        let mut sets: BTreeMap<i64, BTreeSet<FrameSet>> = BTreeMap::new();
        for (set, frame_id) in members {
            sets.entry(frame_id).or_default().insert(set);
        }
        for (frame_id, sets) in sets {
            let known = self.of_frames.iter().position(|(of, _)| *of == sets);
            let at = known.unwrap_or_else(|| {
                let apply = |fix: &&ClockFix| fix.frames.is_none_or(|set| sets.contains(&set));
                let fixes: Vec<ClockFix> = self.fixes.iter().filter(apply).copied().collect();
                self.of_frames.push((sets, Epochs::of(&fixes)));
                self.of_frames.len() - 1
            });
            self.frames.insert(frame_id, at);
        }
        self
    }

    /// The fixes that apply to a frame.
    fn applying(&self, frame_id: i64, reading: WallTime) -> Applying {
        let epochs = match self.frames.get(&frame_id) {
            Some(at) => &self.of_frames[*at].1,
            None => &self.epochs,
        };
        epochs.applying.at(reading)
    }

    /// The fixes, by reading.
    pub fn fixes(&self) -> &[ClockFix] {
        &self.fixes
    }

    /// The reset with which the epoch of a fix outside windows begins.
    pub fn reset_before(&self, fix: &ClockFix) -> Option<WallTime> {
        self.epochs.reset_before(fix.reading)
    }

    /// The zone stated for the clock at a reading.
    pub fn zone_at(&self, reading: WallTime) -> Option<&Zone> {
        self.zone_of.at(reading).map(|i| &self.zones[i].1)
    }

    /// The error of the clock at a frame's reading, and how to interpret the corrected reading.
    ///
    /// Takes: what is known of the zone setting, apart from fixes. A fix is interpreted by the offset its body wrote
    /// beside it or by the zone stated for its own reading. If neither is known, a fix that begins an epoch, or that
    /// applies to a reading with a written offset, is interpreted like that reading; otherwise its difference from UTC
    /// is a zone setting of whole quarters of an hour and an error of at most 7.5 minutes. If the zone setting of the
    /// reading is unknown too, it is the zone of its place if the fixes agree with it, otherwise the one they imply.
    /// Gives: one fix shifts; two give a straight line in the reading, which continues outside them with growing
    /// uncertainty.
    pub fn correction<'z>(
        &'z self,
        frame_id: i64,
        reading: WallTime,
        setting: Setting<'z>,
    ) -> Correction<'z> {
        let applying = self.applying(frame_id, reading);
        let with_rule =
            |rule: Option<Rule<'z>>, fast: &dyn Fn(&ClockFix) -> Option<i64>| Correction {
                rule,
                error: error_at(applying, reading, fast),
                setting_by_fix: false,
            };
        match setting {
            Setting::Written(offset_s) => {
                let rule = Rule::Offset(offset_s);
                with_rule(Some(rule), &|fix| self.fast_ms(fix, rule))
            }
            Setting::Known(rule) => with_rule(Some(rule), &|fix| match self.rule_of(fix) {
                None if !fix.begins_epoch() => Some(without_quarters(plain_ms(fix))),
                _ => self.fast_ms(fix, rule),
            }),
            Setting::Place(zone) => {
                let rule = zone
                    .map(Rule::Zone)
                    .filter(|rule| self.agree(applying, *rule));
                match (rule, applying) {
                    (Some(rule), _) => with_rule(Some(rule), &|fix| self.fast_ms(fix, rule)),
                    (None, Applying::None) => with_rule(zone.map(Rule::Zone), &|_| None),
                    (None, _) => Correction {
                        setting_by_fix: true,
                        ..with_rule(Some(Rule::Offset(0)), &|fix| Some(plain_ms(fix)))
                    },
                }
            }
        }
    }

    /// Whether fixes confirm this zone setting: each within 7.5 minutes, or with a change of summer time between them
    /// that this zone made.
    fn agree(&self, applying: Applying, rule: Rule<'_>) -> bool {
        let near = |fix: &ClockFix| {
            self.rule_of(fix).is_some()
                || self
                    .fast_ms(fix, rule)
                    .is_some_and(|fast_ms| fast_ms.abs() <= HALF_QUARTER_MS)
        };
        match applying {
            Applying::None => true,
            Applying::One(fix) => near(&fix),
            Applying::Two(a, b) => {
                let gained = |rule| Some(self.fast_ms(&b, rule)? - self.fast_ms(&a, rule)?);
                let can_be = |gained_ms: i64| gained_ms.abs() <= most_ms(&a, &b);
                (near(&a) && near(&b))
                    || (gained(rule).is_some_and(can_be) && !can_be(plain_ms(&b) - plain_ms(&a)))
            }
        }
    }

    /// How a fix is interpreted by itself: by the offset its body wrote, or the zone stated for its reading.
    fn rule_of(&self, fix: &ClockFix) -> Option<Rule<'_>> {
        fix.written_offset_s
            .map(Rule::Offset)
            .or_else(|| self.zone_at(fix.reading).map(Rule::Zone))
    }

    /// How fast the clock was at a fix, interpreted by what is known of that fix, otherwise by `rule`.
    pub fn fast_ms(&self, fix: &ClockFix, rule: Rule<'_>) -> Option<i64> {
        let shown = self
            .rule_of(fix)
            .unwrap_or(rule)
            .resolve_near(fix.reading, fix.true_utc)?;
        Some(shown.unix_ms() - fix.true_utc.unix_ms())
    }

    /// The drift from each fix to the next of the same epoch, in seconds a day: positive when the clock gains.
    pub fn drifts(&self) -> Vec<(i64, f64)> {
        self.neighbours
            .iter()
            .filter_map(|(a, b)| {
                let gained = self.gained_ms(a, b)?;
                let drifted = gained - set_on_ms(gained, a, b);
                let days = (b.true_utc.unix_ms() - a.true_utc.unix_ms()) as f64 / DAY_MS as f64;
                Some((b.id, drifted as f64 / 1000.0 / days))
            })
            .collect()
    }

    /// The first two neighbouring fixes of one epoch that no running clock can have shown, with the gain of the clock
    /// between them, in seconds, and the days between. A change of summer time between them is not counted.
    pub fn impossible(&self) -> Option<(&ClockFix, &ClockFix, f64, f64)> {
        self.neighbours.iter().find_map(|(a, b)| {
            let gained_ms = self.gained_ms(a, b)?;
            let can_be = |gained_ms: i64| gained_ms.abs() <= most_ms(a, b);
            let set_on_ms = set_on_ms(gained_ms, a, b);
            let summer_time = set_on_ms.abs() <= MOST_SUMMER_TIME_MS
                && (gained_ms - set_on_ms).abs() <= most_ms(a, b).min(HALF_QUARTER_MS)
                && some_zone_changed_by(set_on_ms / 1000, a.true_utc, b.true_utc);
            let forwards = a.true_utc < b.true_utc;
            if forwards && (can_be(gained_ms) || summer_time) {
                return None;
            }
            let days = (b.true_utc.unix_ms() - a.true_utc.unix_ms()).abs() as f64 / DAY_MS as f64;
            Some((a, b, gained_ms as f64 / 1000.0, days))
        })
    }

    /// The first fix that contradicts the zone stated for its reading, and by how many milliseconds: more than 7.5
    /// minutes, although it was not stated to begin an epoch.
    pub fn contradiction(&self) -> Option<(&ClockFix, &ZoneStated, i64)> {
        self.fixes.iter().find_map(|fix| {
            let (stated, zone) = &self.zones[self.zone_of.at(fix.reading)?];
            let shown = Rule::Zone(zone).resolve_near(fix.reading, fix.true_utc)?;
            let fast_ms = shown.unix_ms() - fix.true_utc.unix_ms();
            (!fix.begins_epoch() && fast_ms.abs() > HALF_QUARTER_MS)
                .then_some((fix, stated, fast_ms))
        })
    }

    /// How many frames a fix that is limited to frames applies to.
    pub fn frames_of(&self, set: FrameSet) -> usize {
        let in_set = |at: &&usize| self.of_frames[**at].0.contains(&set);
        self.frames.values().filter(in_set).count()
    }

    /// The readings to which a fix without such a limit applies.
    pub fn reach_of_fix(&self, id: i64) -> Vec<Stretch> {
        let starts = self.epochs.applying.starts().collect();
        stretches(starts, |at| match self.epochs.applying.from(at) {
            Applying::None => false,
            Applying::One(fix) => fix.id == id,
            Applying::Two(a, b) => a.id == id || b.id == id,
        })
    }

    /// The readings to which a zone applies.
    pub fn reach_of_zone(&self, id: i64) -> Vec<Stretch> {
        stretches(self.zone_of.starts().collect(), |at| {
            self.zone_of
                .from(at)
                .is_some_and(|i| self.zones[i].0.id == id)
        })
    }

    /// The frames to which other fixes are limited than by another clock.
    pub fn frames_that_differ(&self, other: &Self) -> Vec<i64> {
        let groups = |clock: &Self| -> Vec<Vec<(ClockFix, Option<String>)>> {
            let of = |sets: &BTreeSet<FrameSet>| {
                let limited = clock
                    .fixes
                    .iter()
                    .filter(|fix| fix.frames.is_some_and(|set| sets.contains(&set)));
                limited.map(|fix| clock.interpreted(fix)).collect()
            };
            clock.of_frames.iter().map(|(sets, _)| of(sets)).collect()
        };
        let (ours, theirs) = (groups(self), groups(other));
        let differs = |frame_id: &&i64| {
            let own = self.frames.get(*frame_id).map(|at| &ours[*at]);
            own != other.frames.get(*frame_id).map(|at| &theirs[*at])
        };
        let all: BTreeSet<i64> = self
            .frames
            .keys()
            .chain(other.frames.keys())
            .copied()
            .collect();
        all.iter().filter(differs).copied().collect()
    }

    /// A fix, and the zone by which it is interpreted.
    fn interpreted(&self, fix: &ClockFix) -> (ClockFix, Option<String>) {
        let zone = self.zone_at(fix.reading).map(|z| z.name().to_owned());
        (*fix, zone)
    }

    /// The readings whose instants may differ between this clock and another, for frames without limits of their own.
    pub fn differs(&self, other: &Self) -> Vec<Stretch> {
        let starts = |clock: &Self| -> Vec<Option<WallTime>> {
            let fixes = clock.epochs.applying.starts();
            fixes.chain(clock.zone_of.starts()).collect()
        };
        let means = |clock: &Self, at| {
            let zone = clock.zone_of.from(at);
            let fixes = match clock.epochs.applying.from(at) {
                Applying::None => vec![],
                Applying::One(fix) => vec![clock.interpreted(&fix)],
                Applying::Two(a, b) => vec![clock.interpreted(&a), clock.interpreted(&b)],
            };
            (zone.map(|i| clock.zones[i].1.name().to_owned()), fixes)
        };
        let all = [starts(self), starts(other)].concat();
        stretches(all, |at| means(self, at) != means(other, at))
    }

    /// The gain of the clock from one fix to another, in milliseconds. If only one of them has an offset or zone of its
    /// own, the other is interpreted by the same.
    fn gained_ms(&self, a: &ClockFix, b: &ClockFix) -> Option<i64> {
        let rule = self
            .rule_of(a)
            .or_else(|| self.rule_of(b))
            .unwrap_or(Rule::Offset(0));
        Some(self.fast_ms(b, rule)? - self.fast_ms(a, rule)?)
    }
}

/// One-sigma error of a reading that shows whole seconds, tenths, hundredths, …: a step's width over the root of 12.
///
/// Source: standard deviation of a uniform distribution over one step.
pub fn resolution_error_s(reading: WallTime) -> f64 {
    10_f64.powi(-i32::from(reading.fraction_digits())) / 12_f64.sqrt()
}

#[cfg(test)]
#[path = "fix_tests.rs"]
mod tests;
