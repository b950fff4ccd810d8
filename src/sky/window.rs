//! The sky over a whole night: when it is dark, when the Moon is up, the path of each radiant. Evaluates the looker at
//! many instants; has no formula of the sky itself.

use super::look::Looker;
use crate::sky::shower::Shower;
use crate::sky::showers::nearest_peak;
use crate::sky::showers::shower;
use crate::terms::basis::RISING_DEG;
use crate::terms::basis::TWILIGHTS_DEG;
use crate::terms::night::NightSky;
use crate::terms::night::RadiantTrack;
use crate::terms::night::Stretch;
use crate::terms::night::SunMoon;
use crate::terms::night::TrackPoint;
use crate::terms::shower::ShowerCode;
use crate::terms::site::Place;
use crate::terms::time::Utc;

/// Step between two evaluations in seconds.
///
/// Source: our choice. A crossing is missed only if the Sun or the Moon dips over a limit for less than this; the
/// curves of a night are smooth at this step.
const STEP_S: f64 = 300.0;
/// The precision of a crossing, in seconds.
///
/// Source: our choice; refraction at the horizon makes it uncertain by a minute.
const CROSSING_S: f64 = 1.0;
/// The sky over a place from one instant to another, with these showers in this order.
///
/// Good to: a second for crossings of the model's altitudes; the horizon's real refraction adds a minute and more.
/// Refuses: years outside 1950 to 2099, an end that is not after the beginning. Checked by:
/// `tests/reference/night_sky.rs`
pub fn night_sky(
    looker: &mut Looker,
    place: Place,
    whole: Stretch,
    codes: &[ShowerCode],
) -> Option<NightSky> {
    let steps = steps(whole)?;
    let mut points = Vec::with_capacity(steps.len());
    for at in &steps {
        points.push(looker.sun_moon(*at, place)?);
    }
    let sun = |p: &SunMoon| p.sun_alt_deg;
    let moon = |p: &SunMoon| p.moon_alt_deg;
    let mut below = |limit: f64| {
        stretches(&points, |p| limit - sun(p), &mut |at| {
            looker.sun_moon(at, place)
        })
    };
    let sun_down = below(RISING_DEG);
    let sun_below = TWILIGHTS_DEG.map(&mut below);
    let mut again = |at: Utc| looker.sun_moon(at, place);
    let moon_up = stretches(&points, |p| moon(p) - RISING_DEG, &mut again);
    let moon_down = stretches(&points, |p| RISING_DEG - moon(p), &mut again);
    let dark = sun_below[2]
        .iter()
        .flat_map(|night| moon_down.iter().filter_map(|down| night.shared(*down)))
        .collect();
    let tracks = codes
        .iter()
        .filter_map(|code| track(looker, place, whole, &steps, shower(*code)?))
        .collect();
    Some(NightSky {
        whole,
        points,
        sun_down,
        sun_below,
        moon_up,
        dark,
        tracks,
    })
}

/// The instants evaluated: both ends, and equal steps between.
fn steps(whole: Stretch) -> Option<Vec<Utc>> {
    let length = whole.length_s();
    if length <= 0.0 {
        return None;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // bounded just here
    let count = (length / STEP_S).ceil().clamp(1.0, 10_000.0) as u32;
    (0..=count)
        .map(|k| whole.from.plus_s(length * f64::from(k) / f64::from(count)))
        .collect()
}

/// Where a quantity is positive. Refines between two points whenever the sign changes.
fn stretches(
    points: &[SunMoon],
    quantity: impl Fn(&SunMoon) -> f64,
    look: &mut dyn FnMut(Utc) -> Option<SunMoon>,
) -> Vec<Stretch> {
    let mut found = Vec::new();
    let mut since = points.first().filter(|p| quantity(p) > 0.0).map(|p| p.at);
    for pair in points.windows(2) {
        let (before, after) = (quantity(&pair[0]) > 0.0, quantity(&pair[1]) > 0.0);
        if before == after {
            continue;
        }
        let at = crossing(pair[0].at, pair[1].at, before, &quantity, look);
        match since.take() {
            Some(from) if from < at => found.push(Stretch { from, to: at }),
            Some(_) => {}
            None => since = Some(at),
        }
    }
    if let (Some(from), Some(last)) = (since, points.last())
        && from < last.at
    {
        found.push(Stretch { from, to: last.at });
    }
    found
}

/// Bisects between `low` and `high` until the change of sign is found.
fn crossing(
    mut low: Utc,
    mut high: Utc,
    positive_at_low: bool,
    quantity: &impl Fn(&SunMoon) -> f64,
    look: &mut dyn FnMut(Utc) -> Option<SunMoon>,
) -> Utc {
    while high.seconds_since(low) > CROSSING_S {
        let Some(middle) = low.plus_s(high.seconds_since(low) / 2.0) else {
            break;
        };
        match look(middle) {
            Some(there) if (quantity(&there) > 0.0) == positive_at_low => low = middle,
            Some(_) => high = middle,
            None => break,
        }
    }
    high
}

/// A shower's path over the night, and its culmination, found between the steps.
fn track(
    looker: &mut Looker,
    place: Place,
    whole: Stretch,
    steps: &[Utc],
    shower: &Shower,
) -> Option<RadiantTrack> {
    let mut point = |at: Utc| {
        let sky = looker.radiant_sky(at, place, shower.code)?;
        Some(TrackPoint {
            at,
            alt_deg: sky.alt_deg,
            az_deg: sky.az_deg,
        })
    };
    let points: Vec<TrackPoint> = steps.iter().map(|at| point(*at)).collect::<Option<_>>()?;
    let highest =
        (0..points.len()).max_by(|a, b| points[*a].alt_deg.total_cmp(&points[*b].alt_deg))?;
    let mut low = points[highest.saturating_sub(1)].at;
    let mut high = points[(highest + 1).min(points.len() - 1)].at;
    // The altitude has one maximum between the neighbours of the highest step: ternary search finds it.
    while high.seconds_since(low) > CROSSING_S {
        let third = high.seconds_since(low) / 3.0;
        let (a, b) = (point(low.plus_s(third)?)?, point(high.plus_s(-third)?)?);
        if a.alt_deg < b.alt_deg {
            low = a.at;
        } else {
            high = b.at;
        }
    }
    let culmination = point(low)?;
    let middle = whole.from.plus_s(whole.length_s() / 2.0)?;
    Some(RadiantTrack {
        shower: shower.code,
        name: shower.name.clone(),
        points,
        culmination,
        peak: nearest_peak(shower, middle),
        zhr: shower.zhr,
        r: shower.r,
    })
}
