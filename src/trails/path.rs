//! Lines of neighbouring frames that lie on one straight path in the order of time: flashes of one light, wherever on its way it flashed.
//! Finds no lines.

use crate::trails::search::Found;
use crate::trails::trace::Line;

/// How many frames before and after are looked at.
const FRAMES: i8 = 2;
/// How far a light moves from one frame to the next at most, in pixels.
const FARTHEST_PX: f32 = 350.0;
/// How far two lines are turned against each other at most, as a sine: long ones, and how much more lines a pixel long.
const TURN: (f32, f32) = (0.03, 1.0);
/// How far the middle of a line lies beside the path at most, in pixels: close to it, and for each pixel along it, with less for a long line.
const BESIDE_PX: f32 = 2.0;
const BESIDE: (f32, f32, f32) = (0.02, 0.8, 0.06);
/// Lines whose middles are closer than this share of the longer one lie on one another.
const APART: f32 = 0.3;

/// Counts for each line the frames around its own in which a line lies on its path, ahead of it in later frames and behind it in
/// earlier ones, whichever end is ahead.
pub fn lines_on_paths(frames: &mut [Vec<Found>]) {
    let lines: Vec<Vec<Line>> = frames
        .iter()
        .map(|found| found.iter().map(Found::line).collect())
        .collect();
    for (at, found) in frames.iter_mut().enumerate() {
        for (one, mine) in found.iter_mut().zip(&lines[at]) {
            let (mut forward, mut backward) = (0.0_f32, 0.0_f32);
            for by in (-FRAMES..=FRAMES).filter(|by| *by != 0) {
                let Some(there) = at
                    .checked_add_signed(by.into())
                    .and_then(|at| lines.get(at))
                else {
                    continue;
                };
                let far = FARTHEST_PX * f32::from(by.abs());
                let on = || {
                    there
                        .iter()
                        .filter_map(|other| along_path(mine, other, far))
                };
                let ahead = |along: f32| (along > 0.0) == (by > 0);
                forward += f32::from(u8::from(on().any(ahead)));
                backward += f32::from(u8::from(on().any(|along| !ahead(along))));
            }
            one.evidence.linked = forward.max(backward);
        }
    }
}

/// How far along the path of a line another one lies, in pixels; nothing where it lies beside it or farther than `far`.
fn along_path(mine: &Line, other: &Line, far: f32) -> Option<f32> {
    let ((ux, uy), (vx, vy)) = (mine.along(), other.along());
    let (a, b) = (mine.middle(), other.middle());
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let along = dx * ux + dy * uy;
    let (short, long) = (
        mine.length().min(other.length()).max(1.0),
        mine.length().max(other.length()).max(1.0),
    );
    let slope = (BESIDE.0 + BESIDE.1 / long).min(BESIDE.2);
    let is_on = (ux * vy - uy * vx).abs() < TURN.0 + TURN.1 / short
        && (dy * ux - dx * uy).abs() < BESIDE_PX + slope * along.abs()
        && (APART * long..far).contains(&along.abs());
    is_on.then_some(along)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flashes_on_one_path_count_in_the_order_of_time() {
        let flash = |along: f32, beside: f32| Found {
            from: (
                100.0 + 0.8 * along - 0.6 * beside,
                80.0 + 0.6 * along + 0.8 * beside,
            ),
            to: (
                112.0 + 0.8 * along - 0.6 * beside,
                89.0 + 0.6 * along + 0.8 * beside,
            ),
            ..Found::default()
        };
        let on = |places: &[f32]| {
            let mut frames: Vec<Vec<Found>> = places
                .iter()
                .map(|along| vec![flash(*along, 0.0), flash(200.0, 90.0)])
                .collect();
            lines_on_paths(&mut frames);
            // A light that stays where it is moves on no path.
            assert!(frames.iter().all(|lines| lines[1].evidence.linked < 0.5));
            frames[2][0].evidence.linked
        };
        assert!((on(&[0.0, 130.0, 190.0, 340.0, 410.0]) - 4.0).abs() < 0.1);
        assert!((on(&[410.0, 340.0, 190.0, 130.0, 0.0]) - 4.0).abs() < 0.1);
        // To and fro is no way of a light.
        assert!((on(&[410.0, 0.0, 190.0, 0.0, 410.0]) - 2.0).abs() < 0.1);
        // The next is too far away for one frame.
        assert!((on(&[0.0, 130.0, 190.0, 640.0, 1_000.0]) - 2.0).abs() < 0.1);
    }
}
