//! Readings and instants as people type them.

use crate::clock::zone::Zone;
use crate::terms::day::DAY_MS;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// The meaning of a day without a time of day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum DayAs {
    /// Its first moment.
    Start,
    /// The first moment of the day after it.
    End,
}

/// Parses a clock reading: `2023-12-13 23:14:07`, the same as in EXIF, without seconds, or a whole day.
pub(crate) fn reading(text: &str, day: DayAs) -> Result<WallTime, Failure> {
    let text = text.trim();
    let parse = |text: &str| {
        // As in EXIF: colons in the date too.
        let dashed: String = text
            .char_indices()
            .map(|(i, c)| {
                if (i == 4 || i == 7) && c == ':' {
                    '-'
                } else {
                    c
                }
            })
            .collect();
        WallTime::parse(&dashed).or_else(|| WallTime::parse(&format!("{dashed}:00")))
    };
    let whole_day = (text.len() == 10)
        .then(|| parse(&format!("{text}T00:00:00")))
        .flatten()
        .and_then(|start| match day {
            DayAs::Start => Some(start),
            DayAs::End => start.plus_ms(DAY_MS),
        });
    parse(text).or(whole_day).ok_or_else(|| {
        Failure::words(format!("'{text}' is not a clock reading"))
            .hint("write it like '2023-12-13 23:14:07', without a zone")
    })
}

/// Parses an instant with its offset.
pub(crate) fn instant(text: &str) -> Result<Utc, Failure> {
    Utc::parse(text).ok_or_else(|| {
        let failure = Failure::words(format!("'{text}' is not an instant"));
        if WallTime::parse(text).is_some() {
            failure.hint(format!(
                "add the zone: {}Z for UTC, or an offset, {}+01:00",
                text.trim().replace(' ', "T"),
                text.trim().replace(' ', "T")
            ))
        } else {
            failure.hint("write it like 2023-12-13T22:14:55Z or 2023-12-13T23:14:55+01:00")
        }
    })
}

/// The time zone of that name, or offset.
///
/// Refuses: a name that the database does not have, with the nearest ones.
pub(crate) fn zone_named(name: &str) -> Result<Zone, Failure> {
    Zone::named(name).ok_or_else(|| {
        let near = Zone::nearest_names(name);
        Failure::words(format!("'{name}' is not a time zone of the IANA database")).hint(
            if near.is_empty() {
                "name it like America/Santiago or Europe/Rome".to_owned()
            } else {
                format!("did you mean {}?", near.join(" or "))
            },
        )
    })
}

/// The one whose name is most like these words, if any is alike.
pub(crate) fn most_alike<'a, T>(
    all: &'a [T],
    name: impl Fn(&T) -> &str,
    words: &str,
) -> Option<&'a T> {
    let words = words.to_lowercase();
    all.iter()
        .map(|one| (strsim::jaro_winkler(&name(one).to_lowercase(), &words), one))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, one)| one)
}
