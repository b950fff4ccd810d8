//! Kinds of nights: what is in the sky and on the ground, for which camera.

use crate::random::Random;

/// The camera, the sky, and how often what happens.
#[derive(Clone, Debug)]
pub struct Night {
    pub kind: &'static str,
    pub seed: u64,
    pub width: usize,
    pub height: usize,
    pub focal_mm: f32,
    pub f_number: f32,
    pub iso: f32,
    pub exposure_s: f32,
    pub pause_s: f32,
    pub frames: usize,
    /// Magnitudes of a square second of arc of sky.
    pub sky_mag: f32,
    /// Gain of the sky's light over the night, as a factor at the end.
    pub dawn: f32,
    /// Haze towards the horizon and lights of towns, as a share of the sky.
    pub glow: f32,
    /// How thick clouds are at begin and end, 0 to 1, how broken, and how bright.
    pub cloud: (f32, f32),
    pub broken: bool,
    /// Whether thin cloud lies in streaks.
    pub streaks: bool,
    pub cloud_light: f32,
    /// Pixels a second.
    pub wind: f32,
    /// Each a frame, on average.
    pub meteors: f32,
    pub satellites: f32,
    pub aircraft: f32,
    pub fireflies: f32,
    pub headlamps: f32,
    pub cars: f32,
    pub tree: bool,
    /// Fog on the lens at the end, 0 to 1.
    pub dew: f32,
    pub shaken: Vec<usize>,
    pub reframed: Option<usize>,
    pub fireball: Option<usize>,
    /// Half-maximum width of stars in pixels, wings around them, and spikes.
    pub star_width: f32,
    pub wings: f32,
    pub quality: u8,
    pub sharpening: f32,
    /// Cosmic rays and flickering pixels a frame.
    pub sparks: f32,
    /// Where the ground begins, as a share of the height.
    pub ground: f32,
}

pub const KINDS: [&str; 14] = [
    "clear",
    "satellites",
    "aircraft",
    "cirrus",
    "broken cloud",
    "moon and cloud",
    "twilight",
    "tree and fireflies",
    "lights on the ground",
    "dew",
    "shaken and reframed",
    "fireball",
    "long exposure",
    "bloated stars",
];

impl Night {
    /// A night of a kind; the seed decides on camera and sky as well.
    pub fn new(kind: usize, seed: u64) -> Self {
        let kind = kind % KINDS.len();
        let mut random = Random::new(seed.wrapping_mul(1_000_003).wrapping_add(kind as u64));
        let cameras = [
            (14.0, 2.8),
            (16.0, 2.8),
            (20.0, 1.8),
            (24.0, 1.8),
            (24.0, 2.8),
            (35.0, 1.8),
        ];
        let (focal_mm, f_number) = cameras[(random.bits() % 6) as usize];
        let exposure_s = [10.0, 12.0, 15.0, 20.0][(random.bits() % 4) as usize];
        let large = random.chance(0.15);
        let mut night = Self {
            kind: KINDS[kind],
            seed: random.bits(),
            width: if large { 1_620 } else { 1_080 },
            height: if large { 1_080 } else { 720 },
            focal_mm,
            f_number,
            iso: [1_600.0, 3_200.0, 6_400.0][(random.bits() % 3) as usize],
            exposure_s,
            pause_s: random.between(0.3, 3.0),
            frames: 40,
            sky_mag: random.between(20.3, 21.7),
            dawn: 1.0,
            glow: random.between(0.0, 0.6),
            cloud: (0.0, 0.0),
            broken: false,
            streaks: random.chance(0.5),
            cloud_light: 0.5,
            wind: random.between(0.4, 2.0),
            meteors: 0.42,
            satellites: random.between(0.1, 0.5),
            aircraft: random.between(0.0, 0.05),
            fireflies: 0.0,
            headlamps: 0.0,
            cars: 0.0,
            tree: random.chance(0.2),
            dew: 0.0,
            shaken: Vec::new(),
            reframed: None,
            fireball: None,
            star_width: random.between(1.1, 1.7),
            wings: 0.0,
            quality: random.between(82.0, 93.0) as u8,
            sharpening: random.between(0.0, 0.6),
            sparks: random.between(0.5, 4.0),
            ground: random.between(0.75, 0.95),
        };
        match night.kind {
            "satellites" => night.satellites = random.between(0.6, 1.2),
            "aircraft" => (night.aircraft, night.satellites) = (0.15, 0.3),
            "cirrus" => {
                night.cloud = (random.between(0.0, 0.3), random.between(0.3, 0.8));
                night.cloud_light = random.between(0.3, 1.2);
            }
            "broken cloud" => {
                night.cloud = (0.5, random.between(0.5, 0.9));
                night.broken = true;
            }
            "moon and cloud" => {
                night.cloud = (0.4, 0.8);
                night.broken = random.chance(0.5);
                night.sky_mag = random.between(18.5, 19.7);
                night.cloud_light = 1.2;
            }
            "twilight" => (night.dawn, night.sky_mag) = (random.between(3.0, 8.0), 20.6),
            "tree and fireflies" => {
                (night.tree, night.fireflies) = (true, random.between(0.2, 0.7));
            }
            "lights on the ground" => {
                (night.headlamps, night.cars) = (0.2, 0.2);
                night.ground = random.between(0.6, 0.8);
            }
            "dew" => night.dew = random.between(0.4, 0.9),
            "shaken and reframed" => {
                night.shaken = vec![
                    random.between(3.0, 10.0) as usize,
                    random.between(30.0, 40.0) as usize,
                ];
                night.reframed = Some(random.between(15.0, 28.0) as usize);
            }
            "fireball" => night.fireball = Some(random.between(5.0, 38.0) as usize),
            "long exposure" => {
                (night.exposure_s, night.iso) = (random.between(25.0, 40.0), 1_600.0);
            }
            "bloated stars" => {
                night.star_width = random.between(1.8, 3.0);
                night.wings = random.between(0.1, 0.25);
            }
            _ => {}
        }
        night
    }

    /// Pixels of one radian in the middle of the picture.
    pub fn focal_px(&self) -> f32 {
        self.focal_mm * self.width as f32 / 36.0
    }
}
