//! Tags to `CaptureRecord`: what the camera wrote, without impossible values. Never converts a time, never fills a gap.

use crate::capture::gathered::Gathered;
use crate::capture::place;
use crate::capture::tags::TagValue;
use crate::capture::tags::Tags;
use crate::capture::tags::finite;
use crate::capture::times;
use crate::capture::wanted;
use crate::capture::wanted::Wanted;
use crate::capture::words;
use crate::terms::finding::Finding;
use crate::terms::records::CaptureRecord;

/// Exposure times from the fastest electronic shutter to a day, in seconds.
const EXPOSURES_S: (f64, f64) = (1e-7, 86_400.0);
/// Apertures from the fastest lens ever sold to the finest pinhole.
const F_NUMBERS: (f64, f64) = (0.5, 1024.0);
/// Sensitivities up to twice the highest any body offers.
const ISOS: (f64, f64) = (0.5, 10_000_000.0);
/// Focal lengths from a telephone's lens to the longest telescope that carries a camera, in millimetres.
const FOCALS_MM: (f64, f64) = (0.1, 100_000.0);
/// Temperatures from the coldest night on Earth to a sensor about to fail, in °C.
const TEMPERATURES_C: std::ops::RangeInclusive<f64> = -90.0..=110.0;
/// Pixels along one edge of a picture.
const EDGES_PX: std::ops::RangeInclusive<u64> = 1..=1_000_000;

/// Rejected settings, gathered so that a frame has one finding for each kind and not one for each setting.
#[derive(Default)]
struct Aside {
    unknown: Vec<String>,
    absurd: Vec<String>,
}

impl Aside {
    /// A number within bounds, both included. Zero means unknown, as bodies without a lens write it.
    fn within(&mut self, tag: Wanted, said: TagValue<f64>, bounds: (f64, f64)) -> Option<f64> {
        match said {
            TagValue::Absent => None,
            TagValue::Unknown(text) => {
                self.unknown.push(format!("{} {text}", tag.name));
                None
            }
            TagValue::Value(0.0) => {
                self.unknown.push(format!("{} 0", tag.name));
                None
            }
            TagValue::Value(number) if (bounds.0..=bounds.1).contains(&number) => Some(number),
            TagValue::Value(number) => {
                self.absurd.push(format!("{} {number}", tag.name));
                None
            }
        }
    }
}

/// Makes the record of one file from its tags and its container's data on the main image.
pub fn record(tags: &Tags, gathered: &Gathered, findings: &mut Vec<Finding>) -> CaptureRecord {
    let mut record = CaptureRecord::default();
    let mut aside = Aside::default();
    times::read(tags, &mut record, findings);
    record.body_zone_s = times::body_zone(&gathered.maker, record.clock_local, findings);
    place::read(tags, &mut record, findings);
    record.make = tags.text(wanted::MAKE);
    record.model = tags
        .text(wanted::MODEL)
        .or_else(|| tags.text(wanted::UNIQUE_CAMERA_MODEL));
    let maker = &gathered.maker;
    record.serial = serial(tags, &mut aside).or_else(|| {
        // The number on the body before the internal one.
        let numbers = [&maker.serial, &maker.internal_serial];
        numbers
            .into_iter()
            .flatten()
            .find(|n| is_filled(n))
            .cloned()
    });
    record.lens = tags
        .text(wanted::LENS_MODEL)
        .or_else(|| maker.lens.clone())
        .filter(|name| name.chars().any(char::is_alphanumeric));
    record.shutter_count = maker.shutter_count;
    record.temperature_c = maker.temperature_c.filter(|degrees| {
        let fits = TEMPERATURES_C.contains(degrees);
        if !fits {
            aside.absurd.push(format!("temperature {degrees} °C"));
        }
        fits
    });
    exposure(tags, &mut record, &mut aside);
    record.iso = iso(tags, &mut aside);
    record.focal_mm = aside.within(
        wanted::FOCAL_LENGTH,
        tags.number(wanted::FOCAL_LENGTH),
        FOCALS_MM,
    );
    record.focal35_mm = aside.within(
        wanted::FOCAL_LENGTH_35,
        tags.number(wanted::FOCAL_LENGTH_35),
        FOCALS_MM,
    );
    record.orientation = orientation(tags, &mut aside);
    if let Some((width, height)) = gathered.size {
        let fits = EDGES_PX.contains(&width) && EDGES_PX.contains(&height);
        if fits {
            record.width_px = u32::try_from(width).ok();
            record.height_px = u32::try_from(height).ok();
        } else {
            aside.absurd.push(format!("{width} by {height} pixels"));
        }
    }
    for (code, list) in [
        ("value-unknown", aside.unknown),
        ("value-absurd", aside.absurd),
    ] {
        if !list.is_empty() {
            findings.push(Finding::new(
                code,
                list.join(", "),
                "left the setting unknown",
            ));
        }
    }
    record
}

fn serial(tags: &Tags, aside: &mut Aside) -> Option<String> {
    for tag in [wanted::BODY_SERIAL_NUMBER, wanted::CAMERA_SERIAL_NUMBER] {
        let Some(raw) = tags.raw_text(tag) else {
            continue;
        };
        if !words::is_text(raw) {
            aside.absurd.push(format!("{}: not text", tag.name));
            continue;
        }
        if let Some(text) = words::clean(raw)
            && is_filled(&text)
        {
            return Some(text);
        }
    }
    None
}

/// '0', '0000' and blanks: the field exists but nobody filled it in.
fn is_filled(serial: &str) -> bool {
    serial.chars().any(|c| c.is_alphanumeric() && c != '0')
}

/// Exposure time and aperture: directly, otherwise from their APEX numbers. Source: CIPA DC-008 annex C.
fn exposure(tags: &Tags, record: &mut CaptureRecord, aside: &mut Aside) {
    let plain = tags.number(wanted::EXPOSURE_TIME);
    record.exposure_s = match (&plain, tags.number(wanted::SHUTTER_SPEED_VALUE)) {
        (TagValue::Absent, TagValue::Value(tv)) => aside.within(
            wanted::SHUTTER_SPEED_VALUE,
            finite((-tv).exp2()),
            EXPOSURES_S,
        ),
        _ => aside.within(wanted::EXPOSURE_TIME, plain, EXPOSURES_S),
    };
    let plain = tags.number(wanted::F_NUMBER);
    record.f_number = match (&plain, tags.number(wanted::APERTURE_VALUE)) {
        (TagValue::Absent, TagValue::Value(av)) if av > 0.0 => {
            aside.within(wanted::APERTURE_VALUE, finite((av / 2.0).exp2()), F_NUMBERS)
        }
        _ => aside.within(wanted::F_NUMBER, plain, F_NUMBERS),
    };
}

/// Sensitivity. The old tag has 16 bits and stops at 65535. At that value, or if the tag is missing, the 32-bit tag
/// named by `SensitivityType` is used. Source: CIPA DC-008 4.6.5, `SensitivityType`.
fn iso(tags: &Tags, aside: &mut Aside) -> Option<f64> {
    let plain = tags.number(wanted::ISO);
    let short = match plain {
        TagValue::Value(iso) if iso > 0.0 && iso < 65_535.0 => {
            return aside.within(wanted::ISO, plain, ISOS);
        }
        other => other,
    };
    let (sos, rei, speed) = (
        wanted::STANDARD_OUTPUT_SENSITIVITY,
        wanted::RECOMMENDED_EXPOSURE_INDEX,
        wanted::ISO_SPEED,
    );
    let order = match tags.number(wanted::SENSITIVITY_TYPE) {
        TagValue::Value(1.0) => [sos, rei, speed],
        TagValue::Value(3.0 | 5.0) => [speed, rei, sos],
        _ => [rei, sos, speed],
    };
    for tag in order {
        if let TagValue::Value(iso) = tags.number(tag)
            && iso > 0.0
        {
            return aside.within(tag, TagValue::Value(iso), ISOS);
        }
    }
    aside.within(wanted::ISO, short, ISOS)
}

fn orientation(tags: &Tags, aside: &mut Aside) -> Option<u8> {
    let tag = wanted::ORIENTATION;
    let turned = aside.within(tag, tags.number(tag), (1.0, 8.0))?;
    (1..=8_u8).find(|n| (f64::from(*n) - turned).abs() < f64::EPSILON)
}
