//! The clock reading, its fraction and its offset, as in the tags. Never converts a reading to UTC.

use crate::capture::maker::values::MakerValues;
use crate::capture::tags::Tags;
use crate::capture::wanted;
use crate::capture::wanted::Wanted;
use crate::terms::basis::ClockTag;
use crate::terms::finding::Finding;
use crate::terms::records::CaptureRecord;
use crate::terms::time::WallTime;

/// The years that a camera's clock can have shown. The first digital cameras with a date in their files are of about
/// 1988 (from memory); the sky is computed to 2100.
const YEARS: std::ops::RangeInclusive<i16> = 1988..=2099;

/// One time tag with its companions.
struct Clock {
    tag: Wanted,
    source: ClockTag,
    fraction: Wanted,
    /// Its possible offsets, the best first.
    offsets: [Wanted; 3],
}

/// The time tags in order of preference: when the shutter opened, when the picture was stored, when the file was last
/// changed.
const CLOCKS: [Clock; 3] = [
    Clock {
        tag: wanted::DATE_TIME_ORIGINAL,
        source: ClockTag::Original,
        fraction: wanted::SUB_SEC_TIME_ORIGINAL,
        offsets: [
            wanted::OFFSET_TIME_ORIGINAL,
            wanted::OFFSET_TIME_DIGITIZED,
            wanted::OFFSET_TIME,
        ],
    },
    Clock {
        tag: wanted::DATE_TIME_DIGITIZED,
        source: ClockTag::Digitised,
        fraction: wanted::SUB_SEC_TIME_DIGITIZED,
        offsets: [
            wanted::OFFSET_TIME_DIGITIZED,
            wanted::OFFSET_TIME_ORIGINAL,
            wanted::OFFSET_TIME,
        ],
    },
    Clock {
        tag: wanted::DATE_TIME,
        source: ClockTag::File,
        fraction: wanted::SUB_SEC_TIME,
        offsets: [
            wanted::OFFSET_TIME,
            wanted::OFFSET_TIME_ORIGINAL,
            wanted::OFFSET_TIME_DIGITIZED,
        ],
    },
];

/// Why a text is not a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum NoReading {
    /// Blanks, zeros and separators only.
    Blank,
    /// Any other text that is not a date and time, or is too early for a camera.
    Absurd,
}

/// Fills in the clock reading and its offset, and adds findings for odd ones.
pub fn read(tags: &Tags, record: &mut CaptureRecord, findings: &mut Vec<Finding>) {
    for clock in &CLOCKS {
        let Some(raw) = tags.raw_text(clock.tag) else {
            continue;
        };
        let fraction = tags.text(clock.fraction).unwrap_or_default();
        match reading(raw, &fraction) {
            Ok(wall) => {
                record.clock_local = Some(wall);
                record.clock_source = Some(clock.source);
                if clock.source != ClockTag::Original {
                    findings.push(Finding::new(
                        "time-fallback",
                        "no usable DateTimeOriginal",
                        format!("used {}", clock.tag.name),
                    ));
                }
                record.utc_offset_s = offset(tags, &clock.offsets, findings);
                return;
            }
            Err(why) => findings.push(Finding::new(
                match why {
                    NoReading::Blank => "time-blank",
                    NoReading::Absurd => "time-absurd",
                },
                format!("{} \"{}\"", clock.tag.name, shown(raw)),
                "tried other time tags",
            )),
        }
    }
    if !findings.iter().any(|f| f.code.starts_with("time-")) {
        findings.push(Finding::new(
            "no-time",
            "neither DateTimeOriginal, DateTimeDigitized nor DateTime",
            "kept the frame undated",
        ));
    }
}

fn shown(raw: &[u8]) -> String {
    raw.iter()
        .take(40)
        .map(|b| {
            if matches!(b, b' '..=b'~') {
                char::from(*b)
            } else {
                '\u{FFFD}'
            }
        })
        .collect()
}

/// Parses `2023:12:14 01:12:07`. Other separators are accepted; another order of parts is not.
fn reading(raw: &[u8], fraction: &str) -> Result<WallTime, NoReading> {
    if !raw.iter().any(|b| matches!(b, b'1'..=b'9')) {
        let blank = raw
            .iter()
            .all(|b| matches!(b, b'0' | b' ' | b':' | b'-' | b'/' | 0));
        return Err(if blank {
            NoReading::Blank
        } else {
            NoReading::Absurd
        });
    }
    let mut parts = [0_i16; 6];
    let mut rest = raw.trim_ascii_start();
    for (i, part) in parts.iter_mut().enumerate() {
        let most = if i == 0 { 4 } else { 2 };
        let digits = rest.iter().take_while(|b| b.is_ascii_digit()).count();
        if digits == 0 || digits > most || (i == 0 && digits != 4) {
            return Err(NoReading::Absurd);
        }
        for digit in &rest[..digits] {
            *part = *part * 10 + i16::from(digit - b'0');
        }
        rest = &rest[digits..];
        if i < 5 {
            let Some((b':' | b'-' | b'/' | b'.' | b' ' | b'T', after)) = rest.split_first() else {
                return Err(NoReading::Absurd);
            };
            rest = after;
        }
    }
    // `01:12:07 PM` is not 1 o'clock.
    let behind = rest.trim_ascii();
    if let [b'A' | b'P' | b'a' | b'p', b'M' | b'm', ..] = behind {
        return Err(NoReading::Absurd);
    }
    let [year, month, day, hour, minute, second] = parts;
    let short = |part: i16| i8::try_from(part).map_err(|_| NoReading::Absurd);
    if !YEARS.contains(&year) {
        return Err(NoReading::Absurd);
    }
    let digits = fraction.bytes().take_while(u8::is_ascii_digit).count();
    WallTime::from_parts(
        year,
        short(month)?,
        short(day)?,
        short(hour)?,
        short(minute)?,
        short(second)?,
        &fraction[..digits],
    )
    .ok_or(NoReading::Absurd)
}

fn offset(tags: &Tags, candidates: &[Wanted], findings: &mut Vec<Finding>) -> Option<i32> {
    for tag in candidates {
        let Some(text) = tags.text(*tag) else {
            continue;
        };
        if !text.bytes().any(|b| b.is_ascii_alphanumeric()) {
            // '   :  ': the body has an offset tag and no offset.
            continue;
        }
        if let Some(seconds) = offset_seconds(&text) {
            return Some(seconds);
        }
        findings.push(Finding::new(
            "offset-absurd",
            format!("{} \"{text}\"", tag.name),
            "ignored the offset",
        ));
    }
    None
}

/// Parses `+05:45`.
fn offset_seconds(text: &str) -> Option<i32> {
    if text == "Z" {
        return Some(0);
    }
    let (sign, rest) = match text.split_at_checked(1)? {
        ("+", rest) => (1, rest),
        ("-", rest) => (-1, rest),
        _ => return None,
    };
    let (hours, minutes) = rest.split_once(':').or_else(|| rest.split_at_checked(2))?;
    let two = |part: &str| {
        (part.len() == 2 && part.bytes().all(|b| b.is_ascii_digit()))
            .then(|| part.parse::<i32>().ok())
            .flatten()
    };
    let minutes = two(hours)? * 60 + two(minutes).filter(|m| *m < 60)?;
    let signed = sign * minutes;
    is_in_use(i64::from(signed)).then_some(signed * 60)
}

/// The zone setting from the maker note: directly, or from the UTC instant of the clock reading.
///
/// Zones in use have the same range as offsets; other values are rejected with a finding.
pub fn body_zone(
    maker: &MakerValues,
    clock: Option<WallTime>,
    findings: &mut Vec<Finding>,
) -> Option<i32> {
    let of_instant = || {
        let utc = reading(maker.utc.as_ref()?.as_bytes(), "").ok()?;
        // Whole seconds of both: the fraction belongs to only one of them.
        let seconds = clock?.reading_ms().div_euclid(1000) - utc.reading_ms().div_euclid(1000);
        (seconds % 60 == 0).then_some(seconds / 60)
    };
    let minutes = maker.zone_min.or_else(of_instant)?;
    if is_in_use(minutes) {
        return i32::try_from(minutes * 60).ok();
    }
    findings.push(Finding::new(
        "offset-absurd",
        format!("the body's zone, {minutes} minutes from UTC"),
        "ignored the zone",
    ));
    None
}

/// Offsets in use are from -12:00 to +14:00, in quarters of an hour (IANA time zone database).
fn is_in_use(minutes: i64) -> bool {
    minutes % 15 == 0 && (-12 * 60..=14 * 60).contains(&minutes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_as_cameras_write_them() {
        let ok = |raw: &[u8], fraction| reading(raw, fraction).map(|w| w.to_string());
        assert_eq!(
            ok(b"2023:12:14 01:12:07", "054 ").as_deref(),
            Ok("2023-12-14T01:12:07.054")
        );
        assert_eq!(
            ok(b"2023-12-14T01:12:07", "").as_deref(),
            Ok("2023-12-14T01:12:07")
        );
        for blank in [
            &b"0000:00:00 00:00:00"[..],
            b"    :  :     :  :  ",
            b"                   ",
            b"",
        ] {
            assert_eq!(ok(blank, ""), Err(NoReading::Blank));
        }
        for absurd in [
            &b"06:08:2015 14:58:17"[..],
            b"1904:01:01 00:00:00",
            b"2023:13:01 00:00:00",
            b"2023:02:29 00:00:00",
            b"2023:12:14",
            b"2023:12:14 25:61:61",
            b"99999:01:01 00:00:00",
            b"2023:12:14 01:12:07 PM",
            b"soon",
        ] {
            assert_eq!(ok(absurd, ""), Err(NoReading::Absurd), "{absurd:?}");
        }
    }

    #[test]
    fn offsets_in_use_and_not() {
        assert_eq!(offset_seconds("+05:45"), Some(20_700));
        assert_eq!(offset_seconds("-04:00"), Some(-14_400));
        assert_eq!(offset_seconds("+0100"), Some(3_600));
        assert_eq!(offset_seconds("Z"), Some(0));
        for text in [
            "+15:00", "-13:00", "+01:07", "01:00", "+1", "+é1:00", "+01:75",
        ] {
            assert_eq!(offset_seconds(text), None, "{text}");
        }
    }
}
