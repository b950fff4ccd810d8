//! A session and its night as a few lines of text: altitude of the strongest radiants, twilight, Moon, frames, gaps.
//! No sums, no colour.

use std::fmt::Write as _;

use unicode_width::UnicodeWidthStr;

use crate::report::axis::TimeAxis;
use crate::report::lane;
use crate::report::night::Part;
use crate::report::night::SessionPart;
use crate::report::plot::shown_ms;
use crate::report::sky_state;
use crate::report::sky_state::Curve;
use crate::terms::night::NightSky;
use crate::terms::night::Stretch;
use crate::terms::night::TrackPoint;
use crate::terms::printable::printable;

/// Width of the labels at the left.
const LABELS: usize = 8;
/// The least and the greatest width of the picture.
const WIDTHS: std::ops::RangeInclusive<usize> = 40..=140;
/// How many radiants have a line.
const RADIANTS: usize = 3;
/// Eighths of a right angle, from the horizon up.
const LEVELS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// The picture, a string per line, none wider than `width`.
pub fn picture(part: &Part, session: &SessionPart, width: usize) -> Vec<String> {
    let columns = width.clamp(*WIDTHS.start(), *WIDTHS.end()) - LABELS;
    let mut lines = Vec::new();
    if let (Some(sky), Some((from, to))) = (&part.sky, shown_ms(part)) {
        let axis = axis(from, to, columns);
        lines.push(format!("the night, {}", printable(&part.hours.label())));
        for track in part.tracks().into_iter().take(RADIANTS) {
            let line = line(track.shower.as_str(), &axis, columns, |at| {
                altitude(&track.points, at).map_or(' ', level)
            });
            lines.push(line);
        }
        lines.push(line("sky", &axis, columns, |at| darkness(sky, at)));
        if !sky.moon_up.is_empty() {
            lines.push(line("Moon", &axis, columns, |at| {
                if within(&sky.moon_up, at) { 'o' } else { ' ' }
            }));
        }
        lines.push(line("frames", &axis, columns, |at| {
            open(session, at, column_ms(&axis, columns))
        }));
        lines.push(hours(part, &axis, columns));
        if !part.tracks().is_empty() {
            lines.push(
                "radiants: altitude, ▁ just above the horizon to █ the zenith; blank below it"
                    .to_owned(),
            );
        }
        lines.push(
            "sky: c n a civil, nautical, astronomical twilight; . night; blank day".to_owned(),
        );
    }
    if let Some((from, to)) = lane::span_ms(session).filter(|_| session.frames.len() > 1) {
        let axis = axis(from, to, columns);
        lines.push(String::new());
        lines.push(format!("the session, {}", printable(&part.hours.label())));
        lines.push(line("frames", &axis, columns, |at| {
            open(session, at, column_ms(&axis, columns))
        }));
        let examined = examined(session, &axis, columns);
        lines.extend(examined.iter().map(|(line, _)| line.clone()));
        lines.push(hours(part, &axis, columns));
        if !session.gaps.is_empty() {
            lines.push("frames: # open, - gap".to_owned());
        }
        lines.extend(examined.into_iter().map(|(_, scale)| scale));
    }
    lines
}

/// What pictures say of sky and lens: a line of marks for each curve, and what its lowest and its highest mark stand for.
fn examined(session: &SessionPart, axis: &TimeAxis, columns: usize) -> Vec<(String, String)> {
    let one = |curve: &Curve| {
        let (low, high) = match sky_state::span(session, curve)? {
            _ if curve.short == "clear" => (0.0, 1.0),
            span => span,
        };
        // The mean over the frames of each column.
        let mut sums = vec![(0.0, 0.0); columns];
        for frame in &session.frames {
            let (Some(value), Some(at)) = ((curve.value)(&frame.examined), lane::start_ms(frame))
            else {
                continue;
            };
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // on the axis
            let column = (axis.x(at) as usize).min(columns - 1);
            sums[column].0 += value;
            sums[column].1 += 1.0;
        }
        let mut marks = curve.short.to_owned();
        marks.push_str(&" ".repeat(LABELS.saturating_sub(curve.short.width())));
        for (sum, count) in sums {
            marks.push(if count > 0.0 {
                let share = (sum / count - low) / (high - low).max(1e-9);
                level(share * 90.0)
            } else {
                ' '
            });
        }
        let (from, to) = ((curve.told)(low), (curve.told)(high));
        let scale = if from == to {
            format!("{}: {}, {to} all along", curve.short, curve.name)
        } else {
            format!("{}: {}, ▁ {from} to █ {to}", curve.short, curve.name)
        };
        Some((marks.trim_end().to_owned(), scale))
    };
    sky_state::CURVES.iter().filter_map(one).collect()
}

fn axis(from_ms: i64, to_ms: i64, columns: usize) -> TimeAxis {
    TimeAxis {
        from_ms,
        to_ms: to_ms.max(from_ms + 1),
        left: 0.0,
        right: columns as f64,
    }
}

/// How long a column is.
fn column_ms(axis: &TimeAxis, columns: usize) -> i64 {
    (axis.to_ms - axis.from_ms) / whole(columns) + 1
}

/// A count of columns among milliseconds; at least one.
fn whole(columns: usize) -> i64 {
    i64::try_from(columns).unwrap_or(i64::MAX).max(1)
}

/// A label, and a character for the middle of each column.
fn line(label: &str, axis: &TimeAxis, columns: usize, sign: impl Fn(i64) -> char) -> String {
    let mut line = label.to_owned();
    line.extend(std::iter::repeat_n(
        ' ',
        LABELS.saturating_sub(label.width()),
    ));
    let length = axis.to_ms - axis.from_ms;
    let halves = 2 * whole(columns);
    for k in (1..halves).step_by(2) {
        line.push(sign(axis.from_ms + length * k / halves));
    }
    line.truncate(line.trim_end().len());
    line
}

fn within(stretches: &[Stretch], at_ms: i64) -> bool {
    stretches
        .iter()
        .any(|s| s.from.unix_ms() <= at_ms && at_ms <= s.to.unix_ms())
}

fn darkness(sky: &NightSky, at: i64) -> char {
    let below = [
        &sky.sun_below[2],
        &sky.sun_below[1],
        &sky.sun_below[0],
        &sky.sun_down,
    ];
    below
        .into_iter()
        .zip(['.', 'a', 'n', 'c'])
        .find(|(stretches, _)| within(stretches, at))
        .map_or(' ', |(_, sign)| sign)
}

/// Altitude between two points of a path; `None` below the horizon.
fn altitude(points: &[TrackPoint], at: i64) -> Option<f64> {
    let after = points.partition_point(|p| p.at.unix_ms() <= at);
    let (a, b) = (points.get(after.checked_sub(1)?)?, points.get(after)?);
    let share = (at - a.at.unix_ms()) as f64 / (b.at.unix_ms() - a.at.unix_ms()).max(1) as f64;
    let alt = a.alt_deg + (b.alt_deg - a.alt_deg) * share;
    (alt > 0.0).then_some(alt)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // an altitude of 0 to 90
fn level(alt_deg: f64) -> char {
    LEVELS[((alt_deg / 90.0 * 8.0) as usize).min(7)]
}

/// `#` if the shutter was open in a column, `-` within a gap.
fn open(session: &SessionPart, at: i64, column_ms: i64) -> char {
    let (from, to) = (at - column_ms / 2, at + column_ms / 2);
    let touched = session.frames.iter().any(|f| {
        lane::start_ms(f)
            .zip(lane::end_ms(f))
            .is_some_and(|(s, e)| s <= to && e >= from)
    });
    if touched {
        return '#';
    }
    let gap = session.gaps.iter().any(|gap| {
        let after = session.frames.get(gap.after).and_then(lane::end_ms);
        let before = session.frames.get(gap.after + 1).and_then(lane::start_ms);
        after.zip(before).is_some_and(|(a, b)| a <= at && at <= b)
    });
    if gap { '-' } else { ' ' }
}

/// The hours under a picture, as many as fit.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a column of the picture
fn hours(part: &Part, axis: &TimeAxis, columns: usize) -> String {
    let mut line = " ".repeat(LABELS);
    for at in axis.ticks(&part.hours, columns / 9) {
        let column = LABELS + axis.x(at).floor() as usize;
        let label = part.hours.tick(at);
        if column >= line.width() && column + label.width() <= LABELS + columns {
            let gap = column - line.width();
            let _ = write!(line, "{}{label}", " ".repeat(gap));
        }
    }
    line
}
