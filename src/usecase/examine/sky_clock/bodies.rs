//! What one picture says of the clock by itself: stars that would be below the horizon, the Moon that was elsewhere among them. Told,
//! and weighed as evidence with what `planets` say.

use crate::clock::doubt::found::Doubt;
use crate::clock::doubt::sky_fit::SkyFit;
use crate::clock::doubt::stars::Elsewhere;
use crate::clock::doubt::stars::below_horizon;
use crate::clock::doubt::stars::elsewhere;
use crate::pointing::camera::Camera;
use crate::pointing::region::holds;
use crate::pointing::vector::angle_rad;
use crate::terms::failure::Failure;
use crate::terms::pointing::MeasuredPointing;
use crate::usecase::examine::over::over_horizon;
use crate::usecase::examine::sky_clock::Night;

/// Stars lower than this are below the horizon, as the sine of 1°; and the share of the starry part of a picture that may be, since
/// its outline is rough.
const BELOW: (f64, f64) = (-0.017_5, 0.2);
/// Cells along and across in which that share is counted.
const GRID: (usize, usize) = (18, 12);
/// How far in degrees a camera is turned from level or upright at most, and the altitude up to which that means something.
///
/// Source: our choice; a camera on a tripod is levelled to some degrees, and turned on its side.
const LEVEL_DEG: (f64, f64) = (30.0, 60.0);
/// The hours by which a clock is tried.
pub(super) const HOURS: i32 = 14;

/// How far a spot may be from the Moon's path, in radians (15 arcminutes), and in its own radii: a burnt-out crescent is off its disc.
const MOON_OFF_RAD: f64 = 0.004_4;
const MOON_OFF_SHARE: f64 = 0.5;
/// The Moon's place tells no error below half an hour.
const MOON_AGREES_S: f64 = 1_800.0;
/// How well it tells the time, in minutes: drawn previews with a full disc 1 minute in the middle frame and 29 in the worst; a
/// crescent's spot is off by up to 20.
const MOON_ERROR_MIN: f64 = 20.0;

/// Two measures agree within so many of their errors.
const AGREES: f64 = 3.0;
/// Frames whose evidence is weighed.
const WEIGHED: usize = 6;

/// By how much a clock is off.
#[derive(Clone, Copy)]
pub(super) struct Later {
    pub seconds: f64,
    pub error_s: f64,
}

impl Later {
    pub fn agrees(self, other: Self) -> bool {
        (self.seconds - other.seconds).abs() < AGREES * self.error_s.hypot(other.error_s)
    }
}

/// What one frame's stars say of hours later.
#[derive(Default)]
struct Hours {
    /// Those at which they were above the horizon.
    above: Vec<i32>,
    /// Those at which the camera was level or upright.
    level: Vec<i32>,
    /// The altitude of the middle of the stars at the frame's time, in degrees.
    low_deg: f64,
}

impl Night<'_> {
    /// The first frame whose stars would be below the horizon, and the whole hours that would put them above.
    pub(super) fn below_horizon(&mut self, camera: &str) -> Result<Option<Doubt>, Failure> {
        for at in self.samples() {
            let Some(hours) = self.hours(at)?.filter(|h| !h.above.contains(&0)) else {
                continue;
            };
            let Hours {
                above,
                level,
                low_deg,
            } = hours;
            let upright: Vec<i32> = above
                .iter()
                .copied()
                .filter(|h| level.contains(h))
                .collect();
            let hours = if upright.is_empty() { above } else { upright };
            // The clock is ahead by as many hours as the sky was earlier.
            let mut ahead: Vec<i32> = hours.iter().map(|later| -later).collect();
            ahead.sort_unstable();
            let frame = self.frames[at];
            return Ok(Some(below_horizon(
                camera,
                &frame,
                low_deg,
                &nearest_stretch(&ahead),
            )));
        }
        Ok(None)
    }

    fn hours(&mut self, at: usize) -> Result<Option<Hours>, Failure> {
        self.ensure(at)?;
        let Some(Some(known)) = self.known.get(&at) else {
            return Ok(None);
        };
        let Some(place) = known.place else {
            return Ok(None);
        };
        let stars = starry(&known.kept);
        let mut found = Hours::default();
        for hours in -HOURS..=HOURS {
            let then = known.mid_utc.plus_s(f64::from(hours) * 3_600.0);
            let camera = then
                .and_then(|then| self.looker.horizon(then, place))
                .and_then(|horizon| over_horizon(&known.kept, &horizon));
            let Some(camera) = camera else {
                continue;
            };
            let ups: Vec<f64> = stars
                .iter()
                .filter_map(|px| Some(camera.unproject(*px)?[2]))
                .collect();
            let below = ups.iter().filter(|up| **up < BELOW.0).count();
            if below as f64 <= BELOW.1 * ups.len() as f64 {
                found.above.push(hours);
            }
            if is_level(&camera, &known.kept) {
                found.level.push(hours);
            }
            if hours == 0 {
                let mean = ups.iter().sum::<f64>() / ups.len().max(1) as f64;
                found.low_deg = mean.asin().to_degrees();
            }
        }
        Ok(Some(found))
    }

    /// Where the bright spot in a picture is the Moon, and the Moon was elsewhere among the stars at the frame's time.
    pub(super) fn moon(&mut self, camera: &str) -> Result<Option<Doubt>, Failure> {
        for at in self.samples() {
            let Some(later) = self.moon_later(at)? else {
                continue;
            };
            let body = Elsewhere {
                code: "moon-elsewhere",
                body: "the Moon",
                later_s: later.seconds,
                error_min: MOON_ERROR_MIN,
            };
            let wrong = later.seconds.abs() >= MOON_AGREES_S;
            return Ok(wrong.then(|| elsewhere(camera, &self.frames[at], &body)));
        }
        Ok(None)
    }

    /// How much later the Moon was where a frame's spot is.
    fn moon_later(&mut self, at: usize) -> Result<Option<Later>, Failure> {
        self.ensure(at)?;
        let Some(Some(known)) = self.known.get(&at) else {
            return Ok(None);
        };
        let spot = self.catalogue.measured_glare(known.frame.frame_id)?;
        let (Some(place), Some(spot)) = (known.place, spot) else {
            return Ok(None);
        };
        let looker = &mut *self.looker;
        let mut off_rad = |later_s: f64| {
            let horizon = looker.horizon(known.mid_utc.plus_s(later_s)?, place)?;
            let moon = horizon.moon();
            let camera = over_horizon(&known.kept, &horizon)?;
            let there = camera.unproject((spot.x_px, spot.y_px))?;
            (moon[2] > 0.0).then(|| angle_rad(there, moon))
        };
        let radius_rad = spot.radius_px / known.kept.f_px;
        let near_rad = MOON_OFF_RAD.max(MOON_OFF_SHARE * radius_rad);
        Ok(nearest_s(&mut off_rad, near_rad).map(|seconds| Later {
            seconds,
            error_s: MOON_ERROR_MIN * 60.0,
        }))
    }

    /// What some of the frames say of the clock, as evidence.
    pub(super) fn fits(&mut self) -> Result<Vec<SkyFit>, Failure> {
        let mut fits = Vec::new();
        let samples = self.samples();
        let every = samples.len().div_ceil(WEIGHED).max(1);
        for at in samples.into_iter().step_by(every) {
            if let Some(Hours { above, level, .. }) = self.hours(at)? {
                fits.push(SkyFit::Hours { above, level });
            }
            fits.extend(self.moon_later(at)?.map(fit_of));
        }
        fits.extend(
            self.planets_later()?
                .into_iter()
                .map(|(.., later)| fit_of(later)),
        );
        Ok(fits)
    }
}

#[allow(clippy::cast_possible_truncation)] // about a year
fn fit_of(later: Later) -> SkyFit {
    SkyFit::Body {
        later_ms: (later.seconds * 1_000.0) as i64,
        error_ms: (later.error_s * 1_000.0) as i64,
    }
}

/// Pixels of the part of a picture that its stars are in; the middle where that part is not known.
fn starry(kept: &MeasuredPointing) -> Vec<(f64, f64)> {
    let middle = |at: usize, of: usize, size: f64| (at as f64 + 0.5) / of as f64 * size - 0.5;
    let cells = (0..GRID.0).flat_map(|i| (0..GRID.1).map(move |j| (i, j)));
    let mut stars: Vec<(f64, f64)> = cells
        .map(|(i, j)| {
            (
                middle(i, GRID.0, kept.width_px),
                middle(j, GRID.1, kept.height_px),
            )
        })
        .filter(|px| holds(&kept.region, *px))
        .collect();
    if stars.is_empty() {
        stars.push(((kept.width_px - 1.0) / 2.0, (kept.height_px - 1.0) / 2.0));
    }
    stars
}

/// Whether a camera is about level, or turned on its side, as far as that shows.
fn is_level(camera: &Camera, kept: &MeasuredPointing) -> bool {
    let middle = ((kept.width_px - 1.0) / 2.0, (kept.height_px - 1.0) / 2.0);
    camera.looking_at(middle).is_none_or(|attitude| {
        let off_deg = (attitude.roll.deg() + 45.0).rem_euclid(90.0) - 45.0;
        attitude.alt.deg().abs() > LEVEL_DEG.1 || off_deg.abs() < LEVEL_DEG.0
    })
}

/// The seconds nearest to 0 at which something is as near as it comes, and near enough.
fn nearest_s(off_rad: &mut dyn FnMut(f64) -> Option<f64>, near_rad: f64) -> Option<f64> {
    let mut best: Option<f64> = None;
    let step_s = 600.0;
    let most = HOURS * 6;
    for number in -most..=most {
        let at = f64::from(number) * step_s;
        let (Some(before), Some(here), Some(after)) =
            (off_rad(at - step_s), off_rad(at), off_rad(at + step_s))
        else {
            continue;
        };
        // The Moon moves by 5' in such a step.
        if here > before || here >= after || here > near_rad + 0.003 {
            continue;
        }
        // Squares of distances from a line are a parabola.
        let (before, here, after) = (before * before, here * here, after * after);
        let bend = before - 2.0 * here + after;
        let share = if bend > 0.0 {
            (0.5 * (before - after) / bend).clamp(-1.0, 1.0)
        } else {
            0.0
        };
        let least = (here - 0.25 * (before - after) * share).max(0.0).sqrt();
        let fits = at + share * step_s;
        if least < near_rad && best.is_none_or(|known| fits.abs() < known.abs()) {
            best = Some(fits);
        }
    }
    best
}

/// The stretch of hours in a row that is nearest to none.
fn nearest_stretch(hours: &[i32]) -> Vec<i32> {
    hours
        .chunk_by(|a, b| b - a == 1)
        .min_by_key(|stretch| stretch.iter().map(|hour| hour.abs()).min())
        .map(<[i32]>::to_vec)
        .unwrap_or_default()
}
