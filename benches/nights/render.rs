//! Frames of a night: light on the sensor, noise, the camera's curve, JPEG; and what is true of each.

use crate::events::Class;
use crate::events::Event;
use crate::events::Vector;
use crate::events::events;
use crate::events::unit;
use crate::kinds::Night;
use crate::random::Field;
use crate::random::Random;

/// Photons of a star of magnitude 0 on a square centimetre in a second, in green, and what of them is counted.
const ZERO_MAG: f32 = 1.0e6 * 0.85 * 0.55;
/// Electrons of a full pixel at ISO 100, of a sensor 6,000 pixels wide, and its reading noise.
const FULL: f32 = 51_200.0;
const READ_NOISE: f32 = 2.5;
/// At how many roots of light the camera's curve is computed.
const STEPS: usize = 4_096;
/// The Earth's turn in radians a second.
const TURN: f32 = 7.292_1e-5;

/// A rendered frame: its JPEG, and the objects in it as rows of numbers.
pub struct Frame {
    pub jpeg: Vec<u8>,
    pub truth: Vec<Truth>,
    pub cloud: f32,
    pub dew: f32,
    pub shaken: bool,
}

/// An object in a frame.
pub struct Truth {
    pub class: Class,
    pub sub: &'static str,
    pub number: usize,
    pub ends: [f32; 4],
    pub visible: [f32; 4],
    pub peak_snr: f32,
    pub line_snr: f32,
    pub visible_deg: f32,
    pub mag: f32,
    pub in_sky: f32,
}

/// A night that is rendered frame by frame.
pub struct Render {
    pub night: Night,
    pub events: Vec<Event>,
    stars: Vec<(Vector, f32)>,
    pole: Vector,
    ridge: Vec<f32>,
    twigs: Vec<Twig>,
    clouds: Field,
}

impl Render {
    pub fn new(night: Night) -> Self {
        let mut random = Random::new(night.seed ^ 0x57A8_57A8);
        let f = night.focal_px();
        let half = 0.75 * (night.width as f32).hypot(night.height as f32);
        // Stars around the picture as well: it turns. Their numbers rise 2.8 times a magnitude, 4,500 down to 6.0 over the sky.
        let radius = (half / f).atan().min(1.3);
        let area_share = (1.0 - radius.cos()) / 2.0;
        let count = (area_share * 4_500.0 * 2.8_f32.powf(4.5)) as usize;
        let middle = [0.0, 0.0, 1.0];
        let stars = (0..count)
            .map(|_| {
                let z = 1.0 - random.share() * (1.0 - radius.cos());
                let angle = random.between(0.0, std::f32::consts::TAU);
                let r = (1.0 - z * z).max(0.0).sqrt();
                let mag = 10.5 + random.share().max(1e-7).ln() / 2.8_f32.ln();
                ([r * angle.cos(), r * angle.sin(), z], mag)
            })
            .collect();
        let pole = unit(std::array::from_fn(|k| {
            middle[k] * random.between(-0.6, 0.6) + random.normal()
        }));
        let hills = Field::new(night.seed ^ 0x1111);
        let h = night.height as f32;
        let mut ridge: Vec<f32> = (0..night.width)
            .map(|x| h * (night.ground + 0.06 * (hills.at(x as f32 / 150.0, 0.0) - 0.5)))
            .collect();
        firs(&mut random, &mut ridge);
        let mut twigs = Vec::new();
        if night.tree {
            let x = random.between(0.1, 0.9) * night.width as f32;
            let foot = (x, ridge[x as usize] + 5.0);
            let high = h * random.between(0.09, 0.16);
            grow(&mut random, &mut twigs, foot, 0.0, high, 0.008 * h, 7);
        }
        let clouds = Field::new(night.seed ^ 0xC10D);
        Self {
            events: events(&night),
            stars,
            pole,
            ridge,
            twigs,
            clouds,
            night,
        }
    }

    fn turned(&self, v: Vector, at_s: f32, frame: usize) -> Vector {
        let p = self.pole;
        let (s, c) = (TURN * at_s).sin_cos();
        let d = p[0] * v[0] + p[1] * v[1] + p[2] * v[2];
        let cross = [
            p[1] * v[2] - p[2] * v[1],
            p[2] * v[0] - p[0] * v[2],
            p[0] * v[1] - p[1] * v[0],
        ];
        let turned: Vector =
            std::array::from_fn(|k| v[k] * c + cross[k] * s + p[k] * d * (1.0 - c));
        self.framed(turned, frame)
    }

    /// A tripod that was moved looks elsewhere from then on.
    fn framed(&self, v: Vector, frame: usize) -> Vector {
        match self.night.reframed {
            Some(at) if frame >= at => {
                let (s, c) = 0.12_f32.sin_cos();
                [v[0] * c - v[2] * s, v[1], v[0] * s + v[2] * c]
            }
            _ => v,
        }
    }

    fn pixel(&self, v: Vector) -> Option<(f32, f32)> {
        let f = self.night.focal_px();
        (v[2] > 0.2).then(|| {
            (
                f * v[0] / v[2] + (self.night.width - 1) as f32 / 2.0,
                f * v[1] / v[2] + (self.night.height - 1) as f32 / 2.0,
            )
        })
    }

    /// Light of a star of magnitude 0 in a second, in electrons of a pixel of the sensor's mean.
    fn zero_mag(&self) -> f32 {
        let aperture_cm = self.night.focal_mm / self.night.f_number / 10.0;
        let binned = (6_000.0 / self.night.width as f32).powi(2);
        ZERO_MAG * std::f32::consts::FRAC_PI_4 * aperture_cm * aperture_cm / binned
    }

    /// Renders a frame.
    pub fn frame(&self, number: usize) -> Frame {
        let night = &self.night;
        let (w, h) = (night.width, night.height);
        let mut random = Random::new(night.seed.wrapping_mul(31).wrapping_add(number as u64));
        // A timer is not exact.
        let begin = number as f32 * (night.exposure_s + night.pause_s)
            + 0.08 * Random::new(night.seed.wrapping_add(number as u64)).normal();
        let along = number as f32 / night.frames as f32;
        let dew = (night.dew * (2.0 * along - 0.8)).max(0.0);
        let shaken = night.shaken.contains(&number);
        let sky = self.sky(begin, along, number);
        let sigma = night.star_width / 2.355 * (1.0 + 1.1 * dew);
        let shake: Vec<(f32, f32)> = if shaken {
            walk(&mut random)
        } else {
            vec![(0.0, 0.0)]
        };
        let mut light = sky.light.clone();
        let brush = Brush {
            sigma,
            wings: night.wings + 0.5 * dew,
            width: w,
            height: h,
        };
        let zero = self.zero_mag() * (1.0 - 0.8 * dew);
        for (direction, mag) in &self.stars {
            for step in 0..3 {
                let at = begin + night.exposure_s * (step as f32 + 0.5) / 3.0;
                let Some((x, y)) = self.pixel(self.turned(*direction, at, number)) else {
                    continue;
                };
                let parts = if shaken && *mag < 6.0 {
                    &shake[..]
                } else {
                    &shake[..1]
                };
                for (dx, dy) in parts {
                    let e = zero * 10_f32.powf(-0.4 * mag) * night.exposure_s
                        / 3.0
                        / parts.len() as f32;
                    brush.dab(&mut light, x + dx, y + dy, e, 1.0, &sky.open);
                }
            }
        }
        let mut marks = Vec::new();
        for event in &self.events {
            let (from, to) = (
                event.from_s.max(begin),
                event.to_s.min(begin + night.exposure_s),
            );
            if to <= from {
                continue;
            }
            let mut layer = vec![0.0_f32; w * h];
            if let Some(path) = self.draw(event, (from, to), number, &brush, zero, &sky, &mut layer)
            {
                marks.push((event, path, layer));
            }
        }
        let before_events = light.clone();
        for (_, _, layer) in &marks {
            for (l, e) in light.iter_mut().zip(layer) {
                *l += e;
            }
        }
        let full = FULL / (night.iso / 100.0);
        let clean = self.coded(&light, None, full);
        let noisy = self.coded(&light, Some(&mut random), full);
        let jpeg = encoded(&noisy, w, h, night.quality);
        let decoded: Vec<f32> = luma_of(&jpeg);
        let truth = marks
            .iter()
            .filter_map(|(event, path, layer)| {
                self.truth(
                    event,
                    path,
                    layer,
                    &before_events,
                    &clean,
                    &decoded,
                    full,
                    &sky.open,
                )
            })
            .collect();
        Frame {
            jpeg,
            truth,
            cloud: sky.cloud,
            dew,
            shaken,
        }
    }

    /// The sky without stars, and how much of their light comes through.
    fn sky(&self, begin: f32, along: f32, number: usize) -> Sky {
        let night = &self.night;
        let (w, h) = (night.width, night.height);
        let arcsec = 206_265.0 / night.focal_px();
        let per_pixel = self.zero_mag()
            * 10_f32.powf(-0.4 * night.sky_mag)
            * arcsec
            * arcsec
            * night.exposure_s
            * night.dawn.powf(along);
        let thick = night.cloud.0 + (night.cloud.1 - night.cloud.0) * along;
        let shift = night.wind * begin;
        let mut light = vec![0.0; w * h];
        let mut open = vec![1.0; w * h];
        let (mut covered, mut all) = (0.0, 0.0);
        let mut sway = Random::new(night.seed.wrapping_mul(77).wrapping_add(number as u64));
        let mut leaf = vec![false; w * h];
        let gusts: [f32; 3] = std::array::from_fn(|_| sway.normal());
        // The wind bends what is high above the ground, and shakes leaves.
        let bent = |x: f32, y: f32| {
            let high = ((night.ground * h as f32 - y) / h as f32)
                .max(0.0)
                .powf(1.3);
            gusts[0] + gusts[1] * (x / 37.0).sin() + gusts[2] * (y / 29.0).sin() * 4.0 * high
        };
        for twig in &self.twigs {
            let (mut dx, mut dy) = (0.0, 0.0);
            if twig.leaf {
                (dx, dy) = (0.7 * sway.normal(), 0.7 * sway.normal());
            }
            let length = (twig.to.0 - twig.from.0).hypot(twig.to.1 - twig.from.1);
            let wide = (twig.width.ceil() as i32).max(1);
            for step in 0..=(length / 0.7) as i32 {
                let share = (step as f32 * 0.7 / length.max(0.1)).min(1.0);
                let x = twig.from.0 + share * (twig.to.0 - twig.from.0);
                let y = twig.from.1 + share * (twig.to.1 - twig.from.1);
                let (x, y) = (x + dx + bent(x, y), y + dy);
                for k in 0..wide * wide {
                    let (px, py) = (
                        x as i32 + k % wide - wide / 2,
                        y as i32 + k / wide - wide / 2,
                    );
                    if px >= 0 && py >= 0 && (px as usize) < w && (py as usize) < h {
                        leaf[py as usize * w + px as usize] = true;
                    }
                }
            }
        }
        let coarse = if thick > 0.0 {
            self.cloud_map(thick, shift)
        } else {
            Vec::new()
        };
        for y in 0..h {
            for x in 0..w {
                let at = y * w + x;
                if y as f32 > self.ridge[x] || leaf[at] {
                    light[at] = per_pixel * 0.06;
                    open[at] = 0.0;
                    continue;
                }
                let low = y as f32 / h as f32;
                let mut here = per_pixel * (1.0 + night.glow * low * low * 2.0);
                if thick > 0.0 {
                    let through =
                        between_four(&coarse, w.div_ceil(4) + 1, x as f32 / 4.0, y as f32 / 4.0);
                    here *= 1.0 + night.cloud_light * (1.0 - through);
                    open[at] = through;
                    covered += f32::from(u8::from(through < 0.5));
                }
                all += 1.0;
                light[at] = here;
            }
        }
        Sky {
            light,
            open,
            cloud: covered / f32::max(all, 1.0),
        }
    }

    /// Transmission at every fourth pixel.
    fn cloud_map(&self, thick: f32, shift: f32) -> Vec<f32> {
        let (w, h) = (
            self.night.width.div_ceil(4) + 1,
            self.night.height.div_ceil(4) + 1,
        );
        let mut map = Vec::with_capacity(w * h);
        let (turned_y, turned_x) = ((self.night.seed % 314) as f32 / 100.0).sin_cos();
        for y in 0..h {
            for x in 0..w {
                let (x, y) = (x as f32 * 4.0 + shift, y as f32 * 4.0);
                let mut value = self.clouds.at(x / 160.0, y / 110.0);
                if self.night.streaks && !self.night.broken {
                    let (along, beside) =
                        (x * turned_x + y * turned_y, y * turned_x - x * turned_y);
                    let wave = self.clouds.at(along / 300.0 + 50.0, beside / 300.0);
                    let streak = self.clouds.at(along / 420.0, beside / 45.0 + 3.0 * wave);
                    value = 0.45 * value + 0.55 * streak;
                }
                let through = if self.night.broken {
                    1.0 / (1.0 + ((value - 1.0 + thick * 0.75) * 18.0).exp())
                } else {
                    (-2.5 * thick * (value - 0.25).max(0.0) * 1.6).exp()
                };
                map.push(through);
            }
        }
        map
    }

    /// Draws an event; its path in the picture.
    #[allow(clippy::too_many_arguments)]
    fn draw(
        &self,
        event: &Event,
        (from, to): (f32, f32),
        frame: usize,
        brush: &Brush,
        zero: f32,
        sky: &Sky,
        layer: &mut [f32],
    ) -> Option<Vec<(f32, f32)>> {
        let night = &self.night;
        let mut path = Vec::new();
        match event.class {
            Class::Firefly | Class::Headlamp | Class::Car => {
                let [x0, y0, length, angle, bend, width, peak] = event.near;
                let noise =
                    (sky.light[(sky.light.len() / 3).min(sky.light.len() - 1)]).sqrt() * 0.6;
                let (mut x, mut y, mut a) = (x0, y0, angle);
                let blinks = event.class == Class::Firefly && event.number.is_multiple_of(2);
                let wide = Brush {
                    sigma: width,
                    wings: 0.0,
                    ..*brush
                };
                let reach = if from > event.from_s + 1.0 {
                    length
                } else {
                    0.0
                };
                for step in 0..(2.0 * (length + reach)) as usize {
                    let share = step as f32 / (2.0 * length);
                    let lit = if blinks {
                        (share * 9.4).sin().max(0.0)
                    } else {
                        (share.min(1.0) * std::f32::consts::PI).sin().max(0.2)
                    };
                    if share * length * 2.0 >= 2.0 * reach {
                        wide.dab(
                            layer,
                            x,
                            y,
                            peak * noise * width * width * lit,
                            0.0,
                            &sky.open,
                        );
                        path.push((x, y));
                    }
                    x += 0.5 * a.cos();
                    y += 0.5 * a.sin();
                    a += 0.5 * bend;
                }
                if event.class == Class::Car {
                    self.lit_ground(layer, &path, peak * noise, &sky.open);
                }
            }
            Class::Train => {
                let age = from - event.from_s;
                for step in 0..=120 {
                    let share = 0.25 + 0.6 * step as f32 / 120.0;
                    let turn = (event.near[0] * share).to_radians();
                    let v: Vector = std::array::from_fn(|k| {
                        event.start[k] * turn.cos() + event.towards[k] * turn.sin()
                    });
                    if let Some((x, y)) = self.pixel(self.framed(v, frame)) {
                        let wide = Brush {
                            sigma: brush.sigma + 0.03 * age,
                            wings: 0.0,
                            ..*brush
                        };
                        let (x, y) = (x + event.near[1] * age * share, y + event.near[2] * age);
                        let e = zero
                            * 10_f32.powf(-0.4 * event.magnitude(f32::midpoint(from, to)))
                            * (to - from)
                            / 120.0;
                        wide.dab(layer, x, y, e, 1.0, &sky.open);
                        path.push((x, y));
                    }
                }
            }
            _ => {
                let per_deg = night.focal_px().to_radians();
                let steps = ((to - from) * event.speed_deg_s * per_deg * 1.6 / 0.4)
                    .ceil()
                    .clamp(4.0, 12_000.0) as usize;
                for step in 0..steps {
                    let at = from + (to - from) * (step as f32 + 0.5) / steps as f32;
                    let v = self.framed(event.direction(at), frame);
                    if let Some((x, y)) = self.pixel(v) {
                        let e = zero * 10_f32.powf(-0.4 * event.magnitude(at)) * (to - from)
                            / steps as f32;
                        if event.class == Class::Aircraft {
                            // Its two wings, across its way.
                            let (bx, by) = path.last().map_or((x, y), |last: &(f32, f32)| *last);
                            let moved = (x - bx).hypot(y - by).max(1e-3);
                            let (wx, wy) = ((by - y) / moved, (x - bx) / moved);
                            for side in [-0.5, 0.5] {
                                let off = side * event.near[0];
                                brush.dab(
                                    layer,
                                    x + off * wx,
                                    y + off * wy,
                                    e / 2.0,
                                    1.0,
                                    &sky.open,
                                );
                            }
                        } else {
                            brush.dab(layer, x, y, e, 1.0, &sky.open);
                        }
                        path.push((x, y));
                    }
                }
            }
        }
        let inside = |p: &(f32, f32)| {
            p.0 >= 0.0
                && p.1 >= 0.0
                && p.0 <= (night.width - 1) as f32
                && p.1 <= (night.height - 1) as f32
        };
        path.retain(inside);
        (path.len() > 1).then_some(path)
    }

    /// What headlights do: the ground and the trees around them are bright, the air above a little.
    fn lit_ground(&self, layer: &mut [f32], path: &[(f32, f32)], light: f32, open: &[f32]) {
        let (Some(first), Some(last)) = (path.first(), path.last()) else {
            return;
        };
        let middle = (
            f32::midpoint(first.0, last.0),
            f32::midpoint(first.1, last.1),
        );
        let reach = (last.0 - first.0).abs() * 0.6 + 80.0;
        for (at, value) in layer.iter_mut().enumerate() {
            let (x, y) = (
                (at % self.night.width) as f32,
                (at / self.night.width) as f32,
            );
            let away = ((x - middle.0) / reach).powi(2) + ((y - middle.1) / 70.0).powi(2);
            let back = if open[at] > 0.0 { 0.04 } else { 1.0 };
            *value += 0.3 * light * back * (-away).exp();
        }
    }

    /// The camera's picture: noise, tone, sharpening; in levels.
    fn coded(&self, light: &[f32], noise: Option<&mut Random>, full: f32) -> Vec<f32> {
        let binned = (6_000.0 / self.night.width as f32).powi(2);
        let noisy: Vec<f32> = match noise {
            None => light.to_vec(),
            Some(random) => {
                let mut noisy: Vec<f32> = light
                    .iter()
                    .map(|e| {
                        e + random.normal()
                            * ((e + READ_NOISE * READ_NOISE * 2.0) / (0.4 * binned)).sqrt()
                    })
                    .collect();
                for _ in 0..random.count(self.night.sparks) {
                    let (at, e) = (
                        (random.bits() % noisy.len() as u64) as usize,
                        full * random.between(0.1, 0.6),
                    );
                    noisy[at] += e;
                    // A ray that comes in flat leaves a short trail.
                    if random.chance(0.3) {
                        for k in 1..random.between(2.0, 7.0) as usize {
                            let next = (at + k * (self.night.width + 1)).min(noisy.len() - 1);
                            noisy[next] += e * 0.6;
                        }
                    }
                }
                noisy
            }
        };
        // The curve at roots of light, for speed: it is straight between them to a hundredth of a level.
        let curve: Vec<f32> = (0..=STEPS + 1)
            .map(|k| tone((k as f32 / STEPS as f32).powi(2)))
            .collect();
        let toned: Vec<f32> = noisy
            .iter()
            .map(|e| {
                let at = (e / full).clamp(0.0, 1.0).sqrt() * STEPS as f32;
                let share = at.fract();
                curve[at as usize] * (1.0 - share) + curve[at as usize + 1] * share
            })
            .collect();
        let (w, h, k) = (self.night.width, self.night.height, self.night.sharpening);
        let mut out = toned.clone();
        for y in 1..h - 1 {
            for x in 1..w - 1 {
                let at = y * w + x;
                let mean = (toned[at - 1] + toned[at + 1] + toned[at - w] + toned[at + w]) / 4.0;
                out[at] = (toned[at] + k * (toned[at] - mean)).clamp(0.0, 255.0);
            }
        }
        out
    }

    /// What is true of an event in a frame: its ends, and how far it stands out of the noise of the decoded picture.
    #[allow(clippy::too_many_arguments)]
    fn truth(
        &self,
        event: &Event,
        path: &[(f32, f32)],
        layer: &[f32],
        base: &[f32],
        clean: &[f32],
        decoded: &[f32],
        full: f32,
        open: &[f32],
    ) -> Option<Truth> {
        let (w, h) = (self.night.width, self.night.height);
        let at = |p: &(f32, f32)| {
            (p.1.round() as usize).min(h - 1) * w + (p.0.round() as usize).min(w - 1)
        };
        let tone = |e: f32| tone(e / full);
        let (mut squares, mut count) = (0.0_f32, 0.0_f32);
        for p in path.iter().step_by((path.len() / 60).max(1)) {
            for (dx, dy) in [
                (9, 4),
                (-8, 5),
                (4, -9),
                (-5, -8),
                (12, 0),
                (0, 12),
                (-12, 1),
                (1, -12),
            ] {
                let (x, y) = (p.0 as i32 + dx, p.1 as i32 + dy);
                if x >= 0 && y >= 0 && (x as usize) < w && (y as usize) < h {
                    let i = y as usize * w + x as usize;
                    let off = (decoded[i] - clean[i]).clamp(-25.0, 25.0);
                    squares += off * off;
                    count += 1.0;
                }
            }
        }
        let noise = (squares / count.max(1.0)).sqrt().max(0.4);
        // A pixel of the path each.
        let mut places: Vec<(f32, f32)> = Vec::new();
        for p in path {
            if places
                .last()
                .is_none_or(|l| (l.0 - p.0).hypot(l.1 - p.1) >= 0.95)
            {
                places.push(*p);
            }
        }
        let snr: Vec<f32> = places
            .iter()
            .map(|p| (tone(base[at(p)] + layer[at(p)]) - tone(base[at(p)])) / noise)
            .collect();
        let size = snr.len().clamp(1, 5);
        let smooth: Vec<f32> = snr
            .windows(size)
            .map(|v| v.iter().sum::<f32>() / size as f32)
            .collect();
        let peak = smooth.iter().copied().fold(0.0, f32::max);
        let limit = (0.04 * peak).max(0.5);
        let first = smooth.iter().position(|v| *v > limit)?;
        let last = smooth.iter().rposition(|v| *v > limit)? + size - 1;
        let line = snr[first..=last].iter().sum::<f32>() / ((last - first + 1) as f32).sqrt();
        let (a, b, va, vb) = (
            places[0],
            places[places.len() - 1],
            places[first],
            places[last],
        );
        let dir = |p: (f32, f32)| {
            unit([
                p.0 - (w - 1) as f32 / 2.0,
                p.1 - (h - 1) as f32 / 2.0,
                self.night.focal_px(),
            ])
        };
        let (da, db) = (dir(va), dir(vb));
        let chord = (da[0] - db[0]).hypot(da[1] - db[1]).hypot(da[2] - db[2]);
        let in_sky =
            places.iter().filter(|p| open[at(p)] > 0.02).count() as f32 / places.len() as f32;
        Some(Truth {
            class: event.class,
            sub: event.sub,
            number: event.number,
            ends: [a.0, a.1, b.0, b.1],
            visible: [va.0, va.1, vb.0, vb.1],
            peak_snr: peak,
            line_snr: line,
            visible_deg: (2.0 * (chord / 2.0).min(1.0).asin()).to_degrees(),
            mag: event.mag,
            in_sky,
        })
    }
}

/// A branch or a leaf.
struct Twig {
    from: (f32, f32),
    to: (f32, f32),
    width: f32,
    leaf: bool,
}

/// Grows a branch with the branches that leave it. `lean`: from upright, in radians.
fn grow(
    random: &mut Random,
    twigs: &mut Vec<Twig>,
    from: (f32, f32),
    lean: f32,
    length: f32,
    width: f32,
    left: usize,
) {
    let to = (from.0 + length * lean.sin(), from.1 - length * lean.cos());
    let leaf = left == 0;
    twigs.push(Twig {
        from,
        to,
        width,
        leaf,
    });
    if leaf {
        return;
    }
    let fewer = if left < 3 { 4 } else { 2 };
    for _ in 0..fewer {
        let more = random.between(-0.75, 0.75);
        let (length, width) = (length * random.between(0.62, 0.88), width * 0.68);
        grow(random, twigs, to, lean + more, length, width, left - 1);
    }
}

/// Puts trees with pointed tops on a ridge.
fn firs(random: &mut Random, ridge: &mut [f32]) {
    for _ in 0..random.count(ridge.len() as f32 / 30.0) {
        let middle = random.between(0.0, ridge.len() as f32 - 1.0);
        let (high, wide) = (random.between(8.0, 40.0), random.between(3.0, 9.0));
        let top = ridge[middle as usize] - high;
        for (x, y) in ridge.iter_mut().enumerate() {
            let away = (x as f32 - middle).abs() / wide;
            if away < 1.0 {
                // Boughs make the outline uneven.
                *y = y.min(top + high * away + 2.0 * (away * 19.0).sin());
            }
        }
    }
}

/// The value at a place between four of a map.
fn between_four(map: &[f32], width: usize, x: f32, y: f32) -> f32 {
    let (i, j) = (x as usize, y as usize);
    let (sx, sy) = (x - i as f32, y - j as f32);
    let at = j * width + i;
    let low = (at + width).min(map.len() - 2);
    (map[at] * (1.0 - sx) + map[at + 1] * sx) * (1.0 - sy)
        + (map[low] * (1.0 - sx) + map[low + 1] * sx) * sy
}

struct Sky {
    light: Vec<f32>,
    /// Share of starlight that comes through.
    open: Vec<f32>,
    cloud: f32,
}

/// Puts spots of light into a picture.
struct Brush {
    sigma: f32,
    wings: f32,
    width: usize,
    height: usize,
}

impl Brush {
    /// `behind`: 1 for what stands behind clouds and hills, 0 for what is near.
    fn dab(&self, light: &mut [f32], x: f32, y: f32, electrons: f32, behind: f32, open: &[f32]) {
        let bright = electrons > 3_000.0;
        let reach = (if self.wings > 0.0 && bright {
            9.0
        } else {
            3.2 * self.sigma + 1.0
        }) as i32;
        if electrons < 0.2
            || x < -12.0
            || y < -12.0
            || x > self.width as f32 + 12.0
            || y > self.height as f32 + 12.0
        {
            return;
        }
        let core = 1.0 / (std::f32::consts::TAU * self.sigma * self.sigma);
        // The core is one of x times one of y.
        let part = |offset: f32| (-offset * offset / (2.0 * self.sigma * self.sigma)).exp();
        let reach = reach.min(31);
        let across: [f32; 63] = std::array::from_fn(|k| {
            let dx = k as i32 - 31;
            if dx.abs() > reach {
                0.0
            } else {
                part((x.round() as i32 + dx) as f32 - x)
            }
        });
        for dy in -reach..=reach {
            let row = part((y.round() as i32 + dy) as f32 - y);
            for dx in -reach..=reach {
                let (px, py) = (x.round() as i32 + dx, y.round() as i32 + dy);
                if px < 0 || py < 0 || px as usize >= self.width || py as usize >= self.height {
                    continue;
                }
                let (ex, ey) = (px as f32 - x, py as f32 - y);
                let r2 = ex * ex + ey * ey;
                let mut share = (1.0 - self.wings) * core * row * across[(dx + 31) as usize];
                if self.wings > 0.0 {
                    let spike = if bright && (ex.abs() < 0.7 || ey.abs() < 0.7) {
                        3.0
                    } else {
                        1.0
                    };
                    share += self.wings * spike * 0.12 / (1.0 + r2 / 4.0).powi(2);
                }
                let at = py as usize * self.width + px as usize;
                light[at] += electrons * share * (1.0 - behind * (1.0 - open[at]));
            }
        }
    }
}

/// The camera's curve: levels by the share of full light.
fn tone(light: f32) -> f32 {
    let v = light.clamp(0.0, 1.0);
    let s = if v < 0.003_130_8 {
        12.92 * v
    } else {
        1.055 * v.powf(1.0 / 2.4) - 0.055
    };
    255.0 * (s + 0.35 * s * (1.0 - s) * (s - 0.35))
}

/// Places of a shaking camera, in pixels.
fn walk(random: &mut Random) -> Vec<(f32, f32)> {
    let (mut x, mut y) = (0.0, 0.0);
    (0..14)
        .map(|_| {
            x += random.between(-1.4, 1.8);
            y += random.between(-1.0, 1.0);
            (x, y)
        })
        .collect()
}

fn encoded(levels: &[f32], width: usize, height: usize, quality: u8) -> Vec<u8> {
    let rgb: Vec<u8> = levels
        .iter()
        .flat_map(|v| {
            let v = v.round() as u8;
            [v, v, v]
        })
        .collect();
    let mut jpeg = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut jpeg, quality);
    encoder.set_sampling_factor(jpeg_encoder::SamplingFactor::R_4_2_2);
    encoder
        .encode(
            &rgb,
            width as u16,
            height as u16,
            jpeg_encoder::ColorType::Rgb,
        )
        .expect("a picture in memory");
    jpeg
}

fn luma_of(jpeg: &[u8]) -> Vec<f32> {
    use zune_jpeg::JpegDecoder;
    use zune_jpeg::zune_core::bytestream::ZCursor;
    use zune_jpeg::zune_core::colorspace::ColorSpace;
    use zune_jpeg::zune_core::options::DecoderOptions;
    let options = DecoderOptions::default().jpeg_set_out_colorspace(ColorSpace::Luma);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(jpeg), options);
    decoder
        .decode()
        .expect("our own picture")
        .into_iter()
        .map(f32::from)
        .collect()
}
