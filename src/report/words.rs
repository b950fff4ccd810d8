//! Figures and facts as photographers write them. No markup, no sums.

use crate::report::lane;
use crate::report::night::Expected;
use crate::report::night::Part;
use crate::report::night::SessionPart;
use crate::terms::basis::Kind;
use crate::terms::night::GapCause;
use crate::terms::night::Stretch;
use crate::terms::plural::counted;
use crate::terms::plural::either;
use crate::terms::time::Utc;

/// A length of time: `2 h 14 min`, `14 min`, `44 s`.
#[allow(clippy::cast_possible_truncation)] // a night's seconds
pub fn duration(seconds: f64) -> String {
    if !seconds.is_finite() {
        return "unknown".to_owned();
    }
    let whole = seconds.abs().round().min(1e12) as i64;
    match whole {
        0..=119 => format!("{whole} s"),
        120..=3_599 => match (whole / 60, whole % 60) {
            (min, 0) => format!("{min} min"),
            (min, s) if min < 10 => format!("{min} min {s} s"),
            (min, s) => format!("{} min", min + i64::from(s >= 30)),
        },
        _ => {
            let minutes = (whole + 30) / 60;
            match minutes % 60 {
                0 => format!("{} h", minutes / 60),
                min => format!("{} h {min} min", minutes / 60),
            }
        }
    }
}

/// A number with at most `digits` digits after the point, without trailing zeros.
pub fn number(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    match text {
        "-0" | "" => "0".to_owned(),
        text => text.replacen('-', "−", 1),
    }
}

/// Degrees to a tenth.
pub fn degrees(value: f64) -> String {
    let text = format!("{value:.1}°");
    match text.strip_prefix('-') {
        Some("0.0°") => "0.0°".to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// A count with its noun.
pub fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", either(n as u64, one, many))
}

/// The word for a kind that may be unknown.
pub const fn kind(kind: Option<Kind>) -> &'static str {
    match kind {
        Some(kind) => kind.word(),
        None => "kind unknown",
    }
}

/// An expected number of meteors with its bounds.
pub fn expected(e: Expected) -> String {
    if e.high <= 0.0 {
        return "none".to_owned();
    }
    format!(
        "{} ({} to {})",
        meteors(e.meteors),
        meteors(e.low),
        meteors(e.high)
    )
}

/// How many meteors cloud cost.
pub fn lost_to_cloud(lost: Option<f64>) -> String {
    lost.map_or("not examined".to_owned(), meteors)
}

/// A number of meteors to its significant digits: `40`, `0.4`, `0.07`; never 0 if there are some.
pub fn meteors(n: f64) -> String {
    let digits = match n.abs() {
        none if none < 1e-9 => return "0".to_owned(),
        few if few < 0.005 => return "under 0.01".to_owned(),
        few if few < 0.095 => 2,
        few if few < 0.95 => 1,
        _ => 0,
    };
    number(n, digits)
}

/// When the Moon is up between noon and noon: `rises 16:56, sets 09:00`, or `up from before noon` at an end of the
/// window.
pub fn moon_up(part: &Part, up: &[Stretch]) -> String {
    let Some(sky) = &part.sky else {
        return "unknown".to_owned();
    };
    let minute = |at: Utc| part.hours.minute(at.unix_ms());
    let one = |s: &Stretch| match (s.from == sky.whole.from, s.to == sky.whole.to) {
        (true, true) => "up all along".to_owned(),
        (true, false) => format!("up from before noon, sets {}", minute(s.to)),
        (false, true) => format!("rises {}, up past noon", minute(s.from)),
        (false, false) => format!("rises {}, sets {}", minute(s.from), minute(s.to)),
    };
    if up.is_empty() {
        return "never up".to_owned();
    }
    up.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Stretches by the hours of a part: `18:05 to 05:31`; `noon` if one continues beyond the night shown.
///
/// Takes: the text for none, and for one from noon to noon.
pub fn stretches(part: &Part, stretches: &[Stretch], none: &str, all: &str) -> String {
    match (stretches, &part.sky) {
        ([], _) => return none.to_owned(),
        ([one], Some(sky)) if *one == sky.whole => return all.to_owned(),
        _ => {}
    }
    // An end at noon is the end of the window, not of the stretch.
    let edge = |at: Utc, of: Option<Utc>| match of {
        Some(noon) if noon == at => "noon".to_owned(),
        _ => part.hours.minute(at.unix_ms()),
    };
    let whole = part.sky.as_ref().map(|sky| sky.whole);
    let one = |s: &Stretch| {
        format!(
            "{} to {}",
            edge(s.from, whole.map(|w| w.from)),
            edge(s.to, whole.map(|w| w.to))
        )
    };
    stretches.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// How UTC was reached, from the catalogue's word.
pub fn time_basis(word: &str) -> &str {
    match word {
        "gps" => "the GPS time stamp in the frame",
        "offset" => "the body's clock and the offset from UTC it wrote",
        "body-zone" => "the body's clock and its own zone setting",
        "stated-zone" => "the body's clock and the zone you stated for it",
        "site-zone" => "the body's clock and the zone of the site",
        "none" => "not reached: UTC is unknown",
        other => other,
    }
}

/// How the place was reached, from the catalogue's word.
pub fn place_basis(word: &str) -> &str {
    match word {
        "exif" => "the GPS position in the frame",
        "track" => "a recorded track, at the frame's instant",
        "site" => "the site you stated",
        "none" => "not reached: the place is unknown",
        other => other,
    }
}

/// The most likely cause of a gap.
pub fn cause(cause: &GapCause) -> String {
    match cause {
        GapCause::NotFired => {
            "file numbers run on: the shutter did not fire (battery, timer, or you paused)"
                .to_owned()
        }
        GapCause::FramesMissing(n) => {
            let n = u64::from(*n);
            format!(
                "{} {} not here: taken, but not in the dump. Look for {} before the card is formatted",
                counted(n, "file number"),
                either(n, "is", "are"),
                either(n, "it", "them")
            )
        }
        GapCause::CardChange => {
            "the frames after it are on another dump: the card was changed".to_owned()
        }
        GapCause::CounterReset => {
            "file numbers start again: another card, or the counter was reset".to_owned()
        }
        GapCause::BusyElsewhere(session) => {
            format!("the body worked on session {session} meanwhile")
        }
        GapCause::Unknown => "the file names do not tell".to_owned(),
    }
}

/// The longest name of a body in a label, in characters.
const LONGEST_BODY: usize = 48;

/// A body's name, cut if a label would run off the plot.
fn shortened(camera: &str) -> String {
    if camera.chars().count() <= LONGEST_BODY {
        return camera.to_owned();
    }
    camera.chars().take(LONGEST_BODY).chain(['…']).collect()
}

/// The settings of a session in a line: camera, focal length.
pub fn lane_name(session: &SessionPart, short: bool) -> String {
    let first = session.frames.first();
    let camera = first
        .and_then(|f| f.camera.as_deref())
        .unwrap_or("body unknown");
    let camera = shortened(camera);
    let focal = first
        .and_then(|f| f.focal_mm)
        .map_or("focal length unknown".to_owned(), |f| {
            format!("{} mm", number(f, 1))
        });
    let frames = count(session.frames.len(), "frame", "frames");
    if short {
        format!("{}: {camera}, {focal}", session.number)
    } else {
        format!("Session {}: {camera}, {focal}, {frames}", session.number)
    }
}

/// The night plot in words, for readers who cannot see it.
pub fn night_told(part: &Part, from_ms: i64, to_ms: i64) -> String {
    let mut told = vec![format!(
        "From {} to {}, {}.",
        part.hours.minute(from_ms),
        part.hours.minute(to_ms),
        part.hours.label()
    )];
    if let Some(sky) = &part.sky {
        told.push(format!(
            "Dark without Moon: {}.",
            stretches(part, &sky.dark, "never", "all along")
        ));
        for track in part.tracks() {
            told.push(format!(
                "{}: highest {} at {}.",
                track.name,
                degrees(track.culmination.alt_deg),
                part.hours.minute(track.culmination.at.unix_ms())
            ));
        }
    }
    for session in &part.sessions {
        if let Some((from, to)) = lane::span_ms(session) {
            told.push(format!(
                "{}, {} to {}, {}.",
                lane_name(session, false),
                part.hours.minute(from),
                part.hours.minute(to),
                count(session.gaps.len(), "gap", "gaps")
            ));
        }
    }
    told.join(" ")
}

/// The dome in words.
pub fn dome_told(part: &Part) -> String {
    let mut told = vec![
        "Zenith in the middle, horizon around, north at the top, east to the left.".to_owned(),
    ];
    for track in part.tracks() {
        told.push(format!(
            "{}: culminates {} high at azimuth {}.",
            track.name,
            degrees(track.culmination.alt_deg),
            degrees(track.culmination.az_deg)
        ));
    }
    told.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_of_time_are_said_as_people_say_them() {
        for (seconds, expect) in [
            (0.0, "0 s"),
            (44.4, "44 s"),
            (119.0, "119 s"),
            (223.0, "3 min 43 s"),
            (1_799.0, "30 min"),
            (3_600.0, "1 h"),
            (8_070.0, "2 h 15 min"),
            (f64::NAN, "unknown"),
        ] {
            assert_eq!(duration(seconds), expect);
        }
        assert_eq!(degrees(-0.04), "0.0°");
        assert_eq!(degrees(-11.0), "−11.0°");
        assert_eq!(number(20.0, 1), "20");
        assert_eq!(number(-2.50, 2), "−2.5");
    }

    #[test]
    fn few_meteors_are_not_none() {
        let all = |meteors: f64| Expected {
            meteors,
            low: 0.0,
            high: 2.0 * meteors,
        };
        for (meteors, expect) in [
            (0.0, "none"),
            (0.001, "under 0.01 (0 to under 0.01)"),
            (0.067, "0.07 (0 to 0.1)"),
            (0.42, "0.4 (0 to 0.8)"),
            (7.4, "7 (0 to 15)"),
        ] {
            assert_eq!(expected(all(meteors)), expect);
        }
        assert_eq!(super::meteors(-0.3), "−0.3");
    }
}
