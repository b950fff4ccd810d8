//! Meteors of one shower about its radiant, on the plane that touches the sky there: their paths are straight and meet in the middle.
//! SVG; east is to the left, as one sees the sky. The only sums are places on the page and distances from the middle.

use crate::report::html::Element;
use crate::report::plot;
use crate::report::plot::Size;
use crate::report::plot::label;
use crate::report::seen::CHART_REACH_DEG;
use crate::report::seen::ChartTrail;
use crate::report::seen::TrailChart;
use crate::report::shapes::circle;
use crate::report::shapes::line;
use crate::report::shapes::path;
use crate::report::words;

const RADIUS: f64 = 160.0;
const CENTRE: (f64, f64) = (179.0, 176.0);
const HEIGHT: f64 = 352.0;
/// A chart reaches at least so far from the radiant, in degrees.
const LEAST_REACH_DEG: f64 = 15.0;
/// Room beyond the farthest end.
const ROOM: f64 = 1.06;
/// Rings closer together than this are left out.
const RINGS_APART: f64 = 18.0;
/// A path is drawn so far beyond its nearest point to the radiant.
const BEYOND: f64 = 8.0;

/// The chart of a shower.
pub(super) fn trail_chart(chart: &TrailChart, id: &str) -> Element {
    let far = |trail: &ChartTrail| trail.far.0.hypot(trail.far.1);
    let reach = chart
        .trails
        .iter()
        .map(far)
        .fold(LEAST_REACH_DEG.to_radians().tan(), f64::max)
        * ROOM;
    let scale = RADIUS / reach;
    let at = |(east, north): (f64, f64)| (CENTRE.0 - east * scale, CENTRE.1 - north * scale);
    let mut svg = plot::drawing(
        Size::Narrow,
        id,
        HEIGHT,
        &format!("Trails of {} about the radiant", chart.shower),
        &told(chart),
    )
    .attr("data-chart", "");
    let ring =
        |class: &'static str, deg: f64| circle(class, CENTRE, deg.to_radians().tan() * scale);
    svg = svg.child(ring("source", chart.half_size_deg));
    let mut before = 0.0;
    for deg in (1..8).map(|tens| f64::from(tens) * 10.0) {
        let radius = deg.to_radians().tan() * scale;
        if radius > RADIUS || radius - before < RINGS_APART || deg > CHART_REACH_DEG {
            continue;
        }
        before = radius;
        svg = svg.child(ring("grid", deg)).child(label(
            "tick mid",
            CENTRE.0,
            CENTRE.1 + radius + 4.0,
            format!("{deg}°"),
        ));
    }
    for ((x, y), name) in [((0.0, -1.0), "N"), ((-1.0, 0.0), "E")] {
        let (x, y) = (CENTRE.0 + x * (RADIUS + 9.0), CENTRE.1 + y * (RADIUS + 9.0));
        svg = svg.child(label("compass mid", x, y + 4.0, name));
    }
    svg = svg.child(path(
        "radiant",
        format!("M{} {}h10m-5 -5v10", CENTRE.0 - 5.0, CENTRE.1),
    ));
    for trail in &chart.trails {
        let (near, far) = (at(trail.near), at(trail.far));
        let (dx, dy) = (near.0 - far.0, near.1 - far.1);
        let length = dx.hypot(dy).max(1e-6);
        let (ux, uy) = (dx / length, dy / length);
        // How far along the path beyond its nearer end it is nearest to the radiant.
        let ahead = (CENTRE.0 - near.0) * ux + (CENTRE.1 - near.1) * uy;
        if ahead > 0.0 {
            let ahead = ahead + BEYOND;
            let back = (near.0 + ux * ahead, near.1 + uy * ahead);
            svg = svg.child(line("path-back", near, back));
        }
        let class = if trail.sure {
            "trail"
        } else {
            "trail possible"
        };
        svg = svg.child(line(class, near, far)).child(label(
            "name mid",
            far.0 - ux * 9.0,
            far.1 - uy * 9.0 + 4.0,
            trail.number.to_string(),
        ));
    }
    svg
}

/// How far the great circle of a trail passes the radiant, in degrees: on the plane a straight line does so at the tangent of it.
pub(super) fn miss_deg(trail: &ChartTrail) -> f64 {
    let (dx, dy) = (trail.far.0 - trail.near.0, trail.far.1 - trail.near.1);
    let across = trail.near.0 * dy - trail.near.1 * dx;
    (across.abs() / dx.hypot(dy).max(1e-12)).atan().to_degrees()
}

fn told(chart: &TrailChart) -> String {
    let deg = |(east, north): (f64, f64)| words::degrees(east.hypot(north).atan().to_degrees());
    let one = |trail: &ChartTrail| {
        format!(
            "{} {}: {} to {} from the radiant, passes it at {}.",
            if trail.sure {
                "Trail"
            } else {
                "Possible trail"
            },
            trail.number,
            deg(trail.near),
            deg(trail.far),
            words::degrees(miss_deg(trail))
        )
    };
    let all: Vec<String> = chart.trails.iter().map(one).collect();
    all.join(" ")
}

/// What stands under a chart.
pub(super) fn caption(chart: &TrailChart) -> String {
    if chart.trails.is_empty() {
        return format!("{}: no chart. {}", chart.shower, too_far(chart));
    }
    let mut text = format!(
        "{}: the sky about the place that its trails point back to, in gnomonic projection, where meteors are straight. Rings: degrees from the \
         radiant; the disc: where its meteors come from. Dashed: the path continued backward.",
        chart.shower
    );
    if chart.trails.iter().any(|trail| !trail.sure) {
        text.push_str(" Dotted: the path fits another shower as well.");
    }
    if !chart.too_far.is_empty() {
        text.push(' ');
        text.push_str(&too_far(chart));
    }
    text
}

fn too_far(chart: &TrailChart) -> String {
    let numbers: Vec<String> = chart.too_far.iter().map(ToString::to_string).collect();
    format!(
        "Not drawn, {CHART_REACH_DEG}° or more from the radiant: {}.",
        numbers.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two points of a great circle that passes (1, 0, 0) at a known distance, drawn by hand: x/z and y/z about that centre.
    #[test]
    fn a_straight_line_passes_the_middle_at_the_distance_of_its_great_circle() {
        for miss in [0.0, 0.4, 3.0, 25.0_f64] {
            // The great circle's points: nearest to the centre at `miss` north, then along it eastwards.
            let (s, c) = miss.to_radians().sin_cos();
            let point = |along: f64| {
                let (sin, cos) = along.to_radians().sin_cos();
                let (forward, east, north) = (c * cos, sin, s * cos);
                (east / forward, north / forward)
            };
            let trail = ChartTrail {
                number: 1,
                sure: true,
                near: point(30.0),
                far: point(44.0),
            };
            assert!((miss_deg(&trail) - miss).abs() < 1e-9, "{miss}");
        }
    }
}
