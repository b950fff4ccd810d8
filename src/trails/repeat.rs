//! Places that answer again and again: branches in the wind, edges of hills, lamps. Finds no lines.

use crate::trails::search::Found;

/// How many frames before and after are looked at.
const FRAMES: usize = 12;
/// How close together the middles of lines at the same place are, in pixels, and how alike their directions, as a sine.
const SAME_PX: f32 = 12.0;
const SAME_WAY: f32 = 0.26;
/// Within how many pixels other lines count as a crowd.
const CROWD_PX: f32 = 60.0;

/// Counts for each line the like lines at its place, and all lines around it, in the frames near its own.
pub fn repeats(frames: &mut [Vec<Found>]) {
    let places: Vec<Vec<Place>> = frames
        .iter()
        .map(|lines| lines.iter().map(Place::of).collect())
        .collect();
    for (at, lines) in frames.iter_mut().enumerate() {
        let from = at.saturating_sub(FRAMES);
        let to = (at + FRAMES + 1).min(places.len());
        let others = (to - from - 1).max(1) as f32;
        for (k, line) in lines.iter_mut().enumerate() {
            let mine = &places[at][k];
            let (mut again, mut around) = (0.0, 0.0);
            for (frame, there) in places.iter().enumerate().take(to).skip(from) {
                if frame == at {
                    continue;
                }
                again += f32::from(u8::from(there.iter().any(|p| p.is_at(mine))));
                around += there.iter().filter(|p| p.is_near(mine)).count() as f32;
            }
            line.evidence.again = again / others;
            line.evidence.crowd = around / others;
        }
    }
}

struct Place {
    middle: (f32, f32),
    along: (f32, f32),
    half: f32,
}

impl Place {
    fn of(found: &Found) -> Self {
        let line = found.line();
        Self {
            middle: line.middle(),
            along: line.along(),
            half: line.length() / 2.0,
        }
    }

    fn apart(&self, other: &Self) -> (f32, f32) {
        (
            self.middle.0 - other.middle.0,
            self.middle.1 - other.middle.1,
        )
    }

    /// Whether two lines lie on one another, roughly.
    fn is_at(&self, other: &Self) -> bool {
        let (dx, dy) = self.apart(other);
        let (ux, uy) = other.along;
        let turn = (self.along.0 * uy - self.along.1 * ux).abs();
        turn < SAME_WAY
            && (dx * uy - dy * ux).abs() < SAME_PX
            && (dx * ux + dy * uy).abs() < (self.half + other.half) * 0.7
    }

    fn is_near(&self, other: &Self) -> bool {
        let (dx, dy) = self.apart(other);
        dx * dx + dy * dy < CROWD_PX * CROWD_PX
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_branch_repeats_and_a_meteor_does_not() {
        let found = |x: f32, y: f32, dy: f32| Found {
            from: (x, y),
            to: (x + 40.0, y + dy),
            ..Found::default()
        };
        let mut frames: Vec<Vec<Found>> = (0..8_u8)
            .map(|k| vec![found(300.0 + f32::from(k % 3), 400.0, 5.0)])
            .collect();
        frames[4].push(found(320.0, 380.0, 40.0));
        frames[4].push(found(700.0, 100.0, 20.0));
        repeats(&mut frames);
        assert!(frames[4][0].evidence.again > 0.9);
        assert!(frames[4][1].evidence.again < 0.1 && frames[4][1].evidence.crowd > 0.9);
        assert!(frames[4][2].evidence.crowd < 0.1);
    }
}
