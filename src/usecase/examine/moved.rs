//! Tripods that were moved: frames of a session that look another way than the one before, though no mount follows the stars.

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::handle::Catalogue;
use crate::pointing::camera::Attitude;
use crate::pointing::camera::attitude_rows;
use crate::pointing::vector::Matrix;
use crate::pointing::vector::Vector;
use crate::pointing::vector::cross;
use crate::pointing::vector::dot;
use crate::pointing::vector::plus;
use crate::pointing::vector::scaled;
use crate::terms::angle::Angle;
use crate::terms::failure::Failure;
use crate::terms::pointing::SessionPointing;

/// From this turn on, in degrees, a tripod was moved: more than a gust of wind or the error of a direction.
const MOVED_DEG: f64 = 0.3;

/// One note for each time a tripod was moved.
///
/// A mount that follows the stars turns over the horizon and not among the stars; a clock that was reset turns the picture about
/// the pole. Neither is a moved tripod.
pub fn moved_tripods(catalogue: &Catalogue) -> Result<Vec<AuditRow>, Failure> {
    let mut moves = Moves::default();
    catalogue.session_pointings(|frame| moves.next(frame))?;
    moves.stay();
    let moves = moves.found;
    moves
        .into_iter()
        .map(|(frame_id, file, by_deg)| {
            let saw = format!("looks {by_deg:.1}° away from {file}, the frame before it");
            let did = "used its own direction".to_owned();
            catalogue.audit_row(frame_id, "tripod-moved", saw, did)
        })
        .collect()
}

/// The moves of tripods, frame by frame. A frame that looks away by itself is a poor fit, or a gust: a move stays for the next one.
#[derive(Default)]
struct Moves {
    before: Option<SessionPointing>,
    /// A frame that looks away from the one before it, by how much.
    away: Option<(SessionPointing, f64)>,
    /// The frame, the file before it, by how many degrees.
    found: Vec<(i64, String, f64)>,
}

impl Moves {
    fn next(&mut self, frame: SessionPointing) {
        if self
            .before
            .as_ref()
            .is_some_and(|b| b.session_id != frame.session_id)
        {
            self.stay();
            self.before = None;
        }
        let Some(before) = &self.before else {
            self.before = Some(frame);
            return;
        };
        let by_deg = moved_by(before, &frame);
        match self.away.take() {
            // Back where it was: nothing was moved.
            Some(_) if by_deg.is_none() => self.before = Some(frame),
            Some((away, away_deg)) => match moved_by(&away, &frame) {
                None => {
                    self.away = Some((away, away_deg));
                    self.stay();
                    self.before = Some(frame);
                }
                // Somewhere else again: the last of them may be the one that stays.
                Some(_) => self.away = by_deg.map(|by_deg| (frame, by_deg)),
            },
            None => match by_deg {
                Some(by_deg) => self.away = Some((frame, by_deg)),
                None => self.before = Some(frame),
            },
        }
    }

    /// Nothing speaks against it: the tripod was moved.
    fn stay(&mut self) {
        self.before = match (self.away.take(), self.before.take()) {
            (Some((away, by_deg)), Some(before)) => {
                self.found.push((away.frame_id, before.file, by_deg));
                Some(away)
            }
            (_, before) => before,
        };
    }
}

/// By how many degrees the camera was turned between two frames; nothing where it stood still or followed the stars.
fn moved_by(before: &SessionPointing, now: &SessionPointing) -> Option<f64> {
    let rows = |one: &SessionPointing| {
        let (alt, az, roll) = one.over_deg;
        attitude_rows(Attitude {
            alt: Angle::from_deg(alt),
            az: Angle::from_deg(az),
            roll: Angle::from_deg(roll),
        })
    };
    let stars = |one: &SessionPointing| {
        let (right, forward) = one.among_stars;
        [right, cross(forward, right), forward]
    };
    let (sin_lat, cos_lat) = now.lat_deg.to_radians().sin_cos();
    let (a, b) = (rows(before), rows(now));
    let turn = turn_of(&a, &b);
    // What is left when the turn about the pole is taken away.
    let pole = [0.0, cos_lat, sin_lat];
    let aside = plus(turn, scaled(pole, -dot(turn, pole)));
    let length = |v: Vector| dot(v, v).sqrt();
    let least = MOVED_DEG.to_radians().sin();
    let follows = length(turn_of(&stars(before), &stars(now))) < least;
    (length(aside) > least && !follows).then(|| apart_deg(&a, &b))
}

/// The axis of the rotation from one set of directions to another, as long as its sine.
fn turn_of(a: &Matrix, b: &Matrix) -> Vector {
    let sum = plus(
        plus(cross(a[0], b[0]), cross(a[1], b[1])),
        cross(a[2], b[2]),
    );
    scaled(sum, 0.5)
}

fn apart_deg(a: &Matrix, b: &Matrix) -> f64 {
    let trace: f64 = (0..3).map(|k| dot(a[k], b[k])).sum();
    ((trace - 1.0) / 2.0).clamp(-1.0, 1.0).acos().to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pointing::vector::turned_further;

    fn frame(over_deg: (f64, f64, f64), stars: &Matrix) -> SessionPointing {
        SessionPointing {
            frame_id: 1,
            session_id: 1,
            file: "A.DNG".to_owned(),
            lat_deg: 40.0,
            over_deg,
            among_stars: (stars[0], stars[2]),
        }
    }

    #[test]
    fn a_moved_tripod_is_told_from_a_mount_and_from_a_clock() {
        let stars = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        let turned = turned_further(&stars, [0.0, 0.1, 0.0]);
        let before = frame((40.0, 100.0, 2.0), &stars);
        // A little lower, and 5 degrees further; the Earth turned meanwhile.
        let by = moved_by(&before, &frame((38.0, 105.0, 2.0), &turned)).unwrap();
        assert!((4.0..6.0).contains(&by), "{by}");
        // Wind.
        assert_eq!(moved_by(&before, &frame((40.1, 100.1, 2.0), &turned)), None);
        // A mount that follows the stars.
        assert_eq!(moved_by(&before, &frame((41.0, 103.0, 2.5), &stars)), None);
        // A clock that was reset: turned about the pole by an hour.
        let (sin, cos) = 40.0_f64.to_radians().sin_cos();
        let rows = attitude_rows(Attitude {
            alt: Angle::from_deg(40.0),
            az: Angle::from_deg(100.0),
            roll: Angle::from_deg(2.0),
        });
        let pole = [0.0, cos, sin];
        let turn = |row: Vector| {
            let (sin, cos) = 15.0_f64.to_radians().sin_cos();
            let along = scaled(pole, dot(pole, row) * (1.0 - cos));
            plus(plus(scaled(row, cos), scaled(cross(pole, row), sin)), along)
        };
        let reset = crate::pointing::camera::attitude_of(&rows.map(turn));
        let over = (reset.alt.deg(), reset.az.deg(), reset.roll.deg());
        assert_eq!(moved_by(&before, &frame(over, &turned)), None);
    }

    /// The frames of one session, each by how far it is turned from the first, in degrees; the numbers of those that moved.
    fn moves(azimuths_deg: &[f64]) -> Vec<i64> {
        let stars = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        let mut moves = Moves::default();
        for (number, az_deg) in (0..).zip(azimuths_deg) {
            let turned = turned_further(&stars, [0.0, 0.03 * f64::from(number), 0.0]);
            moves.next(SessionPointing {
                frame_id: i64::from(number),
                ..frame((40.0, 100.0 + az_deg, 2.0), &turned)
            });
        }
        moves.stay();
        moves.found.iter().map(|(frame, ..)| *frame).collect()
    }

    #[test]
    fn a_frame_that_looks_away_by_itself_is_no_move() {
        assert_eq!(moves(&[0.0, 0.0, 0.0, 3.0, 0.0, 0.0]), [0; 0]);
        assert_eq!(moves(&[0.0, 0.0, 3.0, 3.0, 3.0]), [2]);
        assert_eq!(moves(&[0.0, 3.0, 3.0, 0.0, 0.0]), [1, 3]);
        assert_eq!(moves(&[0.0, 0.0, 1.0, 3.0, 3.0]), [3]);
        assert_eq!(moves(&[0.0, 0.0, 0.0, 3.0]), [3]);
    }
}
