//! Reads dates, clock readings and instants as periods of time. Never guesses a zone.
//!
//! A value means the whole period that it names: `2023` a year, `2023-12-13` a day, `22:00` a minute, `22:00:07` a
//! second, `22:00:07.25` a hundredth of one. So `start = 2023-12-13T22:00Z` is true for every frame of that minute, `>`
//! means after its end, `<` before its beginning, and exactly one of `<`, `=`, `>` is true for every known value.

use crate::query::checked::Period;
use crate::query::mistake::Mistake;
use crate::query::mistake::quoted;
use crate::query::tree::Value;
use crate::terms::field::Field;
use crate::terms::field_kind::FieldKind;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// The most digits in the fraction of a clock reading.
const READING_DIGITS: usize = 9;
/// Digits in the fraction of an instant.
const INSTANT_DIGITS: usize = 3;

/// A date, with as much of a time of day as was written.
struct Written<'t> {
    date: &'t str,
    /// `22:00` or `22:00:07`; empty if only a date was written.
    time: &'t str,
    fraction: &'t str,
    /// `Z` or `+01:00`; empty if none was written.
    zone: &'t str,
}

/// Reads a value of a field of moments.
///
/// Refuses: anything that is not ISO 8601, days that do not exist, a time of day if only days are stored, an instant
/// without a zone and a clock reading with one, more digits than are stored.
pub(super) fn read(value: &Value, name: &str, field: &Field) -> Result<Period, Mistake> {
    let wrong = |message: String| Mistake::new(message, value.span.clone());
    let text = value.text.as_str();
    let Some(written) = split(text) else {
        return Err(not_a_moment(value, name, field));
    };
    let Some((first, last)) = readings(&written) else {
        let (why, hint) = not_on_a_calendar(&written);
        let noun = if written.time.is_empty() {
            "a date"
        } else {
            "a time"
        };
        return Err(wrong(format!("{} is not {noun}: {why}", quoted(text))).hint(hint));
    };
    if written.time.is_empty() && !matches!(field.kind, FieldKind::Reading | FieldKind::Local) {
        let written = written.date.to_owned();
        return Ok(if matches!(field.kind, FieldKind::Date) {
            Period {
                first: first[..10].to_owned(),
                last: last[..10].to_owned(),
                written,
            }
        } else {
            Period {
                first: format!("{}.000Z", &first[..19]),
                last: format!("{}.999Z", &last[..19]),
                written,
            }
        });
    }
    match field.kind {
        FieldKind::Date => Err(wrong(format!("{name} is a date, without a time of day"))
            .hint(format!("write {name} = {}, or use start", written.date))),
        FieldKind::Reading if !written.zone.is_empty() => Err(wrong(format!(
            "{name} is the camera clock, which has no zone"
        ))
        .hint(format!("leave out {}, or use start", written.zone))),
        FieldKind::Local if !written.zone.is_empty() => Err(wrong(format!(
            "{name} is the local time at the site, without a zone"
        ))
        .hint(format!("leave out {}, or use start", written.zone))),
        FieldKind::Local if written.fraction.len() > INSTANT_DIGITS => {
            Err(too_many_digits(value, name, INSTANT_DIGITS))
        }
        FieldKind::Reading | FieldKind::Local => read_reading(&written, &first, &last)
            .ok_or_else(|| too_many_digits(value, name, READING_DIGITS)),
        _ if written.zone.is_empty() => Err(wrong(format!(
            "{} could be any zone's time",
            quoted(text)
        ))
        .hint(format!(
            "add Z for UTC ({text}Z) or an offset ({text}+01:00); for the camera clock use the \
             field clock"
        ))),
        _ if zone(&written).is_none() => Err(wrong(format!(
            "no zone is {} away from UTC",
            quoted(written.zone)
        ))
        .hint("offsets go from -15:59 to +15:59; Z is UTC")),
        _ if written.fraction.len() > INSTANT_DIGITS => {
            Err(too_many_digits(value, name, INSTANT_DIGITS))
        }
        _ => read_instant(&written).ok_or_else(|| {
            wrong(format!("{} is outside the years 1 to 9999", quoted(text)))
                .hint("it is outside them in UTC")
        }),
    }
}

/// Whether a word is a zone that can follow a time of day.
pub(super) fn is_zone(word: &str) -> bool {
    matches!(word, "Z" | "z")
        || word.strip_prefix(['+', '-']).is_some_and(|offset| {
            ["00:00", "0000", "00"]
                .iter()
                .any(|shape| looks_like(offset, shape))
        })
}

/// Splits the parts by their positions; `None` if they are not where ISO 8601 has them.
fn split(text: &str) -> Option<Written<'_>> {
    let (date, rest) = match text.find(['T', 't']) {
        Some(at) => (&text[..at], Some(&text[at + 1..])),
        None => (text, None),
    };
    let whole_day = looks_like(date, "0000-00-00");
    if !whole_day && !looks_like(date, "0000-00") && !looks_like(date, "0000") {
        return None;
    }
    let Some(rest) = rest else {
        return Some(Written {
            date,
            time: "",
            fraction: "",
            zone: "",
        });
    };
    let zone_at = rest.find(['Z', 'z', '+', '-']).unwrap_or(rest.len());
    let (clock, zone) = rest.split_at(zone_at);
    let (time, fraction) = clock.split_once('.').unwrap_or((clock, ""));
    let to_the_second = looks_like(time, "00:00:00");
    let sound = whole_day
        && (to_the_second || looks_like(time, "00:00"))
        && fraction.bytes().all(|b| b.is_ascii_digit())
        && (to_the_second && !fraction.is_empty() || !clock.contains('.'))
        && (zone.is_empty() || is_zone(zone));
    sound.then_some(Written {
        date,
        time,
        fraction,
        zone,
    })
}

/// Whether a text has digits where the shape has zeros, and the shape's own signs elsewhere.
fn looks_like(text: &str, shape: &str) -> bool {
    text.len() == shape.len()
        && text.bytes().zip(shape.bytes()).all(|(sign, wanted)| {
            if wanted == b'0' {
                sign.is_ascii_digit()
            } else {
                sign == wanted
            }
        })
}

/// The first and the last second of the value, as clock readings without a fraction.
fn readings(written: &Written<'_>) -> Option<(String, String)> {
    let first_day = format!("{}{}", written.date, &"0000-01-01"[written.date.len()..]);
    let last_days: Vec<String> = match written.date.len() {
        4 => vec![format!("{}-12-31", written.date)],
        7 => (28..=31)
            .rev()
            .map(|day| format!("{}-{day}", written.date))
            .collect(),
        _ => vec![written.date.to_owned()],
    };
    let (from, to) = match written.time.len() {
        0 => ("00:00:00".to_owned(), "23:59:59".to_owned()),
        5 => (
            format!("{}:00", written.time),
            format!("{}:59", written.time),
        ),
        _ => (written.time.to_owned(), written.time.to_owned()),
    };
    let first = format!("{first_day}T{from}");
    WallTime::parse(&first)?;
    let last = last_days
        .into_iter()
        .map(|day| format!("{day}T{to}"))
        .find(|last| WallTime::parse(last).is_some())?;
    Some((first, last))
}

/// Which part of a date and time is too great, or 0; and what to write.
fn not_on_a_calendar(written: &Written<'_>) -> (String, String) {
    let part = |text: &str, at: usize| text.get(at..at + 2).unwrap_or("01").to_owned();
    let (month, day) = (part(written.date, 5), part(written.date, 8));
    let (hour, minute, second) = (
        part(written.time, 0),
        part(written.time, 3),
        part(written.time, 6),
    );
    let fits = |date: &str| WallTime::parse(&format!("{date}T00:00:00")).is_some();
    let year = &written.date[..4];
    if !fits(&format!("{year}-01-01")) {
        return (
            format!("there is no year {year}"),
            "years go from 0001 to 9999".to_owned(),
        );
    }
    if !fits(&format!("{year}-{month}-01")) {
        return (
            format!("there is no month {month}"),
            "months go from 01 to 12, behind the year: 2023-12-13".to_owned(),
        );
    }
    if !fits(&format!("{year}-{month}-{day}")) {
        let last = (28..=31)
            .rev()
            .find(|d| fits(&format!("{year}-{month}-{d}")));
        return (
            format!("there is no day {day} in {year}-{month}"),
            format!("its last day is {year}-{month}-{}", last.unwrap_or(28)),
        );
    }
    let (noun, value, most) = match (hour.as_str(), minute.as_str()) {
        (hour, _) if hour > "23" => ("hour", hour, "23"),
        (_, minute) if minute > "59" => ("minute", minute, "59"),
        _ => ("second", second.as_str(), "59"),
    };
    (
        format!("there is no {noun} {value}"),
        format!("{noun}s go from 00 to {most}"),
    )
}

/// Readings are stored with the digits the clock wrote, `…:07`, `…:07.25`, `…:07.250`. As text they sort correctly as
/// long as the lower bound does not end in a zero and the upper bound is filled with nines.
fn read_reading(written: &Written<'_>, first: &str, last: &str) -> Option<Period> {
    let fraction = written.fraction;
    if fraction.len() > READING_DIGITS {
        return None;
    }
    let told = fraction.trim_end_matches('0');
    let first = if told.is_empty() {
        first.to_owned()
    } else {
        format!("{first}.{told}")
    };
    let mut canonical = written.date.to_owned();
    if !written.time.is_empty() {
        canonical = format!("{canonical}T{}", written.time);
    }
    if !fraction.is_empty() {
        canonical = format!("{canonical}.{fraction}");
    }
    Some(Period {
        first,
        last: format!("{last}.{fraction:9<READING_DIGITS$}"),
        written: canonical,
    })
}

fn read_instant(written: &Written<'_>) -> Option<Period> {
    let zone = zone(written)?;
    let seconds = if written.time.len() == 5 { ":00" } else { "" };
    let fraction = format!("{:0<INSTANT_DIGITS$}", written.fraction);
    let first = Utc::parse(&format!(
        "{}T{}{seconds}.{fraction}{zone}",
        written.date, written.time
    ))?;
    let length_ms = match (written.time.len(), written.fraction.len()) {
        (5, _) => 60_000,
        (_, 0) => 1000,
        (_, 1) => 100,
        (_, 2) => 10,
        _ => 1,
    };
    let last = Utc::from_unix_ms(first.unix_ms().checked_add(length_ms - 1)?)?.to_string();
    let first = first.to_string();
    // Years before 1 and after 9999 would be wider and would no longer sort as text.
    if first.len() != 24 || last.len() != 24 || first.starts_with("0000") {
        return None;
    }
    let kept = match (written.time.len(), written.fraction.len()) {
        (5, _) => 16,
        (_, 0) => 19,
        (_, digits) => 20 + digits,
    };
    let written = format!("{}Z", &first[..kept]);
    Some(Period {
        first,
        last,
        written,
    })
}

/// `Z`, or the offset as `+01:00`; `None` beyond fifteen hours, which no zone has ever reached.
fn zone(written: &Written<'_>) -> Option<String> {
    let zone = written.zone;
    if matches!(zone, "Z" | "z") {
        return Some("Z".to_owned());
    }
    let hours = zone.get(..3)?;
    let minutes = zone.get(zone.len().checked_sub(2)?..);
    let minutes = minutes.filter(|_| zone.len() > 3).unwrap_or("00");
    let sound = hours[1..].parse::<u8>().ok()? < 16 && minutes.parse::<u8>().ok()? < 60;
    sound.then(|| format!("{hours}:{minutes}"))
}

fn not_a_moment(value: &Value, name: &str, field: &Field) -> Mistake {
    let text = value.text.as_str();
    let (noun, example) = match field.kind {
        FieldKind::Date => (
            "a date",
            "2023-12-13, a whole month 2023-12, a whole year 2023",
        ),
        FieldKind::Local => (
            "a local time",
            "2023-12-14T01:12, a whole day 2023-12-14, a whole year 2023",
        ),
        FieldKind::Reading => (
            "a clock reading",
            "2023-12-14T01:12:07, a whole day 2023-12-14, a whole year 2023",
        ),
        _ => (
            "an instant",
            "2023-12-13T22:00Z, a whole day 2023-12-13, a whole year 2023",
        ),
    };
    let hint = match text.to_ascii_lowercase().as_str() {
        "known" => format!("write {name} is known"),
        "unknown" | "null" | "none" => format!("write {name} is unknown"),
        _ => format!("write it like this: {example}"),
    };
    Mistake::new(
        format!("{} is not {noun}", quoted(text)),
        value.span.clone(),
    )
    .hint(hint)
}

fn too_many_digits(value: &Value, name: &str, kept: usize) -> Mistake {
    Mistake::new(
        format!("{name} has at most {kept} digits after the second"),
        value.span.clone(),
    )
    .hint("leave out the other digits")
}

#[cfg(test)]
#[path = "moment_tests.rs"]
mod tests;
