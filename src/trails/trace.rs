//! From a place on a line to the whole line: its two ends, straight through the middle of its light. Judges nothing.

use crate::trails::change::SIGMA;
use crate::trails::change::UNKNOWN;
use crate::trails::flat::Plane;
use crate::trails::lines::Seed;

/// How far a line is followed from its seed, in pixels.
const FARTHEST: i32 = 700;
/// A dark stretch longer than this, and than half of what was found, ends a line.
const LONGEST_GAP: f32 = 12.0;
/// A pixel of the profile counts at least and at most this many deviations, less the threshold.
const LEAST: f32 = -2.0;
const MOST: f32 = 4.0;
const THRESHOLD: f32 = 0.5;
/// Shorter lines, in pixels, and fainter ones are none.
const SHORTEST: f32 = 5.0;
const FAINTEST: f32 = 6.0;

/// A straight line between two ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line {
    pub x1: f32,
    pub y1: f32,
    pub x2: f32,
    pub y2: f32,
}

impl Line {
    pub fn length(&self) -> f32 {
        (self.x2 - self.x1).hypot(self.y2 - self.y1)
    }

    pub fn middle(&self) -> (f32, f32) {
        (
            f32::midpoint(self.x1, self.x2),
            f32::midpoint(self.y1, self.y2),
        )
    }

    /// Unit vector from the first end to the second.
    pub fn along(&self) -> (f32, f32) {
        let length = self.length().max(1e-3);
        ((self.x2 - self.x1) / length, (self.y2 - self.y1) / length)
    }

    /// Where a point stands: along the line from its first end, and beside it.
    pub fn place(&self, x: f32, y: f32) -> (f32, f32) {
        let (ux, uy) = self.along();
        let (dx, dy) = (x - self.x1, y - self.y1);
        (dx * ux + dy * uy, dy * ux - dx * uy)
    }

    /// Whether another line runs along this one, beside it by no more than so many pixels.
    pub fn covers(&self, other: &Self, beside: f32) -> bool {
        let (a, off_a) = self.place(other.x1, other.y1);
        let (b, off_b) = self.place(other.x2, other.y2);
        let overlap = a.max(b).min(self.length()) - a.min(b).max(0.0);
        off_a.abs().min(off_b.abs()) < beside
            && off_a.abs().max(off_b.abs()) < 2.5 * beside
            && overlap > 0.5 * other.length()
    }
}

/// A line with the light along it.
#[derive(Clone, Debug)]
pub(super) struct Trace {
    pub line: Line,
    /// Light along it, from end to end, a pixel each, in deviations of one pixel of such a profile.
    pub profile: Vec<Option<f32>>,
    /// Root mean square of its light off the line, in pixels.
    pub rms_px: f32,
    /// How far its middle bends off the line through its ends, in pixels.
    pub bend_px: f32,
    /// Of how many dashes in a row it consists.
    pub dashes: usize,
}

/// The value of a plane between pixels, in deviations; unknown where most of the pixels around are.
pub(super) fn sample(plane: &Plane, x: f32, y: f32) -> Option<f32> {
    // No JPEG has longer sides, and larger numbers take the processor longer.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // not negative
    let (left, top) = (x as u16, y as u16);
    let (x0, y0) = (usize::from(left), usize::from(top));
    if x < 0.0 || y < 0.0 || x0 + 1 >= plane.width || y0 + 1 >= plane.height {
        return None;
    }
    let (sx, sy) = (x - f32::from(left), y - f32::from(top));
    let at = y0 * plane.width + x0;
    let (upper, lower) = (
        &plane.values[at..at + 2],
        &plane.values[at + plane.width..at + plane.width + 2],
    );
    let weights = [
        (1.0 - sx) * (1.0 - sy),
        sx * (1.0 - sy),
        (1.0 - sx) * sy,
        sx * sy,
    ];
    let values = [upper[0], upper[1], lower[0], lower[1]];
    let (mut sum, mut known) = (0.0, 0.0);
    for (value, weight) in values.into_iter().zip(weights) {
        let weight = if value == UNKNOWN { 0.0 } else { weight };
        sum += weight * f32::from(value);
        known += weight;
    }
    (known > 0.5).then(|| sum / known / f32::from(SIGMA))
}

/// The light of a profile's pixel: across three pixels.
pub(super) fn across(plane: &Plane, x: f32, y: f32, (ux, uy): (f32, f32)) -> Option<f32> {
    let side = |by: f32| sample(plane, x - by * uy, y + by * ux);
    let (mut sum, mut weights) = (0.0, 0.0);
    for (value, weight) in [(side(-1.0), 0.6), (side(0.0), 1.0), (side(1.0), 0.6)] {
        if let Some(value) = value {
            sum += weight * value;
            weights += weight;
        }
    }
    (weights >= 1.0).then(|| sum / weights / PROFILE_NOISE)
}

/// What one deviation of the pixels' noise comes to in a profile's pixel, weighted mean of three and between pixels.
///
/// Source: measured on even noise, see the test.
const PROFILE_NOISE: f32 = 0.50;

/// Follows a line from a seed to its ends.
pub(super) fn trace(plane: &Plane, seed: &Seed) -> Option<Trace> {
    let half = seed.dx.hypot(seed.dy).max(3.0);
    let (ux, uy) = (seed.dx / half, seed.dy / half);
    let mut best = (
        f32::MIN,
        Line {
            x1: 0.0,
            y1: 0.0,
            x2: 0.0,
            y2: 0.0,
        },
    );
    for turn in -2_i8..=2 {
        // A third of a pixel at the far end of a long seed, six degrees of a short one.
        let angle = f32::from(turn) * (1.0 / half).min(0.05);
        let (c, s) = (angle.cos(), angle.sin());
        let (vx, vy) = (ux * c - uy * s, ux * s + uy * c);
        for offset in -2_i8..=2 {
            let by = f32::from(offset) * 0.9;
            let (x, y) = (seed.x - by * vy, seed.y + by * vx);
            let line = Line {
                x1: x - half * vx,
                y1: y - half * vy,
                x2: x + half * vx,
                y2: y + half * vy,
            };
            let sum = light(plane, &line);
            if sum > best.0 {
                best = (sum, line);
            }
        }
    }
    let mut line = best.1;
    for _ in 0..2 {
        line = ends(plane, &line)?;
        line = straightened(plane, &line).0;
    }
    let line = ends(plane, &line)?;
    if line.length() < SHORTEST {
        return None;
    }
    let (_, rms_px, bend_px) = straightened(plane, &line);
    let profile = profile(plane, &line);
    let trace = Trace {
        line,
        profile,
        rms_px,
        bend_px,
        dashes: 1,
    };
    (trace.strength() >= FAINTEST).then_some(trace)
}

impl Trace {
    /// The whole light in units of its noise.
    pub fn strength(&self) -> f32 {
        let (sum, count) = self.sum();
        sum / count.max(1.0).sqrt() / ALONG
    }

    /// The light of its known pixels, and how many there are.
    pub fn sum(&self) -> (f32, f32) {
        self.profile
            .iter()
            .flatten()
            .fold((0.0, 0.0), |(sum, count), v| (sum + v, count + 1.0))
    }
}

/// How much more the sum over a profile varies than the root of its length says: neighbours share pixels.
const ALONG: f32 = 1.35;

fn light(plane: &Plane, line: &Line) -> f32 {
    let (ux, uy) = line.along();
    let length = line.length();
    // Long lines need no pixel of theirs in particular.
    let step = if length > 30.0 { 2.0 } else { 1.0 };
    let (mut sum, mut at) = (0.0, 0.0);
    while at <= length {
        let value = sample(plane, line.x1 + at * ux, line.y1 + at * uy);
        sum += value.unwrap_or(0.0).clamp(LEAST, MOST);
        at += step;
    }
    sum
}

/// The light along a line, a pixel each.
pub(super) fn profile(plane: &Plane, line: &Line) -> Vec<Option<f32>> {
    let (ux, uy) = line.along();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // within a picture
    let count = line.length().round() as u16;
    (0..=count)
        .map(|at| {
            let at = f32::from(at);
            across(plane, line.x1 + at * ux, line.y1 + at * uy, (ux, uy))
        })
        .collect()
}

/// The stretch of most light through the middle of a line.
fn ends(plane: &Plane, line: &Line) -> Option<Line> {
    let (ux, uy) = line.along();
    let (mx, my) = line.middle();
    let value = |at: i32| -> Option<Option<f32>> {
        let (x, y) = (mx + at as f32 * ux, my + at as f32 * uy);
        let inside =
            x >= 0.0 && y >= 0.0 && x <= (plane.width - 1) as f32 && y <= (plane.height - 1) as f32;
        inside.then(|| across(plane, x, y, (ux, uy)).map(|v| v.clamp(LEAST, MOST) - THRESHOLD))
    };
    // The middle itself may be dark: start where the light within half the line is strongest.
    #[allow(clippy::cast_possible_truncation)] // within a picture
    let half = (line.length() / 2.0) as i32;
    let start = (-half..=half)
        .filter_map(|at| Some((at, value(at)??)))
        .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.abs().cmp(&a.0.abs())))?
        .0;
    let mut found = [start; 2];
    for (end, step) in [(1, 1), (0, -1), (1, 1)] {
        let mut sum = 0.0;
        let mut best = (0.0, found[end]);
        let mut at = found[end] + step;
        while (at - start).abs() < FARTHEST {
            let Some(value) = value(at) else {
                break;
            };
            // Hidden pixels bridge no more than dark ones do.
            let so_far = (best.1 - found[1 - end]).abs() as f32;
            if (at - best.1).abs() as f32 > LONGEST_GAP.max(so_far / 2.0) {
                break;
            }
            if let Some(value) = value {
                sum += value;
                if sum > best.0 {
                    best = (sum, at);
                }
            }
            at += step;
        }
        found[end] = best.1;
    }
    let point = |at: i32| (mx + at as f32 * ux, my + at as f32 * uy);
    let ((x1, y1), (x2, y2)) = (point(found[0]), point(found[1]));
    (found[1] - found[0] >= 3).then_some(Line { x1, y1, x2, y2 })
}

/// A line through the middle of the light along another: the line, how far the light is off it, how far it bends.
fn straightened(plane: &Plane, line: &Line) -> (Line, f32, f32) {
    let (ux, uy) = line.along();
    let length = line.length();
    let mut points = Vec::new();
    let mut at = 0.0;
    while at <= length {
        let (x, y) = (line.x1 + at * ux, line.y1 + at * uy);
        let (mut sum, mut moment) = (0.0, 0.0);
        for k in -6_i8..=6 {
            let by = f32::from(k) * 0.5;
            let light = sample(plane, x - by * uy, y + by * ux)
                .unwrap_or(0.0)
                .clamp(0.0, 12.0);
            let light = (light - 1.0).max(0.0);
            sum += light;
            moment += light * by;
        }
        if sum > 2.0 {
            points.push((at, moment / sum, sum.min(20.0)));
        }
        at += 1.0;
    }
    if points.len() < 4 {
        return (*line, 0.0, 0.0);
    }
    let fit = Fit::of(&points);
    let offset = |at: f32| fit.mean + fit.slope * (at - fit.middle);
    let (o1, o2) = (offset(0.0), offset(length));
    let straight = Line {
        x1: line.x1 - o1 * uy,
        y1: line.y1 + o1 * ux,
        x2: line.x2 - o2 * uy,
        y2: line.y2 + o2 * ux,
    };
    let (mut squares, mut weights, mut curve, mut curve_norm) = (0.0, 0.0, 0.0, 0.0);
    for (at, off, weight) in &points {
        let left = off - offset(*at);
        squares += weight * left * left;
        weights += weight;
        let t = 2.0 * (at - fit.middle) / length.max(1.0);
        let shape = t * t - 1.0 / 3.0;
        curve += weight * left * shape;
        curve_norm += weight * shape * shape;
    }
    let bend = if curve_norm > 0.0 {
        curve / curve_norm
    } else {
        0.0
    };
    (straight, (squares / weights).sqrt(), bend.abs())
}

/// A weighted straight fit.
struct Fit {
    middle: f32,
    mean: f32,
    slope: f32,
}

impl Fit {
    fn of(points: &[(f32, f32, f32)]) -> Self {
        let (mut w, mut wx, mut wy) = (0.0, 0.0, 0.0);
        for (x, y, weight) in points {
            w += weight;
            wx += weight * x;
            wy += weight * y;
        }
        let (middle, mean) = (wx / w, wy / w);
        let (mut xx, mut xy) = (0.0, 0.0);
        for (x, y, weight) in points {
            xx += weight * (x - middle) * (x - middle);
            xy += weight * (x - middle) * (y - mean);
        }
        let slope = if xx > 0.0 { xy / xx } else { 0.0 };
        Self {
            middle,
            mean,
            slope,
        }
    }
}
