//! Curves of a night as SVG: the radiants' altitudes over twilight and Moon, with the frames below. No sums.

use std::fmt::Write as _;

use crate::report::axis::TimeAxis;
use crate::report::html::Element;
use crate::report::html::classed;
use crate::report::html::el;
use crate::report::html::tenth;
use crate::report::lane;
use crate::report::night::Part;
use crate::report::shapes::line;
use crate::report::shapes::path;
use crate::report::shapes::rect;
use crate::report::words;
use crate::terms::night::NightSky;
use crate::terms::night::Stretch;

/// The two sizes a plot is drawn in; the page shows the one that fits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// For screens and paper.
    Wide,
    /// For a telephone held upright.
    Narrow,
}

impl Size {
    /// Width of the drawing; one unit is a pixel at the usual widths.
    pub(super) const fn width(self) -> f64 {
        match self {
            Self::Wide => 920.0,
            Self::Narrow => 358.0,
        }
    }

    /// The class that shows it on the right screens.
    pub(super) const fn class(self) -> &'static str {
        match self {
            Self::Wide => "plot wide",
            Self::Narrow => "plot narrow",
        }
    }

    /// The suffix of its ids.
    pub(super) const fn suffix(self) -> &'static str {
        match self {
            Self::Wide => "w",
            Self::Narrow => "n",
        }
    }

    /// How many ticks fit on an axis of time.
    pub(super) const fn ticks(self) -> usize {
        match self {
            Self::Wide => 16,
            Self::Narrow => 6,
        }
    }
}

/// The classes of curves: each has its own colour and dash.
pub(super) const CURVES: [&str; 5] = ["c0", "c1", "c2", "c3", "c4"];

/// An SVG with a title and a description for screen readers.
pub(super) fn drawing(size: Size, id: &str, height: f64, title: &str, told: &str) -> Element {
    let (name, about) = (
        format!("{id}-{}-t", size.suffix()),
        format!("{id}-{}-d", size.suffix()),
    );
    classed("svg", size.class())
        .attr(
            "viewBox",
            format!("0 0 {} {}", tenth(size.width()), tenth(height)),
        )
        .attr("role", "img")
        .attr("aria-labelledby", format!("{name} {about}"))
        .child(el("title").attr("id", name).text(title))
        .child(el("desc").attr("id", about).text(told))
}

/// Text in a drawing.
pub(super) fn label(class: &'static str, x: f64, y: f64, text: impl Into<String>) -> Element {
    classed("text", class).num("x", x).num("y", y).text(text)
}

/// The area of a plot, and its scale of altitude from the horizon to the zenith.
#[derive(Clone, Copy)]
pub(super) struct Area {
    pub axis: TimeAxis,
    pub top: f64,
    pub height: f64,
}

impl Area {
    pub fn y(&self, alt_deg: f64) -> f64 {
        self.top + self.height * (1.0 - alt_deg.clamp(0.0, 90.0) / 90.0)
    }

    fn bottom(&self) -> f64 {
        self.top + self.height
    }

    fn band(&self, class: &'static str, from_ms: i64, to_ms: i64) -> Element {
        let (left, right) = (self.axis.x(from_ms), self.axis.x(to_ms));
        rect(class, (left, self.top), (right - left, self.height))
    }

    /// A line through points of time and altitude; parts below the horizon are left out.
    pub fn curve(&self, points: impl Iterator<Item = (i64, f64)>) -> String {
        let mut path = String::new();
        let mut before: Option<(i64, f64)> = None;
        let mut drawn: Option<(f64, f64)> = None;
        for (at, alt) in points.filter(|(at, _)| self.axis.holds(*at)) {
            if let Some((then, last)) = before
                && (last > 0.0) != (alt > 0.0)
            {
                // Rising or setting between the two: the line meets the horizon there.
                let share = last / (last - alt);
                #[allow(clippy::cast_possible_truncation)] // between two moments
                let there = then + ((at - then) as f64 * share) as i64;
                let mark = if alt > 0.0 { 'M' } else { 'L' };
                let _ = write!(
                    path,
                    "{mark}{} {}",
                    tenth(self.axis.x(there)),
                    tenth(self.y(0.0))
                );
                drawn = None;
            }
            if alt > 0.0 {
                let here = (self.axis.x(at), self.y(alt));
                let near =
                    drawn.is_some_and(|(x, y)| (x - here.0).abs() + (y - here.1).abs() < 0.8);
                if !near {
                    let mark = if path.is_empty() { 'M' } else { 'L' };
                    let _ = write!(path, "{mark}{} {}", tenth(here.0), tenth(here.1));
                    drawn = Some(here);
                }
            }
            before = Some((at, alt));
        }
        path
    }

    /// Twilight as bands, from day to night.
    pub fn twilight(&self, sky: &NightSky) -> Element {
        let mut group = el("g").child(self.band("day", self.axis.from_ms, self.axis.to_ms));
        let classes = ["civil", "nautical", "astro", "night"];
        for (class, stretches) in classes
            .into_iter()
            .zip(std::iter::once(&sky.sun_down).chain(&sky.sun_below))
        {
            group = group.children(
                stretches
                    .iter()
                    .map(|s| self.band(class, s.from.unix_ms(), s.to.unix_ms())),
            );
        }
        group
    }

    /// Altitude lines with their labels, and the frame around.
    pub fn grid(&self, every_deg: usize) -> Element {
        let mut group = el("g");
        for alt in (0..=90).step_by(every_deg) {
            let alt_deg = f64::from(u8::try_from(alt).unwrap_or(90));
            let class = if alt == 30 { "half" } else { "grid" };
            group = group
                .child(line(
                    class,
                    (self.axis.left, self.y(alt_deg)),
                    (self.axis.right, self.y(alt_deg)),
                ))
                .child(label(
                    "tick end",
                    self.axis.left - 5.0,
                    self.y(alt_deg) + 4.0,
                    format!("{alt}°"),
                ));
        }
        group
    }
}

/// The hours along the bottom of a plot.
pub(super) fn hours(part: &Part, axis: &TimeAxis, most: usize, top: f64, bottom: f64) -> Element {
    let mut group = el("g");
    for at in axis.ticks(&part.hours, most) {
        let x = axis.x(at);
        group = group
            .child(line("grid", (x, top), (x, bottom + 4.0)))
            .child(label("tick mid", x, bottom + 16.0, part.hours.tick(at)));
    }
    group
}

/// The period shown in a part's plot: the dark hours and all frames, with a margin.
pub(super) fn shown_ms(part: &Part) -> Option<(i64, i64)> {
    const MARGIN_MS: i64 = 20 * 60_000;
    let spans: Vec<(i64, i64)> = part.sessions.iter().filter_map(lane::span_ms).collect();
    let mut from = spans.iter().map(|s| s.0).min()?;
    let mut to = spans.iter().map(|s| s.1).max()?;
    let down = part.sky.as_ref().map(|sky| sky.sun_down.as_slice());
    match down {
        Some([]) | None => {
            // The Sun never sets, or its position is unknown: the frames, with space around them.
            let room = ((to - from) / 4).max(2 * MARGIN_MS);
            (from, to) = (from - room, to + room);
        }
        Some(down) => {
            from = from.min(down.iter().map(|s| s.from.unix_ms()).min()?);
            to = to.max(down.iter().map(|s| s.to.unix_ms()).max()?);
            (from, to) = (from - MARGIN_MS, to + MARGIN_MS);
        }
    }
    if let Some(sky) = &part.sky {
        from = from.max(
            sky.whole
                .from
                .unix_ms()
                .min(spans.iter().map(|s| s.0).min()?),
        );
        to = to.min(sky.whole.to.unix_ms().max(spans.iter().map(|s| s.1).max()?));
    }
    Some((from, to.max(from + 60_000)))
}

/// Height for a session below the altitudes: its name, and its lane.
const LANE: f64 = 54.0;

/// The night of one place: altitudes above, frames below.
pub(super) fn night_plot(part: &Part, id: &str, size: Size) -> Option<Element> {
    let (from_ms, to_ms) = shown_ms(part)?;
    let narrow = size == Size::Narrow;
    let axis = TimeAxis {
        from_ms,
        to_ms,
        left: 34.0,
        right: size.width() - if narrow { 10.0 } else { 44.0 },
    };
    let area = Area {
        axis,
        top: 18.0,
        height: if part.sky.is_none() {
            0.0
        } else if narrow {
            190.0
        } else {
            250.0
        },
    };
    let lanes_top = area.bottom() + if part.sky.is_some() { 34.0 } else { 4.0 };
    let bottom = lanes_top + LANE * part.sessions.len() as f64;
    let height = bottom + 40.0;
    let mut svg = drawing(
        size,
        id,
        height,
        "Altitudes of the radiants and the frames over the night",
        &words::night_told(part, from_ms, to_ms),
    );
    if let Some(sky) = &part.sky {
        svg = svg
            .child(area.twilight(sky))
            .child(area.grid(if narrow { 30 } else { 15 }))
            .child(label("tick", 2.0, 11.0, "altitude"));
        svg = svg.child(hours(part, &axis, size.ticks(), area.top, bottom));
        svg = svg.child(moon(sky, &area)).child(curves(part, &area));
    } else {
        svg = svg.child(hours(part, &axis, size.ticks(), area.top, bottom));
    }
    for (k, session) in part.sessions.iter().enumerate() {
        let top = lanes_top + LANE * k as f64 + 18.0;
        svg = svg
            .child(label(
                "lane-name",
                axis.left,
                top - 8.0,
                words::lane_name(session, narrow),
            ))
            .child(lane::lane(session, &axis, top));
    }
    Some(svg.child(label(
        "tick end",
        axis.right,
        bottom + 32.0,
        part.hours.label(),
    )))
}

/// The Moon's path, and a strip while it is up.
pub(super) fn moon(sky: &NightSky, area: &Area) -> Element {
    let way = area.curve(sky.points.iter().map(|p| (p.at.unix_ms(), p.moon_alt_deg)));
    let strip = |s: &Stretch| {
        let (left, right) = (area.axis.x(s.from.unix_ms()), area.axis.x(s.to.unix_ms()));
        rect("moon-up", (left, area.bottom() + 4.0), (right - left, 4.0))
    };
    let mut group = el("g").children(sky.moon_up.iter().map(strip));
    if !way.is_empty() {
        group = group.child(path("moon", way));
    }
    group
}

/// The radiants' curves, each with its code where it is highest; thick where frames were taken.
pub(super) fn curves(part: &Part, area: &Area) -> Element {
    let mut group = el("g");
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for (track, class) in part.tracks().into_iter().zip(CURVES) {
        let way = area.curve(track.points.iter().map(|p| (p.at.unix_ms(), p.alt_deg)));
        if way.is_empty() {
            continue;
        }
        group = group.child(path(format!("curve {class}"), way));
        for session in &part.sessions {
            let over = session.frames.iter().filter_map(|frame| {
                let radiant = frame.radiants.iter().find(|r| r.shower == track.shower)?;
                Some((frame.mid_utc?.unix_ms(), radiant.alt_deg))
            });
            let way = area.curve(over);
            if !way.is_empty() {
                group = group.child(path(format!("over {class}"), way));
            }
        }
        // The name is put where the curve is highest in the plot, and moved away from names already there.
        let highest = track
            .points
            .iter()
            .filter(|p| area.axis.holds(p.at.unix_ms()) && p.alt_deg > 0.0)
            .max_by(|a, b| a.alt_deg.total_cmp(&b.alt_deg));
        if let Some(p) = highest {
            let x = area
                .axis
                .x(p.at.unix_ms())
                .clamp(area.axis.left + 14.0, area.axis.right - 14.0);
            let mut y = (area.y(p.alt_deg) - 5.0).max(area.top + 10.0);
            while taken
                .iter()
                .any(|(a, b)| (a - x).abs() < 30.0 && (b - y).abs() < 12.0)
            {
                y += 13.0;
            }
            taken.push((x, y));
            group = group
                .child(label("name mid", x, y, track.shower.to_string()).attr("data-curve", class));
        }
    }
    group
}
