//! A picture that explains a trail: the frame before, the frame, the frame after, what is new in it, and the light along the line in
//! all three. Ends are circled, not painted over. Finds nothing.

use jpeg_encoder::ColorType;
use jpeg_encoder::Encoder;

use crate::terms::star_image::Grey;

/// Side of a panel and the gap between two, in pixels.
const SIDE: usize = 320;
const GAP: usize = 8;
/// Height of the profile.
const PROFILE: usize = 160;
/// JPEG quality, of 100.
const QUALITY: u8 = 92;
/// Radius of the circles around the ends.
const RING: f64 = 9.0;
/// Shades of what is drawn.
const GROUND: u8 = 24;
const RULE: u8 = 70;
const BRIGHT: u8 = 255;
const DIM: u8 = 120;

/// A trail in three frames of one size, the ends in their pixels.
#[derive(Debug)]
pub struct Explained<'a> {
    /// The frame before, where there is one.
    pub before: Option<&'a Grey>,
    /// The frame.
    pub frame: &'a Grey,
    /// The frame after, where there is one.
    pub after: Option<&'a Grey>,
    /// One end of the trail.
    pub from: (f64, f64),
    /// The other.
    pub to: (f64, f64),
}

/// The picture as a JPEG: before, frame, after and difference in a row; below, the light along the line from half its length before
/// its first end to half its length after its second: bright in the frame, dim in the others.
///
/// Gives: nothing where it cannot be packed.
pub fn explained(trail: &Explained<'_>) -> Option<Vec<u8>> {
    let width = 4 * SIDE + 3 * GAP;
    let height = SIDE + GAP + PROFILE;
    let mut sheet = Sheet {
        width,
        shades: vec![GROUND; width * height],
    };
    let cut = Cut::around(trail);
    let range = cut.range(trail.frame);
    for (at, picture) in [trail.before, Some(trail.frame), trail.after]
        .iter()
        .enumerate()
    {
        if let Some(picture) = picture {
            sheet.panel(at, &cut, range, &|x, y| level(picture, x, y));
        }
    }
    let new = |x: f64, y: f64| {
        let others = [trail.before, trail.after];
        let most = others.iter().flatten().map(|other| level(other, x, y));
        level(trail.frame, x, y) - most.fold(0.0, f64::max)
    };
    let spread = (range.1 - range.0).max(12.0);
    sheet.panel(3, &cut, (-0.15 * spread, 0.6 * spread), &new);
    for panel in 0..4 {
        for end in [trail.from, trail.to] {
            sheet.ring(panel, &cut, end);
        }
    }
    sheet.profile(trail);
    let mut jpeg = Vec::new();
    Encoder::new(&mut jpeg, QUALITY)
        .encode(
            &sheet.shades,
            u16::try_from(width).ok()?,
            u16::try_from(height).ok()?,
            ColorType::Luma,
        )
        .ok()?;
    Some(jpeg)
}

/// The part of the pictures that is shown.
struct Cut {
    left: f64,
    top: f64,
    /// Pixels of the pictures in one of a panel.
    step: f64,
}

impl Cut {
    fn around(trail: &Explained<'_>) -> Self {
        let length = (trail.to.0 - trail.from.0).hypot(trail.to.1 - trail.from.1);
        let side = (1.7 * length).max(90.0);
        let middle = |a: f64, b: f64, size: usize| {
            let low = f64::midpoint(a, b) - side / 2.0;
            low.min(size as f64 - side).max(0.0)
        };
        Self {
            left: middle(trail.from.0, trail.to.0, trail.frame.width()),
            top: middle(trail.from.1, trail.to.1, trail.frame.height()),
            step: side / SIDE as f64,
        }
    }

    fn place(&self, column: usize, row: usize) -> (f64, f64) {
        (
            self.left + column as f64 * self.step,
            self.top + row as f64 * self.step,
        )
    }

    /// The levels that are drawn black and white.
    fn range(&self, picture: &Grey) -> (f64, f64) {
        let mut levels: Vec<f64> = (0..SIDE * SIDE)
            .step_by(7)
            .map(|at| self.place(at % SIDE, at / SIDE))
            .map(|(x, y)| level(picture, x, y))
            .collect();
        levels.sort_by(f64::total_cmp);
        let low = levels[levels.len() / 50];
        let high = levels[levels.len() * 997 / 1_000];
        (low, high.max(low + 20.0))
    }
}

/// The level of the pixel nearest to a place; 0 outside.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // not negative
fn level(picture: &Grey, x: f64, y: f64) -> f64 {
    let (x, y) = (x.round().max(0.0) as usize, y.round().max(0.0) as usize);
    if x < picture.width() && y < picture.height() {
        f64::from(picture.row(y)[x])
    } else {
        0.0
    }
}

struct Sheet {
    width: usize,
    shades: Vec<u8>,
}

impl Sheet {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to shades
    fn panel(&mut self, at: usize, cut: &Cut, range: (f64, f64), levels: &dyn Fn(f64, f64) -> f64) {
        for row in 0..SIDE {
            for column in 0..SIDE {
                let (x, y) = cut.place(column, row);
                let light = (levels(x, y) - range.0) / (range.1 - range.0);
                let shade = (light.clamp(0.0, 1.0) * 255.0) as u8;
                self.shades[row * self.width + at * (SIDE + GAP) + column] = shade;
            }
        }
    }

    fn ring(&mut self, panel: usize, cut: &Cut, end: (f64, f64)) {
        let (cx, cy) = ((end.0 - cut.left) / cut.step, (end.1 - cut.top) / cut.step);
        for turn in 0..120_u8 {
            let (s, c) = (f64::from(turn) / 120.0 * std::f64::consts::TAU).sin_cos();
            let (x, y) = (cx + RING * c, cy + RING * s);
            let side = SIDE as f64;
            if x >= 0.0 && y >= 0.0 && x < side && y < side {
                self.dot((panel * (SIDE + GAP)) as f64 + x, y, BRIGHT);
            }
        }
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // within the sheet
    fn dot(&mut self, x: f64, y: f64, shade: u8) {
        let at = y as usize * self.width + x as usize;
        if let Some(pixel) = self.shades.get_mut(at) {
            *pixel = shade;
        }
    }

    fn profile(&mut self, trail: &Explained<'_>) {
        let (dx, dy) = (trail.to.0 - trail.from.0, trail.to.1 - trail.from.1);
        let length = dx.hypot(dy).max(1.0);
        let (across_x, across_y) = (-dy / length, dx / length);
        let light = |picture: &Grey, share: f64| {
            let (x, y) = (trail.from.0 + share * dx, trail.from.1 + share * dy);
            let beside = |by: f64| level(picture, x + by * across_x, y + by * across_y);
            let on = (beside(-1.0) + beside(0.0) + beside(1.0)) / 3.0;
            on - (beside(-7.0) + beside(-6.0) + beside(6.0) + beside(7.0)) / 4.0
        };
        let width = self.width as f64;
        let share = |column: usize| -0.5 + 2.0 * column as f64 / width;
        let own: Vec<f64> = (0..self.width)
            .map(|c| light(trail.frame, share(c)))
            .collect();
        let top = own.iter().copied().fold(12.0, f64::max);
        let (low, high) = ((SIDE + GAP) as f64, (SIDE + GAP + PROFILE) as f64 - 1.0);
        let row = |light: f64| (high - 24.0 - light / top * 120.0).clamp(low, high);
        for column in 0..self.width {
            self.dot(column as f64, row(0.0), RULE);
        }
        for share_of_line in [0.0, 1.0] {
            let column = f64::midpoint(share_of_line, 0.5) * width;
            for y in 0..PROFILE {
                self.dot(column, low + y as f64, RULE);
            }
        }
        for other in [trail.before, trail.after].into_iter().flatten() {
            for column in 0..self.width {
                self.dot(column as f64, row(light(other, share(column))), DIM);
            }
        }
        for pair in own.windows(2).enumerate() {
            let (column, [a, b]) = (pair.0, [row(pair.1[0]), row(pair.1[1])]);
            let mut y = a.min(b);
            while y <= a.max(b) {
                self.dot(column as f64, y, BRIGHT);
                y += 1.0;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trail_shows_in_the_frame_and_in_the_difference_alone() {
        let picture = |lit: bool| {
            let luma = (0..200 * 150)
                .map(|at| {
                    let (x, y) = (at % 200, at / 200);
                    if lit && (60..120).contains(&x) && y == 70 {
                        150
                    } else {
                        20
                    }
                })
                .collect();
            Grey::new(200, 150, luma).unwrap()
        };
        let (dark, lit) = (picture(false), picture(true));
        let trail = Explained {
            before: Some(&dark),
            frame: &lit,
            after: None,
            from: (60.0, 70.0),
            to: (119.0, 70.0),
        };
        let jpeg = explained(&trail).unwrap();
        let mut decoder = jpeg_decoder::Decoder::new(&jpeg[..]);
        let shades = decoder.decode().unwrap();
        let width = 4 * SIDE + 3 * GAP;
        let cut = Cut::around(&trail);
        let shade = |panel: usize| {
            let (x, y) = ((90.0 - cut.left) / cut.step, (70.0 - cut.top) / cut.step);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // in a panel
            let at = y.round() as usize * width + panel * (SIDE + GAP) + x.round() as usize;
            shades[at]
        };
        assert!(shade(0) < 60 && shade(1) > 200 && shade(3) > 200);
        assert!(shade(2).abs_diff(GROUND) < 10);
    }
}
