//! Lines of neighbouring frames that one moving light drew: which belong together. Finds no lines.

use crate::trails::search::Found;

/// For each line of each frame, the number of the moving light it belongs to; none where it stands alone.
///
/// Sets how many lines its light drew. `pause`: from the end of an exposure to the next, as a share of an exposure.
pub fn linked(frames: &mut [Vec<Found>], pause: f32) -> Vec<Vec<Option<usize>>> {
    let mut links: Vec<((usize, usize), (usize, usize))> = Vec::new();
    for at in 1..frames.len() {
        for (a, first) in frames[at - 1].iter().enumerate() {
            let best = frames[at]
                .iter()
                .enumerate()
                .filter_map(|(b, second)| Some((b, continues(first, second, pause)?)))
                .min_by(|x, y| x.1.total_cmp(&y.1));
            if let Some((b, _)) = best {
                links.push(((at - 1, a), (at, b)));
            }
        }
    }
    let mut groups: Vec<Vec<Option<usize>>> =
        frames.iter().map(|lines| vec![None; lines.len()]).collect();
    let mut next = 0;
    for ((t1, a), (t2, b)) in &links {
        let number = match (groups[*t1][*a], groups[*t2][*b]) {
            (Some(one), Some(other)) => {
                let all = groups.iter_mut().flatten().flatten();
                all.filter(|g| **g == other).for_each(|g| *g = one);
                one
            }
            (Some(one), None) | (None, Some(one)) => one,
            (None, None) => {
                next += 1;
                next - 1
            }
        };
        groups[*t1][*a] = Some(number);
        groups[*t2][*b] = Some(number);
    }
    let mut counts = vec![0.0_f32; next];
    for number in groups.iter().flatten().flatten() {
        counts[*number] += 1.0;
    }
    for (lines, groups) in frames.iter_mut().zip(&groups) {
        for (line, group) in lines.iter_mut().zip(groups) {
            if let Some(number) = group {
                line.evidence.chain = counts[*number];
            }
        }
    }
    groups
}

/// How badly a line of the next frame continues one of this frame; nothing where it does not.
fn continues(first: &Found, second: &Found, pause: f32) -> Option<f32> {
    let (a, b) = (first.line(), second.line());
    let (la, lb) = (a.length(), b.length());
    let (longer, shorter) = if la >= lb { (la, lb) } else { (lb, la) };
    // A line that leaves the picture, or blinks, is shorter than its light's way.
    let cut = first.evidence.edge + second.evidence.edge > 0.0;
    if shorter < if cut { 0.15 } else { 0.45 } * longer {
        return None;
    }
    let (ux, uy) = a.along();
    let (vx, vy) = b.along();
    let turn = (ux * vy - uy * vx).abs();
    if turn > 0.05 + 1.5 / shorter {
        return None;
    }
    let (s1, o1) = a.place(b.x1, b.y1);
    let (s2, o2) = a.place(b.x2, b.y2);
    let off = f32::midpoint(o1, o2).abs();
    let (near, far) = (s1.min(s2), s1.max(s2));
    let (gap, away) = if near + far > la {
        (near - la, near - la)
    } else {
        (-far, -far)
    };
    let expected = pause * longer;
    let allowed = 4.0 + 0.35 * longer;
    (off < 2.5 + 0.03 * (la + lb + away.max(0.0)) && (gap - expected).abs() < allowed).then(|| {
        off / 3.0 + (gap - expected).abs() / allowed + turn * 10.0 + (1.0 - shorter / longer)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trails::trace::Line;

    fn found(line: Line) -> Found {
        Found {
            from: (line.x1, line.y1),
            to: (line.x2, line.y2),
            ..Found::default()
        }
    }

    #[test]
    fn a_satellite_over_three_frames_is_one_and_a_meteor_beside_it_is_none() {
        let satellite = |k: f32| {
            found(Line {
                x1: 100.0 + 44.0 * k,
                y1: 200.0,
                x2: 140.0 + 44.0 * k,
                y2: 200.4,
            })
        };
        let meteor = found(Line {
            x1: 160.0,
            y1: 190.0,
            x2: 190.0,
            y2: 240.0,
        });
        let mut frames = vec![
            vec![satellite(0.0)],
            vec![meteor, satellite(1.0)],
            vec![satellite(2.0)],
        ];
        let groups = linked(&mut frames, 0.1);
        assert_eq!(groups, [vec![Some(0)], vec![None, Some(0)], vec![Some(0)]]);
        assert!((frames[0][0].evidence.chain - 3.0).abs() < 0.1);
    }
}
