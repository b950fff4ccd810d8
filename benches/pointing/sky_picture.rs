//! Draws previews of the night sky from a seed, and tells where each star is in them. Its lens and its attitude are written
//! anew, so that a mistake of the library's is not in both.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss
)] // pixels of small pictures

use framefall::pointing::law::Law;
use framefall::pointing::stars::stars;
use framefall::sky::horizon::Horizon;
use framefall::sky::look::Looker;
use framefall::terms::site::Place;
use framefall::terms::time::Utc;

/// Random numbers from a seed: splitmix64 (S. Vigna, public domain, from memory).
pub struct Random(pub u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// From 0 to 1.
    pub fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// About 0, one standard deviation.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.share()).sum::<f64>() - 6.0
    }

    fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[(self.share() * of.len() as f64) as usize % of.len()]
    }
}

/// What is drawn.
pub struct Scene {
    /// Pixels in a row, and rows.
    pub size: (usize, usize),
    /// How the lens draws.
    pub law: Law,
    /// Focal length in pixels, and as EXIF would have it.
    pub f_px: (f64, f64),
    k: (f64, f64),
    centre: (f64, f64),
    rows: [[f64; 3]; 3],
    /// When, and where.
    pub at: Utc,
    /// Where.
    pub place: Place,
    noise: f64,
    sky: f64,
    faintest: f64,
    width_px: (f64, f64),
    clouds: f64,
    ridge_deg: f64,
    lights: usize,
    has_stars: bool,
    exposure_s: f64,
    seed: u64,
}

/// A drawn picture: grey levels, and the stars in it before the sky, with how far they stand above the noise.
pub struct Drawn {
    /// Levels, row after row.
    pub luma: Vec<u8>,
    /// Number in the table, pixel, height over noise.
    pub stars: Vec<(usize, (f64, f64), f64)>,
}

impl Scene {
    /// A scene by its number: 8 mm fisheye to 85 mm, clear or cloudy, with ground and lights or without.
    pub fn numbered(seed: u64) -> Self {
        let mut random = Random(seed.wrapping_mul(0x517C_C1B7_2722_0A95) ^ 0x2545_F491);
        let size = random.one(&[
            (1620, 1080),
            (1620, 1080),
            (1616, 1080),
            (1600, 1200),
            (1440, 960),
        ]);
        let (law, mm35) = random.one(&[
            (Law::Equisolid, 12.0),
            (Law::Stereographic, 12.0),
            (Law::Equisolid, 15.0),
            (Law::Equidistant, 16.0),
            (Law::Rectilinear, 14.0),
            (Law::Rectilinear, 14.0),
            (Law::Rectilinear, 17.0),
            (Law::Rectilinear, 20.0),
            (Law::Rectilinear, 24.0),
            (Law::Rectilinear, 24.0),
            (Law::Rectilinear, 35.0),
            (Law::Rectilinear, 50.0),
            (Law::Rectilinear, 85.0),
        ]);
        let diagonal = (size.0 as f64).hypot(size.1 as f64);
        let exif = mm35 / 43.2666 * diagonal;
        let f_px = exif * random.between(0.97, 1.03);
        let tele = mm35 > 30.0;
        let alt = random.between(if tele { 15.0 } else { 20.0 }, 85.0);
        let clouds = if random.share() < 0.3 {
            random.between(0.3, 0.8)
        } else {
            0.0
        };
        let seconds = random.between(0.0, 20.0 * 365.25 * 86_400.0);
        let start = Utc::parse("2006-01-01T00:00:00Z").expect("a date");
        Self {
            size,
            law,
            f_px: (f_px, exif),
            k: (random.between(-0.04, 0.03), random.between(-0.01, 0.01)),
            centre: (
                (size.0 as f64 - 1.0) / 2.0 + random.between(-3.0, 3.0),
                (size.1 as f64 - 1.0) / 2.0 + random.between(-3.0, 3.0),
            ),
            rows: attitude(
                random.between(0.0, 360.0),
                alt,
                random.one(&[0.0, 0.0, 0.0, 90.0, -90.0]) + random.between(-4.0, 4.0),
            ),
            at: start.plus_s(seconds).expect("a time"),
            place: Place::new(
                random.between(-60.0, 65.0),
                random.between(-180.0, 180.0),
                random.between(0.0, 2500.0),
            )
            .expect("a place"),
            noise: random.between(1.2, 4.0),
            sky: random.between(12.0, 90.0),
            faintest: random.between(5.0, 7.2),
            width_px: (random.between(0.6, 1.1), random.between(0.8, 1.7)),
            clouds,
            ridge_deg: if random.share() < 0.4 {
                random.between(2.0, 25.0)
            } else {
                -90.0
            },
            lights: (random.share() * 30.0) as usize,
            has_stars: true,
            exposure_s: random.between(4.0, 25.0),
            seed,
        }
    }

    /// The same without stars.
    pub fn without_stars(self) -> Self {
        Self {
            has_stars: false,
            ..self
        }
    }

    /// The sky over it.
    pub fn horizon(&self, later_s: f64) -> Horizon {
        let at = self.at.plus_s(later_s).expect("a time");
        Looker::new()
            .horizon(at, self.place)
            .expect("a year of the model")
    }

    /// Where a direction over the horizon is drawn, if it is within the picture.
    pub fn pixel(&self, direction: [f64; 3]) -> Option<(f64, f64)> {
        let c = self
            .rows
            .map(|row| row[0] * direction[0] + row[1] * direction[1] + row[2] * direction[2]);
        let theta = c[0].hypot(c[1]).atan2(c[2]);
        let radius = match self.law {
            Law::Rectilinear if theta > 1.4 => return None,
            Law::Rectilinear => theta.tan(),
            Law::Equidistant => theta,
            Law::Equisolid => 2.0 * (theta / 2.0).sin(),
            Law::Stereographic => 2.0 * (theta / 2.0).tan(),
        };
        let half = (self.size.0 as f64).hypot(self.size.1 as f64) / 2.0;
        let r = self.f_px.0 * radius;
        let rho = r / half;
        if rho > 1.1 {
            return None;
        }
        let drawn = r * (1.0 + self.k.0 * rho.powi(2) + self.k.1 * rho.powi(4));
        let about = c[0].hypot(c[1]).max(1e-12);
        let (x, y) = (
            self.centre.0 + drawn * c[0] / about,
            self.centre.1 + drawn * c[1] / about,
        );
        let inside =
            x > 1.0 && y > 1.0 && x < self.size.0 as f64 - 2.0 && y < self.size.1 as f64 - 2.0;
        inside.then_some((x, y))
    }

    /// Draws it.
    pub fn draw(&self) -> Drawn {
        let mut random = Random(self.seed ^ 0xD1CE);
        let (width, height) = self.size;
        let veil = Veil::new(&mut random, self.clouds);
        let ridge = Veil::new(&mut random, 1.0);
        let half = (width as f64).hypot(height as f64) / 2.0;
        let slope = (random.between(-0.3, 0.3), random.between(-0.3, 0.3));
        let mut light = vec![0.0_f32; width * height];
        let mut clear = vec![0.0_f32; width * height];
        for y in 0..height {
            for x in 0..width {
                let (u, v) = (
                    x as f64 / width as f64 - 0.5,
                    y as f64 / height as f64 - 0.5,
                );
                let r = (u * width as f64).hypot(v * height as f64) / half;
                let dark = self.ridge_deg > 0.0
                    && v > 0.5 - self.ridge_deg / 90.0 + 0.06 * (ridge.at(u * 2.0, 0.3) - 0.5);
                let shade = 1.0 - 0.35 * r * r;
                let cover = veil.at(u, v) * self.clouds * 1.6;
                clear[y * width + x] = if dark {
                    0.0
                } else {
                    (1.0 - cover).clamp(0.0, 1.0).powi(2) as f32
                };
                let glow =
                    self.sky * (1.0 + slope.0 * u + slope.1 * v) * shade * (1.0 + 0.5 * cover);
                light[y * width + x] = (if dark { self.sky * 0.15 } else { glow }) as f32;
            }
        }
        let mut found = Vec::new();
        if self.has_stars {
            self.draw_stars(&mut light, &clear, &mut found);
            for _ in 0..(3_000.0 * (self.f_px.0 / 700.0).powi(-2)) as usize {
                let place = (
                    random.between(2.0, width as f64 - 3.0),
                    random.between(2.0, height as f64 - 3.0),
                );
                let faint = self.peak(random.between(6.6, 8.2));
                let there = clear[place.1 as usize * width + place.0 as usize];
                dab(
                    &mut light,
                    self.size,
                    place,
                    self.width_px.0,
                    faint * f64::from(there),
                );
            }
        }
        for _ in 0..self.lights {
            if self.ridge_deg > 0.0 {
                let y = height as f64 * (1.0 - random.share() * self.ridge_deg / 110.0) - 3.0;
                let place = (random.between(4.0, width as f64 - 5.0), y);
                dab(
                    &mut light,
                    self.size,
                    place,
                    random.between(0.8, 2.0),
                    random.between(40.0, 900.0),
                );
            }
        }
        if random.share() < 0.3 {
            let (x, y) = (random.between(100.0, 900.0), random.between(100.0, 700.0));
            let (dx, dy) = (random.between(-1.0, 1.0), random.between(-1.0, 1.0));
            for step in 0..400 {
                let place = (
                    x + dx * f64::from(step) / 2.0,
                    y + dy * f64::from(step) / 2.0,
                );
                dab(&mut light, self.size, place, 0.9, 14.0);
            }
        }
        let luma = light
            .iter()
            .map(|level| {
                let level = f64::from(*level);
                (level + self.noise * random.normal() * (0.5 + level.max(0.0) / 120.0).sqrt())
                    .clamp(0.0, 255.0) as u8
            })
            .collect();
        Drawn { luma, stars: found }
    }

    fn draw_stars(
        &self,
        light: &mut [f32],
        clear: &[f32],
        found: &mut Vec<(usize, (f64, f64), f64)>,
    ) {
        let (width, height) = self.size;
        let half = (width as f64).hypot(height as f64) / 2.0;
        let years = self.at.unix_ms() as f64 / (365.25 * 86_400_000.0) - 30.0;
        let moments: Vec<Horizon> = [-0.4, 0.0, 0.4]
            .iter()
            .map(|share| self.horizon(share * self.exposure_s))
            .collect();
        for (number, star) in stars().iter().enumerate() {
            let direction = star.direction(years);
            let middle = moments[1].seen(direction);
            if middle[2] < 0.0 {
                continue;
            }
            let Some(place) = self.pixel(middle) else {
                continue;
            };
            let there = f64::from(clear[place.1 as usize * width + place.0 as usize]);
            let air = 10_f64.powf(-0.4 * 0.25 * (1.0 / middle[2].max(0.05) - 1.0));
            let r = (place.0 - width as f64 / 2.0).hypot(place.1 - height as f64 / 2.0) / half;
            let sigma = self.width_px.0 + (self.width_px.1 - self.width_px.0) * r * r;
            let peak = self.peak(star.v_mag) * there * air * (self.width_px.0 / sigma).powi(2);
            for moment in &moments {
                if let Some(place) = self.pixel(moment.seen(direction)) {
                    dab(light, self.size, place, sigma, peak / 3.0);
                }
            }
            found.push((number, place, peak / self.noise));
        }
    }

    /// Height of a star's image in levels, before it saturates.
    fn peak(&self, v_mag: f64) -> f64 {
        // Levels are encoded light: ten times the light is three times the level.
        5.0 * self.noise * 10_f64.powf(-0.2 * (v_mag - self.faintest))
    }
}

/// Right, down, forward over the horizon for azimuth, altitude and roll in degrees.
fn attitude(az: f64, alt: f64, roll: f64) -> [[f64; 3]; 3] {
    let (a, b, q) = (az.to_radians(), alt.to_radians(), roll.to_radians());
    let z = [b.cos() * a.sin(), b.cos() * a.cos(), b.sin()];
    let x0 = [a.cos(), -a.sin(), 0.0];
    let y0 = [
        z[1] * x0[2] - z[2] * x0[1],
        z[2] * x0[0] - z[0] * x0[2],
        z[0] * x0[1] - z[1] * x0[0],
    ];
    let row = |s: f64, t: f64| {
        [
            s * x0[0] + t * y0[0],
            s * x0[1] + t * y0[1],
            s * x0[2] + t * y0[2],
        ]
    };
    [row(q.cos(), q.sin()), row(-q.sin(), q.cos()), z]
}

/// Adds the image of a point.
fn dab(
    light: &mut [f32],
    (width, height): (usize, usize),
    (x, y): (f64, f64),
    sigma: f64,
    peak: f64,
) {
    let reach = (4.0 * sigma).ceil() as i64;
    for py in y.round() as i64 - reach..=y.round() as i64 + reach {
        for px in x.round() as i64 - reach..=x.round() as i64 + reach {
            if px < 0 || py < 0 || px >= width as i64 || py >= height as i64 {
                continue;
            }
            let (dx, dy) = (px as f64 - x, py as f64 - y);
            light[py as usize * width + px as usize] +=
                (peak * (-(dx * dx + dy * dy) / (2.0 * sigma * sigma)).exp()) as f32;
        }
    }
}

/// Clouds, and the line of hills: sums of waves.
struct Veil {
    waves: Vec<(f64, f64, f64, f64)>,
    cover: f64,
}

impl Veil {
    fn new(random: &mut Random, cover: f64) -> Self {
        let wave = |random: &mut Random, k: i32| {
            let size = 1.7_f64.powi(k) * 3.0;
            let about = random.between(0.0, std::f64::consts::TAU);
            (
                size * about.cos(),
                size * about.sin(),
                random.between(0.0, std::f64::consts::TAU),
                1.0 / 1.6_f64.powi(k),
            )
        };
        Self {
            waves: (0..24).map(|k| wave(random, k / 4)).collect(),
            cover,
        }
    }

    fn at(&self, u: f64, v: f64) -> f64 {
        let sum: f64 = self
            .waves
            .iter()
            .map(|(a, b, c, size)| size * (a * u + b * v + c).sin())
            .sum();
        (0.5 + 0.25 * sum + 0.3 * (self.cover - 0.5)).clamp(0.0, 1.0)
    }
}
