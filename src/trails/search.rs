//! Lines of light in the frames of a segment: the order of the steps.

use crate::terms::found_trail::LightCurve;
use crate::terms::found_trail::TrailEvidence as Evidence;
use crate::terms::star_image::Grey;
use crate::terms::star_image::StarField;
use crate::trails::change::calmed;
use crate::trails::change::changes;
use crate::trails::change::unrest;
use crate::trails::dashes::dashes_joined;
use crate::trails::evidence::Around;
use crate::trails::evidence::around;
use crate::trails::evidence::light_curve;
use crate::trails::evidence::of_trace;
use crate::trails::evidence::stays;
use crate::trails::flat::Plane;
use crate::trails::flat::flattened;
use crate::trails::lines::Seed;
use crate::trails::lines::seeds;
use crate::trails::places::CELLS;
use crate::trails::places::Point;
use crate::trails::places::cell;
use crate::trails::places::drift;
use crate::trails::sky_state::Glance;
use crate::trails::trace::Line;
use crate::trails::trace::Trace;
use crate::trails::trace::profile;
use crate::trails::trace::trace;

/// Pictures this wide and wider are searched at half their size.
const HALVED_FROM_PX: usize = 1_400;
/// And so that no more pixels are searched than this.
const MOST_PIXELS: usize = HALVED_FROM_PX * HALVED_FROM_PX;
/// How many lines are kept in a frame, and how many seeds are traced for them.
const MOST_LINES: usize = 120;
const MOST_TRACED: usize = 300;
/// A frame as it is searched.
#[derive(Clone, Debug)]
pub struct View {
    flat: Plane,
    /// Its stars, brightest first.
    pub(super) stars: Vec<Point>,
    star_width_px: Option<f32>,
}

impl View {
    /// Takes a preview and what stars were found in it, at whatever size they were searched.
    #[allow(clippy::cast_possible_truncation)] // pixels of a picture
    pub fn of(preview: &Grey, field: &StarField) -> Self {
        let by = binning(preview.width(), preview.height());
        let flat = if by > 1 {
            flattened(&preview.binned(by))
        } else {
            flattened(preview)
        };
        let size = flat.width as f64 / field.width as f64;
        let place = |at: f64| ((at + 0.5) * size - 0.5) as f32;
        let stars = field.stars.iter().map(|star| Point {
            x: place(star.x),
            y: place(star.y),
        });
        Self {
            stars: stars.collect(),
            star_width_px: field.star_width_px.map(|width| (width * size) as f32),
            flat,
        }
    }

    /// What is kept of it for the state of the sky.
    pub fn glance(&self, preview: &Grey, field: &StarField) -> Glance {
        Glance::of(preview, field).elongated(&self.flat, &self.stars)
    }

    /// Its stars in pixels of the searched picture, brightest first.
    pub fn stars(&self) -> &[Point] {
        &self.stars
    }

    /// Pixels in a row of the picture as it is searched.
    pub fn width(&self) -> usize {
        self.flat.width
    }

    /// Its rows.
    pub fn height(&self) -> usize {
        self.flat.height
    }
}

/// By how much a preview is made smaller for the search.
pub fn binning(width: usize, height: usize) -> usize {
    let wide = if width >= HALVED_FROM_PX {
        width.div_ceil(HALVED_FROM_PX).max(2)
    } else {
        1
    };
    // A picture of a shape that no camera has costs no more than others.
    (wide..=width.max(wide))
        .find(|by| (width / by) * (height / by) <= MOST_PIXELS)
        .unwrap_or(wide)
}

/// A line of light in one frame.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Found {
    /// One end in pixels of the searched picture: to the right and downwards.
    pub from: (f32, f32),
    /// The other end.
    pub to: (f32, f32),
    /// What speaks for it and against it.
    pub evidence: Evidence,
    /// The light along it.
    pub light_curve: LightCurve,
}

impl Found {
    pub(super) fn line(&self) -> Line {
        Line {
            x1: self.from.0,
            y1: self.from.1,
            x2: self.to.0,
            y2: self.to.1,
        }
    }
}

/// What changed in each frame of a stretch of one segment.
pub struct Changes {
    planes: Vec<Plane>,
    unrest: Option<Plane>,
    starry: Vec<bool>,
}

/// What is new in one frame of a stretch. Gives nothing for a frame alone.
pub fn change(views: &[&View], at: usize) -> Option<Change> {
    let (before, after) = match (at.checked_sub(1), (at + 1 < views.len()).then_some(at + 1)) {
        (Some(before), Some(after)) => (before, after),
        // At an end, the two on the one side.
        (None, Some(after)) => (after, (at + 2).min(views.len() - 1)),
        (Some(before), None) => (at.saturating_sub(2), before),
        (None, None) => return None,
    };
    let drift = drift(&views[before].stars, &views[at].stars)
        .max(drift(&views[at].stars, &views[after].stars));
    let width = views[at].star_width_px.unwrap_or(1.5);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped
    let reach = (drift + 0.25 * width + 0.5).clamp(1.0, 6.0) as usize;
    Some(Change(changes(
        &views[before].flat,
        &views[at].flat,
        &views[after].flat,
        reach,
    )))
}

/// What is new in one frame.
pub struct Change(Plane);

impl Changes {
    /// Puts together what is new in the frames of a stretch.
    pub fn of(views: &[&View], planes: Vec<Change>) -> Self {
        let mut planes: Vec<Plane> = planes.into_iter().map(|plane| plane.0).collect();
        let unrest = unrest(&planes.iter().collect::<Vec<_>>());
        if let Some(unrest) = &unrest {
            for plane in &mut planes {
                calmed(plane, unrest);
            }
        }
        Self {
            planes,
            unrest,
            starry: starry(views),
        }
    }

    /// The lines of light in one frame, with what is in the frames around it. `pause`: from the end of an exposure to the
    /// begin of the next, as a share of the exposure.
    pub fn lines(&self, at: usize, pause: f32) -> Vec<Found> {
        let plane = &self.planes[at];
        let traces = traces(plane);
        let others = traces.len() as f32;
        let near = |by: isize| at.checked_add_signed(by).and_then(|at| self.planes.get(at));
        let neighbours = Around {
            changes: [near(-2), near(-1), near(1), near(2)],
            pause,
        };
        traces
            .iter()
            .map(|trace| {
                let mut evidence = of_trace(plane, trace, self.unrest.as_ref());
                around(&mut evidence, &trace.line, &neighbours);
                evidence.others = others - 1.0;
                evidence.starry = self.starry_share(plane, &trace.line);
                if let (Some(before), Some(after)) = (near(-1), near(1)) {
                    evidence.stays = stays(&trace.line, before, after);
                }
                let line = &trace.line;
                Found {
                    from: (line.x1, line.y1),
                    to: (line.x2, line.y2),
                    evidence,
                    light_curve: light_curve(&trace.profile),
                }
            })
            .collect()
    }

    fn starry_share(&self, plane: &Plane, line: &Line) -> f32 {
        let lit = (0..=8_u8)
            .filter(|k| {
                let share = f32::from(*k) / 8.0;
                let x = line.x1 + share * (line.x2 - line.x1);
                let y = line.y1 + share * (line.y2 - line.y1);
                self.starry[cell(x, y, plane.width, plane.height)]
            })
            .count();
        lit as f32 / 9.0
    }
}

/// In which cells stars were ever seen: in two frames of the stretch at least.
fn starry(views: &[&View]) -> Vec<bool> {
    let mut counts = vec![0_usize; CELLS.0 * CELLS.1];
    for view in views {
        let mut here = vec![false; counts.len()];
        for star in &view.stars {
            here[cell(star.x, star.y, view.width(), view.height())] = true;
        }
        for (count, here) in counts.iter_mut().zip(here) {
            *count += usize::from(here);
        }
    }
    let least = (views.len() / 4).max(1);
    counts.into_iter().map(|count| count >= least).collect()
}

fn traces(plane: &Plane) -> Vec<Trace> {
    let mut kept: Vec<Trace> = Vec::new();
    let mut tried: Vec<Seed> = Vec::new();
    for seed in seeds(plane) {
        if kept.len() >= MOST_LINES || tried.len() >= MOST_TRACED {
            break;
        }
        if tried.iter().any(|t| alike(t, &seed)) || kept.iter().any(|k| on(&k.line, &seed)) {
            continue;
        }
        tried.push(seed);
        let Some(new) = trace(plane, &seed) else {
            continue;
        };
        absorb(&mut kept, new);
    }
    dashes_joined(plane, joined(plane, kept))
}

fn alike(a: &Seed, b: &Seed) -> bool {
    let turn = (a.dx * b.dy - a.dy * b.dx).abs() / (a.dx.hypot(a.dy) * b.dx.hypot(b.dy));
    (a.x - b.x).abs() < 4.0 && (a.y - b.y).abs() < 4.0 && turn < 0.15
}

/// Whether a seed lies on a line, or crosses it close to its middle.
fn on(line: &Line, seed: &Seed) -> bool {
    let (along, beside) = line.place(seed.x, seed.y);
    let (ux, uy) = line.along();
    let half = seed.dx.hypot(seed.dy);
    let turn = (ux * seed.dy - uy * seed.dx).abs() / half;
    let reach = if turn < 0.2 { 0.5 * half } else { 0.0 };
    along > -3.0 - reach
        && along < line.length() + 3.0 + reach
        && beside.abs() < 4.0 + 0.3 * half * turn
}

/// Keeps the stronger of lines that lie on one another.
fn absorb(kept: &mut Vec<Trace>, new: Trace) {
    const BESIDE: f32 = 5.0;
    let strength = new.strength();
    let stronger = |k: &Trace| k.strength() >= strength && k.line.covers(&new.line, BESIDE);
    if kept.iter().any(stronger) {
        return;
    }
    kept.retain(|k| k.strength() > strength || !new.line.covers(&k.line, BESIDE));
    kept.push(new);
}

/// Joins pieces that lie on one line with a short gap between them.
fn joined(plane: &Plane, mut traces: Vec<Trace>) -> Vec<Trace> {
    let mut a = 0;
    while a < traces.len() {
        let partner = (a + 1..traces.len()).find(|b| one_line(&traces[a].line, &traces[*b].line));
        if let Some(b) = partner {
            let second = traces.remove(b);
            let line = hull(&traces[a].line, &second.line);
            let first = &mut traces[a];
            first.profile = profile(plane, &line);
            first.rms_px = first.rms_px.max(second.rms_px);
            first.bend_px = first.bend_px.max(second.bend_px);
            first.line = line;
        } else {
            a += 1;
        }
    }
    traces
}

fn one_line(a: &Line, b: &Line) -> bool {
    let (long, short) = if a.length() >= b.length() {
        (a, b)
    } else {
        (b, a)
    };
    let (s1, o1) = long.place(short.x1, short.y1);
    let (s2, o2) = long.place(short.x2, short.y2);
    let gap = (s1.min(s2) - long.length()).max(-s1.max(s2));
    let near = 1.8 + 0.02 * gap.max(0.0);
    long.length() > 8.0
        && o1.abs() < near
        && o2.abs() < near
        && (o1 - o2).abs() < 0.12 * short.length() + 0.8
        && gap < (0.4 * long.length()).min(0.8 * short.length() + 6.0)
}

fn hull(a: &Line, b: &Line) -> Line {
    let ends = [(a.x1, a.y1), (a.x2, a.y2), (b.x1, b.y1), (b.x2, b.y2)];
    let mut best = (0.0, *a);
    for (i, p) in ends.iter().enumerate() {
        for q in &ends[i + 1..] {
            let length = (p.0 - q.0).hypot(p.1 - q.1);
            if length > best.0 {
                let line = Line {
                    x1: p.0,
                    y1: p.1,
                    x2: q.0,
                    y2: q.1,
                };
                best = (length, line);
            }
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_of_any_shape_is_searched_at_a_working_size() {
        assert_eq!(binning(1_080, 720), 1);
        assert_eq!(binning(1_620, 1_080), 2);
        assert_eq!(binning(6_000, 4_000), 5);
        for (width, height) in [(1_399, 40_000), (700, 65_000), (60_000, 900)] {
            let by = binning(width, height);
            assert!(
                (width / by) * (height / by) <= MOST_PIXELS,
                "{width} by {height}: {by}"
            );
        }
    }
}
