//! From one press of the shutter to the bytes of its files: DNG and JPEG, as the two bodies lay them out.

use super::Outcome;
use super::cast::{Body, Oddity};
use super::develop::{BLACK_SHARE, jpeg, mosaic};
use super::exif::{long, main_directory, ratio, short, text, thumbnail_directory};
use super::picture::Picture;
use super::scenario::MAKE;
use super::shots::Shot;
use super::style::Style;
use super::tags as tag;
use super::tiff::{Directory, Value, write};

/// Pixels across the thumbnail.
const THUMBNAIL_WIDTH: usize = 72;

/// The files of one press of the shutter, in the order of [`Shot::extensions`].
pub fn expose(shot: &Shot, style: &Style<'_>) -> Outcome<Vec<Vec<u8>>> {
    let large = Picture::paint(shot, style, style.preview_width)?;
    let thumbnail = jpeg(
        &Picture::paint(shot, style, THUMBNAIL_WIDTH)?,
        shot,
        62,
        None,
    )?;
    shot.extensions()
        .iter()
        .map(|&extension| match extension {
            "DNG" => raw_file(shot, style, &large, thumbnail.clone()),
            _ => jpeg_file(shot, style, &large, thumbnail.clone()),
        })
        .collect()
}

fn jpeg_file(
    shot: &Shot,
    style: &Style<'_>,
    large: &Picture,
    thumbnail: Vec<u8>,
) -> Outcome<Vec<u8>> {
    let main = main_directory(shot, sides(large)?)?;
    let chain = vec![main, thumbnail_directory(thumbnail)?];
    let block = write(shot.run.body.order, chain)?;
    jpeg(large, shot, style.quality.1, Some(&block))
}

/// Body A: preview first, sensor below it. Body B: thumbnail first, sensor and preview below it.
fn raw_file(
    shot: &Shot,
    style: &Style<'_>,
    large: &Picture,
    thumbnail: Vec<u8>,
) -> Outcome<Vec<u8>> {
    let body = &shot.run.body;
    let own;
    let sensor = if style.sensor_width == large.width {
        large
    } else {
        own = Picture::paint(shot, style, style.sensor_width)?;
        &own
    };
    let strip = mosaic(sensor, shot);
    let strip_bytes = strip.len();
    let preview = jpeg(large, shot, style.quality.0, None)?;
    let mut main = main_directory(shot, sides(sensor)?)?;
    set_dng(&mut main, body);
    let mut below = vec![sensor_directory(body, sides(sensor)?, strip)?];
    if body.knows_place {
        set_picture(&mut main, sides(large)?, preview)?;
    } else {
        let small = u16::try_from(THUMBNAIL_WIDTH)?;
        set_picture(&mut main, (small, small * 2 / 3), thumbnail)?;
        let mut second = Directory::default();
        set_picture(&mut second, sides(large)?, preview)?;
        below.push(second);
    }
    main.set(tag::SUB_IFDS, Value::Children(below));
    let mut bytes = write(body.order, vec![main])?;
    if shot.oddity() == Some(Oddity::CutShort) {
        bytes.truncate(bytes.len() - strip_bytes / 2);
    }
    Ok(bytes)
}

/// What makes a TIFF a DNG.
fn set_dng(main: &mut Directory, body: &Body) {
    main.set(tag::DNG_VERSION, Value::Bytes(vec![1, 4, 0, 0]));
    main.set(tag::DNG_BACKWARD, Value::Bytes(vec![1, 1, 0, 0]));
    main.set(tag::UNIQUE_MODEL, text(&format!("{MAKE} {}", body.model)));
    main.set(tag::CAMERA_SERIAL, text(body.serial));
    // Taken for the standard's own primaries: the invented sensor sees as a screen shows (IEC 61966-2-1).
    let from_xyz = [
        32_405, -15_371, -4_985, -9_693, 18_760, 416, 556, -2_040, 10_572,
    ];
    let matrix = from_xyz.iter().map(|&part| (part, 10_000)).collect();
    main.set(tag::COLOUR_MATRIX, Value::SignedRatios(matrix));
    main.set(tag::ILLUMINANT, short(21));
    let neutral = vec![(55, 100), (1, 1), (68, 100)];
    main.set(tag::AS_SHOT_NEUTRAL, Value::Ratios(neutral));
}

/// An embedded JPEG in one strip.
fn set_picture(
    directory: &mut Directory,
    (width, height): (u16, u16),
    jpeg: Vec<u8>,
) -> Outcome<()> {
    directory.set(tag::NEW_SUBFILE_TYPE, long(1)?);
    directory.set(tag::IMAGE_WIDTH, long(width.into())?);
    directory.set(tag::IMAGE_LENGTH, long(height.into())?);
    directory.set(tag::BITS_PER_SAMPLE, Value::Shorts(vec![8, 8, 8]));
    directory.set(tag::COMPRESSION, short(7));
    directory.set(tag::PHOTOMETRIC, short(6));
    directory.set(tag::SAMPLES_PER_PIXEL, short(3));
    directory.set(tag::ROWS_PER_STRIP, long(height.into())?);
    directory.set(tag::STRIP_BYTE_COUNTS, long(jpeg.len())?);
    directory.set(tag::STRIP_OFFSETS, Value::Picture(jpeg));
    directory.set(tag::PLANAR, short(1));
    directory.set(tag::YCBCR_SUBSAMPLING, Value::Shorts(vec![2, 2]));
    directory.set(tag::YCBCR_POSITIONING, short(1));
    Ok(())
}

/// The sensor's own directory: one strip, red, green / green, blue.
fn sensor_directory(
    body: &Body,
    (width, height): (u16, u16),
    strip: Vec<u8>,
) -> Outcome<Directory> {
    let greatest = u16::MAX >> (16 - body.raw_bits);
    let mut sensor = Directory::default();
    sensor.set(tag::NEW_SUBFILE_TYPE, long(0)?);
    sensor.set(tag::IMAGE_WIDTH, long(width.into())?);
    sensor.set(tag::IMAGE_LENGTH, long(height.into())?);
    sensor.set(tag::BITS_PER_SAMPLE, short(body.raw_bits));
    sensor.set(tag::COMPRESSION, short(1));
    sensor.set(tag::PHOTOMETRIC, short(32_803));
    sensor.set(tag::SAMPLES_PER_PIXEL, short(1));
    sensor.set(tag::ROWS_PER_STRIP, long(height.into())?);
    sensor.set(tag::STRIP_BYTE_COUNTS, long(strip.len())?);
    sensor.set(tag::STRIP_OFFSETS, Value::Sensor(strip));
    sensor.set(tag::PLANAR, short(1));
    sensor.set(tag::CFA_DIM, Value::Shorts(vec![2, 2]));
    sensor.set(tag::CFA_PATTERN, Value::Bytes(vec![0, 1, 1, 2]));
    sensor.set(tag::CFA_PLANES, Value::Bytes(vec![0, 1, 2]));
    sensor.set(tag::CFA_LAYOUT, short(1));
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    // a sixteenth of the greatest
    let black = (f64::from(greatest) * BLACK_SHARE).round() as u32;
    sensor.set(tag::BLACK_LEVEL, ratio(black, 1));
    sensor.set(tag::WHITE_LEVEL, short(greatest));
    Ok(sensor)
}

fn sides(picture: &Picture) -> Outcome<(u16, u16)> {
    let side = |pixels: usize| u16::try_from(pixels);
    Ok((side(picture.width)?, side(picture.height)?))
}
