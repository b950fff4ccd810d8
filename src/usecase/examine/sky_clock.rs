//! The clock of a body in one night against the stars in its pictures: elapsed time from frame to frame of one tripod, frames that
//! would look below the horizon. The sky alone never moves a clock: what fits is offered.

use std::collections::BTreeMap;

use crate::catalogue::handle::Catalogue;
use crate::clock::doubt::found::Doubt;
use crate::clock::doubt::stars::Compared;
use crate::clock::doubt::stars::SkyFrame;
use crate::clock::doubt::stars::below_horizon;
use crate::clock::doubt::stars::drift;
use crate::clock::doubt::stars::moon_elsewhere;
use crate::clock::doubt::stars::step;
use crate::pointing::elapsed::Pointed;
use crate::pointing::elapsed::elapsed;
use crate::pointing::vector::angle_rad;
use crate::sky::look::Looker;
use crate::terms::clock::ClockedFrame;
use crate::terms::failure::Failure;
use crate::terms::pointing::MeasuredPointing;
use crate::terms::site::Place;
use crate::terms::time::Utc;
use crate::usecase::examine::over::camera_of;
use crate::usecase::examine::over::over_horizon;

/// So many frames of a night are compared first; where two neighbours disagree, those between them follow.
const SAMPLES: usize = 24;
/// Differences in seconds from which on a clock stepped: of wide lenses, and of others.
///
/// Source: measured on drawn previews: the worst of 45 pairs 1.9 s.
const STEPPED_S: (f64, f64) = (3.0, 2.0);
/// Focal length of a wide lens, in widths of the picture: 700 pixels of 1,620.
const WIDE: f64 = 0.432;
/// And by so many errors of the comparison.
const SIGMAS: f64 = 4.0;
/// A clock that differs more in seconds at the end of a night than at its beginning drifted. A lens that no model follows leaves
/// that much when other stars carry the picture.
const DRIFTED_S: f64 = 6.0;
/// No clock drifts by more than this share; a mount that follows the stars seems to.
const MOST_DRIFT: f64 = 0.02;
/// Sine of the altitude above which the picture is taken to show sky.
const SKY: f64 = 0.05;
/// The middle of no picture that shows stars is lower than this, in degrees.
const LOWEST_DEG: f64 = -5.0;
/// The hours by which a clock is tried.
const HOURS: i32 = 14;

/// How far a spot may be from the Moon's path, in radians (15 arcminutes), and in its own radii: a burnt-out crescent is off its disc.
const MOON_OFF_RAD: f64 = 0.004_4;
const MOON_OFF_SHARE: f64 = 0.5;
/// The Moon's place tells no error below half an hour.
const MOON_AGREES_S: f64 = 1_800.0;
/// How well it tells the time, in minutes: drawn previews with a full disc 1 minute in the middle frame and 29 in the worst; a
/// crescent's spot is off by up to 20.
const MOON_ERROR_MIN: f64 = 20.0;

/// A frame with its stars.
struct Known {
    frame: SkyFrame,
    mid_utc: Utc,
    place: Option<Place>,
    kept: MeasuredPointing,
    pointed: Pointed,
}

/// The doubts about one body's clock in one night.
///
/// Takes: its name on the command line; the frames of its sessions of the night.
pub(crate) fn doubts(
    catalogue: &Catalogue,
    camera: &str,
    frames: &[&ClockedFrame],
    looker: &mut Looker,
) -> Result<Vec<Doubt>, Failure> {
    let mut dated: Vec<SkyFrame> = Vec::new();
    for frame in frames {
        if let Some(start_utc) = frame.start_utc
            && catalogue.has_measured_pointing(frame.frame_id)?
        {
            dated.push(SkyFrame {
                frame_id: frame.frame_id,
                reading: frame.reading,
                start_utc,
            });
        }
    }
    dated.sort_by_key(|frame| (frame.start_utc, frame.frame_id));
    let mut night = Night {
        catalogue,
        looker,
        frames: dated,
        known: BTreeMap::new(),
    };
    let mut doubts = Vec::new();
    doubts.extend(night.below_horizon(camera)?);
    doubts.extend(night.moon(camera)?);
    doubts.extend(night.against_sky(camera)?);
    Ok(doubts)
}

struct Night<'n> {
    catalogue: &'n Catalogue,
    looker: &'n mut Looker,
    frames: Vec<SkyFrame>,
    known: BTreeMap<usize, Option<Known>>,
}

impl Night<'_> {
    fn samples(&self) -> Vec<usize> {
        let last = self.frames.len().saturating_sub(1);
        let mut at: Vec<usize> = (0..SAMPLES.min(self.frames.len()))
            .map(|k| k * last / (SAMPLES.min(self.frames.len()) - 1).max(1))
            .collect();
        at.dedup();
        at
    }

    fn ensure(&mut self, at: usize) -> Result<(), Failure> {
        if self.known.contains_key(&at) {
            return Ok(());
        }
        let frame = self.frames[at];
        let of = self.catalogue.frame_to_examine(frame.frame_id)?;
        let kept = self.catalogue.measured_pointing(frame.frame_id)?;
        let known = of.zip(kept).and_then(|(of, kept)| {
            let pointed = Pointed {
                camera: camera_of(&kept)?,
                residual_px: kept.residual_px,
                matched: kept.matched,
            };
            Some(Known {
                frame,
                mid_utc: of.mid_utc?,
                place: of.place,
                kept,
                pointed,
            })
        });
        self.known.insert(at, known);
        Ok(())
    }

    /// What the clock and the stars say of the time between two frames; nothing where they are not of one tripod.
    fn compare(&mut self, a: usize, b: usize) -> Result<Option<Compared>, Failure> {
        self.ensure(a)?;
        self.ensure(b)?;
        let (Some(Some(first)), Some(Some(second))) = (self.known.get(&a), self.known.get(&b))
        else {
            return Ok(None);
        };
        let clock_s = second.mid_utc.seconds_since(first.mid_utc);
        // The pole of the date needs no site.
        let place = second.place.or_else(|| Place::new(0.0, 0.0, 0.0));
        let Some(horizon) = place.and_then(|place| self.looker.horizon(second.mid_utc, place))
        else {
            return Ok(None);
        };
        let has_place = second.place.is_some();
        let found = elapsed(
            (&first.pointed, &second.pointed),
            horizon.pole(),
            clock_s,
            &mut |direction| !has_place || horizon.seen(direction)[2] > SKY,
        );
        // A site or a clock that is wrong by hours leaves no sky: all of the picture is taken.
        let found = found.or_else(|| {
            elapsed(
                (&first.pointed, &second.pointed),
                horizon.pole(),
                clock_s,
                &mut |_| true,
            )
        });
        Ok(found.filter(|found| found.unmoved).map(|found| Compared {
            clock_s,
            sky_s: found.seconds,
            error_s: found.error_s,
        }))
    }

    fn limit_s(&self, at: usize, by: Compared) -> f64 {
        let wide = match self.known.get(&at) {
            Some(Some(known)) => known.kept.f_px / known.kept.width_px < WIDE,
            _ => true,
        };
        let least = if wide { STEPPED_S.0 } else { STEPPED_S.1 };
        least.max(SIGMAS * by.error_s)
    }

    /// Steps and drifts. A mount that follows the stars disagrees everywhere, and says nothing.
    fn against_sky(&mut self, camera: &str) -> Result<Vec<Doubt>, Failure> {
        let samples = self.samples();
        let mut pairs = Vec::new();
        for two in samples.windows(2) {
            pairs.push((two[0], two[1], self.compare(two[0], two[1])?));
        }
        let stepped = |night: &Self, (_, b, by): &(usize, usize, Option<Compared>)| {
            by.is_some_and(|by| by.ahead_s().abs() > night.limit_s(*b, by))
        };
        let compared = pairs.iter().filter(|(_, _, by)| by.is_some()).count();
        let wrong = pairs.iter().filter(|pair| stepped(self, pair)).count();
        if wrong * 2 > compared.max(2) || pairs.iter().any(|(_, _, by)| follows(*by)) {
            return Ok(Vec::new());
        }
        let mut doubts = Vec::new();
        let mut begun: Option<usize> = None;
        for pair in &pairs {
            let (a, b, by) = *pair;
            match by {
                Some(by) if stepped(self, pair) => {
                    doubts.extend(self.drifted(camera, begun.take(), a)?);
                    doubts.extend(self.find_step(camera, (a, b), by)?);
                }
                Some(_) => {
                    begun.get_or_insert(a);
                }
                None => {
                    doubts.extend(self.drifted(camera, begun.take(), a)?);
                }
            }
        }
        if let Some(last) = samples.last() {
            doubts.extend(self.drifted(camera, begun, *last)?);
        }
        Ok(doubts)
    }

    /// Between which two neighbours the clock stepped.
    fn find_step(
        &mut self,
        camera: &str,
        (mut a, mut b): (usize, usize),
        mut by: Compared,
    ) -> Result<Option<Doubt>, Failure> {
        while b - a > 1 {
            let middle = a.midpoint(b);
            let (Some(left), Some(right)) = (self.compare(a, middle)?, self.compare(middle, b)?)
            else {
                return Ok(None);
            };
            if left.ahead_s().abs() >= right.ahead_s().abs() {
                (b, by) = (middle, left);
            } else {
                (a, by) = (middle, right);
            }
        }
        let is_step = by.ahead_s().abs() > self.limit_s(b, by);
        let (before, after) = (self.frames[a], self.frames[b]);
        Ok(is_step.then(|| step(camera, (&before, &after), by)))
    }

    fn drifted(
        &mut self,
        camera: &str,
        from: Option<usize>,
        to: usize,
    ) -> Result<Option<Doubt>, Failure> {
        let Some(from) = from else {
            return Ok(None);
        };
        let Some(by) = self.compare(from, to)? else {
            return Ok(None);
        };
        let off = by.ahead_s().abs();
        let (first, last) = (self.frames[from], self.frames[to]);
        let is_drift =
            off > DRIFTED_S.max(SIGMAS * by.error_s) && off < MOST_DRIFT * by.clock_s.abs();
        Ok(is_drift.then(|| drift(camera, (&first, &last), by)))
    }

    /// The first frame that would look below the horizon, and the whole hours that would put it above.
    fn below_horizon(&mut self, camera: &str) -> Result<Option<Doubt>, Failure> {
        for at in self.samples() {
            self.ensure(at)?;
            let Some(Some(known)) = self.known.get(&at) else {
                continue;
            };
            let Some(place) = known.place else {
                continue;
            };
            let looker = &mut *self.looker;
            let mut alt_deg = |hours: i32| {
                let then = known.mid_utc.plus_s(f64::from(hours) * 3_600.0)?;
                let horizon = looker.horizon(then, place)?;
                let middle = (
                    (known.kept.width_px - 1.0) / 2.0,
                    (known.kept.height_px - 1.0) / 2.0,
                );
                let camera = over_horizon(&known.kept, &horizon)?;
                Some(camera.looking_at(middle)?.alt.deg())
            };
            let Some(now) = alt_deg(0).filter(|alt| *alt < LOWEST_DEG) else {
                continue;
            };
            // The clock is ahead by as many hours as the sky was earlier.
            let hours: Vec<i32> = (-HOURS..=HOURS)
                .filter(|hours| alt_deg(-hours).is_some_and(|alt| alt > 0.0))
                .collect();
            let contiguous: Vec<i32> = nearest_stretch(&hours);
            return Ok(Some(below_horizon(camera, &known.frame, now, &contiguous)));
        }
        Ok(None)
    }
}

impl Night<'_> {
    /// Where the bright spot in a picture is the Moon, and the Moon was elsewhere among the stars at the frame's time.
    fn moon(&mut self, camera: &str) -> Result<Option<Doubt>, Failure> {
        for at in self.samples() {
            self.ensure(at)?;
            let Some(Some(known)) = self.known.get(&at) else {
                continue;
            };
            let (Some(place), Some(spot)) = (
                known.place,
                self.catalogue.measured_glare(known.frame.frame_id)?,
            ) else {
                continue;
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
            let Some(later_s) = nearest_s(&mut off_rad, near_rad) else {
                continue;
            };
            if later_s.abs() < MOON_AGREES_S {
                return Ok(None);
            }
            return Ok(Some(moon_elsewhere(
                camera,
                &known.frame,
                later_s,
                MOON_ERROR_MIN,
            )));
        }
        Ok(None)
    }
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

/// The mount followed the stars: the sky did not turn while the clock went on.
fn follows(by: Option<Compared>) -> bool {
    by.is_some_and(|by| by.clock_s.abs() > 10.0 && by.sky_s.abs() < 0.2 * by.clock_s.abs())
}

/// The stretch of hours in a row that is nearest to none.
fn nearest_stretch(hours: &[i32]) -> Vec<i32> {
    hours
        .chunk_by(|a, b| b - a == 1)
        .min_by_key(|stretch| stretch.iter().map(|hour| hour.abs()).min())
        .map(<[i32]>::to_vec)
        .unwrap_or_default()
}
