//! From evidence to a class and a score: a logistic sum over measures, with constants fitted on rendered nights.

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

/// From this score on a line is called a meteor. Far below a half: a meteor that is missed costs more than a line that is looked at
/// in vain.
const METEOR_FROM: f32 = 0.18;
/// The same for a line that another one continues in a neighbouring frame.
const LINKED_METEOR_FROM: f32 = 0.5;
/// A moving light must be so much likelier than another light; less where another line continues it.
const MOVING_AGAINST_OTHER: f32 = 0.5;
const LINKED_MOVING_FROM: f32 = 0.15;

/// How many measures are weighed.
const MEASURES: usize = 32;

/// The weights of the measures, for a meteor and for a moving light; other lights have none.
///
/// Source: fitted on rendered nights of fourteen kinds (`benches/nights`), seeds 11, 21 and 22, as `cargo bench --bench trails -- fit`
/// does; nothing was fitted on other nights. The rows are in the order of [`measures`].
#[rustfmt::skip] // a row a measure
const WEIGHTS: [(f32, f32); MEASURES] = [
    (-11.061, -8.811), // bias
    (-1.305, -1.588), // line snr
    (2.657, 1.569), // length
    (-1.995, 0.506), // short
    (0.653, 1.574), // peak
    (5.219, 3.047), // lit
    (4.054, -0.028), // seen
    (-1.101, -2.420), // off line
    (-1.232, -0.136), // bend
    (-0.481, -0.570), // width
    (-1.884, -2.425), // width off
    (-3.889, -5.061), // beside
    (-0.775, -0.627), // ends
    (-0.371, 0.162), // lopsided
    (1.131, -0.409), // peak at
    (0.019, 0.717), // peaks
    (-0.577, -0.428), // unrest
    (2.022, 2.247), // starry
    (-0.155, -0.248), // edge
    (0.415, 0.350), // goes on
    (-3.048, -0.632), // goes share
    (-0.367, -0.062), // goes both
    (-0.299, -0.158), // goes far
    (-1.088, 2.327), // on line
    (-0.169, 0.457), // stays
    (-2.470, -2.160), // twin
    (-0.713, -0.932), // others
    (1.043, 1.548), // linked
    (-0.824, 0.533), // few neighbours
    (-0.601, -0.094), // is linked
    (-1.418, 1.060), // again
    (-1.045, -1.165), // crowd
];

/// Weighs a line's evidence.
pub fn weigh(evidence: &Evidence) -> Verdict {
    let (mut meteor, mut moving) = (0.0_f32, 0.0_f32);
    for (measure, (m, s)) in measures(evidence).iter().zip(WEIGHTS) {
        meteor += measure * m;
        moving += measure * s;
    }
    let most = meteor.max(moving).max(0.0);
    let shares = [meteor, moving, 0.0].map(|sum| (sum - most).exp());
    let score = shares[0] / shares.iter().sum::<f32>();
    let linked = evidence.linked > 0.5;
    let moving = shares[1] / shares.iter().sum::<f32>();
    let other = 1.0 - score - moving;
    let class = if score
        >= if linked {
            LINKED_METEOR_FROM
        } else {
            METEOR_FROM
        } {
        TrailClass::Meteor
    } else if moving > MOVING_AGAINST_OTHER * other || linked && moving > LINKED_MOVING_FROM {
        TrailClass::MovingLight
    } else {
        TrailClass::OtherLight
    };
    Verdict { class, score }
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
    ]
}
