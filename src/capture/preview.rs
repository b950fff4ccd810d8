//! The picture that stars are looked for in: the largest JPEG that a file embeds, or the file itself, decoded to shades of grey at
//! a working size. Reads its bytes and no others; refuses what would cost too much.

use std::io;
use std::path::Path;

use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use crate::capture::claims::Allowance;
use crate::capture::claims::Claims;
use crate::capture::claims::claims;
use crate::capture::picture::Limits;
use crate::capture::picture::Memory;
use crate::capture::picture::Room;
use crate::capture::picture::decode;
use crate::capture::picture::read_bytes;
use crate::terms::records::Extent;
use crate::terms::star_image::Grey;

/// The side in pixels that is enough for stars; a picture twice as large is decoded at a half, a quarter or an eighth.
pub const WORKING_SIDE: u16 = 1_000;
/// The longest JPEG that is read. Pictures of full size take 5 to 30 MB.
const LONGEST_JPEG: u64 = 48 * 1024 * 1024;
/// A picture narrower than this shows too few pixels of a star.
const NARROWEST_PX: usize = 600;

/// The most memory that all previews worked on at the same time may take, in bytes; the next one waits.
static TOGETHER: Memory = Memory::new(80 << 20);
/// What a pixel of a decoded preview takes while stars are looked for in it, in bytes.
const A_PIXEL: u64 = 3;

impl Allowance {
    /// A picture in which stars are looked for: 120 megapixels in one scan, or 30 in ten, are within it at a working size.
    pub const PREVIEW: Self = Self {
        memory_bytes: 120 << 20,
        block_visits: 8_000_000,
        time_ms: 5_000,
    };
}

/// Why a file shows no picture to look for stars in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoPreview {
    /// The file is not there.
    Missing,
    /// Its largest JPEG is too small to show stars.
    TooSmall,
    /// It cannot be read or decoded: why.
    Unreadable(String),
}

/// Reads an embedded JPEG, or a whole file that is one, in shades of grey.
///
/// Gives: the picture, and the memory that is kept for the work on it; drop both together.
pub fn read_preview(
    path: &Path,
    extent: Extent,
    limits: &Limits<'_>,
) -> Result<(Grey, Room), NoPreview> {
    if extent.length == 0 || extent.length > LONGEST_JPEG {
        let why = format!("an embedded JPEG of {} bytes is not read", extent.length);
        return Err(NoPreview::Unreadable(why));
    }
    // Its size is not known before it is read.
    let mut room = TOGETHER.take(extent.length);
    let jpeg = read_bytes(path, extent).map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => NoPreview::Missing,
        io::ErrorKind::UnexpectedEof => {
            NoPreview::Unreadable("the file ends before its embedded JPEG does".to_owned())
        }
        _ => NoPreview::Unreadable(format!("the file could not be read: {error}")),
    })?;
    if let Ok(claims) = claims(&jpeg) {
        drop(room);
        room = TOGETHER.take(extent.length + worked_on(&claims));
    }
    let grey = decode_grey(&jpeg, limits).map_err(NoPreview::Unreadable)?;
    if grey.width().max(grey.height()) < NARROWEST_PX {
        return Err(NoPreview::TooSmall);
    }
    Ok((grey, room))
}

/// Memory that decoding a preview and looking for stars in it take, in bytes.
fn worked_on(claims: &Claims) -> u64 {
    let eighths = eighths_of(claims);
    let pixels = claims.width * claims.height * eighths * eighths / 64;
    let decoded = match (eighths, claims.progressive) {
        // The luminance alone; of pictures that come in several scans all coefficients, two bytes each.
        (8, false) => pixels,
        (8, true) => 4 * pixels,
        _ => claims.memory_bytes(eighths),
    };
    decoded + A_PIXEL * pixels
}

/// The scale at which a preview is decoded.
fn eighths_of(claims: &Claims) -> u64 {
    let enough = u64::from(WORKING_SIDE);
    let is_enough = |by: &&u64| claims.width.max(claims.height) * **by >= 8 * enough;
    [1, 2, 4].iter().find(is_enough).copied().unwrap_or(8)
}

/// Decodes a JPEG to shades of grey at a working size.
///
/// Gives: why not, in words, where the bytes are no JPEG or would cost more than the limits allow.
pub fn decode_grey(jpeg: &[u8], limits: &Limits<'_>) -> Result<Grey, String> {
    let claims = claims(jpeg)?;
    if claims.width < 2 * u64::from(WORKING_SIDE) {
        if let Some(why) = claims.too_much(jpeg.len() as u64, 8, &limits.allowed) {
            return Err(why);
        }
        if let Some(grey) = whole(jpeg) {
            return Ok(grey);
        }
    }
    let picture = decode(jpeg, WORKING_SIDE, limits)?;
    let grey =
        |p: &[u8]| u8::try_from((u16::from(p[0]) + 2 * u16::from(p[1]) + u16::from(p[2])) / 4);
    let luma = picture
        .rgb()
        .chunks_exact(3)
        .map(|p| grey(p).unwrap_or(u8::MAX))
        .collect();
    Grey::new(picture.width(), picture.height(), luma)
        .ok_or_else(|| "a picture without pixels".to_owned())
}

/// The luminance of a JPEG as it is coded, its colours left alone. Gives nothing where it is cut off, or coded otherwise.
fn whole(jpeg: &[u8]) -> Option<Grey> {
    let options = DecoderOptions::default()
        .set_strict_mode(true)
        .jpeg_set_out_colorspace(ColorSpace::Luma);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(jpeg), options);
    decoder.decode_headers().ok()?;
    if !matches!(
        decoder.input_colorspace(),
        Some(ColorSpace::YCbCr | ColorSpace::Luma)
    ) {
        return None;
    }
    let luma = decoder.decode().ok()?;
    let info = decoder.info()?;
    Grey::new(info.width.into(), info.height.into(), luma)
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: Limits<'_> = Limits {
        allowed: Allowance::PREVIEW,
        stop: None,
    };

    fn jpeg(width: u16, height: u16, progressive: bool) -> Vec<u8> {
        let rgb: Vec<u8> = (0..u32::from(width) * u32::from(height))
            .flat_map(|at| {
                let (x, y) = (at % u32::from(width), at / u32::from(width));
                let level = u8::try_from(x * 200 / u32::from(width) + y % 2).unwrap_or(0);
                [level; 3]
            })
            .collect();
        let mut bytes = Vec::new();
        let mut encoder = jpeg_encoder::Encoder::new(&mut bytes, 95);
        encoder.set_progressive(progressive);
        encoder
            .encode(&rgb, width, height, jpeg_encoder::ColorType::Rgb)
            .unwrap();
        bytes
    }

    #[test]
    fn small_and_large_pictures_come_at_a_working_size() {
        for progressive in [false, true] {
            let small = decode_grey(&jpeg(1200, 800, progressive), &LIMITS).unwrap();
            assert_eq!((small.width(), small.height()), (1200, 800));
            assert!(small.row(400)[600].abs_diff(100) < 4);
            let large = decode_grey(&jpeg(4800, 320, progressive), &LIMITS).unwrap();
            assert_eq!((large.width(), large.height()), (1200, 80));
            assert!(large.row(40)[600].abs_diff(100) < 4);
        }
    }

    #[test]
    fn what_is_cut_off_or_claims_too_much_is_refused() {
        let whole = jpeg(1200, 800, false);
        assert!(decode_grey(&whole[..whole.len() / 2], &LIMITS).is_err());
        assert!(decode_grey(b"no picture", &LIMITS).is_err());
        // 65,500 by 65,500 pixels in so few bytes.
        let mut bomb = jpeg(64, 64, false);
        let frame = bomb.windows(2).position(|w| w == [0xFF, 0xC0]).unwrap();
        bomb[frame + 5..frame + 9].copy_from_slice(&[0xFF, 0xDC, 0xFF, 0xDC]);
        assert!(decode_grey(&bomb, &LIMITS).is_err());
    }

    /// Each of these would cost seconds or hundreds of megabytes; what is refused costs a look at its markers.
    #[test]
    fn a_hostile_preview_costs_no_more_than_it_may() {
        // The first scan of many, again and again.
        let plain = jpeg(1200, 800, true);
        let marker = |from: usize| {
            let next = plain[from..].windows(2).position(|w| w == [0xFF, 0xDA]);
            next.map_or(plain.len(), |at| from + at)
        };
        let first = marker(0);
        let scan_end = plain[first + 14..]
            .windows(2)
            .position(|w| w[0] == 0xFF && w[1] != 0)
            .map_or(plain.len(), |at| first + 14 + at);
        let mut scans = plain[..scan_end].to_vec();
        for _ in 0..900 {
            scans.extend_from_slice(&plain[first..scan_end]);
        }
        scans.extend_from_slice(&plain[scan_end..]);
        let why = decode_grey(&scans, &LIMITS).unwrap_err();
        assert!(why.contains("scans"), "{why}");
        // Narrow enough to be decoded whole, and as tall as 65,500 pixels.
        let mut tall = jpeg(1200, 800, false);
        let frame = tall.windows(2).position(|w| w == [0xFF, 0xC0]).unwrap();
        tall[frame + 5..frame + 7].copy_from_slice(&[0xFF, 0xDC]);
        tall.resize(tall.len() + 2_000_000, 0);
        let why = decode_grey(&tall, &LIMITS).unwrap_err();
        assert!(why.contains("memory"), "{why}");
        // What is kept of the memory for all previews together: as much as the work on this one takes.
        let claimed = claims(&plain).unwrap();
        assert_eq!(worked_on(&claimed), 7 * 1200 * 800);
        let large = claims(&jpeg(4800, 320, false)).unwrap();
        assert_eq!(eighths_of(&large), 2);
        assert!(worked_on(&large) < Allowance::PREVIEW.memory_bytes);
    }
}
