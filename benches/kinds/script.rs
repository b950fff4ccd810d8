//! A night's frames as a photographer takes them, drawn from a seed: trials, landscapes, runs of lights under all sorts of
//! skies, darks, flats and bias frames before, between and after them, with settings that mislead and no names that help.

use super::camera::Camera;
use super::camera::Setting;
use super::camera::pick;
use super::random::Draws;
use super::scene::Scene;
use super::scene::Sky;
use super::scene::stars;

/// A frame, and its true kind.
pub struct Shot {
    /// Seconds since the evening's first.
    pub at_s: f64,
    pub setting: Setting,
    /// The kind's word; `None` for a frame of no kind.
    pub truth: Option<&'static str>,
    pub scene: Scene,
    pub has_thumbnail: bool,
}

/// A night of one body.
pub struct Night {
    pub seed: u64,
    pub camera: Camera,
    pub shots: Vec<Shot>,
}

impl Night {
    /// The thumbnail of a frame: the same for the same seed.
    pub fn thumbnail(&self, at: usize) -> Option<Vec<u8>> {
        let shot = &self.shots[at];
        let mut draws = Draws::new(self.seed.wrapping_mul(1_000_003).wrapping_add(at as u64));
        shot.has_thumbnail
            .then(|| self.camera.thumbnail(shot.setting, &shot.scene, &mut draws))
    }
}

/// How the sky's cover goes on over a run.
#[derive(Clone, Copy)]
enum Weather {
    Clear,
    Passing,
    Broken,
    Growing,
    Overcast,
}

/// The night being made.
struct Evening {
    draws: Draws,
    camera: Camera,
    /// The lights' settings.
    lights: Setting,
    mag_arcsec2: f64,
    at_s: f64,
    shots: Vec<Shot>,
    land: Option<(f64, f64)>,
    moon: Option<(f64, f64, f64)>,
    field: Vec<super::scene::Star>,
}

const ISOS: [f64; 8] = [
    400.0, 800.0, 1600.0, 2000.0, 3200.0, 4000.0, 6400.0, 12_800.0,
];

/// A night from a seed.
pub fn night(seed: u64) -> Night {
    let mut evening = Evening::drawn(seed);
    evening.unfold();
    let Evening {
        camera,
        mut shots,
        mut draws,
        ..
    } = evening;
    let gaps = if draws.unit() < 0.15 { 0.03 } else { 0.0 };
    for shot in &mut shots {
        shot.has_thumbnail = draws.unit() >= gaps;
    }
    Night {
        seed,
        camera,
        shots,
    }
}

impl Evening {
    fn drawn(seed: u64) -> Self {
        let mut draws = Draws::new(seed);
        let camera = Camera::drawn(&mut draws);
        let focals = [8.0_f64, 11.0, 14.0, 16.0, 20.0, 24.0, 35.0, 50.0, 85.0];
        let focal_mm = focals[pick(&mut draws, focals.len())];
        let f_number = [1.4, 1.8, 2.0, 2.8, 2.8, 4.0][pick(&mut draws, 6)];
        let mag_arcsec2 = draws.between(18.0, 22.0);
        let longest: f64 = f64::min(500.0 / focal_mm, 30.0);
        let dial: Vec<f64> = [
            1.0, 2.0, 3.0, 4.0, 5.0, 8.0, 10.0, 13.0, 15.0, 20.0, 25.0, 30.0,
        ]
        .into_iter()
        .filter(|e| *e <= longest.max(4.0) && *e >= longest / 6.0)
        .collect();
        let exposure_s = dial[pick(&mut draws, dial.len())];
        let wanted = 10_f64.powf(draws.between(-2.5, -0.7));
        let mut lights = Setting {
            exposure_s,
            iso: 1600.0,
            f_number,
            focal_mm,
        };
        let share = |iso: f64, lights: &Setting| {
            sky_share(&camera, &Setting { iso, ..*lights }, mag_arcsec2)
        };
        let near = |iso: &f64| (share(*iso, &lights) / wanted).ln().abs();
        let iso = ISOS
            .into_iter()
            .min_by(|a, b| near(a).total_cmp(&near(b)))
            .unwrap_or(1600.0);
        lights.iso = iso;
        let land =
            (draws.unit() < 0.6).then(|| (draws.between(0.05, 0.35), draws.between(0.02, 0.4)));
        let moon = (draws.unit() < 0.2).then(|| {
            (
                draws.between(-0.2, 1.2),
                draws.between(-0.2, 0.6),
                draws.between(0.5, 20.0),
            )
        });
        let field = star_field(&mut draws, &camera, focal_mm, mag_arcsec2);
        Self {
            draws,
            camera,
            lights,
            mag_arcsec2,
            at_s: 0.0,
            shots: Vec::new(),
            land,
            moon,
            field,
        }
    }

    /// The parts of the night, in order.
    fn unfold(&mut self) {
        // Calibration frames of another day, with no light near them.
        if self.chance(0.07) {
            self.calibration();
            self.calibration();
            return;
        }
        if self.chance(0.25) {
            self.landscapes();
        }
        if self.chance(0.12) {
            self.twilight_flats();
            self.pause(600.0, 3_000.0);
        }
        if self.chance(0.12) {
            self.calibration();
            self.pause(60.0, 1_200.0);
        }
        if self.chance(0.6) {
            self.trials();
        }
        let runs = 1 + pick(&mut self.draws, 3);
        for run in 0..runs {
            let last = run + 1 == runs;
            self.run(last);
            if !last {
                match pick(&mut self.draws, 4) {
                    0 => self.darks(),
                    1 => self.trials(),
                    2 => self.pause(10.0, 400.0),
                    _ => {
                        self.pause(10.0, 200.0);
                        let iso = self.lights.iso * [0.5, 2.0][pick(&mut self.draws, 2)];
                        // A photographer stops using a sensitivity at which the sky is black.
                        let lights = Setting { iso, ..self.lights };
                        if sky_share(&self.camera, &lights, self.mag_arcsec2) > 0.004 {
                            self.lights = lights;
                        }
                    }
                }
            }
        }
        self.calibration();
        if self.chance(0.12) {
            self.pause(600.0, 3_000.0);
            self.twilight_flats();
        }
    }

    /// Darks, flats, bias: some of them, in some order.
    fn calibration(&mut self) {
        let first = pick(&mut self.draws, 3);
        for step in 0..3 {
            match (first + step) % 3 {
                0 if self.chance(0.55) => self.darks(),
                1 if self.chance(0.5) => self.panel_flats(),
                2 if self.chance(0.4) => self.bias(),
                _ => {}
            }
        }
    }

    fn chance(&mut self, of: f64) -> bool {
        self.draws.unit() < of
    }

    fn pause(&mut self, low: f64, high: f64) {
        let s = self.draws.between(low, high);
        self.at_s += s;
    }

    fn take(&mut self, setting: Setting, truth: Option<&'static str>, scene: Scene, pause_s: f64) {
        self.shots.push(Shot {
            at_s: self.at_s,
            setting,
            truth,
            scene,
            has_thumbnail: true,
        });
        self.at_s += setting.exposure_s + pause_s;
    }

    fn sky(&self) -> Sky {
        Sky {
            mag_arcsec2: self.mag_arcsec2,
            horizon: 0.0,
            side: 0.0,
            moon: self.moon,
            stars: self.field.clone(),
            cloud: 0.0,
            cloud_light: 1.0,
            cloud_seed: 1,
            drift: 0.0,
            land: self.land,
            land_seed: 5,
            blur_px: 1.3,
        }
    }

    fn landscapes(&mut self) {
        for _ in 0..=pick(&mut self.draws, 5) {
            let exposure_s = 10_f64.powf(self.draws.between(-2.6, 0.3));
            let setting = Setting {
                exposure_s,
                iso: [100.0, 200.0, 400.0][pick(&mut self.draws, 3)],
                f_number: 4.0,
                ..self.lights
            };
            let scene = Scene::Land {
                share: self.draws.between(0.08, 0.5),
                seed: self.draws.bits(),
            };
            self.take(setting, None, scene, 0.0);
            self.pause(10.0, 90.0);
        }
        self.pause(300.0, 3_000.0);
    }

    fn trials(&mut self) {
        self.pause(20.0, 300.0);
        let high: f64 = [6400.0, 12_800.0, 25_600.0][pick(&mut self.draws, 3)];
        let with_lights = self.chance(0.3);
        let iso = if with_lights {
            self.lights.iso
        } else {
            high.max(self.lights.iso)
        };
        for _ in 0..=pick(&mut self.draws, 5) {
            let mut exposure_s = [1.0, 2.0, 3.0, 5.0][pick(&mut self.draws, 4)];
            if with_lights {
                exposure_s = self.lights.exposure_s * [0.5, 0.7, 2.0][pick(&mut self.draws, 3)];
            }
            let setting = Setting {
                exposure_s,
                iso,
                ..self.lights
            };
            if (setting.exposure_s - self.lights.exposure_s).abs() < 0.1
                && (iso - self.lights.iso).abs() < 0.5
            {
                continue;
            }
            let mut sky = self.sky();
            sky.blur_px = if self.chance(0.5) {
                self.draws.between(4.0, 40.0)
            } else {
                1.4
            };
            self.take(setting, Some("trial"), Scene::Sky(sky), 0.0);
            self.pause(8.0, 60.0);
        }
        self.pause(15.0, 300.0);
    }

    fn run(&mut self, last: bool) {
        let frames = 60 + pick(&mut self.draws, 140);
        let pause_s = self.draws.between(0.6, 3.0);
        let weather = match pick(&mut self.draws, 20) {
            0..=8 => Weather::Clear,
            9..=12 => Weather::Passing,
            13..=15 => Weather::Broken,
            16..=17 => Weather::Growing,
            _ => Weather::Overcast,
        };
        // Clouds over towns are bright, over deserts dark.
        let cloud_light = 10_f64
            .powf(0.4 * (20.5 - self.mag_arcsec2) + self.draws.between(-0.3, 0.3))
            .clamp(0.3, 8.0);
        let cloud_seed = self.draws.bits();
        let (drift_each, horizon, side) = (
            self.draws.between(0.01, 0.15),
            self.draws.between(0.0, 2.0),
            self.draws.between(-0.3, 0.3),
        );
        let dew = if self.chance(0.1) { 12.0 } else { 0.0 };
        let lamps = if self.chance(0.2) { 0.03 } else { 0.0 };
        let dawn_mag = if last && self.chance(0.3) {
            self.draws.between(0.5, 3.0)
        } else {
            0.0
        };
        let ramp = last && dawn_mag == 0.0 && self.chance(0.2);
        for i in 0..frames {
            let share = i as f64 / frames as f64;
            let mut sky = self.sky();
            sky.cloud = match weather {
                Weather::Clear => 0.0,
                Weather::Passing => (1.6 - 6.0 * (share - 0.5).abs()).clamp(0.0, 1.0),
                Weather::Broken => 0.5 + 0.3 * (share * 9.0).sin(),
                Weather::Growing => (share * 1.8 - 0.3).clamp(0.0, 1.0),
                Weather::Overcast => 1.0,
            };
            (sky.cloud_light, sky.cloud_seed) = (cloud_light, cloud_seed);
            sky.drift = drift_each * i as f64;
            (sky.horizon, sky.side) = (horizon, side);
            sky.blur_px += dew * share;
            let brighter = ((share - 0.6).max(0.0) / 0.4).powi(2);
            sky.mag_arcsec2 -= dawn_mag * brighter;
            // A headlamp, a car.
            if self.draws.unit() < lamps {
                sky.moon = Some((
                    self.draws.unit(),
                    self.draws.unit(),
                    self.draws.between(3.0, 60.0),
                ));
            }
            let turn = 7.3e-5 * self.at_s * self.lights.focal_mm / 36.0;
            for star in &mut sky.stars {
                star.x = (star.x + turn).fract();
            }
            self.take(self.lights, Some("light"), Scene::Sky(sky), pause_s);
        }
        if ramp {
            self.dawn(pause_s, horizon);
        }
    }

    /// Exposures that shorten as the sky brightens, in the rhythm of the run.
    fn dawn(&mut self, pause_s: f64, horizon: f64) {
        let cadence_s = self.lights.exposure_s + pause_s;
        let mut setting = self.lights;
        let mut mag = self.mag_arcsec2;
        while setting.exposure_s >= 1.3 {
            setting.exposure_s /= 1.26;
            mag -= 0.25;
            for _ in 0..3 {
                let mut sky = self.sky();
                sky.mag_arcsec2 = mag;
                sky.horizon = horizon;
                sky.side = 0.6;
                self.take(
                    setting,
                    Some("light"),
                    Scene::Sky(sky),
                    cadence_s - setting.exposure_s,
                );
            }
        }
    }

    fn darks(&mut self) {
        self.pause(5.0, 240.0);
        let mut setting = self.lights;
        if self.chance(0.15) {
            setting.exposure_s *= 2.0;
        }
        for _ in 0..10 + pick(&mut self.draws, 40) {
            self.take(setting, Some("dark"), Scene::Cap, 1.5);
        }
        self.pause(5.0, 240.0);
    }

    fn bias(&mut self) {
        self.pause(5.0, 120.0);
        let setting = Setting {
            exposure_s: [1.0 / 8000.0, 1.0 / 4000.0, 1.0 / 8000.0][pick(&mut self.draws, 3)],
            ..self.lights
        };
        for _ in 0..15 + pick(&mut self.draws, 35) {
            self.take(setting, Some("bias"), Scene::Cap, 0.6);
        }
        self.pause(5.0, 120.0);
    }

    fn panel_flats(&mut self) {
        self.pause(20.0, 600.0);
        let exposure_s = if self.chance(0.35) {
            [1.0, 1.6, 2.0, 3.2, 4.0][pick(&mut self.draws, 5)]
        } else {
            10_f64.powf(self.draws.between(-3.0, -0.1))
        };
        let iso = if self.chance(0.5) {
            self.lights.iso
        } else {
            [100.0, 200.0, 400.0, 800.0][pick(&mut self.draws, 4)]
        };
        let mut setting = Setting {
            exposure_s,
            iso,
            ..self.lights
        };
        // Nothing of the settings changed since the lights.
        if self.lights.exposure_s <= 5.0 && self.chance(0.3) {
            setting = self.lights;
        }
        let (share, tilt, turn) = (
            self.draws.between(0.08, 0.6),
            self.draws.between(0.0, 0.25),
            self.draws.between(0.0, 6.3),
        );
        let flicker = self.draws.between(0.0, 0.05);
        for _ in 0..12 + pick(&mut self.draws, 30) {
            let scene = Scene::Panel {
                share: share * (1.0 + flicker * self.draws.grain()),
                slope: (tilt * turn.cos(), tilt * turn.sin()),
            };
            self.take(setting, Some("flat"), scene, 1.0);
        }
        self.pause(20.0, 300.0);
    }

    /// The zenith at dusk or dawn: even, changing, exposures that follow it.
    fn twilight_flats(&mut self) {
        let mut setting = Setting {
            exposure_s: 10_f64.powf(self.draws.between(-2.5, -0.8)),
            iso: [100.0, 400.0, self.lights.iso][pick(&mut self.draws, 3)],
            ..self.lights
        };
        let mut share = self.draws.between(0.25, 0.5);
        let each = self.draws.between(0.95, 1.05);
        let (tilt, turn) = (self.draws.between(0.02, 0.25), self.draws.between(0.0, 6.3));
        for _ in 0..10 + pick(&mut self.draws, 20) {
            share *= each;
            if share < 0.15 {
                (share, setting.exposure_s) = (share * 2.0, setting.exposure_s * 2.0);
            } else if share > 0.6 {
                (share, setting.exposure_s) = (share / 2.0, setting.exposure_s / 2.0);
            }
            let scene = Scene::Panel {
                share,
                slope: (tilt * turn.cos(), tilt * turn.sin()),
            };
            self.take(setting, Some("flat"), scene, 0.0);
            self.pause(2.0, 8.0);
        }
    }
}

/// Share of full scale that a plain sky reaches in the middle.
pub fn sky_share(camera: &Camera, setting: &Setting, mag_arcsec2: f64) -> f64 {
    let sky = Sky {
        mag_arcsec2,
        horizon: 0.0,
        side: 0.0,
        moon: None,
        stars: Vec::new(),
        cloud: 0.0,
        cloud_light: 1.0,
        cloud_seed: 0,
        drift: 0.0,
        land: None,
        land_seed: 0,
        blur_px: 1.0,
    };
    let light = Scene::Sky(sky).light(camera, *setting, 1, 1, &mut Draws::new(0));
    camera.share(light[0], setting.iso)
}

/// Stars that can show in a thumbnail against this sky.
fn star_field(
    draws: &mut Draws,
    camera: &Camera,
    focal_mm: f64,
    mag_arcsec2: f64,
) -> Vec<super::scene::Star> {
    let pixel = 36.0 / focal_mm / camera.thumb.width as f64 * 206_265.0;
    let faintest = mag_arcsec2 - 2.5 * (pixel * pixel).log10() + 2.0;
    let side = |mm: f64| 2.0 * (mm / 2.0 / focal_mm).atan();
    stars(draws, side(36.0) * side(24.0) / 12.57, faintest.min(9.5))
}
