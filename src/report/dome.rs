//! The sky dome: altitude and azimuth of the radiants' paths over the night, as SVG. No sums.
//!
//! Zenith in the middle, horizon around it, north at the top and east to the left: the sky as seen lying on one's back,
//! head to the north.

use std::fmt::Write as _;

use crate::report::html::Element;
use crate::report::html::el;
use crate::report::html::tenth;
use crate::report::night::Part;
use crate::report::plot;
use crate::report::plot::CURVES;
use crate::report::plot::Size;
use crate::report::plot::label;
use crate::report::seen::Outline;
use crate::report::shapes;
use crate::report::shapes::circle;
use crate::report::shapes::line;
use crate::report::words;
use crate::terms::night::NightSky;
use crate::terms::night::TrackPoint;
use crate::terms::time::Utc;

const RADIUS: f64 = 150.0;
const CENTRE: (f64, f64) = (179.0, 176.0);
const HEIGHT: f64 = 352.0;

/// The position of a direction: distance from the zenith along the radius.
fn at(alt_deg: f64, az_deg: f64) -> (f64, f64) {
    let from_zenith = RADIUS * (90.0 - alt_deg) / 90.0;
    let (sin, cos) = az_deg.to_radians().sin_cos();
    (CENTRE.0 - from_zenith * sin, CENTRE.1 - from_zenith * cos)
}

/// The dome over a part's place; nothing without a sky.
pub(super) fn dome(part: &Part, id: &str) -> Option<Element> {
    let sky = part.sky.as_ref()?;
    let mut svg = plot::drawing(
        Size::Narrow,
        id,
        HEIGHT,
        "The radiants' ways over the dome of the sky",
        &words::dome_told(part),
    )
    .attr("data-dome", "");
    for alt in [0.0, 30.0, 60.0] {
        let class = if alt == 0.0 { "horizon" } else { "grid" };
        svg = svg.child(circle(class, CENTRE, RADIUS * (90.0 - alt) / 90.0));
        if alt > 0.0 {
            let (x, y) = at(alt, 225.0);
            svg = svg.child(label("tick mid", x, y + 4.0, format!("{alt}°")));
        }
    }
    for (az, name) in [(0.0, "N"), (90.0, "E"), (180.0, "S"), (270.0, "W")] {
        let (x, y) = at(-8.0, az);
        let (inner, outer) = (at(0.0, az), at(-3.0, az));
        svg =
            svg.child(line("horizon", inner, outer))
                .child(label("compass mid", x, y + 4.0, name));
    }
    for session in &part.sessions {
        svg = svg.children(session.outlines.iter().map(picture_edge));
    }
    let moon: Vec<TrackPoint> = sky
        .points
        .iter()
        .map(|p| TrackPoint {
            at: p.at,
            alt_deg: p.moon_alt_deg,
            az_deg: p.moon_az_deg,
        })
        .collect();
    let way = path(&moon, |p| night(sky, p.at));
    if !way.is_empty() {
        svg = svg.child(shapes::path("moon", way));
    }
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for (track, class) in part.tracks().into_iter().zip(CURVES) {
        let dim = path(&track.points, |_| true);
        let dark = path(&track.points, |p| night(sky, p.at));
        if dim.is_empty() {
            continue;
        }
        svg = svg.child(shapes::path(format!("curve faint {class}"), dim));
        if !dark.is_empty() {
            svg = svg.child(shapes::path(format!("curve {class}"), dark));
        }
        svg = svg.child(frames_on(part, track.shower, class));
        if let Some((x, y)) = name_place(&track.points, sky, &taken) {
            taken.push((x, y));
            svg = svg
                .child(label("name mid", x, y, track.shower.to_string()).attr("data-curve", class));
        }
    }
    let mut numbered: Vec<(f64, f64)> = Vec::new();
    for session in &part.sessions {
        let Some(outline) = session.outlines.first() else {
            continue;
        };
        let (x, mut y) = at(outline.middle.0, outline.middle.1);
        while numbered
            .iter()
            .chain(&taken)
            .any(|(a, b)| (a - x).abs() < 26.0 && (b - y).abs() < 13.0)
        {
            y += 13.0;
        }
        numbered.push((x, y));
        svg = svg.child(label("tick mid", x, y + 4.0, session.number.to_string()));
    }
    Some(svg)
}

/// The outline of a picture.
fn picture_edge(outline: &Outline) -> Element {
    let mut path = String::new();
    for (k, (alt, az)) in outline.points.iter().enumerate() {
        let (x, y) = at(*alt, *az);
        let pen = if k == 0 { 'M' } else { 'L' };
        let _ = write!(path, "{pen}{} {}", tenth(x), tenth(y));
    }
    shapes::path("outline", format!("{path}Z"))
}

/// Whether the Sun is below -18° at an instant; if it never is, whether it is down; if it never sets, always true.
fn night(sky: &NightSky, at: Utc) -> bool {
    let within = |stretches: &[crate::terms::night::Stretch]| {
        stretches.iter().any(|s| s.from <= at && at <= s.to)
    };
    match (sky.sun_below[2].as_slice(), sky.sun_down.as_slice()) {
        ([], []) => true,
        ([], down) => within(down),
        (dark, _) => within(dark),
    }
}

/// The part of a path over the dome that is above the horizon and wanted.
fn path(points: &[TrackPoint], wanted: impl Fn(&TrackPoint) -> bool) -> String {
    let mut path = String::new();
    let mut pen = 'M';
    let mut drawn = (f64::MAX, f64::MAX);
    for p in points {
        if p.alt_deg < 0.0 || !wanted(p) {
            pen = 'M';
            continue;
        }
        let (x, y) = at(p.alt_deg, p.az_deg);
        if pen == 'L' && (x - drawn.0).abs() + (y - drawn.1).abs() < 1.5 {
            continue;
        }
        let _ = write!(path, "{pen}{} {}", tenth(x), tenth(y));
        (pen, drawn) = ('L', (x, y));
    }
    path
}

/// The part of a path during which frames were taken, as a thick line.
fn frames_on(part: &Part, shower: crate::terms::shower::ShowerCode, class: &str) -> Element {
    let mut group = el("g");
    for session in &part.sessions {
        let points: Vec<TrackPoint> = session
            .frames
            .iter()
            .filter_map(|f| {
                let r = f.radiants.iter().find(|r| r.shower == shower)?;
                Some(TrackPoint {
                    at: f.mid_utc?,
                    alt_deg: r.alt_deg,
                    az_deg: r.az_deg,
                })
            })
            .collect();
        let way = path(&points, |_| true);
        if !way.is_empty() {
            group = group.child(shapes::path(format!("over {class}"), way));
        }
    }
    group
}

/// The position of the name: on the path in the dark, as near to its middle as other names allow.
fn name_place(points: &[TrackPoint], sky: &NightSky, taken: &[(f64, f64)]) -> Option<(f64, f64)> {
    let seen: Vec<(f64, f64)> = points
        .iter()
        .filter(|p| p.alt_deg > 4.0 && night(sky, p.at))
        .map(|p| at(p.alt_deg, p.az_deg))
        .map(|(x, y)| (x, y + 4.0))
        .collect();
    let middle = seen.len() / 2;
    let free = |(x, y): &(f64, f64)| {
        !taken
            .iter()
            .any(|(a, b)| (a - x).abs() < 32.0 && (b - y).abs() < 14.0)
    };
    (0..seen.len())
        .flat_map(|step| [middle.checked_sub(step), Some(middle + step)])
        .flatten()
        .filter_map(|k| seen.get(k).copied())
        .find(free)
}
