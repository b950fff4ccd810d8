//! Rows to a report: the sums of a night, session by session. No HTML, and no formula of the sky.

use std::collections::BTreeMap;

use crate::report::axis::Hours;
use crate::report::seen::Meteors;
use crate::report::seen::Outline;
use crate::report::seen::Shown;
use crate::terms::basis::Kind;
use crate::terms::night::NightFrame;
use crate::terms::night::NightSky;
use crate::terms::night::RadiantTrack;
use crate::terms::night::SessionGap;
use crate::terms::night::SettingsChange;
use crate::terms::shower::ShowerCode;
use crate::terms::site::Site;
use crate::terms::turn::Turn;

/// Longest side of a picture on the page, in pixels.
pub const PICTURE_SIDE: u16 = 240;
/// Longest side of the larger picture of a session.
pub const LARGE_SIDE: u16 = 960;
/// Longest side of a trail cut out of its picture.
pub const CUT_SIDE: u16 = 280;

/// A night or a session as shown in a report.
#[derive(Clone, Debug)]
pub struct NightReport {
    /// Its title: `Night of 2023-12-13`.
    pub title: String,
    /// One part for each place.
    pub parts: Vec<Part>,
    /// What needs attention, the heaviest first.
    pub warnings: Vec<Warning>,
    /// The program and the edition of the shower table.
    pub maker: String,
}

/// The sessions at one place, and the sky over it.
#[derive(Clone, Debug)]
pub struct Part {
    /// The site, if known.
    pub site: Option<Site>,
    /// The clock of the plots' hours.
    pub hours: Hours,
    /// The sky from noon to noon; `None` without a place, or outside the years for which the sky is computed.
    pub sky: Option<NightSky>,
    /// Limiting magnitude of the site's sky, and whether the photographer stated it.
    pub darkness: Darkness,
    /// The sessions, by start.
    pub sessions: Vec<SessionPart>,
    /// Their meteors.
    pub meteors: Meteors,
}

/// The limiting magnitude of a site.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Darkness {
    /// As stated.
    Stated(f64),
    /// Computed from a stated surface brightness.
    FromMeter(f64),
    /// Not stated: 6.5, by the definition of the ZHR.
    Taken,
}

/// One session.
#[derive(Clone, Debug)]
pub struct SessionPart {
    /// Its number.
    pub number: i64,
    /// Its frames, in order.
    pub frames: Vec<NightFrame>,
    /// Median time from start to start.
    pub cadence_s: Option<f64>,
    /// What the cadence indicates about the body's noise reduction, in words.
    pub rhythm: Option<&'static str>,
    /// Its gaps.
    pub gaps: Vec<SessionGap>,
    /// Changes of its settings.
    pub changes: Vec<SettingsChange>,
    /// Each shower over its lights.
    pub showers: Vec<ShowerSums>,
    /// The limiting magnitudes over its lights.
    pub faintest: Option<FaintestStars>,
    /// The effect of lens and exposure on stars.
    pub trails: Option<Trails>,
    /// Pictures at regular steps.
    pub pictures: Vec<Shown>,
    /// One of a frame whose pointing is known, larger.
    pub large: Option<Shown>,
    /// Where pictures were on the sky: one for each direction of the camera.
    pub outlines: Vec<Outline>,
}

/// The effect of lens and exposure on stars in a session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trails {
    /// Longest exposure by the 500 rule.
    pub rule_500_s: f64,
    /// The crop factor, if it was used.
    pub crop: Option<f64>,
    /// Length of a trail at the celestial equator in the middle of the picture, in pixels.
    pub centre_px: Option<f64>,
    /// The same in the corner of a rectilinear lens.
    pub corner_px: Option<f64>,
    /// Turn of the sky from the reference frame to the first and the last light.
    pub turn: Option<(Turn, Turn)>,
    /// Index of the reference frame in the session.
    pub reference: Option<usize>,
}

/// The limiting magnitudes over a session's lights: site, twilight and moonlight together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FaintestStars {
    /// Magnitudes under the brightest and the darkest sky; `None` if all lights are in daylight.
    pub span: Option<(f64, f64)>,
    /// How many lights were taken with the Sun above -6°, where no meteors are expected.
    pub in_daylight: usize,
}

/// A shower over the lights of a session.
#[derive(Clone, Debug, PartialEq)]
pub struct ShowerSums {
    /// Which.
    pub shower: ShowerCode,
    /// Geometric altitude of the radiant over the first light, the one in the middle, and the last.
    pub alts_deg: [f64; 3],
    /// The greatest of all.
    pub highest_deg: f64,
    /// Hours the shutter was open.
    pub open_h: f64,
    /// The same, weighted by the sine of the radiant's apparent altitude (zenith attraction, no refraction).
    pub weighted_h: f64,
    /// Meteors that an observer would have seen while the shutter was open under a 6.5-magnitude sky.
    pub under_zhr_sky: f64,
    /// How many of them the sky of the frames cost.
    pub lost: Lost,
    /// The meteors that remain under the sky of the frames.
    pub expected: Expected,
}

/// How many meteors each part of the sky's brightness cost, one after the other.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lost {
    /// By the site's own sky; negative if it is darker than that of the ZHR.
    pub to_site: f64,
    /// Then by daylight and twilight.
    pub to_sun: f64,
    /// Then by moonlight.
    pub to_moon: f64,
    /// Then by cloud, as far as pictures were examined; nothing where none was.
    pub to_cloud: Option<f64>,
}

/// An expected number of meteors, with its bounds.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Expected {
    /// The number.
    pub meteors: f64,
    /// The lower bound by the activity profiles, with a factor of two and the chance of small numbers.
    pub low: f64,
    /// The upper bound, likewise.
    pub high: f64,
}

/// Something that needs attention.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Warning {
    /// `damage`, `warning`, `note`.
    pub weight: &'static str,
    /// Its meaning.
    pub headline: String,
    /// What to do.
    pub cure: String,
    /// The files, each with what was found.
    pub files: Vec<String>,
}

/// The data of one light that the sums of a shower need.
#[derive(Clone, Copy, Debug)]
pub struct LightUnder {
    /// Which light, by its index in the session.
    pub at: usize,
    /// Geometric altitude of the radiant.
    pub alt_deg: f64,
    /// Sine of its apparent altitude, not below 0.
    pub sin_apparent: f64,
    /// Expected meteors an hour under a 6.5-magnitude sky.
    pub per_hour_zhr_sky: f64,
    /// The same under the site's sky on a night without Moon.
    pub per_hour_site: f64,
    /// The same with twilight or daylight.
    pub per_hour_twilight: f64,
    /// The same with moonlight too: under a sky without clouds.
    pub per_hour_moonlit: f64,
    /// Share of the sky without cloud, where the frame's picture was examined.
    pub clear: Option<f64>,
    /// Meteors an hour under the sky of the frame: through the clear share of it.
    pub per_hour: f64,
    /// The same by the least and by the greatest of the activity profiles.
    pub per_hour_bounds: [f64; 2],
}

/// Sums up a shower over a session's lights.
///
/// Refuses: no lights.
pub fn shower_sums(
    shower: ShowerCode,
    frames: &[NightFrame],
    under: &[LightUnder],
    expected: impl Fn(f64, [f64; 2]) -> Expected,
) -> Option<ShowerSums> {
    let (first, last) = (under.first()?, under.last()?);
    let middle = under.get(under.len() / 2)?;
    let hours = |u: &LightUnder| frames[u.at].exposure_s.unwrap_or(0.0) / 3600.0;
    let meteors = |an_hour: &dyn Fn(&LightUnder) -> f64| -> f64 {
        under.iter().map(|u| hours(u) * an_hour(u)).sum()
    };
    let under_zhr_sky = meteors(&|u| u.per_hour_zhr_sky);
    let of_site = meteors(&|u| u.per_hour_site);
    let in_twilight = meteors(&|u| u.per_hour_twilight);
    let moonlit = meteors(&|u| u.per_hour_moonlit);
    let left = meteors(&|u| u.per_hour);
    let examined = under.iter().any(|u| u.clear.is_some());
    let bounds = [0, 1].map(|k| meteors(&|u: &LightUnder| u.per_hour_bounds[k]));
    Some(ShowerSums {
        shower,
        alts_deg: [first.alt_deg, middle.alt_deg, last.alt_deg],
        highest_deg: under.iter().map(|u| u.alt_deg).fold(f64::MIN, f64::max),
        open_h: under.iter().map(hours).sum(),
        weighted_h: under.iter().map(|u| hours(u) * u.sin_apparent).sum(),
        under_zhr_sky,
        lost: Lost {
            to_site: under_zhr_sky - of_site,
            to_sun: of_site - in_twilight,
            to_moon: in_twilight - moonlit,
            to_cloud: examined.then_some(moonlit - left),
        },
        expected: expected(left, bounds),
    })
}

/// How many frames of each kind; those of unknown kind last.
pub fn kinds(frames: &[NightFrame]) -> Vec<(Option<Kind>, usize)> {
    let mut counts: Vec<(Option<Kind>, usize)> = Kind::ALL
        .iter()
        .map(|kind| Some(*kind))
        .chain([None])
        .map(|kind| (kind, frames.iter().filter(|f| f.kind == kind).count()))
        .collect();
    counts.retain(|(_, count)| *count > 0);
    counts
}

/// Hours the shutter was open for lights.
pub fn open_hours(frames: &[NightFrame]) -> f64 {
    frames
        .iter()
        .filter(|f| f.kind == Some(Kind::Light))
        .filter_map(|f| f.exposure_s)
        .sum::<f64>()
        / 3600.0
}

/// How many frames have each word of a column, the most first.
pub fn counted<'f>(
    frames: &'f [NightFrame],
    word: impl Fn(&'f NightFrame) -> &'f str,
) -> Vec<(&'f str, usize)> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for frame in frames {
        *counts.entry(word(frame)).or_default() += 1;
    }
    let mut counts: Vec<_> = counts.into_iter().collect();
    counts.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    counts
}

/// Steps between pictures, in minutes.
const PICTURE_STEPS_MIN: [f64; 10] = [1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 240.0];

/// Which frames of a session to show: the first, then one at each regular step, at most `most`.
pub fn pick_pictures(frames: &[NightFrame], starts_ms: &[i64], most: usize) -> Vec<usize> {
    let (Some(first), Some(last)) = (starts_ms.first(), starts_ms.last()) else {
        return Vec::new();
    };
    if most == 0 {
        return Vec::new();
    }
    let length_min = (last - first) as f64 / 60_000.0;
    let step_min = PICTURE_STEPS_MIN
        .into_iter()
        .find(|step| length_min / step < most as f64 - 1.0)
        .unwrap_or(length_min / (most as f64 - 1.0).max(1.0));
    let mut picked = Vec::new();
    let mut due = *first as f64;
    for (at, start) in starts_ms.iter().enumerate().take(frames.len()) {
        if *start as f64 >= due {
            picked.push(at);
            let steps = ((*start as f64 - *first as f64) / (step_min * 60_000.0)).floor() + 1.0;
            due = *first as f64 + steps * step_min * 60_000.0;
        }
    }
    picked.truncate(most);
    picked
}

impl Part {
    /// The radiants worth a curve: those above the horizon in the dark or over a frame, the strongest first.
    pub fn tracks(&self) -> Vec<&RadiantTrack> {
        let Some(sky) = &self.sky else {
            return Vec::new();
        };
        let shown = |track: &&RadiantTrack| track.culmination.alt_deg > 0.0;
        sky.tracks.iter().filter(shown).take(MOST_TRACKS).collect()
    }

    /// Every frame of its sessions.
    pub fn frames(&self) -> impl Iterator<Item = &NightFrame> {
        self.sessions.iter().flat_map(|s| s.frames.iter())
    }
}

/// More curves than this cannot be distinguished.
const MOST_TRACKS: usize = 5;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cloud_hides_is_lost_after_the_moon() {
        let frame = NightFrame {
            exposure_s: Some(1_800.0),
            ..NightFrame::default()
        };
        let under = |at: usize, clear: f64| LightUnder {
            at,
            alt_deg: 40.0,
            sin_apparent: 0.6,
            per_hour_zhr_sky: 40.0,
            per_hour_site: 30.0,
            per_hour_twilight: 30.0,
            per_hour_moonlit: 20.0,
            clear: Some(clear),
            per_hour: 20.0 * clear,
            per_hour_bounds: [10.0 * clear, 30.0 * clear],
        };
        let gem = ShowerCode::parse("GEM").unwrap();
        let lights = [under(0, 1.0), under(1, 0.25)];
        let sums = shower_sums(
            gem,
            &[frame.clone(), frame],
            &lights,
            |meteors, [low, high]| Expected { meteors, low, high },
        )
        .unwrap();
        let lost = sums.lost;
        assert_eq!(
            (lost.to_site, lost.to_sun, lost.to_moon, lost.to_cloud),
            (10.0, 0.0, 10.0, Some(7.5))
        );
        let left = sums.expected;
        assert_eq!((left.meteors, left.low, left.high), (12.5, 6.25, 18.75));
    }
}
