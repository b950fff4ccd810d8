//! What a demo camera writes about one press of the shutter: the main, EXIF and GPS directories.
//!
//! The clock's offset, fraction and position only from the body that knows them.

use super::Outcome;
use super::cast::Oddity;
use super::heavens::to_length_one;
use super::random::Draws;
use super::scenario::MAKE;
use super::shots::{Shot, hundredths, stamp};
use super::tags as tag;
use super::tiff::{Directory, Value};

/// What the camera writes into a clock tag before its clock is set.
const BLANK_CLOCK: &str = "0000:00:00 00:00:00";
/// Metres in a degree of latitude, for the wavering of a receiver.
const DEGREE_M: f64 = 111_195.0;

/// The main directory: body, file time, and the EXIF and GPS directories below it.
pub fn main_directory(shot: &Shot, pixels: (u16, u16)) -> Outcome<Directory> {
    let body = &shot.run.body;
    let mut main = Directory::default();
    main.set(tag::MAKE, text(MAKE));
    main.set(tag::MODEL, text(body.model));
    main.set(tag::ORIENTATION, short(1));
    main.set(tag::X_RESOLUTION, ratio(300, 1));
    main.set(tag::Y_RESOLUTION, ratio(300, 1));
    main.set(tag::RESOLUTION_UNIT, short(2));
    main.set(tag::SOFTWARE, text(body.software));
    main.set(tag::DATE_TIME, text(&clock(shot, stored_ms(shot))?));
    main.set(
        tag::EXIF_IFD,
        Value::Children(vec![exif_directory(shot, pixels)?]),
    );
    if body.knows_place {
        main.set(tag::GPS_IFD, Value::Children(vec![gps_directory(shot)?]));
    }
    Ok(main)
}

/// A directory for an embedded JPEG of the old kind: the thumbnail after the main directory.
pub fn thumbnail_directory(jpeg: Vec<u8>) -> Outcome<Directory> {
    let mut small = Directory::default();
    small.set(tag::COMPRESSION, short(6));
    small.set(tag::X_RESOLUTION, ratio(72, 1));
    small.set(tag::Y_RESOLUTION, ratio(72, 1));
    small.set(tag::RESOLUTION_UNIT, short(2));
    small.set(tag::JPEG_LENGTH, long(jpeg.len())?);
    small.set(tag::JPEG_OFFSET, Value::Picture(jpeg));
    Ok(small)
}

/// An ASCII value.
pub fn text(words: &str) -> Value {
    Value::Text(words.to_owned())
}

/// One SHORT.
pub fn short(number: u16) -> Value {
    Value::Shorts(vec![number])
}

/// One LONG.
pub fn long(number: usize) -> Outcome<Value> {
    let number = u32::try_from(number)?;
    Ok(Value::Longs(vec![number]))
}

/// One RATIONAL.
pub fn ratio(numerator: u32, denominator: u32) -> Value {
    Value::Ratios(vec![(numerator, denominator)])
}

fn exif_directory(shot: &Shot, (width, height): (u16, u16)) -> Outcome<Directory> {
    let (body, lens, setting) = (&shot.run.body, &shot.run.lens, shot.setting);
    let mut exif = Directory::default();
    let focal = u32::from(lens.focal_mm);
    exif.set(tag::EXPOSURE_TIME, Value::Ratios(vec![setting.exposure_s]));
    exif.set(tag::F_NUMBER, Value::Ratios(vec![setting.f_number]));
    exif.set(tag::EXPOSURE_PROGRAM, short(1));
    exif.set(tag::SENSITIVITY, short(setting.iso));
    exif.set(tag::SENSITIVITY_TYPE, short(2));
    exif.set(tag::EXPOSURE_INDEX, long(setting.iso.into())?);
    exif.set(tag::EXIF_VERSION, Value::Opaque(b"0232".to_vec()));
    set_times(&mut exif, shot)?;
    exif.set(tag::COMPONENTS, Value::Opaque(vec![1, 2, 3, 0]));
    exif.set(tag::EXPOSURE_BIAS, Value::SignedRatios(vec![(0, 1)]));
    exif.set(tag::MAX_APERTURE, ratio(steps_of(lens.widest), 100));
    exif.set(tag::METERING, short(5));
    exif.set(tag::FLASH, short(0x10));
    exif.set(tag::FOCAL_LENGTH, ratio(focal * 10, 10));
    exif.set(tag::FLASHPIX, Value::Opaque(b"0100".to_vec()));
    exif.set(tag::COLOUR_SPACE, short(1));
    exif.set(tag::PIXEL_X, short(width));
    exif.set(tag::PIXEL_Y, short(height));
    exif.set(tag::EXPOSURE_MODE, short(1));
    exif.set(tag::WHITE_BALANCE, short(1));
    exif.set(tag::FOCAL_35, short(lens.focal_mm));
    exif.set(tag::SCENE, short(3));
    exif.set(tag::BODY_SERIAL, text(body.serial));
    let range = vec![(focal, 1), (focal, 1), lens.widest, lens.widest];
    exif.set(tag::LENS_SPECIFICATION, Value::Ratios(range));
    exif.set(tag::LENS_MAKE, text(MAKE));
    exif.set(tag::LENS_MODEL, text(lens.name));
    Ok(exif)
}

fn set_times(exif: &mut Directory, shot: &Shot) -> Outcome<()> {
    let opened = clock(shot, shot.start_ms)?;
    exif.set(tag::DATE_TIME_ORIGINAL, text(&opened));
    exif.set(tag::DATE_TIME_DIGITIZED, text(&opened));
    if shot.run.body.knows_place {
        let offset = offset_words(shot.run.site.offset_s);
        exif.set(tag::OFFSET_TIME, text(&offset));
        exif.set(tag::OFFSET_TIME_ORIGINAL, text(&offset));
        exif.set(tag::OFFSET_TIME_DIGITIZED, text(&offset));
        let fraction = hundredths(shot.start_ms);
        exif.set(tag::SUB_SEC, text(&hundredths(stored_ms(shot))));
        exif.set(tag::SUB_SEC_ORIGINAL, text(&fraction));
        exif.set(tag::SUB_SEC_DIGITIZED, text(&fraction));
    }
    Ok(())
}

/// Position and time of the receiver's latest fix: each second, within a few metres.
fn gps_directory(shot: &Shot) -> Outcome<Directory> {
    let site = &shot.run.site;
    let mut draws = Draws::new(shot.seed() ^ 0x6b5);
    let [north, east, _] = to_length_one([draws.grain(), draws.grain(), 0.0]);
    let (reach_m, high_m) = (draws.between(0.2, 3.5), draws.between(-4.0, 4.0));
    let lat = site.lat_deg + north * reach_m / DEGREE_M;
    let lon = site.lon_deg + east * reach_m / DEGREE_M / site.lat_deg.to_radians().cos();
    let fix = stamp(shot.start_ms - shot.start_ms.rem_euclid(1000))?;
    let clock = fix.strftime("%H %M %S").to_string();
    let parts: Vec<(u32, u32)> = clock
        .split(' ')
        .filter_map(|part| Some((part.parse().ok()?, 1)))
        .collect();
    let mut gps = Directory::default();
    gps.set(0x00, Value::Bytes(vec![2, 3, 0, 0]));
    gps.set(0x01, text(if lat < 0.0 { "S" } else { "N" }));
    gps.set(0x02, Value::Ratios(degrees(lat)));
    gps.set(0x03, text(if lon < 0.0 { "W" } else { "E" }));
    gps.set(0x04, Value::Ratios(degrees(lon)));
    gps.set(0x05, Value::Bytes(vec![0]));
    gps.set(0x06, ratio(whole((site.elev_m + high_m) * 10.0), 10));
    gps.set(0x07, Value::Ratios(parts));
    gps.set(0x09, text("A"));
    gps.set(0x0a, text("3"));
    gps.set(0x0b, ratio(whole(draws.between(0.8, 1.9) * 10.0), 10));
    gps.set(0x12, text("WGS-84"));
    gps.set(0x1d, text(&fix.strftime("%Y:%m:%d").to_string()));
    Ok(gps)
}

/// When the frame was stored: once the shutter had closed.
fn stored_ms(shot: &Shot) -> i64 {
    shot.start_ms + shot.exposure_ms() + 310
}

fn clock(shot: &Shot, at_ms: i64) -> Outcome<String> {
    if shot.oddity() == Some(Oddity::BlankClock) {
        return Ok(BLANK_CLOCK.to_owned());
    }
    let reading = shot.reading(at_ms)?;
    Ok(reading.strftime("%Y:%m:%d %H:%M:%S").to_string())
}

/// `+09:30`.
fn offset_words(offset_s: i32) -> String {
    let (sign, size) = (if offset_s < 0 { '-' } else { '+' }, offset_s.abs());
    format!("{sign}{:02}:{:02}", size / 3600, size % 3600 / 60)
}

/// Degrees, minutes and thousandths of seconds, sign left out.
fn degrees(angle_deg: f64) -> Vec<(u32, u32)> {
    let tiny = whole(angle_deg.abs() * 3_600_000.0);
    let (minute, degree) = (60_000, 3_600_000);
    vec![
        (tiny / degree, 1),
        (tiny % degree / minute, 1),
        (tiny % minute, 1_000),
    ]
}

/// An aperture in hundredths of a step (APEX: twice the binary logarithm; CIPA DC-008, annex C).
fn steps_of((numerator, denominator): (u32, u32)) -> u32 {
    whole(200.0 * (f64::from(numerator) / f64::from(denominator)).log2())
}

/// The nearest whole number, from 0 up.
fn whole(number: f64) -> u32 {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    // a cast from f64 stops at both ends
    let nearest = number.round() as u32;
    nearest
}
