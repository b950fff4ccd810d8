//! How far the sky turned before a session's camera by the solutions of its pictures. A mount that follows the stars does not turn.

use crate::catalogue::handle::Catalogue;
use crate::pointing::vector::Matrix;
use crate::pointing::vector::Vector;
use crate::pointing::vector::cross;
use crate::pointing::vector::dot;
use crate::pointing::vector::plus;
use crate::pointing::vector::scaled;
use crate::report::night::Trails;
use crate::report::night::TurnBy;
use crate::sky::look::Looker;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::terms::night::NightFrame;
use crate::terms::stated_pointing::Mount;
use crate::usecase::looking::trail_paths::FramePaths;

/// A camera that turned by more than this aside from the pole was moved, in degrees: its turn is none of the sky.
const ASIDE_DEG: f64 = 0.5;
/// A mount follows the stars when it turned by less than this share of what the Earth did, and the Earth by this much in degrees.
const FOLLOWS: (f64, f64) = (0.1, 0.3);

/// Puts the turn by the stars of the pictures in place of that by the clock, where the first and the last light with a solution and the
/// one nearest to the reference frame agree that the camera was not moved.
pub(super) fn turn_by_stars(
    catalogue: &Catalogue,
    looker: &mut Looker,
    frames: &[NightFrame],
    trails: &mut Trails,
) -> Result<(), Failure> {
    let Some((reference, by_clock)) = trails.reference.zip(trails.turn_deg) else {
        return Ok(());
    };
    let solved: Vec<usize> = (0..frames.len())
        .filter(|at| {
            let frame = &frames[*at];
            frame.kind == Some(Kind::Light) && frame.examined.pointed_deg.is_some()
        })
        .collect();
    let (Some(first), Some(last)) = (solved.first(), solved.last()) else {
        return Ok(());
    };
    let Some(middle) = solved.iter().min_by_key(|at| at.abs_diff(reference)) else {
        return Ok(());
    };
    let mut known = Vec::new();
    for at in [first, middle, last] {
        let frame_id = frames[*at].frame_id;
        let stated = catalogue.stated_pointing(frame_id)?;
        // Such a solution is carried from one frame to the others by the clock.
        if stated.is_some_and(|stated| stated.mount == Mount::Tripod) {
            return Ok(());
        }
        match FramePaths::of(catalogue, frame_id, looker)?.among_stars() {
            Some(rows) => known.push(rows),
            None => return Ok(()),
        }
    }
    let [(a, pole), (b, _), (c, _)] = known.as_slice() else {
        return Ok(());
    };
    let Some(turns) = turn_deg(b, a, *pole).zip(turn_deg(b, c, *pole)) else {
        return Ok(());
    };
    let all = (by_clock.1 - by_clock.0).abs();
    trails.turn_deg = Some(turns);
    trails.turn_by = if all > FOLLOWS.1 && (turns.1 - turns.0).abs() < FOLLOWS.0 * all {
        TurnBy::Mount
    } else {
        TurnBy::Stars
    };
    Ok(())
}

/// By how many degrees a camera turned about the pole from one set of directions to another, eastwards positive; nothing where it
/// turned about another axis.
fn turn_deg(from: &Matrix, to: &Matrix, pole: Vector) -> Option<f64> {
    let crossed = (0..3).fold([0.0; 3], |sum, k| plus(sum, cross(from[k], to[k])));
    // The axis, as long as the sine of the angle.
    let axis = scaled(crossed, 0.5);
    let cos = ((0..3).map(|k| dot(from[k], to[k])).sum::<f64>() - 1.0) / 2.0;
    let along = dot(axis, pole);
    let aside = plus(axis, scaled(pole, -along));
    let small = dot(aside, aside).sqrt() < ASIDE_DEG.to_radians().sin();
    small.then(|| along.atan2(cos).to_degrees())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pointing::vector::turned_about;

    #[test]
    fn a_camera_on_the_ground_turns_eastwards_and_a_moved_one_is_no_turn() {
        let pole = [0.0, 0.0, 1.0];
        let rows: Matrix = [[0.6, 0.8, 0.0], [0.0, 0.0, -1.0], [-0.8, 0.6, 0.0]];
        for deg in [-97.0, -12.5, 0.0, 3.0, 140.0_f64] {
            let turned = rows.map(|row| turned_about(row, pole, deg.to_radians()));
            let found = turn_deg(&rows, &turned, pole).unwrap();
            assert!((found - deg).abs() < 1e-9, "{deg} {found}");
        }
        let moved = rows.map(|row| turned_about(row, [0.0, 1.0, 0.0], 0.05));
        assert_eq!(turn_deg(&rows, &moved, pole), None);
    }
}
