//! Runs made of one real picture: moved a little from frame to frame, with fresh noise, and with trails of stated brightness drawn in.
//! Real stars and textures, known trails.

use std::path::Path;

use framefall::terms::star_image::Grey;

use crate::events::Class;
use crate::random::Random;
use crate::render::Truth;

/// Frames of a run; every second one has a trail.
pub const FRAMES: usize = 40;
/// How far the picture moves from frame to frame, in pixels: as a sky over a wide lens.
const STEP: (f32, f32) = (0.4, 0.15);
/// Deviation of the noise that is added, in levels.
pub const NOISE: f32 = 3.0;
/// How bright the trails are at their brightest, in levels above what is there.
pub const LEVELS: [f32; 5] = [4.0, 6.0, 10.0, 20.0, 40.0];
/// How long they are, in pixels.
const LENGTHS: (f32, f32) = (25.0, 120.0);
const QUALITY: u8 = 90;

/// A real picture and what is drawn into its frames.
pub struct RealRun {
    picture: Grey,
    seed: u64,
}

impl RealRun {
    /// Reads a JPEG.
    pub fn of(jpeg: &Path, seed: u64) -> Self {
        let bytes = std::fs::read(jpeg).expect("a picture");
        let limits = framefall::capture::picture::Limits {
            allowed: framefall::capture::claims::Allowance::PREVIEW,
            stop: None,
        };
        let picture = framefall::capture::preview::decode_grey(&bytes, &limits);
        let picture = picture.expect("a JPEG");
        let least = 4.0 * LENGTHS.1;
        assert!(
            picture.width().min(picture.height()) as f32 > least,
            "the picture must be larger than {least} pixels"
        );
        Self { picture, seed }
    }

    pub fn width(&self) -> usize {
        self.picture.width()
    }

    /// A frame, and the trail in it.
    pub fn frame(&self, number: usize) -> (Vec<u8>, Vec<Truth>) {
        let (w, h) = (self.picture.width(), self.picture.height());
        let mut random = Random::new(self.seed.wrapping_mul(91).wrapping_add(number as u64));
        // Halves of a pixel at least: between pixels everything is equally soft.
        let (dx, dy) = (number as f32 * STEP.0 + 0.5, number as f32 * STEP.1 + 0.5);
        let mut levels: Vec<f32> = (0..w * h)
            .map(|at| {
                let (x, y) = ((at % w) as f32 + dx, (at / w) as f32 + dy);
                let (x0, y0) = (x as usize, y as usize);
                let pixel =
                    |x: usize, y: usize| f32::from(self.picture.row(y.min(h - 1))[x.min(w - 1)]);
                let (sx, sy) = (x - x0 as f32, y - y0 as f32);
                (pixel(x0, y0) * (1.0 - sx) + pixel(x0 + 1, y0) * sx) * (1.0 - sy)
                    + (pixel(x0, y0 + 1) * (1.0 - sx) + pixel(x0 + 1, y0 + 1) * sx) * sy
            })
            .collect();
        let mut truths = Vec::new();
        if number % 2 == 1 {
            let level = LEVELS[number / 2 % LEVELS.len()];
            let length = random.between(LENGTHS.0, LENGTHS.1);
            let (s, c) = random.between(0.0, std::f32::consts::TAU).sin_cos();
            let margin = LENGTHS.1;
            let x1 = random.between(margin, w as f32 - margin);
            let y1 = random.between(margin, h as f32 - margin);
            let steps = (length * 2.0) as usize;
            for step in 0..=steps {
                let share = step as f32 / steps as f32;
                let light = level * (1.0 - (2.0 * share - 1.0).powi(2)) / 2.0;
                let (x, y) = (x1 + share * length * c, y1 + share * length * s);
                for row in y as usize - 3..=y as usize + 3 {
                    for column in x as usize - 3..=x as usize + 3 {
                        let apart = (column as f32 - x).powi(2) + (row as f32 - y).powi(2);
                        levels[row * w + column] += light * (-apart / 1.1).exp();
                    }
                }
            }
            let ends = [x1, y1, x1 + length * c, y1 + length * s];
            truths.push(Truth {
                class: Class::Meteor,
                sub: "drawn",
                number,
                ends,
                visible: ends,
                peak_snr: level / NOISE,
                line_snr: 99.0,
                visible_deg: 9.0,
                mag: 0.0,
                in_sky: 1.0,
            });
        }
        let rgb: Vec<u8> = levels
            .iter()
            .flat_map(|level| {
                let level = (level + NOISE * random.normal()).round();
                [level.clamp(0.0, 255.0) as u8; 3]
            })
            .collect();
        let mut jpeg = Vec::new();
        jpeg_encoder::Encoder::new(&mut jpeg, QUALITY)
            .encode(&rgb, w as u16, h as u16, jpeg_encoder::ColorType::Rgb)
            .expect("a picture in memory");
        (jpeg, truths)
    }
}
