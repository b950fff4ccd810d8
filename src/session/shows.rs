//! What a stretch of a night's frames shows: the cap, an even field, the sky, anything else. A stretch is a run of frames of
//! equal settings within which nothing changes at a step; it is judged by the medians of its looks.

use std::ops::Range;

use crate::session::look::linear;
use crate::terms::picture::Look;
use crate::terms::records::SessionFrame;

/// What a stretch shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shows {
    /// Nothing: the cap was on.
    Black,
    /// An even field, once the lens's shading is taken off.
    Even,
    /// Stars.
    Stars,
    /// Anything else: cloud, a landscape, a torch.
    Something,
    /// None of its pictures was looked at.
    Unseen,
}

/// Frames of equal settings within which nothing changes at a step.
#[derive(Clone, Debug)]
pub struct Stretch {
    /// Their places in the night's order.
    pub frames: Range<usize>,
    /// Medians of their looks.
    pub look: Option<Look>,
    /// What they show.
    pub shows: Shows,
}

/// As encoded: nothing darker than this is taken for a lit picture without further evidence.
const DIM: f64 = 30.0 / 255.0;

/// A black picture exposed no longer than this is a bias.
///
/// Source: common practice, no source: a bias is taken at the shortest exposure.
pub const LONGEST_BIAS_S: f64 = 0.002;

/// Points a picture of the sky has at least, in the median of a stretch. Fewer may be hot pixels or noise.
const STARS: f64 = 4.0;

/// Frames on either side of a possible step that are compared.
const BESIDE: usize = 5;

/// Exposure times sensitivity over the square of the f-number: what of the light before the lens is recorded.
pub fn exposure_value(frame: &SessionFrame) -> Option<f64> {
    let f_number = frame.f_number.unwrap_or(2.8);
    Some(frame.exposure_s? * frame.iso? / (f_number * f_number))
}

/// What the darkest natural sky gives, as a share of white in linear light.
///
/// Source: 22 magnitudes a square arcsecond (common practice, no source) by the photons of a star of magnitude 0, 1e6 a
/// second and cm² (from memory), half of them recorded by a sensor of 1,400 electrons a µm² at ISO 100.
fn darkest_sky(frame: &SessionFrame) -> Option<f64> {
    Some(exposure_value(frame)? * 1.75e-6)
}

/// The light before the lens, to compare within a night: linear light over the exposure's value.
pub fn scene_light(frame: &SessionFrame, look: Look) -> Option<f64> {
    Some(linear(look.level).max(1e-4) / exposure_value(frame)?.max(1e-9))
}

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

/// The stretches of a night, each with what it shows.
pub fn stretches(frames: &[&SessionFrame]) -> Vec<Stretch> {
    let mut found = Vec::new();
    let mut from = 0;
    for at in 1..=frames.len() {
        let ends = at == frames.len() || !same_settings(frames[at - 1], frames[at]);
        if ends {
            found.extend(cut_at_steps(frames, from..at));
            from = at;
        }
    }
    judge(frames, &mut found);
    found
}

/// Cuts a run of equal settings where its looks change at a step.
fn cut_at_steps(frames: &[&SessionFrame], run: Range<usize>) -> Vec<Stretch> {
    let looked: Vec<(usize, Look)> = run
        .clone()
        .filter_map(|at| Some((at, frames[at].look?)))
        .collect();
    let mut cuts = vec![run.start];
    let mut since = 0;
    for at in 1..looked.len() {
        let before = &looked[at.saturating_sub(BESIDE).max(since)..at];
        let after = &looked[at..(at + BESIDE).min(looked.len())];
        let (Some(a), Some(b)) = (median_of(before), median_of(after)) else {
            continue;
        };
        let step = distance(a, b);
        // A step has level ground on both sides of it: clouds come and go by degrees.
        let sharp =
            distance(looked[at - 1].1, a) <= step / 4.0 && distance(looked[at].1, b) <= step / 4.0;
        // A cap goes on and off at once, whatever the clouds do before and after.
        let capped = |look: Look, side: &[(usize, Look)]| {
            look.level <= DARKEST
                && (is_plain(look) || glows(look))
                && side.iter().all(|(_, own)| distance(*own, look) <= 0.5)
        };
        let jump = distance(looked[at - 1].1, looked[at].1);
        let cap = jump >= 3.0 && (capped(a, before) != capped(b, after));
        // Dusk and dawn go on at a pace.
        let pace = |side: &[(usize, Look)]| {
            let steps = side.windows(2).map(|pair| distance(pair[0].1, pair[1].1));
            steps.fold(0.0, f64::max)
        };
        let long = before.len().min(after.len()) >= 3;
        let off_pace = long && jump >= 1.0 && jump >= 4.0 * pace(before).max(pace(after));
        if (step >= 1.0 && sharp) || cap || off_pace {
            cuts.push(looked[at].0);
            since = at;
        }
    }
    cuts.push(run.end);
    cuts.windows(2)
        .map(|pair| {
            let frames_of = pair[0]..pair[1];
            let looks: Vec<(usize, Look)> = looked
                .iter()
                .filter(|(at, _)| frames_of.contains(at))
                .copied()
                .collect();
            Stretch {
                look: median_of(&looks),
                frames: frames_of,
                shows: Shows::Unseen,
            }
        })
        .collect()
}

/// The frames in the middle between two of these places whose looks were taken and differ by more than a step.
pub fn between_unlike(frames: &[SessionFrame], places: &[usize]) -> Vec<usize> {
    let looked: Vec<usize> = (0..places.len())
        .filter(|i| frames[places[*i]].look.is_some())
        .collect();
    looked
        .windows(2)
        .filter(|pair| pair[1] - pair[0] > 1)
        .filter(|pair| {
            let of = |i: usize| frames[places[i]].look;
            of(pair[0])
                .zip(of(pair[1]))
                .is_some_and(|(a, b)| distance(a, b) >= 1.0)
                || !same_settings(&frames[places[pair[0]]], &frames[places[pair[1]]])
        })
        .map(|pair| places[usize::midpoint(pair[0], pair[1])])
        .collect()
}

/// How far two looks are apart; from 1 on it may be a step.
fn distance(a: Look, b: Look) -> f64 {
    let level = (a.level - b.level).abs() * 255.0;
    let brighter = a.level.max(b.level) * 255.0;
    let parts = [
        level / (2.5 + 0.06 * brighter),
        (a.stars.sqrt() - b.stars.sqrt()).abs() / 2.0,
        (a.uneven_stops - b.uneven_stops).abs() / 0.12,
        (a.falloff_stops - b.falloff_stops).abs() / 0.6,
        (a.tilt_stops - b.tilt_stops).abs() / 0.8,
    ];
    parts.into_iter().fold(0.0, f64::max)
}

fn median_of(looks: &[(usize, Look)]) -> Option<Look> {
    let median = |part: fn(&Look) -> f64| {
        let mut values: Vec<f64> = looks.iter().map(|(_, look)| part(look)).collect();
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
    })
}

/// Settles what stretches show: first what is so by itself, then what the body's other frames make of the rest.
fn judge(frames: &[&SessionFrame], stretches: &mut [Stretch]) {
    for stretch in stretches.iter_mut() {
        stretch.shows = stretch.look.map_or(Shows::Unseen, |look| {
            shows(frames[stretch.frames.start], look, stretch.frames.len())
        });
    }
    for at in 0..stretches.len() {
        if stretches[at].shows != Shows::Black
            && let Some(look) = stretches[at].look
            && is_black_beside(frames, stretches, at, look)
        {
            stretches[at].shows = Shows::Black;
        }
    }
}

/// What a look is by itself.
fn shows(frame: &SessionFrame, look: Look, how_many: usize) -> Shows {
    let sky = darkest_sky(frame).unwrap_or(0.0);
    let below_sky = sky > 0.01 && linear(look.level) < 0.1 * sky;
    let few = look.stars < STARS;
    let shortest = frame.exposure_s.is_some_and(|s| s <= LONGEST_BIAS_S) && look.level < DIM;
    // A dim and even sky has a star or two, and some pixels that are darker than others.
    let plain =
        is_plain(look) && (look.level < DIM / 3.0 || (look.stars < 1.0 && mostly_black(look)));
    let glow = few && glows(look) && GLOWING.contains(&how_many);
    if (look.level < DIM && ((few && plain) || below_sky || shortest)) || glow {
        Shows::Black
    } else if !few {
        Shows::Stars
    } else if look.level >= DIM
        && look.stars < STARS / 2.0
        && look.uneven_stops < EVEN_STOPS
        && look.tilt_stops < 0.8
    {
        Shows::Even
    } else {
        Shows::Something
    }
}

/// How many darks with glow are taken one after the other: fewer, or more, may be a dim sky above a dark horizon.
///
/// Source: common practice, no source.
const GLOWING: std::ops::RangeInclusive<usize> = 3..=100;

/// Bodies encode black no brighter than this.
///
/// Source: ours: a twentieth of white, above what bodies' own JPEGs of capped frames show at high sensitivities.
const DARKEST: f64 = 14.0 / 255.0;

/// Share of pixels on an edge that noise and the packing leave.
const SMOOTH: f64 = 0.003;

/// Whether the light of a dim picture is the amplifiers': it comes from an edge or a corner, fades without an edge of its
/// own, and leaves the rest at black. The lens would darken edges and corners; a horizon has an edge.
fn glows(look: Look) -> bool {
    let dim = look.level < 1.5 * DIM && look.floor <= 1.5 * DARKEST;
    let outer = look.falloff_stops < -0.2 && look.uneven_stops > 0.2;
    let side = look.tilt_stops > 2.0 && look.uneven_stops > 0.35 && is_lit_from_side(look);
    look.edges < SMOOTH && ((mostly_black(look) && look.stars < 1.0) || (dim && (outer || side)))
}

/// Whether a look is of one level all over.
fn is_plain(look: Look) -> bool {
    // A step of 255 is more of a little light.
    let uneven_stops = if look.level < DIM / 5.0 { 0.1 } else { 0.06 };
    look.uneven_stops < uneven_stops && look.falloff_stops < 0.2 && look.tilt_stops < 0.3
}

/// Whether the light comes from an edge or a corner, against the shading of a lens.
fn is_lit_from_side(look: Look) -> bool {
    look.falloff_stops < -0.2 || look.tilt_stops > 2.0 * look.falloff_stops.max(0.3)
}

/// Whether the middle half of the pixels is as dark as the darkest: the lens shades none of them.
fn mostly_black(look: Look) -> bool {
    let above = look.level - look.floor;
    look.level < DIM && above < (0.1 * look.level).max(0.9 / 255.0)
}

/// Whether a stretch that is no darker than some sky is black beside the body's other frames of the night.
fn is_black_beside(frames: &[&SessionFrame], stretches: &[Stretch], at: usize, look: Look) -> bool {
    let own = frames[stretches[at].frames.start];
    // A lens leaves its shading on whatever shines through it.
    let shaded = look.falloff_stops > 0.5 && look.tilt_stops < 2.0 * look.falloff_stops;
    if look.level >= DIM || shaded {
        return false;
    }
    let brighter_by = |factor: f64| {
        stretches.iter().any(|s| {
            s.look.is_some_and(|lit| {
                same_settings(frames[s.frames.start], own)
                    && lit.level * 255.0 > look.level * 255.0 + 3.0
                    && linear(lit.level) > factor * linear(look.level)
            })
        })
    };
    let at_black = stretches.iter().any(|s| {
        s.shows == Shows::Black
            && frames[s.frames.start].iso == own.iso
            && s.look
                .is_some_and(|cap| (look.level - cap.level).abs() * 255.0 < 2.0)
    });
    let few = look.stars < STARS;
    let glow = is_lit_from_side(look) && look.uneven_stops > 0.1;
    let flat_black = look.level <= DARKEST || look.level - look.floor < 0.15 * look.level;
    look.edges < SMOOTH
        && (mostly_black(look) || is_plain(look) || glow)
        && ((few && at_black && look.floor <= DARKEST)
            || (flat_black && brighter_by(if few { 2.5 } else { 6.0 })))
}

/// What a plane and a radial fall-off leave of an even field, in stops.
///
/// Source: ours: panels and twilight skies leave a fiftieth, the packing of the thumbnail as much again.
const EVEN_STOPS: f64 = 0.07;
