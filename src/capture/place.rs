//! The GPS tags: position, altitude, time stamp. Never swaps or signs a coordinate to help.

use crate::capture::tags::TagValue;
use crate::capture::tags::Tags;
use crate::capture::wanted;
use crate::capture::wanted::Wanted;
use crate::terms::finding::Finding;
use crate::terms::records::CaptureRecord;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// Possible altitudes: from the floor of the deepest mine to the highest balloon, in metres.
const ALTITUDES_M: std::ops::RangeInclusive<f64> = -5_000.0..=60_000.0;

/// Fills in the GPS directory's values, and adds findings for odd ones.
pub fn read(tags: &Tags, record: &mut CaptureRecord, findings: &mut Vec<Finding>) {
    let mut odd = |saw: String, did: &str| findings.push(Finding::new("gps-absurd", saw, did));
    let lat = angle(
        tags,
        wanted::GPS_LATITUDE,
        wanted::GPS_LATITUDE_REF,
        (b'N', b'S'),
        90.0,
    );
    let lon = angle(
        tags,
        wanted::GPS_LONGITUDE,
        wanted::GPS_LONGITUDE_REF,
        (b'E', b'W'),
        180.0,
    );
    match (lat, lon) {
        (Ok(Some(lat)), Ok(Some(lon))) if lat == 0.0 && lon == 0.0 => odd(
            "latitude 0, longitude 0, as written by a receiver without a fix".to_owned(),
            "ignored the position",
        ),
        (Ok(Some(lat)), Ok(Some(lon))) => {
            (record.gps_lat_deg, record.gps_lon_deg) = (Some(lat), Some(lon));
        }
        (Ok(None), Ok(None)) => {}
        (Ok(Some(_)), Ok(None)) => odd(
            "a latitude without a longitude".to_owned(),
            "ignored the position",
        ),
        (Ok(None), Ok(Some(_))) => odd(
            "a longitude without a latitude".to_owned(),
            "ignored the position",
        ),
        (Err(saw), _) | (_, Err(saw)) => odd(saw, "ignored the position"),
    }
    match tags.number(wanted::GPS_ALTITUDE) {
        TagValue::Value(metres) => {
            let below = matches!(
                tags.number(wanted::GPS_ALTITUDE_REF),
                TagValue::Value(1.0 | 3.0)
            );
            let metres = if below { -metres } else { metres };
            if ALTITUDES_M.contains(&metres) {
                // A zero below sea level is still a zero.
                record.gps_elev_m = Some(metres + 0.0);
            } else {
                odd(format!("GPSAltitude {metres} m"), "ignored the altitude");
            }
        }
        TagValue::Unknown(_) | TagValue::Absent => {}
    }
    // An earlier position may still be that of the site; an earlier time is not that of the frame.
    let measures = tags.text(wanted::GPS_STATUS).is_none_or(|s| s != "V");
    if measures {
        record.gps_utc = stamp(tags).unwrap_or_else(|saw| {
            findings.push(Finding::new("gps-time-absurd", saw, "ignored the GPS time"));
            None
        });
    } else if record.gps_lat_deg.is_some() {
        findings.push(Finding::new(
            "gps-stale",
            "GPSStatus V: the receiver had no position at that moment",
            "kept the position, ignored the GPS time",
        ));
    }
}

/// One coordinate in degrees, signed. `None` if it is missing or written as unknown; an error in words if it has no
/// hemisphere or is impossible.
fn angle(
    tags: &Tags,
    tag: Wanted,
    reference: Wanted,
    letters: (u8, u8),
    most: f64,
) -> Result<Option<f64>, String> {
    let Some([degrees, minutes, seconds]) = triple(tags, tag) else {
        return Ok(None);
    };
    let size = degrees + minutes / 60.0 + seconds / 3600.0;
    let letter = tags
        .raw_text(reference)
        .and_then(|raw| raw.first())
        .map(u8::to_ascii_uppercase);
    let signed = match letter {
        Some(l) if l == letters.0 => size,
        Some(l) if l == letters.1 => -size,
        _ => return Err(format!("{} {size} without a hemisphere", tag.name)),
    };
    if degrees < 0.0 || minutes < 0.0 || seconds < 0.0 || size > most {
        return Err(format!("{} {degrees}° {minutes}' {seconds}\"", tag.name));
    }
    Ok(Some(signed))
}

/// Three numbers; missing minutes and seconds count as zero, and so do unknown seconds. Unknown degrees or hours make
/// the result unknown, and so do unknown minutes of whole ones: it may be anywhere within the degree or hour.
fn triple(tags: &Tags, tag: Wanted) -> Option<[f64; 3]> {
    let TagValue::Value(first) = tags.number_at(tag, 0) else {
        return None;
    };
    let minutes = match tags.number_at(tag, 1) {
        TagValue::Value(number) => number,
        TagValue::Unknown(_) if first.fract() == 0.0 => return None,
        _ => 0.0,
    };
    let seconds = match tags.number_at(tag, 2) {
        TagValue::Value(number) => number,
        _ => 0.0,
    };
    Some([first, minutes, seconds])
}

/// The GPS date and time. `None` unless both are there; an error in words if there is no such date.
fn stamp(tags: &Tags) -> Result<Option<Utc>, String> {
    let (Some(date), Some([hours, minutes, seconds])) = (
        tags.text(wanted::GPS_DATE_STAMP),
        triple(tags, wanted::GPS_TIME_STAMP),
    ) else {
        return Ok(None);
    };
    if !date.bytes().any(|b| matches!(b, b'1'..=b'9')) {
        return Ok(None);
    }
    let saw = || format!("GPS time {date} {hours}:{minutes}:{seconds}");
    let midnight = date
        .get(..10)
        .filter(|_| date.len() == 10)
        .map(|date| date.replace([':', '/'], "-"))
        .and_then(|date| WallTime::parse(&format!("{date}T00:00:00")))
        .ok_or_else(saw)?;
    let fits = (0.0..24.0).contains(&hours)
        && (0.0..60.0).contains(&minutes)
        && (0.0..61.0).contains(&seconds);
    // GPS time begins in January 1980.
    if !fits || midnight.civil().year() < 1980 {
        return Err(saw());
    }
    let start = Utc::from_unix_ms(midnight.reading_ms()).ok_or_else(saw)?;
    start
        .plus_s(hours * 3600.0 + minutes * 60.0 + seconds)
        .map(Some)
        .ok_or_else(saw)
}
