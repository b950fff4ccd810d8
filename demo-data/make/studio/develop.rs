//! From light on the sensor to bytes: the camera's own JPEG, and the mosaic of its raw file.

use jpeg_encoder::{ColorType, Encoder};

use super::Outcome;
use super::cast::{Body, Kind};
use super::night::Light;
use super::picture::Picture;
use super::random::Draws;
use super::shots::Shot;

/// Sensor reading of no light, as a share of the greatest.
pub const BLACK_SHARE: f64 = 1.0 / 16.0;
/// How a body sees red, green and blue before white balance.
const SENSOR_HUE: [f64; 3] = [0.55, 1.0, 0.68];

/// Develops a picture as the camera does, and packs it as JPEG.
pub fn jpeg(picture: &Picture, shot: &Shot, quality: u8, exif: Option<&[u8]>) -> Outcome<Vec<u8>> {
    let mut draws = Draws::new(shot.seed() ^ picture.width as u64);
    let mut pixels = Vec::with_capacity(picture.light.len() * 3);
    let lit = with_hot_pixels(picture, shot);
    let rough = grain(shot) * (picture.width as f64 / 240.0).min(1.0);
    for light in &lit {
        let common = draws.grain();
        for (k, &part) in light.iter().enumerate() {
            let noise = rough * (0.0010 + 0.0072 * part.max(0.0).sqrt());
            let own = if k == 1 {
                common
            } else {
                0.7 * common + 0.5 * draws.grain()
            };
            pixels.push(tone(part + noise * own));
        }
    }
    let size = |side: usize| u16::try_from(side);
    let mut bytes = Vec::new();
    let mut encoder = Encoder::new(&mut bytes, quality);
    encoder.set_optimized_huffman_tables(true);
    if let Some(block) = exif {
        encoder.add_exif_metadata(block)?;
    }
    let (width, height) = (size(picture.width)?, size(picture.height)?);
    encoder.encode(&pixels, width, height, ColorType::Rgb)?;
    Ok(bytes)
}

/// Reads the sensor out: red, green / green, blue, stored as the body stores it.
pub fn mosaic(picture: &Picture, shot: &Shot) -> Vec<u8> {
    let body = &shot.run.body;
    let greatest = f64::from(u16::MAX >> (16 - body.raw_bits));
    let mut draws = Draws::new(shot.seed() ^ 0x5e25_0000);
    let samples: Vec<u16> = with_hot_pixels(picture, shot)
        .iter()
        .enumerate()
        .map(|(place, light)| {
            let (x, y) = (place % picture.width, place / picture.width);
            let k = x % 2 + y % 2;
            let seen = light[k] * SENSOR_HUE[k];
            let noise = grain(shot) * (0.002 + 0.01 * seen.max(0.0).sqrt()) * draws.grain();
            let share = (BLACK_SHARE + 0.5 * (seen + noise)).clamp(0.0, 1.0);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped just above
            let sample = (share * greatest).round() as u16;
            sample
        })
        .collect();
    store(&samples, body)
}

/// The picture's light and the sensor's own heat.
fn with_hot_pixels(picture: &Picture, shot: &Shot) -> Vec<Light> {
    let mut lit = picture.light.clone();
    for (place, colour, heat) in hot_pixels(shot, lit.len()) {
        lit[place][colour] += heat;
    }
    lit
}

fn store(samples: &[u16], body: &Body) -> Vec<u8> {
    match body.raw_bits {
        // Two samples in three bytes, most significant bit first whatever the byte order (TIFF 6.0, FillOrder 1).
        12 => samples
            .chunks_exact(2)
            .flat_map(|pair| {
                let both = u32::from(pair[0]) << 12 | u32::from(pair[1]);
                let [_, a, b, c] = both.to_be_bytes();
                [a, b, c]
            })
            .collect(),
        _ => samples.iter().flat_map(|one| one.to_le_bytes()).collect(),
    }
}

/// Noise of this frame, by body and sensitivity.
fn grain(shot: &Shot) -> f64 {
    shot.run.body.grain * (f64::from(shot.setting.iso) / 3200.0).powf(0.4)
}

/// Hot pixels: the same few pixels of a body glow in every frame, more in longer ones. Darks remove them.
///
/// Gives: place, colour (0 red, 1 green, 2 blue) and light of each.
fn hot_pixels(shot: &Shot, pixels: usize) -> Vec<(usize, usize, f64)> {
    let mut draws = Draws::new(shot.run.body.raw_bits.into());
    let seconds = shot.exposure_ms() as f64 / 1000.0;
    // The camera hides most of them in a picture of the sky.
    let shown = if shot.run.kind == Kind::Dark {
        1.0
    } else {
        0.4
    };
    let heat = 0.012 * seconds * f64::from(shot.setting.iso) / 3200.0 * shown;
    let mut some = |below: usize| {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // from 0 to below
        let whole = (draws.unit() * below as f64) as usize;
        whole
    };
    (0..pixels / 640)
        .map(|_| {
            let (place, colour) = (some(pixels), some(3));
            (place, colour, heat * (some(100) as f64 / 100.0).powi(2))
        })
        .collect()
}

/// The camera's picture style: a gentle shoulder, then the usual power of the screen.
fn tone(light: f64) -> u8 {
    let lifted = (light - 0.003).max(0.0) * 2.3;
    let shoulder = lifted / (1.0 + lifted) * 1.25;
    let screen = shoulder.min(1.0).powf(1.0 / 2.15);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to 255
    let byte = (255.0 * screen).round() as u8;
    byte
}
