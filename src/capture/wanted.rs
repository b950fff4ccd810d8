//! The tags worth keeping, and the directory of each. The only list: no other metadata of a file is read.
//!
//! Source of numbers and directories: CIPA DC-008 (Exif 2.32) tables 4 to 15, TIFF 6.0, TIFF/EP (ISO 12234-2), DNG 1.6.

/// The directory a tag belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lane {
    /// IFD0.
    Primary,
    /// The Exif directory.
    Exif,
    /// The GPS directory.
    Gps,
}

/// A wanted tag.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wanted {
    /// The directory it belongs to.
    pub lane: Lane,
    /// Its number.
    pub id: u16,
    /// Its name in the standard.
    pub name: &'static str,
}

const fn primary(id: u16, name: &'static str) -> Wanted {
    let lane = Lane::Primary;
    Wanted { lane, id, name }
}

const fn exif(id: u16, name: &'static str) -> Wanted {
    let lane = Lane::Exif;
    Wanted { lane, id, name }
}

const fn gps(id: u16, name: &'static str) -> Wanted {
    let lane = Lane::Gps;
    Wanted { lane, id, name }
}

/// Maker of the body.
pub const MAKE: Wanted = primary(0x010F, "Make");
/// Model of the body.
pub const MODEL: Wanted = primary(0x0110, "Model");
/// How the picture is turned.
pub const ORIENTATION: Wanted = primary(0x0112, "Orientation");
/// When the file was last changed.
pub const DATE_TIME: Wanted = primary(0x0132, "DateTime");
/// DNG: model of the body, where `Model` is missing.
pub const UNIQUE_CAMERA_MODEL: Wanted = primary(0xC614, "UniqueCameraModel");
/// DNG: serial number of the body.
pub const CAMERA_SERIAL_NUMBER: Wanted = primary(0xC62F, "CameraSerialNumber");
/// Exposure time in seconds.
pub const EXPOSURE_TIME: Wanted = exif(0x829A, "ExposureTime");
/// Aperture.
pub const F_NUMBER: Wanted = exif(0x829D, "FNumber");
/// Sensitivity, in 16 bits.
pub const ISO: Wanted = exif(0x8827, "PhotographicSensitivity");
/// Which of the three tags below `ISO` repeats.
pub const SENSITIVITY_TYPE: Wanted = exif(0x8830, "SensitivityType");
/// Sensitivity, in 32 bits.
pub const STANDARD_OUTPUT_SENSITIVITY: Wanted = exif(0x8831, "StandardOutputSensitivity");
/// Sensitivity, in 32 bits.
pub const RECOMMENDED_EXPOSURE_INDEX: Wanted = exif(0x8832, "RecommendedExposureIndex");
/// Sensitivity, in 32 bits.
pub const ISO_SPEED: Wanted = exif(0x8833, "ISOSpeed");
/// When the shutter opened.
pub const DATE_TIME_ORIGINAL: Wanted = exif(0x9003, "DateTimeOriginal");
/// When the picture was stored.
pub const DATE_TIME_DIGITIZED: Wanted = exif(0x9004, "DateTimeDigitized");
/// Offset from UTC of `DateTime`.
pub const OFFSET_TIME: Wanted = exif(0x9010, "OffsetTime");
/// Offset from UTC of `DateTimeOriginal`.
pub const OFFSET_TIME_ORIGINAL: Wanted = exif(0x9011, "OffsetTimeOriginal");
/// Offset from UTC of `DateTimeDigitized`.
pub const OFFSET_TIME_DIGITIZED: Wanted = exif(0x9012, "OffsetTimeDigitized");
/// Exposure time, as the APEX number Tv.
pub const SHUTTER_SPEED_VALUE: Wanted = exif(0x9201, "ShutterSpeedValue");
/// Aperture, as the APEX number Av.
pub const APERTURE_VALUE: Wanted = exif(0x9202, "ApertureValue");
/// Focal length in millimetres.
pub const FOCAL_LENGTH: Wanted = exif(0x920A, "FocalLength");
/// Fraction of a second of `DateTime`.
pub const SUB_SEC_TIME: Wanted = exif(0x9290, "SubSecTime");
/// Fraction of a second of `DateTimeOriginal`.
pub const SUB_SEC_TIME_ORIGINAL: Wanted = exif(0x9291, "SubSecTimeOriginal");
/// Fraction of a second of `DateTimeDigitized`.
pub const SUB_SEC_TIME_DIGITIZED: Wanted = exif(0x9292, "SubSecTimeDigitized");
/// 35 mm equivalent focal length.
pub const FOCAL_LENGTH_35: Wanted = exif(0xA405, "FocalLengthIn35mmFilm");
/// Serial number of the body.
pub const BODY_SERIAL_NUMBER: Wanted = exif(0xA431, "BodySerialNumber");
/// Name of the lens.
pub const LENS_MODEL: Wanted = exif(0xA434, "LensModel");
/// `N` or `S`.
pub const GPS_LATITUDE_REF: Wanted = gps(1, "GPSLatitudeRef");
/// Degrees, minutes, seconds.
pub const GPS_LATITUDE: Wanted = gps(2, "GPSLatitude");
/// `E` or `W`.
pub const GPS_LONGITUDE_REF: Wanted = gps(3, "GPSLongitudeRef");
/// Degrees, minutes, seconds.
pub const GPS_LONGITUDE: Wanted = gps(4, "GPSLongitude");
/// 0 above sea level, 1 below it; since Exif 3.0 those are of the ellipsoid, and 2 and 3 of the sea level.
pub const GPS_ALTITUDE_REF: Wanted = gps(5, "GPSAltitudeRef");
/// Metres.
pub const GPS_ALTITUDE: Wanted = gps(6, "GPSAltitude");
/// Hours, minutes, seconds of UTC.
pub const GPS_TIME_STAMP: Wanted = gps(7, "GPSTimeStamp");
/// `A` while the receiver measures, `V` when it does not.
pub const GPS_STATUS: Wanted = gps(9, "GPSStatus");
/// Date of UTC.
pub const GPS_DATE_STAMP: Wanted = gps(0x1D, "GPSDateStamp");

/// Finds the wanted tag of this number in the GPS directory, where numbers mean something else, or outside it.
pub fn find(directory: Lane, id: u16) -> Option<Wanted> {
    if directory == Lane::Gps {
        of_gps(id)
    } else {
        of_picture(id)
    }
}

const fn of_picture(id: u16) -> Option<Wanted> {
    Some(match id {
        0x010F => MAKE,
        0x0110 => MODEL,
        0x0112 => ORIENTATION,
        0x0132 => DATE_TIME,
        0xC614 => UNIQUE_CAMERA_MODEL,
        0xC62F => CAMERA_SERIAL_NUMBER,
        0x829A => EXPOSURE_TIME,
        0x829D => F_NUMBER,
        0x8827 => ISO,
        0x8830 => SENSITIVITY_TYPE,
        0x8831 => STANDARD_OUTPUT_SENSITIVITY,
        0x8832 => RECOMMENDED_EXPOSURE_INDEX,
        0x8833 => ISO_SPEED,
        0x9003 => DATE_TIME_ORIGINAL,
        0x9004 => DATE_TIME_DIGITIZED,
        0x9010 => OFFSET_TIME,
        0x9011 => OFFSET_TIME_ORIGINAL,
        0x9012 => OFFSET_TIME_DIGITIZED,
        0x9201 => SHUTTER_SPEED_VALUE,
        0x9202 => APERTURE_VALUE,
        0x920A => FOCAL_LENGTH,
        0x9290 => SUB_SEC_TIME,
        0x9291 => SUB_SEC_TIME_ORIGINAL,
        0x9292 => SUB_SEC_TIME_DIGITIZED,
        0xA405 => FOCAL_LENGTH_35,
        0xA431 => BODY_SERIAL_NUMBER,
        0xA434 => LENS_MODEL,
        _ => return None,
    })
}

const fn of_gps(id: u16) -> Option<Wanted> {
    Some(match id {
        1 => GPS_LATITUDE_REF,
        2 => GPS_LATITUDE,
        3 => GPS_LONGITUDE_REF,
        4 => GPS_LONGITUDE,
        5 => GPS_ALTITUDE_REF,
        6 => GPS_ALTITUDE,
        7 => GPS_TIME_STAMP,
        9 => GPS_STATUS,
        0x1D => GPS_DATE_STAMP,
        _ => return None,
    })
}

/// The tags whose bytes enter the fingerprint. Never to be changed: a fingerprint must mean the same in every version.
pub const IDENTITY: &[Wanted] = &[
    DATE_TIME,
    EXPOSURE_TIME,
    ISO,
    DATE_TIME_ORIGINAL,
    SUB_SEC_TIME_ORIGINAL,
    BODY_SERIAL_NUMBER,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_finds_its_own_tag() {
        for lane in [Lane::Exif, Lane::Gps] {
            for id in 0..=u16::MAX {
                if let Some(tag) = find(lane, id) {
                    assert_eq!(tag.id, id);
                    assert_eq!(tag.lane == Lane::Gps, lane == Lane::Gps);
                }
            }
        }
    }
}
