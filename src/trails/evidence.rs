//! What speaks for a trail and against it, in numbers: its light, its surroundings, its line in the frames before and after.
//! Decides nothing.

use crate::terms::found_trail::LightCurve;
use crate::terms::found_trail::TrailEvidence as Evidence;
use crate::trails::flat::Plane;
use crate::trails::trace::Line;
use crate::trails::trace::Trace;
use crate::trails::trace::across;
use crate::trails::trace::profile;
use crate::trails::trace::sample;

/// Measures what a trace shows by itself.
pub(super) fn of_trace(changes: &Plane, trace: &Trace, unrest: Option<&Plane>) -> Evidence {
    let known: Vec<f32> = trace.profile.iter().flatten().copied().collect();
    let count = known.len().max(1) as f32;
    let mean = known.iter().sum::<f32>() / count;
    let peak = peak(changes, &trace.line);
    let lit = known.iter().filter(|v| **v > 1.2).count() as f32 / count;
    let (width_px, beside) = cut(changes, &trace.line);
    let (ends, lopsided) = ends(&trace.profile);
    let edge = [
        (trace.line.x1, trace.line.y1),
        (trace.line.x2, trace.line.y2),
    ]
    .iter()
    .filter(|(x, y)| at_edge(changes, *x, *y))
    .count();
    Evidence {
        length_px: trace.line.length(),
        line_snr: trace.strength(),
        mean_snr: mean / 2.0,
        peak_snr: peak.0,
        peak_at: peak.1.min(1.0 - peak.1),
        lit,
        seen: count / trace.profile.len().max(1) as f32,
        off_line_px: trace.rms_px,
        bend_px: trace.bend_px,
        width_px,
        beside,
        ends,
        lopsided,
        peaks: peaks(&known),
        unrest: unrest.map_or(1.0, |plane| restless(plane, &trace.line)),
        edge: edge as f32,
        dashes: trace.dashes as f32,
        chain: 1.0,
        ..Evidence::default()
    }
}

fn at_edge(plane: &Plane, x: f32, y: f32) -> bool {
    const MARGIN: f32 = 3.0;
    x < MARGIN
        || y < MARGIN
        || x > plane.width as f32 - 1.0 - MARGIN
        || y > plane.height as f32 - 1.0 - MARGIN
}

/// The light along a trace in equal parts; where a part is shorter than a pixel, of the pixel nearest to its middle.
pub(super) fn light_curve(profile: &[Option<f32>]) -> LightCurve {
    let count = profile.len();
    LightCurve(std::array::from_fn(|part| {
        let from = part * count / LightCurve::PARTS;
        let to = ((part + 1) * count / LightCurve::PARTS).clamp(from + 1, count.max(from + 1));
        let known: Vec<f32> = profile.get(from..to)?.iter().flatten().copied().collect();
        // A pixel of a profile has half the noise of one of the picture.
        (!known.is_empty()).then(|| known.iter().sum::<f32>() / known.len() as f32 / 2.0)
    }))
}

/// The brightest mean of five pixels on the line, and where, 0 to 1.
fn peak(plane: &Plane, line: &Line) -> (f32, f32) {
    let (ux, uy) = line.along();
    let length = line.length();
    let values: Vec<f32> = steps(length)
        .map(|at| sample(plane, line.x1 + at * ux, line.y1 + at * uy).unwrap_or(0.0))
        .collect();
    let size = values.len().clamp(1, 5);
    values
        .windows(size)
        .enumerate()
        .map(|(at, w)| {
            let middle = (at as f32 + (size - 1) as f32 / 2.0) / length.max(1.0);
            (w.iter().sum::<f32>() / size as f32, middle.clamp(0.0, 1.0))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or((0.0, 0.5))
}

fn steps(length: f32) -> impl Iterator<Item = f32> {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // within a picture
    let count = length.round() as u16;
    (0..=count).map(f32::from)
}

/// Width at half maximum of the mean cut across the line, and the light beside it as a share of its own.
fn cut(plane: &Plane, line: &Line) -> (f32, f32) {
    let (ux, uy) = line.along();
    let mut mean = [(0.0_f32, 0.0_f32); 25];
    for at in steps(line.length()) {
        let (x, y) = (line.x1 + at * ux, line.y1 + at * uy);
        for (k, (sum, count)) in mean.iter_mut().enumerate() {
            let by = (k as f32 - 12.0) * 0.5;
            if let Some(value) = sample(plane, x - by * uy, y + by * ux) {
                *sum += value.min(60.0);
                *count += 1.0;
            }
        }
    }
    let cut: Vec<f32> = mean
        .iter()
        .map(|(sum, count)| sum / count.max(1.0))
        .collect();
    let top = cut[10..=14].iter().copied().fold(0.1, f32::max);
    let half = |side: &mut dyn Iterator<Item = usize>| {
        side.take_while(|k| cut[*k] > top / 2.0).count() as f32 * 0.5
    };
    let width = half(&mut (12..25)) + half(&mut (0..12).rev());
    let flanks = [0, 1, 2, 3, 21, 22, 23, 24];
    let beside = flanks.iter().map(|k| cut[*k]).sum::<f32>() / flanks.len() as f32 / top;
    (width, beside.clamp(-1.0, 1.0))
}

/// Light of the outer sixths against the middle, and the fainter of them against the brighter.
fn ends(profile: &[Option<f32>]) -> (f32, f32) {
    let sixth = (profile.len() / 6).max(1);
    let mean = |part: &[Option<f32>]| {
        let known: Vec<f32> = part.iter().flatten().map(|v| v.max(0.0)).collect();
        known.iter().sum::<f32>() / known.len().max(1) as f32
    };
    let first = mean(&profile[..sixth.min(profile.len())]);
    let last = mean(&profile[profile.len().saturating_sub(sixth)..]);
    let middle = mean(&profile[profile.len() / 4..(profile.len() * 3 / 4).max(1)]).max(0.3);
    let ratio = first.min(last) / first.max(last).max(0.3);
    ((f32::midpoint(first, last) / middle).min(3.0), ratio)
}

/// How often the light rises well above what is around it.
fn peaks(known: &[f32]) -> f32 {
    let smooth: Vec<f32> = known
        .windows(known.len().clamp(1, 3))
        .map(|w| w.iter().sum::<f32>() / w.len() as f32)
        .collect();
    let top = smooth.iter().copied().fold(0.0, f32::max);
    let step = (0.35 * top).max(2.5);
    let (mut low, mut high, mut rising, mut count) = (0.0_f32, 0.0_f32, true, 0.0);
    for value in smooth {
        if rising {
            high = high.max(value);
            if value < high - step {
                (count, rising, low) = (count + 1.0, false, value);
            }
        } else {
            low = low.min(value);
            if value > low + step {
                (rising, high) = (true, value);
            }
        }
    }
    if rising && high - low > step {
        count + 1.0
    } else {
        count
    }
}

fn restless(unrest: &Plane, line: &Line) -> f32 {
    let (ux, uy) = line.along();
    let values: Vec<f32> = steps(line.length())
        .filter_map(|at| sample(unrest, line.x1 + at * ux, line.y1 + at * uy))
        .collect();
    values.iter().sum::<f32>() / values.len().max(1) as f32
}

/// The frames around a frame: what changed in each, where there is one.
#[derive(Clone, Copy)]
pub(super) struct Around<'a> {
    /// Two before, one before, one after, two after.
    pub changes: [Option<&'a Plane>; 4],
    /// The pause between two exposures, as a share of an exposure.
    pub pause: f32,
}

/// Measures the line of a trace in the frames around it.
pub(super) fn around(evidence: &mut Evidence, line: &Line, around: &Around<'_>) {
    let reversed = Line {
        x1: line.x2,
        y1: line.y2,
        x2: line.x1,
        y2: line.y1,
    };
    let [far_before, before, after, far_after] = around.changes;
    evidence.neighbours = around.changes.iter().flatten().count() as f32;
    // It may move either way: the frame after shows it beyond one end, the frame before beyond the other.
    let mut best = (f32::MIN, Evidence::default());
    for way in [line, &reversed] {
        let back = if std::ptr::eq(way, line) {
            &reversed
        } else {
            line
        };
        let there = after.map(|plane| beyond(plane, way, around.pause, 1.0));
        let here = before.map(|plane| beyond(plane, back, around.pause, 1.0));
        let far = [
            far_after.map(|plane| beyond(plane, way, around.pause, 2.0)),
            far_before.map(|plane| beyond(plane, back, around.pause, 2.0)),
        ];
        let (a, b) = (there.unwrap_or(0.0), here.unwrap_or(0.0));
        let sum = a.max(0.0).hypot(b.max(0.0));
        if sum > best.0 {
            best.0 = sum;
            best.1.goes_on = a.max(b);
            best.1.goes_on_both = a.min(b);
            best.1.goes_on_far = far.iter().flatten().copied().fold(0.0, f32::max);
        }
    }
    evidence.goes_on = best.1.goes_on;
    evidence.goes_on_both = best.1.goes_on_both;
    evidence.goes_on_far = best.1.goes_on_far;
    evidence.on_line = [before, after]
        .iter()
        .flatten()
        .flat_map(|plane| [anywhere(plane, line), anywhere(plane, &reversed)])
        .fold(0.0, f32::max);
    let own = (evidence.mean_snr * 2.0).max(1.0);
    evidence.twin = around
        .changes
        .iter()
        .flatten()
        .map(|plane| parallel(plane, line) / own)
        .fold(0.0, f32::max);
}

/// Light where a moving light of this length in an exposure would be so many frames later: the strongest of some offsets and
/// some deviations of its pace.
fn beyond(plane: &Plane, line: &Line, pause: f32, frames: f32) -> f32 {
    let length = line.length();
    let (ux, uy) = line.along();
    let reach = if frames > 1.5 { 3_i8 } else { 2 };
    let mut best = 0.0_f32;
    for pace in [0.85, 1.0, 1.15] {
        let step = length * (1.0 + pause) * pace * frames;
        for offset in -reach..=reach {
            let by = f32::from(offset) * (0.8 + 0.006 * step);
            let (sx, sy) = (line.x1 + step * ux - by * uy, line.y1 + step * uy + by * ux);
            let moved = Line {
                x1: sx,
                y1: sy,
                x2: sx + length * ux,
                y2: sy + length * uy,
            };
            best = best.max(strength(plane, &moved));
        }
    }
    best
}

/// The strongest stretch beyond an end, at least half as long and no farther than three lengths away.
fn anywhere(plane: &Plane, line: &Line) -> f32 {
    let length = line.length();
    let (ux, uy) = line.along();
    let reach = (3.0 * length + 20.0).min(400.0);
    let window = (length * 0.6).max(6.0);
    let mut best = 0.0_f32;
    for offset in -2_i8..=2 {
        let by = f32::from(offset) * 1.2;
        let (sx, sy) = (line.x2 - by * uy, line.y2 + by * ux);
        let path = Line {
            x1: sx,
            y1: sy,
            x2: sx + reach * ux,
            y2: sy + reach * uy,
        };
        let values: Vec<f32> = profile(plane, &path)
            .into_iter()
            .map(|v| v.unwrap_or(0.0).clamp(-2.0, 6.0))
            .collect();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // within a picture
        let size = (window as usize).clamp(1, values.len());
        let mut sum: f32 = values[..size].iter().sum();
        best = best.max(sum);
        for at in size..values.len() {
            sum += values[at] - values[at - size];
            best = best.max(sum);
        }
    }
    best / window.sqrt() / 1.35
}

/// Light along a line in units of its noise; nothing where less than a third of it is in the picture.
fn strength(plane: &Plane, line: &Line) -> f32 {
    let (ux, uy) = line.along();
    let (mut sum, mut count) = (0.0, 0.0);
    for at in steps(line.length()) {
        if let Some(v) = across(plane, line.x1 + at * ux, line.y1 + at * uy, (ux, uy)) {
            sum += v.clamp(-2.0, 8.0);
            count += 1.0;
        }
    }
    if count < line.length() / 3.0 || count < 3.0 {
        return 0.0;
    }
    sum / f32::sqrt(count) / 1.35
}

/// The brightest parallel of a line within 15 pixels, its mean light.
fn parallel(plane: &Plane, line: &Line) -> f32 {
    let (ux, uy) = line.along();
    let mut best = 0.0_f32;
    for offset in -10_i8..=10 {
        let by = f32::from(offset) * 1.5;
        let moved = Line {
            x1: line.x1 - by * uy,
            y1: line.y1 + by * ux,
            x2: line.x2 - by * uy,
            y2: line.y2 + by * ux,
        };
        best = best.max(strength(plane, &moved));
    }
    best * 1.35 / line.length().max(1.0).sqrt()
}

/// Light that stays on the line afterwards, against the frames before: in units of its noise.
pub(super) fn stays(line: &Line, before: &Plane, after: &Plane) -> f32 {
    let (ux, uy) = line.along();
    let (mut sum, mut squares, mut count) = (0.0_f32, 0.0_f32, 0.0_f32);
    for at in steps(line.length()) {
        for beside in [-12.0_f32, -9.0, 0.0, 9.0, 12.0] {
            let (x, y) = (
                line.x1 + at * ux - beside * uy,
                line.y1 + at * uy + beside * ux,
            );
            let difference = match (sample(after, x, y), sample(before, x, y)) {
                (Some(a), Some(b)) => (a - b).clamp(-8.0, 8.0),
                _ => continue,
            };
            if beside.abs() < 1.0 {
                sum += difference;
                count += 1.0;
            } else {
                squares += difference * difference / 4.0;
            }
        }
    }
    sum / squares.max(0.5 * count.max(1.0)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_light_curve_has_the_shape_of_the_profile() {
        // Rises to its middle and falls; a star hides a part of it.
        let mut profile: Vec<Option<f32>> = (0..64_u8)
            .map(|at| Some(32.0 - (f32::from(at) - 31.5).abs()))
            .collect();
        profile[4..8].fill(None);
        let curve = light_curve(&profile).0;
        assert_eq!(curve[1], None);
        assert!((curve[0].unwrap() - 1.0).abs() < 0.01 && (curve[15].unwrap() - 1.0).abs() < 0.01);
        assert!((curve[7].unwrap() - 15.0).abs() < 0.01, "{curve:?}");
        // Six pixels fill sixteen parts.
        assert!(
            light_curve(&[Some(4.0); 6])
                .0
                .iter()
                .all(|part| *part == Some(2.0))
        );
        assert_eq!(light_curve(&[]), LightCurve::default());
    }
}
