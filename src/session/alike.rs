//! Whether two frames were taken alike and show the same, as far as settings and looks tell.

use crate::terms::picture::Look;
use crate::terms::records::SessionFrame;

/// Whether two frames have equal settings.
pub fn same_settings(a: &SessionFrame, b: &SessionFrame) -> bool {
    let same = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= 0.01 * a.abs(),
        (None, None) => true,
        _ => false,
    };
    same(a.exposure_s, b.exposure_s)
        && same(a.iso, b.iso)
        && same(a.f_number, b.f_number)
        && same(a.focal_mm, b.focal_mm)
}

/// Looks that differ by more than this show another thing, though hours are between them.
const FAR: f64 = 2.5;

/// The frames in the middle between two of these places whose looks were taken and differ by a lot.
pub fn between_unlike(frames: &[SessionFrame], places: &[usize]) -> Vec<usize> {
    let looked: Vec<usize> = (0..places.len())
        .filter(|i| frames[places[*i]].look.is_some())
        .collect();
    looked
        .windows(2)
        .filter(|pair| pair[1] - pair[0] > 1)
        .filter(|pair| {
            let [a, b] = [pair[0], pair[1]].map(|i| &frames[places[i]]);
            a.look
                .zip(b.look)
                .is_some_and(|(a, b)| difference(a, b) > FAR)
                || !same_settings(a, b)
        })
        .map(|pair| places[usize::midpoint(pair[0], pair[1])])
        .collect()
}

/// Whether two looks differ by more than two frames of one thing in a row do.
pub fn is_step(a: Look, b: Look) -> bool {
    difference(a, b) > 1.0
}

/// How much two looks differ; by less than 1 where what they show stays and the sky turns on.
pub fn difference(a: Look, b: Look) -> f64 {
    let parts = [
        step_of_level(a, b),
        (a.stars.sqrt() - b.stars.sqrt()).abs() / 2.0,
        (a.uneven_stops - b.uneven_stops).abs() / 0.06,
        (a.falloff_stops - b.falloff_stops).abs() / 0.3,
    ];
    parts.into_iter().fold(0.0, f64::max)
}

/// How much two levels differ, in units of [`difference`].
pub fn step_of_level(a: Look, b: Look) -> f64 {
    let brighter = a.level.max(b.level) * 255.0;
    (a.level - b.level).abs() * 255.0 / (0.8 + 0.03 * brighter)
}

/// The medians of each of the parts of looks. None where there are none.
pub fn median_of(looks: impl Iterator<Item = Look>) -> Option<Look> {
    let looks: Vec<Look> = looks.collect();
    let median = |part: fn(&Look) -> f64| {
        let mut values: Vec<f64> = looks.iter().map(part).collect();
        values.sort_unstable_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    };
    Some(Look {
        level: median(|l| l.level)?,
        floor: median(|l| l.floor)?,
        stars: median(|l| l.stars)?,
        edges: median(|l| l.edges)?,
        uneven_stops: median(|l| l.uneven_stops)?,
        falloff_stops: median(|l| l.falloff_stops)?,
        tilt_stops: median(|l| l.tilt_stops)?,
        measures: looks.iter().map(|l| l.measures).min()?,
    })
}
