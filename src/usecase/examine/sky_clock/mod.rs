//! The clock of a body in one night against the stars in its pictures: elapsed time from frame to frame of one tripod; and in
//! `bodies` and `planets`, frames that would look below the horizon, Moon and planets that were elsewhere. The sky alone never moves a clock: what
//! fits is offered.

mod bodies;
mod planets;

use std::collections::BTreeMap;

use crate::catalogue::handle::Catalogue;
use crate::clock::doubt::found::Doubt;
use crate::clock::doubt::sky_fit::SkyFit;
use crate::clock::doubt::stars::Compared;
use crate::clock::doubt::stars::SkyFrame;
use crate::clock::doubt::stars::drift;
use crate::clock::doubt::stars::step;
use crate::pointing::elapsed::Pointed;
use crate::pointing::elapsed::elapsed;
use crate::sky::look::Looker;
use crate::terms::clock::ClockedFrame;
use crate::terms::failure::Failure;
use crate::terms::pointing::MeasuredPointing;
use crate::terms::site::Place;
use crate::terms::time::Utc;
use crate::usecase::examine::over::camera_of;

/// So many frames of a night are compared first; where two neighbours disagree, those between them follow.
const SAMPLES: usize = 24;
/// Differences in seconds from which on a clock stepped: of wide lenses, and of others.
///
/// Source: measured on drawn previews: 95 of 100 pairs within 1.4 s, the worst 3.2 s.
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
    let dated = frames.iter().filter_map(|frame| {
        Some(SkyFrame {
            frame_id: frame.frame_id,
            reading: frame.reading,
            start_utc: frame.start_utc?,
        })
    });
    let mut night = Night::of(catalogue, dated, looker)?;
    let mut doubts = Vec::new();
    doubts.extend(night.below_horizon(camera)?);
    doubts.extend(night.moon(camera)?);
    doubts.extend(night.planet(camera)?);
    doubts.extend(night.against_sky(camera)?);
    Ok(doubts)
}

/// What the pictures of some frames of a body say of its clock, as evidence for an error: shifts that fit, and those that do not.
pub(crate) fn fits(
    catalogue: &Catalogue,
    frames: impl Iterator<Item = SkyFrame>,
    looker: &mut Looker,
) -> Result<Vec<SkyFit>, Failure> {
    Night::of(catalogue, frames, looker)?.fits()
}

struct Night<'n> {
    catalogue: &'n Catalogue,
    looker: &'n mut Looker,
    frames: Vec<SkyFrame>,
    known: BTreeMap<usize, Option<Known>>,
}

impl<'n> Night<'n> {
    /// Takes: dated frames; those whose pointing was not measured are left out.
    fn of(
        catalogue: &'n Catalogue,
        frames: impl Iterator<Item = SkyFrame>,
        looker: &'n mut Looker,
    ) -> Result<Self, Failure> {
        let mut dated = Vec::new();
        for frame in frames {
            if catalogue.has_measured_pointing(frame.frame_id)? {
                dated.push(frame);
            }
        }
        dated.sort_by_key(|frame| (frame.start_utc, frame.frame_id));
        Ok(Self {
            catalogue,
            looker,
            frames: dated,
            known: BTreeMap::new(),
        })
    }
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
            let pointed = Pointed::of(&kept, camera_of(&kept)?);
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
}

/// The mount followed the stars: the sky did not turn while the clock went on.
fn follows(by: Option<Compared>) -> bool {
    by.is_some_and(|by| by.clock_s.abs() > 10.0 && by.sky_s.abs() < 0.2 * by.clock_s.abs())
}
