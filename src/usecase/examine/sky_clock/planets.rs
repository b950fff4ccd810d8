//! Venus, Mars and Jupiter in the pictures of a night: an error of hours, and of days where several frames say the same.

use crate::clock::doubt::found::Doubt;
use crate::clock::doubt::stars::Elsewhere;
use crate::clock::doubt::stars::elsewhere;
use crate::sky::planets::Planet;
use crate::terms::failure::Failure;
use crate::usecase::examine::over::over_horizon;
use crate::usecase::examine::sky_clock::Night;
use crate::usecase::examine::sky_clock::bodies::HOURS;
use crate::usecase::examine::sky_clock::bodies::Later;

/// How well the place of a planet's image is known, in widths of the picture: half a pixel of a preview.
const IMAGE: f64 = 0.000_3;
/// An image is a planet's within so many errors of its path, and a clock is wrong by more than so many.
const SIGMAS: f64 = 3.0;
/// How far a planet's quick place may be from where it is seen, in radians (10 arcminutes): refraction, aberration.
const ROUGH_RAD: f64 = 0.003;
/// A planet that tells the time no better than this, in hours, tells nothing.
const VAGUE_H: f64 = 5.0;
/// The days by which a clock is tried where no hour fits.
const DAYS: i32 = 400;
/// Frames whose planets are looked for over that many days.
const DAYS_FRAMES: usize = 3;

impl Night<'_> {
    /// Where bright images without a star are a planet, and it was elsewhere among the stars at the frames' times.
    pub(super) fn planet(&mut self, camera: &str) -> Result<Option<Doubt>, Failure> {
        for (planet, at, later) in self.planets_later()? {
            let body = Elsewhere {
                code: "planet-elsewhere",
                body: planet.name(),
                later_s: later.seconds,
                error_min: (SIGMAS * later.error_s / 60.0).ceil(),
            };
            if later.seconds.abs() > SIGMAS * later.error_s {
                return Ok(Some(elsewhere(camera, &self.frames[at], &body)));
            }
        }
        Ok(None)
    }

    /// Planets found, with the first frame whose image each is, and how much later it was there. A second frame, where there is one,
    /// must say the same: a lamp or a hot pixel does not.
    pub(super) fn planets_later(&mut self) -> Result<Vec<(Planet, usize, Later)>, Failure> {
        let mut found = Vec::new();
        for planet in Planet::ALL {
            let mut seen: Vec<(usize, Later)> = Vec::new();
            let mut looked = 0;
            for at in self.samples() {
                self.ensure(at)?;
                if !matches!(self.known.get(&at), Some(Some(_))) {
                    continue;
                }
                let mut later = self.planet_later(at, planet, 3_600.0, HOURS)?;
                if later.is_none() && seen.is_empty() && looked < DAYS_FRAMES {
                    later = self.planet_later(at, planet, 86_400.0, DAYS)?;
                }
                looked += 1;
                seen.extend(later.map(|later| (at, later)));
            }
            let agrees = |(at, later): &(usize, Later)| {
                let by = seen
                    .iter()
                    .filter(|(other, of)| other != at && later.agrees(*of));
                let far = later.seconds.abs() > f64::from(HOURS + 1) * 3_600.0;
                by.count() > 0 || looked == 1 && !far
            };
            found.extend(
                seen.iter()
                    .find(|one| agrees(one))
                    .map(|(at, later)| (planet, *at, *later)),
            );
        }
        Ok(found)
    }

    /// How much later a planet was where a frame has a bright image without a star: within so many times so many seconds.
    fn planet_later(
        &mut self,
        at: usize,
        planet: Planet,
        step_s: f64,
        most: i32,
    ) -> Result<Option<Later>, Failure> {
        let Some(Some(known)) = self.known.get(&at) else {
            return Ok(None);
        };
        let images = self.catalogue.lone_images(known.frame.frame_id)?;
        let Some(place) = known.place.filter(|_| !images.is_empty()) else {
            return Ok(None);
        };
        let kept = &known.kept;
        let error_px = (IMAGE * kept.width_px)
            .hypot((planet.error_arcsec() / 3_600.0).to_radians() * kept.f_px);
        let looker = &mut *self.looker;
        let mut pixel = |step: i32| {
            let then = known.mid_utc.plus_s(f64::from(step) * step_s)?;
            let seen = looker.planet(then, place, planet)?;
            over_horizon(kept, &looker.horizon(then, place)?)?.project(seen)
        };
        let roughly = |step: i32| {
            let then = known.mid_utc.plus_s(f64::from(step) * step_s)?;
            known.pointed.camera.project(planet.among_stars(then)?)
        };
        let path: Vec<Option<(f64, f64)>> = (-most..=most).map(roughly).collect();
        let rough_px = SIGMAS * error_px + ROUGH_RAD * kept.f_px;
        let mut best: Option<Later> = None;
        for (step, two) in (-most..).zip(path.windows(2)) {
            let [Some(from), Some(to)] = two else {
                continue;
            };
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            let near = |image: &(f64, f64)| {
                let from_px = (image.0 - from.0).hypot(image.1 - from.1);
                from_px < length + rough_px
            };
            if !images.iter().any(near) {
                continue;
            }
            let (Some(from), Some(to)) = (pixel(step), pixel(step + 1)) else {
                continue;
            };
            let along = (to.0 - from.0, to.1 - from.1);
            let square = along.0 * along.0 + along.1 * along.1;
            let error_s = error_px / square.sqrt() * step_s;
            if error_s > VAGUE_H * 3_600.0 {
                continue;
            }
            for image in &images {
                let off = (image.0 - from.0, image.1 - from.1);
                let share = (off.0 * along.0 + off.1 * along.1) / square;
                let aside = (off.0 * along.1 - off.1 * along.0).abs() / square.sqrt();
                let seconds = (f64::from(step) + share) * step_s;
                let near = (0.0..=1.0).contains(&share) && aside < SIGMAS * error_px;
                if near && best.is_none_or(|best| seconds.abs() < best.seconds.abs()) {
                    best = Some(Later { seconds, error_s });
                }
            }
        }
        Ok(best)
    }
}
