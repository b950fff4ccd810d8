//! From evidence to a class and a score, or to nothing: logistic sums over measures, with constants fitted on rendered nights.

use crate::terms::found_trail::TrailClass;
use crate::terms::found_trail::TrailEvidence as Evidence;

/// A class, and how likely the line is a meteor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Verdict {
    /// What it is taken for.
    pub class: TrailClass,
    /// Of lines with this score, so large a share were meteors on rendered nights.
    pub score: f32,
}

/// From this score on a line is called a meteor, unless a moving light is likelier. Far below a half: a meteor that is missed costs more than a line that is looked at
/// in vain.
const METEOR_FROM: f32 = 0.18;
/// The same for a line that another one continues in a neighbouring frame.
const LINKED_METEOR_FROM: f32 = 0.5;
/// A moving light must be so much likelier than another light or noise; less where another line continues it.
const MOVING_AGAINST_OTHER: f32 = 0.5;
const LINKED_MOVING_FROM: f32 = 0.15;
/// From this probability on that it is noise a line is no candidate, unless one in twenty such lines is a meteor.
const NOISE_FROM: f32 = 0.8;
const MAY_BE_METEOR_FROM: f32 = 0.05;

/// How many measures are weighed.
const MEASURES: usize = 37;

/// The weights of the measures, for a meteor, for a moving light and for another light; noise has none.
///
/// Source: fitted on rendered nights of fourteen kinds (`benches/nights`), seeds 11, 21 and 22, as `cargo bench --bench trails -- fit`
/// does; nothing was fitted on other nights. The rows are in the order of [`measures`].
#[rustfmt::skip] // a row a measure
const WEIGHTS: [[f32; 3]; MEASURES] = [
    [-12.600, -11.105, -14.212], // bias
    [-0.053, -0.094, 0.111], // line snr
    [2.530, 1.201, 1.578], // length
    [-0.827, 0.750, -0.488], // short
    [-0.700, -0.200, -0.510], // peak
    [6.713, 4.364, 5.200], // lit
    [1.616, -1.155, 2.656], // seen
    [-1.981, -2.978, -3.162], // off line
    [-0.548, -0.133, 1.596], // bend
    [0.822, 0.847, 2.558], // width
    [-0.912, -1.664, -1.023], // width off
    [-4.237, -5.791, -6.183], // beside
    [-0.655, -0.295, -0.304], // ends
    [-0.197, 0.265, -0.109], // lopsided
    [0.553, -0.553, 2.657], // peak at
    [-0.422, 0.378, -0.614], // peaks
    [-0.107, -0.316, 0.433], // unrest
    [2.020, 1.990, -0.026], // starry
    [-0.267, -0.297, 0.184], // edge
    [0.470, 1.111, 1.115], // goes on
    [-3.030, -1.526, -2.316], // goes share
    [-0.493, -0.220, 0.077], // goes both
    [-0.721, -0.751, -0.972], // goes far
    [-1.102, 2.178, 0.239], // on line
    [-0.455, -0.024, -0.387], // stays
    [-2.156, -2.878, -2.031], // twin
    [-0.624, -0.899, -0.245], // others
    [0.119, -0.146, 0.026], // linked
    [-0.998, 0.131, -0.624], // few neighbours
    [-0.855, -0.497, -0.252], // is linked
    [-2.443, -1.583, -1.507], // again
    [-1.394, -1.126, -1.276], // crowd
    [-1.971, 0.000, -0.168], // dashes
    [1.345, 2.428, 1.308], // chain
    [0.861, 0.859, 0.091], // chain3
    [-0.742, -0.401, -2.097], // faint
    [1.882, 2.225, 0.168], // lone peak
];

/// Weighs a line's evidence. Gives: nothing where it is noise.
pub fn weigh(evidence: &Evidence) -> Option<Verdict> {
    let mut sums = [0.0_f32; 4];
    for (measure, weights) in measures(evidence).iter().zip(WEIGHTS) {
        for (sum, weight) in sums.iter_mut().zip(weights) {
            *sum += measure * weight;
        }
    }
    let most = sums.iter().copied().fold(0.0, f32::max);
    let shares = sums.map(|sum| (sum - most).exp());
    let [score, moving, _, noise] = shares.map(|share| share / shares.iter().sum::<f32>());
    let linked = evidence.linked > 0.5;
    let meteor_from = if linked {
        LINKED_METEOR_FROM
    } else {
        METEOR_FROM
    };
    let unmoved = 1.0 - score - moving;
    let class = if score >= meteor_from && score > moving {
        TrailClass::Meteor
    } else if moving > MOVING_AGAINST_OTHER * unmoved || linked && moving > LINKED_MOVING_FROM {
        TrailClass::MovingLight
    } else if noise > NOISE_FROM && score < MAY_BE_METEOR_FROM {
        return None;
    } else {
        TrailClass::OtherLight
    };
    Some(Verdict { class, score })
}

/// The measures that are weighed, in the order of the weights.
pub fn measures(e: &Evidence) -> [f32; MEASURES] {
    let log = |value: f32| value.max(1e-3).ln();
    let more = |value: f32| (1.0 + value.max(0.0)).ln();
    let flag = |yes: bool| f32::from(u8::from(yes));
    [
        1.0,
        log(e.line_snr),
        log(e.length_px),
        (1.0 - e.length_px / 14.0).max(0.0),
        log(e.peak_snr.max(0.5)),
        e.lit,
        e.seen,
        e.off_line_px.min(2.0),
        e.bend_px.min(4.0) / 2.0,
        e.width_px.min(8.0) / 2.0,
        (e.width_px.min(8.0) - 2.2).abs() / 2.0,
        e.beside,
        e.ends.min(2.0),
        e.lopsided,
        e.peak_at,
        e.peaks.min(6.0) / 2.0,
        log(e.unrest.max(1.0)),
        e.starry,
        e.edge.min(1.0),
        more(e.goes_on),
        (e.goes_on / e.line_snr.max(1.0)).clamp(-1.0, 1.0),
        more(e.goes_on_both),
        more(e.goes_on_far),
        more(e.on_line),
        more(e.stays),
        e.twin.min(2.0),
        more(e.others),
        e.linked.min(2.0),
        flag(e.neighbours < 3.5),
        flag(e.linked > 0.5),
        e.again.min(0.5) * 4.0,
        more(4.0 * e.crowd),
        log(e.dashes),
        log(e.chain),
        flag(e.chain > 2.5),
        ((12.0 - e.line_snr) / 6.0).max(0.0),
        log(e.peak_snr.max(0.5) / e.mean_snr.max(0.3)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A clean line of a meteor on a quiet night.
    const METEOR: Evidence = Evidence {
        length_px: 60.0,
        line_snr: 40.0,
        mean_snr: 5.0,
        peak_snr: 14.0,
        peak_at: 0.35,
        lit: 0.95,
        seen: 1.0,
        off_line_px: 0.2,
        bend_px: 0.1,
        width_px: 2.2,
        beside: 0.0,
        ends: 0.3,
        lopsided: 0.4,
        peaks: 1.0,
        unrest: 1.0,
        starry: 1.0,
        edge: 0.0,
        goes_on: 1.5,
        goes_on_both: 0.5,
        goes_on_far: 1.5,
        on_line: 2.5,
        stays: 0.0,
        twin: 0.2,
        others: 6.0,
        neighbours: 4.0,
        linked: 0.0,
        dashes: 1.0,
        chain: 1.0,
        again: 0.0,
        crowd: 0.1,
    };

    #[test]
    fn a_meteor_a_satellite_and_noise() {
        let meteor = weigh(&METEOR).unwrap();
        assert_eq!(meteor.class, TrailClass::Meteor);
        assert!(meteor.score > 0.8, "{meteor:?}");
        let satellite = weigh(&Evidence {
            goes_on: 30.0,
            goes_on_both: 25.0,
            goes_on_far: 20.0,
            on_line: 32.0,
            linked: 2.0,
            chain: 6.0,
            ends: 1.0,
            lopsided: 0.9,
            peak_snr: 7.0,
            ..METEOR
        })
        .unwrap();
        assert_eq!(satellite.class, TrailClass::MovingLight);
        assert!(satellite.score < 0.05, "{satellite:?}");
        let noise = weigh(&Evidence {
            length_px: 8.0,
            line_snr: 6.2,
            mean_snr: 1.2,
            peak_snr: 2.2,
            lit: 0.6,
            width_px: 1.0,
            others: 20.0,
            crowd: 1.0,
            ..METEOR
        });
        assert_eq!(noise, None);
    }
}
