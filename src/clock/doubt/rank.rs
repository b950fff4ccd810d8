//! Ranks the possible errors by all the evidence: the Sun at both ends, the stars in the pictures, the other runs of the
//! body, the other bodies at the site.

use crate::clock::doubt::shift::Prior;
use crate::clock::doubt::shift::Shift;
use crate::clock::doubt::sky_fit;
use crate::clock::doubt::sky_fit::SkyFit;
use crate::clock::doubt::sun::SunCurve;
use crate::clock::zone::Zone;
use crate::terms::clock::RunFrame;
use crate::terms::day::DAY_MS;

/// The Sun's altitude below which a whole run at night settings must be, in degrees; if no error reaches one, the next
/// is tried.
///
/// Source: our choice. Sessions run from and to -10° or -12° (common practice, no source); in white nights people
/// photograph the sky they have.
const DARK_DEG: [f64; 3] = [-7.5, -6.0, -4.0];

/// Two runs that overlap by less may be consecutive, in milliseconds.
const OVERLAP_MS: i64 = 60_000;

/// Runs that begin this far apart are of consecutive nights, in milliseconds.
///
/// Source: our choice: a day, plus or minus a quarter.
const NEXT_NIGHT_MS: std::ops::Range<i64> = 64_800_000..108_000_000;

/// A run of this length is a planned session, in milliseconds: two hours.
///
/// Source: our choice.
const SESSION_MS: f64 = 7_200_000.0;

/// A span in milliseconds of UTC.
pub type Span = (i64, i64);

/// What is known about frames whose clock is in doubt.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// The spans of the runs in question.
    pub spans: Vec<Span>,
    /// The same from the first to the last frame at night settings, for runs that have any.
    pub night: Vec<Span>,
    /// The same with settings of twilight and moonlight.
    pub worked: Vec<Span>,
    /// Runs of the body that are not in doubt: nothing else can have been taken then.
    pub taken: Vec<Span>,
    /// The end of the run whose files come directly before, and the beginning of the one directly after.
    pub before: Option<i64>,
    /// The same after.
    pub after: Option<i64>,
    /// Runs of the body at the same site in other nights that are not in doubt.
    pub habits: Vec<Span>,
    /// Runs of the body at the same site in about the same days that are in doubt, at night settings.
    pub alike: Vec<Span>,
    /// Runs of other bodies at the same site that are not in doubt.
    pub others: Vec<Span>,
    /// What the stars in the pictures say.
    pub sky: Vec<SkyFit>,
    /// The site's zone.
    pub zone: Option<Zone>,
}

/// An error that fits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// By what the frames move.
    pub shift: Shift,
    /// The shift in milliseconds.
    pub later_ms: i64,
    /// The smallest and largest nearby shift that fits, in hours; `None` if the Sun gives no limit.
    pub fits_h: Option<(f64, f64)>,
    /// The logarithm of its likelihood.
    pub weight: f64,
}

/// The errors that fit, the most likely first.
///
/// Takes: `first`, the first frame in doubt; the Sun over the site, if known.
pub fn rank(
    facts: &Facts,
    first: &RunFrame,
    priors: &[Prior],
    mut sun: Option<&mut SunCurve<'_>>,
) -> Vec<Candidate> {
    let shifts: Vec<(Prior, i64)> = priors
        .iter()
        .filter_map(|prior| Some((*prior, prior.shift.later_ms(first, facts.zone.as_ref())?)))
        .collect();
    let mut found = Vec::new();
    for bound_deg in DARK_DEG {
        for (prior, later_ms) in &shifts {
            let fits_h = match sun.as_deref_mut() {
                Some(sun) if !facts.night.is_empty() => {
                    let Some(range) = range_h(&facts.night, *later_ms, bound_deg, sun) else {
                        continue;
                    };
                    Some(range)
                }
                _ => None,
            };
            found.push(Candidate {
                shift: prior.shift,
                later_ms: *later_ms,
                fits_h,
                weight: prior.weight,
            });
        }
        if !found.is_empty() {
            break;
        }
    }
    // A body takes one frame after the other, so it cannot be in two runs at once.
    if found.iter().any(|c| is_possible(facts, c.later_ms)) {
        found.retain(|c| is_possible(facts, c.later_ms));
    }
    for candidate in &mut found {
        candidate.weight += evidence(facts, candidate.later_ms, sun.as_deref_mut());
    }
    found.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    found
}

/// The evidence for a shift that is possible, as a logarithm.
pub fn evidence(facts: &Facts, later_ms: i64, sun: Option<&mut SunCurve<'_>>) -> f64 {
    let by_sun = sun.map_or(0.0, |sun| {
        by_margins(&facts.worked, later_ms, sun) + by_doubtful_nights(&facts.alike, later_ms, sun)
    });
    let by_stars = sky_fit::evidence(&facts.sky, later_ms);
    by_sun + by_stars + by_habits(facts, later_ms) + by_other_bodies(facts, later_ms)
}

/// Whether the moved frames keep the order of the files and do not overlap another run of the body.
pub fn is_possible(facts: &Facts, later_ms: i64) -> bool {
    let moved = |span: &Span| (span.0 + later_ms, span.1 + later_ms);
    let first = facts.spans.iter().map(|s| s.0 + later_ms).min();
    let last = facts.spans.iter().map(|s| s.1 + later_ms).max();
    let in_order = facts
        .before
        .zip(first)
        .is_none_or(|(before, first)| before <= first + OVERLAP_MS)
        && facts
            .after
            .zip(last)
            .is_none_or(|(after, last)| last <= after + OVERLAP_MS);
    in_order
        && facts.spans.iter().map(moved).all(|span| {
            facts
                .taken
                .iter()
                .all(|t| overlap_ms(span, *t) <= OVERLAP_MS)
        })
}

fn overlap_ms(a: Span, b: Span) -> i64 {
    a.1.min(b.1) - a.0.max(b.0)
}

/// The nearby shifts that put every run into the dark.
fn range_h(
    night: &[Span],
    later_ms: i64,
    bound_deg: f64,
    sun: &mut SunCurve<'_>,
) -> Option<(f64, f64)> {
    const STEP_MS: i64 = 180_000;
    const MOST_STEPS: i64 = 12 * 20;
    let mut fits = |later_ms: i64| {
        night
            .iter()
            .all(|(from, until)| sun.highest_deg(from + later_ms, until + later_ms) <= bound_deg)
    };
    if !fits(later_ms) {
        return None;
    }
    let mut farthest = |way: i64| {
        let steps = (1..=MOST_STEPS)
            .take_while(|i| fits(later_ms + way * i * STEP_MS))
            .count();
        later_ms as f64 / 3_600_000.0 + way as f64 * steps as f64 * STEP_MS as f64 / 3_600_000.0
    };
    Some((farthest(-1), farthest(1)))
}

/// Sessions begin when the sky gets dark, or soon after, more often than at any other time; likewise they end near
/// dawn.
///
/// Source: common practice, no source: six in ten.
pub fn by_margins(night: &[Span], later_ms: i64, sun: &mut SunCurve<'_>) -> f64 {
    let mut sum = 0.0;
    for (from, until) in night {
        let (from, until) = (from + later_ms, until + later_ms);
        let (Some(evening_h), Some(morning_h)) = (sun.since_dusk_h(from), sun.until_dawn_h(until))
        else {
            continue;
        };
        let night_h = (evening_h + morning_h + (until - from) as f64 / 3_600_000.0).max(1.0);
        // A few frames are not a session.
        let share = ((until - from) as f64 / SESSION_MS).min(1.0);
        for margin_h in [evening_h, morning_h] {
            let at_once = (-margin_h.abs() / 0.25).exp() / 0.5;
            let soon = if (-0.3..1.3).contains(&margin_h) {
                1.0 / 1.6
            } else {
                0.0
            };
            sum += share * f64::ln(0.4 + night_h * (0.35 * at_once + 0.25 * soon));
        }
    }
    sum / night.len().max(1) as f64
}

/// A clock that was wrong in one night was wrong by the same amount in the next.
fn by_doubtful_nights(alike: &[Span], later_ms: i64, sun: &mut SunCurve<'_>) -> f64 {
    let mut sum: f64 = 0.0;
    for span in alike {
        let fits = range_h(&[*span], later_ms, DARK_DEG[0], sun).is_some();
        sum += if fits { 0.7 } else { -0.7 };
        if fits {
            sum += 0.3 * by_margins(&[*span], later_ms, sun);
        }
    }
    sum.clamp(-3.0, 3.0)
}

/// How near two instants are, 1 for equal ones, on a scale of twenty minutes.
fn nearness(apart_ms: i64) -> f64 {
    (-(apart_ms.abs() as f64) / 1_200_000.0).exp()
}

/// A photographer begins and ends at about the same times in other nights, which are more often consecutive than not.
fn by_habits(facts: &Facts, later_ms: i64) -> f64 {
    let in_day = |ms: i64| (ms + DAY_MS / 2).rem_euclid(DAY_MS) - DAY_MS / 2;
    let best = facts
        .spans
        .iter()
        .flat_map(|span| facts.habits.iter().map(move |habit| (span, habit)))
        .map(|((from, until), habit)| {
            nearness(in_day(from + later_ms - habit.0))
                + nearness(in_day(until + later_ms - habit.1))
        })
        .fold(0.0, f64::max);
    let nights_beside = facts
        .spans
        .iter()
        .flat_map(|span| {
            facts
                .habits
                .iter()
                .map(move |habit| span.0 + later_ms - habit.0)
        })
        .filter(|apart_ms| NEXT_NIGHT_MS.contains(&apart_ms.abs()))
        .count();
    f64::ln(1.0 + 2.0 * best) + 0.6 * nights_beside.min(2) as f64
}

/// Bodies at one site work at the same time, and are often started and stopped together.
fn by_other_bodies(facts: &Facts, later_ms: i64) -> f64 {
    if facts.others.is_empty() {
        return 0.0;
    }
    let sum: f64 = facts
        .spans
        .iter()
        .map(|(from, until)| {
            let span = (from + later_ms, until + later_ms);
            let best = facts
                .others
                .iter()
                .map(|other| {
                    let shorter = (span.1 - span.0).min(other.1 - other.0).max(1);
                    let together = overlap_ms(span, *other).max(0) as f64 / shorter as f64;
                    let (begin, end) = (nearness(span.0 - other.0), nearness(span.1 - other.1));
                    0.5 * together + 2.0 * (begin + end) + 6.0 * begin * end
                })
                .fold(0.0, f64::max);
            f64::ln(0.15 + best)
        })
        .sum();
    sum / facts.spans.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::day::HOUR_MS;
    use crate::terms::time::WallTime;

    /// Of two errors that nothing else parts, the Moon in a picture speaks for one.
    #[test]
    fn the_stars_part_errors_that_the_sun_does_not() {
        let first = RunFrame::read_at(1, WallTime::parse("2023-12-14T01:00:00").unwrap());
        let priors = [-120, -480].map(|minutes| Prior {
            shift: Shift::Minutes(minutes),
            weight: minutes as f64 / 1_000.0,
        });
        let best = |facts: &Facts| rank(facts, &first, &priors, None)[0].shift;
        let mut facts = Facts::default();
        assert_eq!(best(&facts), Shift::Minutes(-120));
        facts.sky.push(SkyFit::Body {
            later_ms: -8 * HOUR_MS - 600_000,
            error_ms: HOUR_MS / 3,
        });
        assert_eq!(best(&facts), Shift::Minutes(-480));
    }
}
