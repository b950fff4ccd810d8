//! How long previews take to decode, beside the kept decoders alone: `cargo bench --bench previews`, with `-- 40` for so many rounds.
//!
//! A drawn night is packed as a JPEG of a preview's size and of a camera's full size, in one scan and in several.

// A benchmark prints its figures, and stops where it cannot measure.
#![allow(clippy::print_stdout, clippy::expect_used)]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // pixels of small pictures

#[allow(dead_code)] // shared with the benchmark of pointing
#[path = "pointing/sky_picture.rs"]
mod sky_picture;

use std::time::Instant;

use framefall::capture::claims::Allowance;
use framefall::capture::picture::Limits;
use framefall::capture::preview::WORKING_SIDE;
use framefall::capture::preview::decode_grey;
use jpeg_encoder::ColorType;
use jpeg_encoder::Encoder;
use sky_picture::Random;
use sky_picture::Scene;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

const LIMITS: Limits<'_> = Limits {
    allowed: Allowance::PREVIEW,
    stop: None,
};

fn main() {
    let rounds: usize = std::env::args()
        .find_map(|word| word.parse().ok())
        .unwrap_or(15);
    let scene = Scene::numbered(1);
    let luma = scene.draw().luma;
    println!("milliseconds, the middle one of {rounds}");
    for (by, progressive) in [(1, false), (1, true), (4, false), (2, true)] {
        let (jpeg, size) = packed(&luma, scene.size, by, progressive);
        println!(
            "{} by {}, {}, {:.1} MB",
            size.0,
            size.1,
            if progressive {
                "several scans"
            } else {
                "one scan"
            },
            jpeg.len() as f64 / 1e6
        );
        let time = |what: &str, decode: &dyn Fn(&[u8]) -> usize| {
            let mut times: Vec<f64> = (0..rounds)
                .map(|_| {
                    let begun = Instant::now();
                    assert!(decode(&jpeg) > 0, "{what}");
                    begun.elapsed().as_secs_f64() * 1e3
                })
                .collect();
            times.sort_by(f64::total_cmp);
            println!("  {what:<40} {:7.1}", times[times.len() / 2]);
        };
        time("examine, to grey at a working size", &|jpeg| {
            decode_grey(jpeg, &LIMITS).expect("a JPEG").width()
        });
        time("zune-jpeg, luminance", &|jpeg| zune(jpeg, ColorSpace::Luma));
        time("zune-jpeg, colours", &|jpeg| zune(jpeg, ColorSpace::RGB));
        time("jpeg-decoder, at a working size", &|jpeg| {
            other(jpeg, Some(WORKING_SIDE))
        });
        time("jpeg-decoder, all pixels", &|jpeg| other(jpeg, None));
    }
}

fn zune(jpeg: &[u8], to: ColorSpace) -> usize {
    let options = DecoderOptions::default().jpeg_set_out_colorspace(to);
    let mut decoder = zune_jpeg::JpegDecoder::new_with_options(ZCursor::new(jpeg), options);
    decoder.decode().expect("a JPEG").len()
}

fn other(jpeg: &[u8], side: Option<u16>) -> usize {
    let mut decoder = jpeg_decoder::Decoder::new(jpeg);
    if let Some(side) = side {
        decoder.scale(side, side).expect("a JPEG");
    }
    decoder.decode().expect("a JPEG").len()
}

/// The picture, each pixel as so many each way, with a little noise in each.
fn packed(
    luma: &[u8],
    (width, height): (usize, usize),
    by: usize,
    progressive: bool,
) -> (Vec<u8>, (usize, usize)) {
    let mut random = Random(by as u64);
    let size = (width * by, height * by);
    let mut rgb = Vec::with_capacity(size.0 * size.1 * 3);
    for y in 0..size.1 {
        for x in 0..size.0 {
            let level = f64::from(luma[y / by * width + x / by]) + random.between(-2.0, 2.0);
            rgb.extend([level.clamp(0.0, 255.0) as u8; 3]);
        }
    }
    let mut jpeg = Vec::new();
    let mut encoder = Encoder::new(&mut jpeg, 90);
    encoder.set_progressive(progressive);
    encoder
        .encode(&rgb, size.0 as u16, size.1 as u16, ColorType::Rgb)
        .expect("a JPEG");
    (jpeg, size)
}
