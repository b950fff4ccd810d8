//! The images of one picture on their way to a solution, and which fits of them are accepted. Knows no order of attempts.

use crate::pointing::matching::Target;
use crate::pointing::refine::Problem;
use crate::pointing::refine::Refined;
use crate::terms::star_image::StarField;

/// Fewer matched stars than this prove nothing.
pub(super) const LEAST_MATCHED: usize = 8;
/// Natural logarithm of the odds from which on a solution is accepted: one in ten million million.
const ACCEPTED: f64 = 30.0;
/// Wider than this, in focal lengths by widths of the picture, a lens may be a fisheye.
pub(super) const FISHEYE_TO: f64 = 0.95;

/// One picture, and the stars of the sky.
pub(super) struct Attempt<'a> {
    pub field: &'a StarField,
    pub all: &'a [(f64, f64)],
    pub targets: &'a [Target],
}

impl Attempt<'_> {
    /// Pixels in a row, and rows.
    pub fn size(&self) -> (f64, f64) {
        (self.field.width as f64, self.field.height as f64)
    }

    pub fn width(&self) -> f64 {
        self.field.width.max(self.field.height) as f64
    }

    pub fn problem<'b>(&'b self, spread: &'b [(f64, f64)]) -> Problem<'b> {
        Problem {
            all: self.all,
            spread,
            targets: self.targets,
            deeper: 1,
        }
    }
}

pub(super) fn is_accepted(refined: &Refined) -> bool {
    refined.odds >= ACCEPTED && refined.sights.len() >= LEAST_MATCHED
}
