//! What pictures say of the sky and of the lens, under the curves of a session: how clear, how bright, how wide stars are. SVG.

use std::fmt::Write as _;

use crate::report::axis::TimeAxis;
use crate::report::html::Element;
use crate::report::html::el;
use crate::report::html::tenth;
use crate::report::lane;
use crate::report::night::SessionPart;
use crate::report::plot::label;
use crate::report::shapes;
use crate::report::words;
use crate::terms::night::Examined;
use crate::terms::night::NightFrame;

/// Height of a panel, and of its name above it.
const PANEL: f64 = 34.0;
const NAME: f64 = 20.0;
/// A line is not drawn over a longer pause than this, in milliseconds.
const PAUSE_MS: i64 = 10 * 60_000;
/// Sky of the same brightness within this many stops is drawn as a flat line.
const LEAST_STOPS: f64 = 0.5;

/// One of the curves.
pub(super) struct Curve {
    /// What it shows, with its unit.
    pub name: &'static str,
    /// The same where eight letters fit.
    pub short: &'static str,
    pub value: fn(&Examined) -> Option<f64>,
    /// A value in words.
    pub told: fn(f64) -> String,
}

/// All of them.
pub(super) const CURVES: [Curve; 4] = [
    Curve {
        name: "clear sky",
        short: "clear",
        value: |seen| seen.clear,
        told: |share| format!("{}%", words::number(share * 100.0, 0)),
    },
    Curve {
        name: "brightness of the sky",
        short: "bright",
        value: |seen| seen.sky_stops,
        told: |stops| format!("{} stops", words::number(stops, 1)),
    },
    Curve {
        name: "width of stars in the middle",
        short: "stars",
        value: |seen| seen.star_width_px,
        told: |px| format!("{} px", words::number(px, 1)),
    },
    Curve {
        name: "width of stars in the corners",
        short: "corners",
        value: |seen| seen.corner_width_px,
        told: |px| format!("{} px", words::number(px, 1)),
    },
];

/// The least and the greatest value of a curve over a session's frames.
pub(super) fn span(session: &SessionPart, curve: &Curve) -> Option<(f64, f64)> {
    let mut values = session
        .frames
        .iter()
        .filter_map(|frame| (curve.value)(&frame.examined));
    let first = values.next()?;
    Some(values.fold((first, first), |(low, high), v| (low.min(v), high.max(v))))
}

/// The height that the panels of a session take; 0 where nothing was examined.
pub(super) fn height(session: &SessionPart) -> f64 {
    panels(session).len() as f64 * (PANEL + NAME)
}

/// The panels of a session: curves of one unit share one.
fn panels(session: &SessionPart) -> Vec<Vec<(&'static Curve, (f64, f64))>> {
    let [clear, bright, stars, corners] = &CURVES;
    [vec![clear], vec![bright], vec![stars, corners]]
        .into_iter()
        .map(|panel| {
            let known = panel.into_iter();
            known
                .filter_map(|curve| Some((curve, span(session, curve)?)))
                .collect::<Vec<_>>()
        })
        .filter(|panel| !panel.is_empty())
        .collect()
}

/// The panels below a session's frames.
pub(super) fn drawn(session: &SessionPart, axis: &TimeAxis, top: f64) -> Element {
    let mut group = el("g");
    for (k, panel) in panels(session).into_iter().enumerate() {
        let top = top + NAME + k as f64 * (PANEL + NAME);
        let scale = scale_of(&panel);
        let y = |value: f64| top + PANEL * (1.0 - (value - scale.0) / (scale.1 - scale.0));
        let names: Vec<String> = panel
            .iter()
            .map(|(curve, span)| named(curve, *span))
            .collect();
        group =
            group
                .child(label("lane-name", axis.left, top - 5.0, names.join("; ")))
                .children([scale.0, scale.1].map(|value| {
                    shapes::line("grid", (axis.left, y(value)), (axis.right, y(value)))
                }))
                .child(label(
                    "tick end",
                    axis.left - 5.0,
                    top + 8.0,
                    figure(scale.1, panel[0].0),
                ))
                .child(label(
                    "tick end",
                    axis.left - 5.0,
                    top + PANEL,
                    figure(scale.0, panel[0].0),
                ));
        for ((curve, _), class) in panel.iter().zip(["state", "state dashed"]) {
            let path = line(&session.frames, curve, axis, &y);
            group = group.child(shapes::path(class, path));
        }
    }
    group
}

fn named(curve: &Curve, (low, high): (f64, f64)) -> String {
    let (from, to) = ((curve.told)(low), (curve.told)(high));
    if from == to {
        format!("{}: {to}", curve.name)
    } else {
        format!("{}: {from} to {to}", curve.name)
    }
}

/// A figure of the scale, without its unit where it is not a share.
fn figure(value: f64, curve: &Curve) -> String {
    let told = (curve.told)(value);
    told.split(' ').next().unwrap_or_default().to_owned()
}

/// From the bottom of a panel to its top.
fn scale_of(panel: &[(&'static Curve, (f64, f64))]) -> (f64, f64) {
    let low = panel
        .iter()
        .map(|(_, span)| span.0)
        .fold(f64::MAX, f64::min);
    let high = panel
        .iter()
        .map(|(_, span)| span.1)
        .fold(f64::MIN, f64::max);
    match panel[0].0.short {
        "clear" => (0.0, 1.0),
        "bright" => (low.min(-LEAST_STOPS), high.max(LEAST_STOPS)),
        _ => (0.0, (high * 1.1).max(1.0)),
    }
}

/// What the panels show, in words.
pub(super) fn told(session: &SessionPart) -> Vec<String> {
    let all = CURVES.iter();
    all.filter_map(|curve| Some(format!("{}.", named(curve, span(session, curve)?))))
        .collect()
}

/// A line through the means of what falls on one unit of the axis.
fn line(frames: &[NightFrame], curve: &Curve, axis: &TimeAxis, y: &impl Fn(f64) -> f64) -> String {
    let mut path = String::new();
    let mut pen = 'M';
    let mut last: Option<i64> = None;
    let mut held: Option<(f64, f64, f64)> = None;
    let mut put = |held: &mut Option<(f64, f64, f64)>, pen: &mut char| {
        if let Some((x, sum, count)) = held.take() {
            let _ = write!(path, "{pen}{} {}", tenth(x), tenth(y(sum / count)));
            *pen = 'L';
        }
    };
    for frame in frames {
        let (Some(value), Some(at)) = ((curve.value)(&frame.examined), lane::start_ms(frame))
        else {
            continue;
        };
        let x = axis.x(at);
        if last.is_some_and(|last| at - last > PAUSE_MS) {
            put(&mut held, &mut pen);
            pen = 'M';
        }
        last = Some(at);
        match &mut held {
            Some((from, sum, count)) if x - *from < 1.0 => {
                *sum += value;
                *count += 1.0;
            }
            _ => {
                put(&mut held, &mut pen);
                held = Some((x, value, 1.0));
            }
        }
    }
    put(&mut held, &mut pen);
    path
}
