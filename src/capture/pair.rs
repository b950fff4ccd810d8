//! Decides whether a raw file and a JPEG are one press of the shutter, and merges their records. The name alone never
//! decides.

use std::ffi::OsStr;
use std::path::Path;

use crate::terms::records::CaptureRecord;
use crate::terms::time::WallTime;

/// What is known of one file when its partner is searched for.
#[derive(Clone, Copy, Debug)]
pub struct PressSide<'a> {
    /// Its name without extension.
    pub stem: &'a str,
    /// Its folder, below the dump's root.
    pub folder: &'a Path,
    /// The camera clock.
    pub clock_local: Option<WallTime>,
    /// Maker of the body.
    pub make: Option<&'a str>,
    /// Model of the body.
    pub model: Option<&'a str>,
    /// Serial number of the body.
    pub serial: Option<&'a str>,
    /// The container.
    pub format: &'a str,
}

/// A file's name without its extension, in capitals: `img_0412.jpg` and `IMG_0412.CR2` have the same stem.
pub fn stem_of(name: &str) -> String {
    let stem = match name.rfind('.') {
        Some(0) | None => name,
        Some(dot) => &name[..dot],
    };
    stem.to_uppercase()
}

/// Whether a folder's name follows the cameras' pattern: three digits from 100, five characters (`100ABCDE`).
///
/// Source: JEITA CP-3461 (DCF) §3.2.2, from memory.
pub fn is_dcf_folder(name: &str) -> bool {
    let bytes = name.as_bytes();
    bytes.len() == 8
        && matches!(bytes[0], b'1'..=b'9')
        && bytes[1..3].iter().all(u8::is_ascii_digit)
        && bytes[3..]
            .iter()
            .all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || *b == b'_')
}

/// Which file represents a frame: raw before the rest, JPEG last. Smaller comes first.
pub fn rank(format: &str) -> u8 {
    match format {
        "unknown" => 4,
        "jpeg" => 3,
        "webp" | "avif" | "png" => 2,
        "tiff" | "heif" => 1,
        _ => 0,
    }
}

/// Whether two files are of one press of the shutter.
///
/// All conditions must hold: different containers; one stem; one clock reading, known in both; bodies that do not
/// differ; one folder, or two DCF folders of one name (the second slot, or the other dump).
pub fn same_press(one: &PressSide, other: &PressSide) -> bool {
    one.format != other.format
        && one.stem.eq_ignore_ascii_case(other.stem)
        && same_reading(one.clock_local, other.clock_local)
        && agree(one.make, other.make)
        && agree(one.model, other.model)
        && agree(one.serial, other.serial)
        && same_folder(one.folder, other.folder)
}

/// Equal readings. If only one file has a fraction of the second, the whole second decides.
fn same_reading(one: Option<WallTime>, other: Option<WallTime>) -> bool {
    let (Some(one), Some(other)) = (one, other) else {
        return false;
    };
    if one.fraction_digits() > 0 && other.fraction_digits() > 0 {
        return one == other;
    }
    let second = |reading: WallTime| {
        let civil = reading.civil();
        (civil.date(), civil.hour(), civil.minute(), civil.second())
    };
    second(one) == second(other)
}

fn agree(one: Option<&str>, other: Option<&str>) -> bool {
    one.zip(other)
        .is_none_or(|(a, b)| a.eq_ignore_ascii_case(b))
}

fn same_folder(one: &Path, other: &Path) -> bool {
    if one == other {
        return true;
    }
    let name = one.file_name().and_then(OsStr::to_str);
    name.is_some_and(is_dcf_folder) && one.file_name() == other.file_name()
}

/// Merges the records of one frame's files: the first file takes precedence, the second fills its gaps.
///
/// A reading, its source and its offset belong together; so do the three numbers of a GPS position, and the two of a
/// size.
pub fn merge(first: CaptureRecord, second: &CaptureRecord) -> CaptureRecord {
    let mut joined = first;
    if joined.clock_local.is_none() {
        joined.clock_local = second.clock_local;
        joined.clock_source = second.clock_source;
        joined.utc_offset_s = second.utc_offset_s;
    }
    // The same reading: the offset of either file applies to both.
    if joined.utc_offset_s.is_none() && same_reading(joined.clock_local, second.clock_local) {
        joined.utc_offset_s = second.utc_offset_s;
    }
    if joined.gps_lat_deg.is_none() || joined.gps_lon_deg.is_none() {
        joined.gps_lat_deg = second.gps_lat_deg;
        joined.gps_lon_deg = second.gps_lon_deg;
        joined.gps_elev_m = second.gps_elev_m;
    }
    if joined.width_px.is_none() || joined.height_px.is_none() {
        joined.width_px = second.width_px;
        joined.height_px = second.height_px;
    }
    fill(&mut joined.body_zone_s, second.body_zone_s.as_ref());
    fill(&mut joined.gps_utc, second.gps_utc.as_ref());
    fill(&mut joined.make, second.make.as_ref());
    fill(&mut joined.model, second.model.as_ref());
    fill(&mut joined.serial, second.serial.as_ref());
    fill(&mut joined.lens, second.lens.as_ref());
    fill(&mut joined.exposure_s, second.exposure_s.as_ref());
    fill(&mut joined.f_number, second.f_number.as_ref());
    fill(&mut joined.iso, second.iso.as_ref());
    fill(&mut joined.focal_mm, second.focal_mm.as_ref());
    fill(&mut joined.focal35_mm, second.focal35_mm.as_ref());
    fill(&mut joined.orientation, second.orientation.as_ref());
    fill(&mut joined.temperature_c, second.temperature_c.as_ref());
    fill(&mut joined.shutter_count, second.shutter_count.as_ref());
    joined
}

fn fill<T: Clone>(gap: &mut Option<T>, value: Option<&T>) {
    if gap.is_none() {
        *gap = value.cloned();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn raw() -> PressSide<'static> {
        PressSide {
            stem: "NITE4217",
            folder: Path::new("DCIM/100NIGHT"),
            clock_local: WallTime::parse("2023-12-14T01:12:07.25"),
            make: Some("Umbra"),
            model: Some("N7"),
            serial: Some("0042"),
            format: "dng",
        }
    }

    fn jpeg() -> PressSide<'static> {
        PressSide {
            stem: "nite4217",
            format: "jpeg",
            serial: None,
            ..raw()
        }
    }

    #[test]
    fn one_press_needs_name_time_body_and_folder() {
        assert!(same_press(&raw(), &jpeg()));
        let whole_second = PressSide {
            clock_local: WallTime::parse("2023-12-14T01:12:07"),
            ..jpeg()
        };
        assert!(same_press(&raw(), &whole_second));
        let other_slot = PressSide {
            folder: Path::new("slot2/DCIM/100NIGHT"),
            ..jpeg()
        };
        assert!(same_press(&raw(), &other_slot));
        let no = [
            PressSide {
                format: "dng",
                ..jpeg()
            },
            PressSide {
                stem: "NITE4218",
                ..jpeg()
            },
            PressSide {
                clock_local: WallTime::parse("2023-12-14T01:12:07.26"),
                ..jpeg()
            },
            PressSide {
                clock_local: WallTime::parse("2023-12-14T01:12:08"),
                ..jpeg()
            },
            PressSide {
                clock_local: None,
                ..jpeg()
            },
            PressSide {
                serial: Some("0043"),
                ..jpeg()
            },
            PressSide {
                model: Some("N8"),
                ..jpeg()
            },
            PressSide {
                folder: Path::new("keepers"),
                ..jpeg()
            },
            PressSide {
                folder: Path::new("DCIM/101NIGHT"),
                ..jpeg()
            },
        ];
        for other in no {
            assert!(!same_press(&raw(), &other), "{other:?}");
            assert!(!same_press(&other, &raw()), "{other:?}");
        }
    }

    #[test]
    fn stems_folders_and_ranks() {
        assert_eq!(stem_of("img_0412.jpg"), "IMG_0412");
        assert_eq!(stem_of("a.b.NEF"), "A.B");
        assert_eq!(stem_of(".hidden"), ".HIDDEN");
        assert!(is_dcf_folder("100MSDCF") && is_dcf_folder("101D7_00"));
        assert!(!is_dcf_folder("099MSDCF") && !is_dcf_folder("100msdcf") && !is_dcf_folder("100"));
        assert!(rank("nef") < rank("heif") && rank("heif") < rank("jpeg"));
    }

    #[test]
    fn the_first_word_holds_and_gaps_are_filled() {
        let raw = CaptureRecord {
            clock_local: WallTime::parse("2023-12-14T01:12:07"),
            iso: Some(1600.0),
            gps_lat_deg: Some(10.0),
            ..CaptureRecord::default()
        };
        let jpeg = CaptureRecord {
            clock_local: WallTime::parse("2023-12-14T01:12:07.25"),
            utc_offset_s: Some(3600),
            iso: Some(800.0),
            lens: Some("20mm".to_owned()),
            gps_lat_deg: Some(45.0),
            gps_lon_deg: Some(10.0),
            ..CaptureRecord::default()
        };
        let joined = merge(raw, &jpeg);
        assert_eq!(joined.iso, Some(1600.0));
        assert_eq!(joined.lens.as_deref(), Some("20mm"));
        assert_eq!(joined.utc_offset_s, Some(3600));
        assert_eq!(
            (joined.gps_lat_deg, joined.gps_lon_deg),
            (Some(45.0), Some(10.0))
        );
    }
}
