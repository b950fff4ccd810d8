//! Focus that drifted: star images that grew wider during a session and stayed so to its end. Dew does the same.

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;

/// A width is the median of so many frames in a row: air and wind change single ones.
const MEDIAN_OF: usize = 5;
/// So many times the best width of a session is out of focus.
const DRIFTED: f64 = 1.3;
/// The best width is that which this share of the widths is below: a few frames may be too good.
const BEST_SHARE: f64 = 0.1;
/// So many frames must be in focus before, and out of focus after.
const LEAST_FRAMES: usize = 8;

/// One note for each session whose focus drifted.
pub fn drifted_focus(catalogue: &Catalogue) -> Result<Vec<AuditRow>, Failure> {
    let mut widths = Vec::new();
    catalogue.session_widths(|one| widths.push(one))?;
    let mut rows = Vec::new();
    for session in widths.chunk_by(|a, b| a.session_id == b.session_id && a.settings == b.settings)
    {
        let px: Vec<f64> = session.iter().map(|one| one.star_width_px).collect();
        if let Some((at, best_px, px)) = drift(&px) {
            let saw = format!(
                "from here to the end stars are {px:.1} pixels wide, {:.1} times as wide as before ({best_px:.1})",
                px / best_px
            );
            let did = "kept the widths as measured".to_owned();
            rows.push(catalogue.audit_row(session[at].frame_id, "focus-drifted", saw, did)?);
        }
    }
    Ok(rows)
}

/// The place from which all widths are too wide, the best width, and the median of those from there on.
fn drift(widths: &[f64]) -> Option<(usize, f64, f64)> {
    if widths.len() < 2 * LEAST_FRAMES {
        return None;
    }
    let reach = MEDIAN_OF / 2;
    let smooth: Vec<f64> = (0..widths.len())
        .map(|at| {
            let last = (at + reach).min(widths.len() - 1);
            sorted_at(&widths[at.saturating_sub(reach)..=last], 0.5)
        })
        .collect();
    let best = sorted_at(&smooth, BEST_SHARE);
    let in_focus = smooth.iter().rposition(|width| *width <= DRIFTED * best)?;
    let at = in_focus + 1;
    (at >= LEAST_FRAMES && widths.len() - at >= LEAST_FRAMES)
        .then(|| (at, best, sorted_at(&widths[at..], 0.5)))
}

/// The value below which a share of some values is.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a place among the values
fn sorted_at(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = ((sorted.len() - 1) as f64 * share) as usize;
    sorted[at]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Widths of 6 pixels with some scatter, times something.
    fn widths(times: impl Fn(usize) -> f64) -> Vec<f64> {
        (0..40)
            .map(|at| (6.0 + 0.1 * (at * 7 % 5) as f64) * times(at))
            .collect()
    }

    #[test]
    fn drift_is_told_from_scatter_and_from_a_gust() {
        assert_eq!(drift(&widths(|_| 1.0)), None);
        // Three frames in the wind, and a last one.
        let gust = |at| {
            if (15..18).contains(&at) || at == 39 {
                2.0
            } else {
                1.0
            }
        };
        assert_eq!(drift(&widths(gust)), None);
        // From the 20th frame on wider and wider.
        let (at, best, later) =
            drift(&widths(|at| 1.0 + 0.06 * at.saturating_sub(19) as f64)).unwrap();
        assert!((22..29).contains(&at), "{at}");
        assert!((6.0..6.3).contains(&best) && later > 9.0, "{best} {later}");
        // Focused again: nothing to be done any more.
        let again = |at| if (10..25).contains(&at) { 1.8 } else { 1.0 };
        assert_eq!(drift(&widths(again)), None);
        assert_eq!(drift(&[6.0, 12.0]), None);
    }
}
