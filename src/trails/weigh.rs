//! From evidence to a class and a score, or to nothing: sums over measures, with weights fitted on rendered nights.

use crate::terms::found_trail::TrailClass;
use crate::terms::found_trail::TrailEvidence as Evidence;
use crate::trails::weights::HIDDEN;
use crate::trails::weights::HIDDEN_WEIGHTS;
use crate::trails::weights::MEASURES;
use crate::trails::weights::WEIGHTS;

/// A class, and how likely the line is a meteor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Verdict {
    /// What it is taken for.
    pub class: TrailClass,
    /// Of lines with this score, so large a share were meteors on rendered nights.
    pub score: f32,
}

/// From this score on a line is called a meteor, unless a moving light is so many times likelier. Far below a half: a meteor that is missed
/// costs more than a line that is looked at in vain.
const METEOR_FROM: f32 = 0.15;
const MOVING_MORE_THAN_METEOR: f32 = 1.7;
/// The same for a line that another one continues in a neighbouring frame.
const LINKED_METEOR_FROM: f32 = 0.4;
/// A moving light must be so likely against another light or noise; less likely where another line continues it.
const MOVING_AGAINST_OTHER: f32 = 0.35;
const LINKED_MOVING_FROM: f32 = 0.12;
/// From this probability on that it is noise a line is no candidate, unless one in twenty such lines is a meteor.
const NOISE_FROM: f32 = 0.85;
const MAY_BE_METEOR_FROM: f32 = 0.05;

/// Weighs a line's evidence. Gives: nothing where it is noise.
pub fn weigh(evidence: &Evidence) -> Option<Verdict> {
    let [score, moving, _, noise] = likely(&measures(evidence));
    let linked = evidence.chain > 1.5;
    let meteor_from = if linked {
        LINKED_METEOR_FROM
    } else {
        METEOR_FROM
    };
    let unmoved = 1.0 - score - moving;
    let class = if score >= meteor_from && moving < MOVING_MORE_THAN_METEOR * score {
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

/// How likely a line is a meteor, a moving light, another light, noise.
///
/// The classes are sums of the measures and of a few sums in the middle, each bent at its ends: what a bright line shows that goes on
/// nowhere weighs otherwise than the same of a faint one.
fn likely(measures: &[f32; MEASURES]) -> [f32; 4] {
    let mut hidden = [0.0_f32; HIDDEN];
    let mut sums = [0.0_f32; 4];
    for (measure, (first, straight)) in measures.iter().zip(WEIGHTS) {
        add(&mut hidden, *measure, &first);
        add(&mut sums, *measure, &straight);
    }
    for (sum, weights) in hidden.iter().zip(HIDDEN_WEIGHTS) {
        add(&mut sums, sum.tanh(), &weights);
    }
    let most = sums.iter().copied().fold(0.0, f32::max);
    let shares = sums.map(|sum| (sum - most).exp());
    shares.map(|share| share / shares.iter().sum::<f32>())
}

fn add(sums: &mut [f32], value: f32, weights: &[f32]) {
    for (sum, weight) in sums.iter_mut().zip(weights) {
        *sum += value * weight;
    }
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
        e.linked,
        flag(e.neighbours < 3.5),
        flag(e.chain > 1.5),
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
