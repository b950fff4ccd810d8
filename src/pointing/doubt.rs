//! Whether a solution has the right lens: right stars do not prove it. Other laws are fitted from the same directions.

use crate::pointing::attempt::Attempt;
use crate::pointing::attempt::FISHEYE_TO;
use crate::pointing::attempt::is_accepted;
use crate::pointing::camera::Camera;
use crate::pointing::fit::PRIOR_K;
use crate::pointing::law::Law;
use crate::pointing::lens::Lens;
use crate::pointing::refine::Refined;

/// With a smaller share of the images matched, the law of the lens is doubted even where it was said.
const DOUBTED: f64 = 0.30;
/// Odds that no lens but the right one reaches, however few of the images are stars.
const BEYOND_DOUBT: f64 = 150.0;
/// Where another law is made to agree first, in half diagonals.
const SAME_AT: f64 = 0.6;

/// The odds, and how likely the lens itself is: another law can be bent into the right one, but takes much distortion.
fn likelihood(refined: &Refined) -> f64 {
    let lens = &refined.camera.lens;
    refined.odds - f64::midpoint((lens.k1 / PRIOR_K.0).powi(2), (lens.k2 / PRIOR_K.1).powi(2))
}

/// Keeps the likelier of two.
pub(super) fn keep_better(held: &mut Option<Refined>, found: Refined) {
    if held
        .as_ref()
        .is_none_or(|best| likelihood(&found) > likelihood(best))
    {
        *held = Some(found);
    }
}

impl Attempt<'_> {
    /// Whether so few of the images are matched that another lens may match more of them.
    pub fn is_doubtful(&self, found: &Refined) -> bool {
        (found.sights.len() as f64) < DOUBTED * self.all.len() as f64 && found.odds < BEYOND_DOUBT
    }

    /// The solution itself, or with another law where its own is in doubt: right stars do not prove the right lens.
    pub fn doubted(&self, found: Refined, spread: &[(f64, f64)], f_px: f64) -> Refined {
        let share = found.sights.len() as f64 / self.all.len() as f64;
        if share < DOUBTED || f_px / self.width() < FISHEYE_TO {
            self.of_all_laws(found, spread)
        } else {
            found
        }
    }

    /// The law with the best odds.
    pub fn of_all_laws(&self, found: Refined, spread: &[(f64, f64)]) -> Refined {
        let problem = self.problem(spread);
        let mut best = found;
        let start = best.camera;
        for law in Law::ALL {
            if law == start.lens.law {
                continue;
            }
            let mut lens = Lens::plain(law, start.lens.f_px, self.size());
            // The same angle some way to the corner, as it is drawn.
            let aside = start.lens.half_diagonal_px() * SAME_AT;
            if let Some((radius, _)) = start
                .lens
                .unproject((start.lens.cx + aside, start.lens.cy))
                .and_then(|[c1, c2, c3]| law.radius(c1.hypot(c2).atan2(c3)))
            {
                lens.f_px = aside / radius;
            }
            let other = Camera {
                lens,
                rows: start.rows,
            };
            if let Some(other) = problem.refine(&other, None)
                && is_accepted(&other)
                && likelihood(&other) > likelihood(&best)
            {
                best = other;
            }
        }
        best
    }
}
