//! Paints what a lens throws onto the sensor, in plain proportion to the light: sky, stars, Moon, meteor, land.

use super::Outcome;
use super::cast::{Kind, Run};
use super::heavens::{
    Arrow, Watch, altitude_deg, apart_deg, arrow, azimuth_deg, cross, dot, onward, to_length_one,
};
use super::land;
use super::movers;
use super::night::{Light, NightSky, add};
use super::random::{Draws, blend, ease};
use super::shots::Shot;
use super::stars::Star;
use super::style::Style;

/// The sky's smooth light is worked out at every so many pixels of a small picture and blended between.
const STEP: usize = 4;
/// A star of magnitude 0 against the sky's unit, spread over its pixels.
const STAR: f64 = 11.0;
/// Light of stars in large pictures against that in small ones, to the eye's liking.
const LARGE_STAR: f64 = 7.0;
/// The same of meteors.
const LARGE_METEOR: f64 = 0.4;

/// Light on a sensor, row by row.
pub struct Picture {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Red, green, blue for each pixel.
    pub light: Vec<Light>,
}

/// The camera on its tripod: which direction falls on which pixel, straight lines kept straight.
struct View {
    ahead: Arrow,
    right: Arrow,
    above: Arrow,
    scale: f64,
    middle: (f64, f64),
}

impl View {
    fn new(run: &Run, width: usize, height: usize) -> Self {
        let ahead = arrow(run.aim.az_deg, run.aim.alt_deg);
        let right = to_length_one(cross(ahead, [0.0, 0.0, 1.0])).map(|part| -part);
        Self {
            ahead,
            right,
            above: cross(ahead, right),
            // A sensor 36 mm across.
            scale: width as f64 * f64::from(run.lens.focal_mm) / 36.0,
            middle: (width as f64 / 2.0, height as f64 / 2.0),
        }
    }

    fn towards(&self, x: f64, y: f64) -> Arrow {
        let (u, v) = (
            (x - self.middle.0) / self.scale,
            (self.middle.1 - y) / self.scale,
        );
        to_length_one([0, 1, 2].map(|k| self.ahead[k] + u * self.right[k] + v * self.above[k]))
    }

    fn pixel(&self, towards: Arrow) -> Option<(f64, f64)> {
        let depth = dot(towards, self.ahead);
        (depth > 0.1).then(|| {
            let x = self.middle.0 + dot(towards, self.right) / depth * self.scale;
            let y = self.middle.1 - dot(towards, self.above) / depth * self.scale;
            (x, y)
        })
    }
}

impl Picture {
    /// The picture of one press of the shutter, this many pixels across and two thirds as many down.
    pub fn paint(shot: &Shot, style: &Style<'_>, width: usize) -> Outcome<Self> {
        let mut picture = Self {
            width,
            height: width * 2 / 3,
            light: vec![[0.0; 3]; width * (width * 2 / 3)],
        };
        if shot.run.kind != Kind::Dark {
            picture.open_shutter(shot, style)?;
        }
        Ok(picture)
    }

    fn open_shutter(&mut self, shot: &Shot, style: &Style<'_>) -> Outcome<()> {
        let site = &shot.run.site;
        let view = View::new(shot.run, self.width, self.height);
        let middle_ms = shot.start_ms + shot.exposure_ms() / 2;
        let watch = Watch::new(middle_ms, site.lat_deg, site.lon_deg);
        let sky = NightSky::new(site, &watch, &style.field, middle_ms);
        self.sky(&view, &sky);
        match style.stars_over {
            None => {
                // Smaller pictures gather a star's light on fewer, larger pixels.
                let share = (self.width as f64 / 240.0).powi(2);
                let over = |star: &Star| Star {
                    towards: watch.over_site(star.towards),
                    ..*star
                };
                self.stars(&view, style.field.stars.iter().map(over), share);
            }
            Some(stars_over) => {
                let share = (self.width as f64 / style.preview_width as f64).powi(2);
                self.stars(
                    &view,
                    stars_over(site, middle_ms).into_iter(),
                    LARGE_STAR * share,
                );
            }
        }
        self.moon(&view, &sky);
        if shot.has_meteor() {
            let bright = if style.is_large() { LARGE_METEOR } else { 1.0 };
            self.meteor(&view, &watch, shot, bright)?;
        }
        if style.is_large() {
            self.movers(&view, shot);
        }
        self.land(&view, &sky, shot);
        let gain = shot.setting.gain();
        for (place, pixel) in self.light.iter_mut().enumerate() {
            let x = (place % self.width) as f64 - view.middle.0 + 0.5;
            let y = (place / self.width) as f64 - view.middle.1 + 0.5;
            // Lenses give less light to the corners.
            let corner = (x * x + y * y) / (view.middle.0.powi(2) + view.middle.1.powi(2));
            *pixel = pixel.map(|part| part * gain * (1.0 - 0.34 * corner));
        }
        Ok(())
    }

    fn sky(&mut self, view: &View, sky: &NightSky) {
        let step = STEP * (self.width / 240).max(1);
        let nodes = self.width / step + 2;
        let grid: Vec<Light> = (0..nodes * (self.height / step + 2))
            .map(|node| {
                let (i, j) = (node % nodes, node / nodes);
                sky.glow(view.towards((i * step) as f64, (j * step) as f64))
            })
            .collect();
        for y in 0..self.height {
            let (j, v) = (y / step, (y % step) as f64 / step as f64);
            for x in 0..self.width {
                let (i, u) = (x / step, (x % step) as f64 / step as f64);
                let corner = j * nodes + i;
                self.light[y * self.width + x] = [0, 1, 2].map(|k| {
                    let top = blend(grid[corner][k], grid[corner + 1][k], u);
                    let low = blend(grid[corner + nodes][k], grid[corner + nodes + 1][k], u);
                    blend(top, low, v)
                });
            }
        }
    }

    /// Stars over the site; `share` is their light against that in small pictures.
    fn stars(&mut self, view: &View, stars: impl Iterator<Item = Star>, share: f64) {
        for star in stars {
            let towards = star.towards;
            if towards[2] < 0.0 {
                continue;
            }
            let Some((x, y)) = view.pixel(towards) else {
                continue;
            };
            let clear = 0.82_f64.powf(1.0 / (towards[2] + 0.05) - 1.0);
            let light = STAR * star.light * clear * share;
            self.spot(x, y, 0.62, light, star.tint);
            if star.light > 0.09 {
                self.spot(x, y, 1.7, 0.10 * light, star.tint);
            }
        }
    }

    fn moon(&mut self, view: &View, sky: &NightSky) {
        if let Some((x, y)) = view.pixel(sky.moon) {
            let disc = 0.004_6 * view.scale;
            self.spot(
                x,
                y,
                disc.max(0.7),
                1200.0 * sky.moon_lit,
                [1.0, 0.96, 0.88],
            );
        }
    }

    /// A streak on the great circle through the radiant, brightest shortly before its end.
    fn meteor(&mut self, view: &View, watch: &Watch, shot: &Shot, bright: f64) -> Outcome<()> {
        let mut draws = Draws::new(shot.seed());
        let (ra, dec) = shot.run.shower.radiant_deg;
        let radiant = watch.over_site(arrow(ra, dec));
        let span = |draws: &mut Draws, whole: usize| whole as f64 * draws.between(0.16, 0.84);
        for _ in 0..200 {
            let begin = view.towards(
                span(&mut draws, self.width),
                span(&mut draws, self.height) * 0.8,
            );
            let way = apart_deg(radiant, begin);
            // Close to the radiant they come head-on, and look short.
            let length = (way * 0.42 * draws.between(0.6, 1.4)).clamp(3.0, 30.0);
            let end = onward(radiant, begin, length);
            if way > 8.0 && altitude_deg(begin) > 14.0 && altitude_deg(end) > 9.0 {
                // Of fewer meteors in a bright sky, the brighter ones are seen.
                let peak = draws.between(0.7, 2.2) / shot.setting.gain().powf(0.55).min(1.0);
                self.streak(
                    view,
                    [radiant, begin],
                    length,
                    peak * bright,
                    shot.run.shower.hue,
                );
                return Ok(());
            }
        }
        Err(format!("{}: no room for a meteor", shot.path()).into())
    }

    fn streak(
        &mut self,
        view: &View,
        [radiant, begin]: [Arrow; 2],
        length: f64,
        peak: f64,
        hue: Light,
    ) {
        let dots = (length * view.scale.to_radians() * 3.0).ceil().max(2.0);
        let mut at = 0.0;
        while at <= dots {
            let done = at / dots;
            let burning =
                done.powf(1.6) * ease((1.0 - done) / 0.22) + 0.05 * ease((1.0 - done) * 9.0);
            if let Some((x, y)) = view.pixel(onward(radiant, begin, length * done)) {
                // Green at first, the shower's own colour where it flares.
                let green = 1.0 - ease(done / 0.75);
                let tint = [
                    blend(hue[0], 0.30, green),
                    blend(hue[1], 1.0, green),
                    blend(hue[2], 0.55, green),
                ];
                let thick = 0.40 + 0.20 * burning;
                self.spot(x, y, thick, 0.16 * peak * burning, tint);
            }
            at += 1.0;
        }
    }

    /// Satellites and aircraft while the shutter is open.
    fn movers(&mut self, view: &View, shot: &Shot) {
        for (towards, light, tint) in movers::lights(shot, view.scale) {
            if let Some((x, y)) = view.pixel(towards) {
                self.spot(x, y, 0.6, light, tint);
            }
        }
    }

    fn land(&mut self, view: &View, sky: &NightSky, shot: &Shot) {
        let lamp = sky.on_land();
        let pixel_deg = (1.0 / view.scale).to_degrees();
        for y in 0..self.height {
            for x in 0..self.width {
                let towards = view.towards(x as f64 + 0.5, y as f64 + 0.5);
                let alt = altitude_deg(towards);
                if alt > land::HIGHEST_DEG {
                    continue;
                }
                let az = azimuth_deg(towards);
                for slope in land::slopes(shot.run.site.terrain, az) {
                    let covered = ((slope.edge_deg - alt) / pixel_deg + 0.5).clamp(0.0, 1.0);
                    if covered > 0.0 {
                        let pixel = &mut self.light[y * self.width + x];
                        let mut ground = pixel.map(|part| part * (1.0 - covered));
                        let pale = slope.pale * land::patch(az, alt);
                        for (part, lit) in ground.iter_mut().zip(lamp) {
                            *part += covered * pale * lit;
                        }
                        *pixel = ground;
                    }
                }
            }
        }
    }

    /// Light spread in a bell about a point; `light` is the whole of it, in pixels.
    fn spot(&mut self, x: f64, y: f64, sigma: f64, light: f64, tint: Light) {
        let reach = (3.2 * sigma).ceil();
        if x < -reach || y < -reach || light < 1e-6 {
            return;
        }
        let whole = light / (std::f64::consts::TAU * sigma * sigma);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped at 0 just here
        let span = |at: f64, end: usize| {
            let first = (at - reach).max(0.0) as usize;
            first..((at + reach).max(0.0) as usize + 1).min(end)
        };
        for row in span(y, self.height) {
            for column in span(x, self.width) {
                let (dx, dy) = (column as f64 + 0.5 - x, row as f64 + 0.5 - y);
                let here = (-(dx * dx + dy * dy) / (2.0 * sigma * sigma)).exp();
                add(
                    &mut self.light[row * self.width + column],
                    whole * here,
                    tint,
                );
            }
        }
    }
}
