//! Runs of small pictures of a sky: even noise, stars that move on, a satellite, and what is asked for.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // levels of a picture

use crate::frames::LIGHT;
use crate::frames::Taken;
use crate::frames::raw;
use crate::frames::reading;
use crate::world::World;

pub const SIZE: (usize, usize) = (660, 440);

/// What a picture shows beside noise and a satellite.
#[derive(Clone, Copy, Default)]
#[allow(clippy::struct_excessive_bools)] // each is seen or not, in any combination
pub struct Shown {
    /// A meteor, by its ends.
    pub line: Option<[f64; 4]>,
    /// Eight stars, fewer than a pointing is looked for with; or a sky full.
    pub many_stars: bool,
    /// Stars of the left two thirds are hidden.
    pub cloudy: bool,
    /// Stars are drawn out.
    pub shaken: bool,
    /// A lamp shines on the ground.
    pub lit: bool,
}

struct Canvas(Vec<f64>);

impl Canvas {
    fn spot(&mut self, x: f64, y: f64, peak: f64) {
        for row in (y as usize).saturating_sub(4)..(y as usize + 5).min(SIZE.1) {
            for column in (x as usize).saturating_sub(4)..(x as usize + 5).min(SIZE.0) {
                let apart = (column as f64 - x).powi(2) + (row as f64 - y).powi(2);
                self.0[row * SIZE.0 + column] += peak * (-apart / 1.1).exp();
            }
        }
    }

    fn line(&mut self, [x1, y1, x2, y2]: [f64; 4], peak: f64, taper: bool) {
        let steps = (x2 - x1).hypot(y2 - y1) as u32 * 2;
        for step in 0..=steps {
            let share = f64::from(step) / f64::from(steps);
            let light = if taper {
                1.0 - (2.0 * share - 1.0).powi(2)
            } else {
                1.0
            };
            self.spot(
                x1 + share * (x2 - x1),
                y1 + share * (y2 - y1),
                peak * light / 2.0,
            );
        }
    }
}

/// The places of stars: eight, or two in each of a hundred squares.
fn stars(many: bool) -> Vec<(f64, f64)> {
    let few = (0..8).map(|k| {
        let y = if k < 4 {
            70.0 + 16.0 * f64::from(k)
        } else {
            300.0
        };
        (150.0 + 40.0 * f64::from(k % 4), y)
    });
    let full = (0..200_u32).map(|k| {
        let (pair, of) = (k / 2, f64::from(k % 2));
        let scatter = f64::from(k * 37 % 11) - 5.0;
        (
            45.0 + 36.7 * f64::from(pair % 16) + 13.0 * of,
            25.0 + 36.7 * f64::from(pair / 16) + scatter,
        )
    });
    if many { full.collect() } else { few.collect() }
}

/// A picture, a JPEG.
pub fn picture(number: u32, shown: Shown) -> Vec<u8> {
    let mut state = 17_u32.wrapping_mul(number + 1);
    let mut canvas = Canvas(
        (0..SIZE.0 * SIZE.1)
            .map(|_| {
                let mut sum = 0.0;
                for _ in 0..4 {
                    state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    sum += f64::from(state >> 24) / 255.0 - 0.5;
                }
                30.0 + 3.0 * sum
            })
            .collect(),
    );
    let moved = 0.4 * f64::from(number);
    for (x, y) in stars(shown.many_stars) {
        if shown.cloudy && x < 400.0 {
            continue;
        }
        if shown.shaken {
            canvas.line([x + moved, y, x + moved + 5.0, y + 3.0], 60.0, false);
        } else {
            canvas.spot(x + moved, y, 120.0);
        }
    }
    let begin = 60.0 + 48.0 * f64::from(number);
    let height = |x: f64| 260.0 + 0.1 * (x - 60.0);
    let end = begin + 42.0;
    if end < SIZE.0 as f64 {
        canvas.line([begin, height(begin), end, height(end)], 22.0, false);
    }
    if let Some(line) = shown.line {
        canvas.line(line, 60.0, true);
    }
    if shown.lit {
        for row in 405..440 {
            canvas.0[row * SIZE.0 + 200..row * SIZE.0 + 300]
                .iter_mut()
                .for_each(|level| *level += 60.0);
        }
    }
    let rgb: Vec<u8> = canvas
        .0
        .iter()
        .flat_map(|level| [level.clamp(0.0, 255.0) as u8; 3])
        .collect();
    let mut jpeg = Vec::new();
    jpeg_encoder::Encoder::new(&mut jpeg, 95)
        .encode(
            &rgb,
            SIZE.0 as u16,
            SIZE.1 as u16,
            jpeg_encoder::ColorType::Rgb,
        )
        .unwrap();
    jpeg
}

/// The picture with a header as a camera writes it.
pub fn taken(jpeg: &[u8], seconds: u32, with: Taken) -> Vec<u8> {
    let header = raw(&reading("2023:12:14", seconds), with);
    let mut file = vec![0xFF, 0xD8, 0xFF, 0xE1];
    file.extend(u16::try_from(header.len() + 8).unwrap().to_be_bytes());
    file.extend(b"Exif\0\0");
    file.extend(header);
    file.extend(&jpeg[2..]);
    file
}

/// Writes a run of so many frames into a card.
pub fn write_run(world: &World, frames: u32, shown: impl Fn(u32) -> Shown) {
    for number in 0..frames {
        let file = taken(&picture(number, shown(number)), 3_600 + 17 * number, LIGHT);
        world.write(&format!("card/NITE{number:04}.JPG"), &file);
    }
}
