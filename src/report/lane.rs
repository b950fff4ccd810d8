//! Frames on a line: one shape for each kind, gaps and changes of settings marked. SVG, no sums.

use std::fmt::Write as _;

use crate::report::axis::TimeAxis;
use crate::report::html::Element;
use crate::report::html::el;
use crate::report::html::tenth;
use crate::report::night::SessionPart;
use crate::report::shapes::line;
use crate::report::shapes::path;
use crate::terms::basis::Kind;
use crate::terms::night::NightFrame;

/// Height of a lane.
pub(super) const HEIGHT: f64 = 22.0;

/// The shape of a kind: its class, and top and height as fractions of the lane. Kinds differ in position as well as in
/// colour.
pub(super) const fn shape(kind: Option<Kind>) -> (&'static str, f64, f64) {
    match kind {
        Some(Kind::Light) => ("k-light", 0.0, 1.0),
        Some(Kind::Dark) => ("k-dark", 0.6, 0.4),
        Some(Kind::Flat) => ("k-flat", 0.0, 0.4),
        Some(Kind::Bias) => ("k-bias", 0.4, 0.2),
        Some(Kind::Trial) => ("k-trial", 0.2, 0.6),
        None => ("k-unknown", 0.45, 0.1),
    }
}

/// A frame's start on the axis of its session: UTC, otherwise the camera clock.
pub(super) fn start_ms(frame: &NightFrame) -> Option<i64> {
    frame
        .start_utc
        .map(crate::terms::time::Utc::unix_ms)
        .or_else(|| {
            frame
                .clock_local
                .map(crate::terms::time::WallTime::reading_ms)
        })
}

/// A frame's end on the same axis.
#[allow(clippy::cast_possible_truncation)] // an exposure of at most a day
pub(super) fn end_ms(frame: &NightFrame) -> Option<i64> {
    let exposure_ms = frame.exposure_s.unwrap_or(0.0).clamp(0.0, 86_400.0) * 1000.0;
    start_ms(frame).map(|start| start + exposure_ms as i64)
}

/// First start and last end of a session.
pub(super) fn span_ms(session: &SessionPart) -> Option<(i64, i64)> {
    let from = session.frames.iter().filter_map(start_ms).min()?;
    let to = session.frames.iter().filter_map(end_ms).max()?;
    Some((from, to))
}

/// A session's frames along an axis, with its gaps and changes.
pub(super) fn lane(session: &SessionPart, axis: &TimeAxis, top: f64) -> Element {
    let mut group = el("g").child(line(
        "lane",
        (axis.left, top + HEIGHT),
        (axis.right, top + HEIGHT),
    ));
    for kind in Kind::ALL.iter().map(|k| Some(*k)).chain([None]) {
        let (class, from, height) = shape(kind);
        let way = bars(
            session.frames.iter().filter(|f| f.kind == kind),
            axis,
            top + from * HEIGHT,
            height * HEIGHT,
        );
        if !way.is_empty() {
            group = group.child(path(class, way));
        }
    }
    for gap in &session.gaps {
        let (Some(from), Some(to)) = (
            session.frames.get(gap.after).and_then(end_ms),
            session.frames.get(gap.after + 1).and_then(start_ms),
        ) else {
            continue;
        };
        let (left, right) = (axis.x(from), axis.x(to).max(axis.x(from) + 3.0));
        let (left, right, below) = (tenth(left), tenth(right), tenth(top + HEIGHT + 1.0));
        group = group.child(path("gap", format!("M{left} {below}v5H{right}v-5")));
    }
    let mut marks = String::new();
    for change in &session.changes {
        if let Some(at) = session.frames.get(change.at).and_then(start_ms) {
            let _ = write!(
                marks,
                "M{} {}l-3.5 -6h7z",
                tenth(axis.x(at)),
                tenth(top - 1.0)
            );
        }
    }
    if !marks.is_empty() {
        group = group.child(path("change", marks));
    }
    group
}

/// Bars from start to end of each frame, one path. Bars closer than a third of a pixel are one.
fn bars<'f>(
    frames: impl Iterator<Item = &'f NightFrame>,
    axis: &TimeAxis,
    top: f64,
    height: f64,
) -> String {
    /// Narrower bars cannot be seen.
    const NARROWEST: f64 = 1.0;
    /// Wider spaces stay.
    const SPACE: f64 = 0.35;
    let mut spans: Vec<(f64, f64)> = Vec::new();
    for frame in frames {
        let (Some(from), Some(to)) = (start_ms(frame), end_ms(frame)) else {
            continue;
        };
        if !axis.holds(from) {
            continue;
        }
        let left = axis.x(from);
        let right = axis.x(to).max(left + NARROWEST);
        match spans.last_mut() {
            Some(last) if left - last.1 < SPACE => last.1 = last.1.max(right),
            _ => spans.push((left, right)),
        }
    }
    let mut path = String::with_capacity(spans.len() * 24);
    for (left, right) in spans {
        let _ = write!(
            path,
            "M{} {}h{}v{}h-{}z",
            tenth(left),
            tenth(top),
            tenth(right - left),
            tenth(height),
            tenth(right - left)
        );
    }
    path
}
