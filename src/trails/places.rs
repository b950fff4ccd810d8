//! Places of stars in a picture, how far they move, and the cells they are counted in. Searches nothing.

/// Cells of the picture in which stars are counted.
pub(super) const CELLS: (usize, usize) = (18, 12);

/// A star image: its place in pixels of the searched picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// To the right, from the centre of the top left pixel.
    pub x: f32,
    /// Downwards.
    pub y: f32,
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to the cells
pub(super) fn cell(x: f32, y: f32, width: usize, height: usize) -> usize {
    let i = ((x + 0.5).max(0.0) * CELLS.0 as f32 / width as f32) as usize;
    let j = ((y + 0.5).max(0.0) * CELLS.1 as f32 / height as f32) as usize;
    j.min(CELLS.1 - 1) * CELLS.0 + i.min(CELLS.0 - 1)
}

/// How far bright stars move between two frames, in pixels: nine in ten move no farther.
pub(super) fn drift(a: &[Point], b: &[Point]) -> f32 {
    const REACH: f32 = 6.0;
    let mut moves: Vec<f32> = a
        .iter()
        .take(150)
        .filter_map(|star| nearest(b, *star).filter(|d| *d < REACH))
        .collect();
    moves.sort_by(f32::total_cmp);
    moves.get(moves.len() * 9 / 10).copied().unwrap_or(1.0)
}

pub(super) fn nearest(stars: &[Point], to: Point) -> Option<f32> {
    stars
        .iter()
        .take(300)
        .map(|s| (s.x - to.x).powi(2) + (s.y - to.y).powi(2))
        .min_by(f32::total_cmp)
        .map(f32::sqrt)
}
