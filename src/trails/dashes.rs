//! Dashes that one blinking light drew in one frame: short lines in a row, joined to one. Judges nothing.

use crate::trails::flat::Plane;
use crate::trails::trace::Line;
use crate::trails::trace::Trace;
use crate::trails::trace::profile;

/// So many lines in a row are dashes: two lie in a row by chance too often.
const FEWEST: usize = 3;
/// How far the middles of dashes lie off their row at most, in pixels.
const OFF_ROW_PX: f32 = 1.6;
/// How far apart the middles of two dashes in a row are at most, in pixels.
const APART_PX: f32 = 260.0;
/// How far the way of a dash turns from that of its row, as a sine: of a long one, and how much more of one a pixel long.
const TURN: (f32, f32) = (0.05, 1.0);
/// With more lines in a frame than this, too many lie in a row by chance.
const MOST_LINES: usize = 60;

/// Joins lines that lie in a row.
pub(super) fn dashes_joined(plane: &Plane, traces: Vec<Trace>) -> Vec<Trace> {
    if traces.len() < FEWEST || traces.len() > MOST_LINES {
        return traces;
    }
    let mut left: Vec<Option<Trace>> = traces.into_iter().map(Some).collect();
    while let Some(row) = longest_row(&left) {
        let members: Vec<Trace> = row.iter().filter_map(|at| left[*at].take()).collect();
        left[row[0]] = Some(joined(plane, &members));
    }
    left.into_iter().flatten().collect()
}

/// The row with the most dashes, by the places of its lines in order along it.
fn longest_row(traces: &[Option<Trace>]) -> Option<Vec<usize>> {
    let lines: Vec<(usize, &Line)> = traces
        .iter()
        .enumerate()
        .filter_map(|(at, trace)| {
            let trace = trace.as_ref().filter(|trace| trace.dashes < 2)?;
            Some((at, &trace.line))
        })
        .collect();
    let mut best: Vec<usize> = Vec::new();
    for (at, (_, first)) in lines.iter().enumerate() {
        for (_, second) in &lines[at + 1..] {
            let row = Row::through(first, second);
            let Some(row) = row.filter(|row| row.runs_with(first) && row.runs_with(second)) else {
                continue;
            };
            let members = row.members(&lines);
            if members.len() >= FEWEST && members.len() > best.len() {
                best = members;
            }
        }
    }
    (!best.is_empty()).then_some(best)
}

/// A straight line through the middles of two others.
struct Row {
    from: (f32, f32),
    along: (f32, f32),
}

impl Row {
    fn through(a: &Line, b: &Line) -> Option<Self> {
        let (from, to) = (a.middle(), b.middle());
        let apart = (to.0 - from.0).hypot(to.1 - from.1);
        (apart > 1.0 && apart < APART_PX).then(|| Self {
            from,
            along: ((to.0 - from.0) / apart, (to.1 - from.1) / apart),
        })
    }

    fn runs_with(&self, line: &Line) -> bool {
        let (ux, uy) = line.along();
        let turn = (ux * self.along.1 - uy * self.along.0).abs();
        turn < TURN.0 + TURN.1 / line.length().max(1.0)
    }

    /// The lines on it next to the first two, without a long gap.
    fn members(&self, lines: &[(usize, &Line)]) -> Vec<usize> {
        let mut on: Vec<(f32, usize)> = lines
            .iter()
            .filter(|(_, line)| self.runs_with(line))
            .filter_map(|(at, line)| {
                let (x, y) = line.middle();
                let (dx, dy) = (x - self.from.0, y - self.from.1);
                let off = dx * self.along.1 - dy * self.along.0;
                (off.abs() < OFF_ROW_PX).then_some((dx * self.along.0 + dy * self.along.1, *at))
            })
            .collect();
        on.sort_by(|a, b| a.0.total_cmp(&b.0));
        on.chunk_by(|a, b| b.0 - a.0 < APART_PX)
            .find(|part| part.iter().any(|(along, _)| along.abs() < 0.5))
            .map(|part| part.iter().map(|(_, at)| *at).collect())
            .unwrap_or_default()
    }
}

/// One line from the first end of the first dash to the last end of the last one.
fn joined(plane: &Plane, dashes: &[Trace]) -> Trace {
    let ends: Vec<(f32, f32)> = dashes
        .iter()
        .flat_map(|dash| [(dash.line.x1, dash.line.y1), (dash.line.x2, dash.line.y2)])
        .collect();
    let mut line = dashes[0].line;
    let mut longest = 0.0;
    for (at, a) in ends.iter().enumerate() {
        for b in &ends[at + 1..] {
            let length = (a.0 - b.0).hypot(a.1 - b.1);
            if length > longest {
                longest = length;
                line = Line {
                    x1: a.0,
                    y1: a.1,
                    x2: b.0,
                    y2: b.1,
                };
            }
        }
    }
    let most = |of: fn(&Trace) -> f32| dashes.iter().map(of).fold(0.0, f32::max);
    Trace {
        profile: profile(plane, &line),
        rms_px: most(|dash| dash.rms_px),
        bend_px: most(|dash| dash.bend_px),
        dashes: dashes.iter().map(|dash| dash.dashes).sum(),
        line,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(x: f32, y: f32, along: (f32, f32), length: f32) -> Trace {
        let (dx, dy) = (along.0 * length / 2.0, along.1 * length / 2.0);
        Trace {
            line: Line {
                x1: x - dx,
                y1: y - dy,
                x2: x + dx,
                y2: y + dy,
            },
            profile: vec![Some(4.0); 10],
            rms_px: 0.2,
            bend_px: 0.1,
            dashes: 1,
        }
    }

    #[test]
    fn four_dashes_in_a_row_are_one_light_and_a_line_across_is_not() {
        let plane = Plane {
            width: 400,
            height: 300,
            values: vec![0; 400 * 300],
        };
        let way = (0.8, 0.6);
        let at = |s: f32| trace(50.0 + 0.8 * s, 40.0 + 0.6 * s, way, 9.0);
        let across = trace(50.0 + 0.8 * 60.0, 40.0 + 0.6 * 60.0, (0.6, -0.8), 30.0);
        let beside = trace(200.0, 60.0, way, 20.0);
        let found = dashes_joined(
            &plane,
            vec![at(0.0), across, at(55.0), at(120.0), beside, at(170.0)],
        );
        assert_eq!(found.len(), 3);
        let row = found.iter().find(|trace| trace.dashes == 4).unwrap();
        assert!((row.line.length() - 179.0).abs() < 1.0, "{:?}", row.line);
        // Two in a row may be so by chance.
        assert_eq!(dashes_joined(&plane, vec![at(0.0), at(55.0)]).len(), 2);
    }
}
