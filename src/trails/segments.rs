//! Where one framing ends and another begins: frames that can be compared with each other. Reads no picture.

use crate::trails::places::Point;
use crate::trails::places::nearest;

/// A longer pause than this parts segments, in seconds: stars have moved on too far.
const LONGEST_PAUSE_S: f64 = 120.0;
/// Fewer of the brightest stars than this going on means that the camera looks elsewhere.
const LEAST_GOING_ON: f32 = 0.3;
/// So many go on between two frames of one framing on either side of it.
const LEAST_STEADY: f32 = 0.5;
/// How many of the brightest stars are looked at, and how many there must be.
const BRIGHTEST: usize = 150;
const FEWEST: usize = 20;
/// How far stars move at most, in widths of the picture a second: of a lens of 50 mm at the equator.
const FASTEST: f64 = 1.02e-4;
/// How far beyond that a star may be found, and how far in all, in pixels.
const BEYOND_PX: f32 = 2.5;
const FARTHEST_PX: f32 = 9.0;

/// What is compared of a frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    /// When its exposure began, in seconds of any clock.
    pub start_s: Option<f64>,
    /// How long it was exposed, in seconds.
    pub exposure_s: Option<f64>,
    /// Its ISO number.
    pub iso: Option<f64>,
    /// Pixels of the searched picture across and down.
    pub size: (usize, usize),
    /// Its stars, brightest first.
    pub stars: Vec<Point>,
}

/// Why two frames in a row belong to different segments.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Break {
    /// Another exposure time or ISO number.
    Exposure,
    /// Another size of the picture.
    Size,
    /// A long pause, or times that run backwards.
    Pause,
    /// Stars do not go on: the camera was moved.
    Moved,
}

impl Break {
    /// In words, to follow the name of the first frame after it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Exposure => "the exposure was changed",
            Self::Size => "the size of the picture was changed",
            Self::Pause => "there was a pause of more than two minutes",
            Self::Moved => "the camera was moved",
        }
    }
}

/// Whether a new segment begins between two frames in a row. `before` and `after` are the frames around the two: a single
/// frame without its stars (a cloud, a lamp) is no new framing.
pub fn broken(
    before: Option<&Facts>,
    first: &Facts,
    second: &Facts,
    after: Option<&Facts>,
) -> Option<Break> {
    let differs = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() > 0.02 * a.max(b),
        _ => false,
    };
    if first.size != second.size {
        return Some(Break::Size);
    }
    if differs(first.exposure_s, second.exposure_s) || differs(first.iso, second.iso) {
        return Some(Break::Exposure);
    }
    if let (Some(a), Some(b)) = (first.start_s, second.start_s) {
        let pause = b - a - first.exposure_s.unwrap_or(0.0);
        if pause > LONGEST_PAUSE_S || b < a {
            return Some(Break::Pause);
        }
    }
    // Images under cloud and moonlight are no stars: they go on nowhere, and tell nothing of the framing.
    let steady = |a: &Facts, b: &Facts| share_going_on(a, b).is_some_and(|s| s >= LEAST_STEADY);
    // Over a frame that was shaken, stars go on from the one before it to the one after.
    let went_on = |a: &Facts, b: &Facts| share_going_on(a, b).is_some_and(|s| s >= LEAST_GOING_ON);
    let moved = share_going_on(first, second).is_some_and(|share| share < LEAST_GOING_ON)
        && before.is_none_or(|before| steady(before, first))
        && after.is_none_or(|after| steady(second, after) && !went_on(first, after))
        && before.is_none_or(|before| !went_on(before, second));
    moved.then_some(Break::Moved)
}

/// The share of the brightest stars of one frame that the other shows at about the same place: the larger of the two ways, for cloud hides
/// many stars of one frame and leaves those that both show.
fn share_going_on(a: &Facts, b: &Facts) -> Option<f32> {
    Some(share_of_first(a, b)?.max(share_of_first(b, a)?))
}

fn share_of_first(a: &Facts, b: &Facts) -> Option<f32> {
    if a.stars.len() < FEWEST || b.stars.len() < FEWEST {
        return None;
    }
    let seconds = match (a.start_s, b.start_s) {
        (Some(a), Some(b)) => (b - a).abs(),
        _ => a.exposure_s.unwrap_or(20.0),
    };
    #[allow(clippy::cast_possible_truncation)] // pixels
    let reach = ((FASTEST * a.size.0 as f64 * seconds) as f32 + BEYOND_PX).min(FARTHEST_PX);
    let bright = &a.stars[..a.stars.len().min(BRIGHTEST)];
    let on = bright
        .iter()
        .filter(|star| nearest(&b.stars, **star).is_some_and(|d| d < reach))
        .count();
    Some(on as f32 / bright.len() as f32)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn facts(number: u32, shift: f32) -> Facts {
        let mut state = 5_u32;
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as f32 / 16_777_216.0
        };
        Facts {
            start_s: Some(f64::from(number) * 17.0),
            exposure_s: Some(15.0),
            iso: Some(3_200.0),
            size: (1_080, 720),
            stars: (0..200)
                .map(|_| Point {
                    x: next() * 1_080.0 + shift + number as f32,
                    y: next() * 720.0,
                })
                .collect(),
        }
    }

    #[test]
    fn a_moved_camera_parts_and_the_turning_sky_does_not() {
        let f: Vec<Facts> = (0..6)
            .map(|k| facts(k, if k < 3 { 0.0 } else { 70.0 }))
            .collect();
        assert_eq!(broken(Some(&f[0]), &f[1], &f[2], Some(&f[3])), None);
        assert_eq!(
            broken(Some(&f[1]), &f[2], &f[3], Some(&f[4])),
            Some(Break::Moved)
        );
    }

    #[test]
    fn one_frame_under_a_lamp_is_no_new_framing() {
        let mut f: Vec<Facts> = (0..5).map(|k| facts(k, 0.0)).collect();
        f[2] = facts(2, 311.0);
        assert_eq!(broken(Some(&f[0]), &f[1], &f[2], Some(&f[3])), None);
        assert_eq!(broken(Some(&f[1]), &f[2], &f[3], Some(&f[4])), None);
    }

    #[test]
    fn cloud_that_hides_most_stars_moves_no_camera() {
        let mut f: Vec<Facts> = (0..6).map(|k| facts(k, 0.0)).collect();
        // From the third frame on three of four stars are hidden, and edges of clouds shine here and there.
        for (k, facts) in f.iter_mut().enumerate().skip(3) {
            facts.stars = facts.stars.split_off(150);
            facts.stars.extend((0..90_u16).map(|n| Point {
                x: f32::from(n * 11 % 97 + 300) + 31.0 * k as f32,
                y: f32::from(n * 7) + 23.0 * k as f32,
            }));
        }
        for at in 1..6_usize {
            assert_eq!(
                broken(
                    at.checked_sub(2).map(|b| &f[b]),
                    &f[at - 1],
                    &f[at],
                    f.get(at + 1)
                ),
                None
            );
        }
    }

    #[test]
    fn exposures_sizes_and_pauses_part() {
        let a = facts(0, 0.0);
        let with = |change: &dyn Fn(&mut Facts)| {
            let mut b = facts(1, 0.0);
            change(&mut b);
            broken(None, &a, &b, None)
        };
        assert_eq!(with(&|_| ()), None);
        assert_eq!(with(&|b| b.iso = Some(1_600.0)), Some(Break::Exposure));
        assert_eq!(with(&|b| b.exposure_s = Some(20.0)), Some(Break::Exposure));
        assert_eq!(with(&|b| b.size = (720, 1_080)), Some(Break::Size));
        assert_eq!(with(&|b| b.start_s = Some(136.0)), Some(Break::Pause));
        assert_eq!(with(&|b| b.start_s = Some(-1.0)), Some(Break::Pause));
    }
}
