//! Long exposures at high sensitivity that are dated while the Sun is up, or continue into the day.

use std::collections::BTreeSet;

use crate::clock::doubt::run::Run;
use crate::clock::doubt::run::at_ms;
use crate::terms::basis::RISING_DEG;
use crate::terms::clock::RunFrame;

/// Settings of the full night: seconds times ISO, from here on. A daylight picture at the smallest aperture needs a
/// thousandth of it.
///
/// Source: common practice, no source: 20 s at ISO 800, 5 s at ISO 3200.
const NIGHT_EXPOSURE_ISO: f64 = 16_000.0;

/// Settings of late twilight, of moonlight or of the night, in the same unit.
///
/// Source: common practice, no source: 5 s at ISO 800.
const DIM_EXPOSURE_ISO: f64 = 4_000.0;

/// And an exposure of at least this many seconds.
///
/// Source: common practice, no source.
const NIGHT_EXPOSURE_S: f64 = 4.0;

/// With the Sun higher than this a picture at night settings is white, in degrees.
///
/// Source: common practice, no source: the bright half of civil twilight.
const WHITE_SKY_DEG: f64 = -3.0;

/// With the Sun lower than this it is night for such settings, in degrees.
///
/// Source: end of nautical twilight, the almanacs' definition (from memory).
pub const DARK_SKY_DEG: f64 = -12.0;

/// A shorter pause does not split a run, in milliseconds: three minutes.
///
/// Source: our choice.
const SHORTEST_PAUSE_MS: i64 = 180_000;

/// At most this many pauses are tried, the longest first.
const MOST_PAUSES: usize = 12;

/// And this many steps shorter than four fifths of the usual one, the shortest first: a timer makes none, but two runs
/// that coincide by chance do.
///
/// Source: our choice.
const MOST_SHORT_STEPS: usize = 4;

/// How likely a part is that fits no night, as a logarithm.
const NEVER: f64 = -20.0;

/// A run in daylight.
#[derive(Clone, Debug, PartialEq)]
pub struct Bright {
    /// The code of the finding.
    pub code: &'static str,
    /// The frame under the highest Sun.
    pub frame_id: i64,
    /// What was found, in words.
    pub found: String,
}

/// Whether a frame was taken of the sky at the settings of the full night.
pub fn at_night_settings(frame: &RunFrame) -> bool {
    let (Some(exposure_s), Some(iso)) = (frame.exposure_s, frame.iso) else {
        return false;
    };
    !frame.no_sky && exposure_s >= NIGHT_EXPOSURE_S && exposure_s * iso >= NIGHT_EXPOSURE_ISO
}

/// From the first to the last frame at night settings, in milliseconds of UTC.
pub fn night_span(run: &Run) -> Option<(i64, i64)> {
    span_of(run, at_night_settings)
}

/// The same with frames at settings of twilight or moonlight, which show when the photographer worked.
pub fn worked_span(run: &Run) -> Option<(i64, i64)> {
    span_of(run, |f| {
        let exposure = f.exposure_s.zip(f.iso);
        !f.no_sky && exposure.is_some_and(|(s, iso)| s >= 1.0 && s * iso >= DIM_EXPOSURE_ISO)
    })
}

fn span_of(run: &Run, counts: impl Fn(&RunFrame) -> bool) -> Option<(i64, i64)> {
    let mut counted = run
        .frames
        .iter()
        .filter(|f| f.start_utc.is_some() && counts(f));
    let first = at_ms(counted.next()?);
    Some((first, counted.next_back().map_or(first, at_ms)))
}

/// The greatest altitude of the Sun over the frames at night settings, in degrees.
pub fn highest_sun_deg(run: &Run) -> Option<f64> {
    run.frames
        .iter()
        .filter(|f| at_night_settings(f))
        .filter_map(|f| f.sun_alt_deg)
        .max_by(f64::total_cmp)
}

/// Checks a run against the Sun.
pub fn check(run: &Run) -> Option<Bright> {
    let frames: Vec<(&RunFrame, f64)> = run
        .frames
        .iter()
        .filter(|f| at_night_settings(f))
        .filter_map(|f| Some((f, f.sun_alt_deg?)))
        .collect();
    let dark = frames.iter().any(|f| f.1 < DARK_SKY_DEG);
    let (bright, highest_deg) = frames.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let (code, bound_deg) = if dark && *highest_deg > WHITE_SKY_DEG {
        ("clock-sunrise", WHITE_SKY_DEG)
    } else if *highest_deg > RISING_DEG {
        ("clock-daylight", RISING_DEG)
    } else {
        return None;
    };
    let above = frames.iter().filter(|f| f.1 > bound_deg).count();
    Some(Bright {
        code,
        frame_id: bright.frame_id,
        found: format!(
            "{}: {above} of {} frames at night settings ({} s, ISO {}) are dated with the Sun up \
             to {highest_deg:.1}° high, {} by the camera clock",
            sessions_in_words(run),
            frames.len(),
            bright.exposure_s?,
            bright.iso?,
            bright.reading
        ),
    })
}

/// The sessions of a run in words: `session 4`.
pub fn sessions_in_words(run: &Run) -> String {
    let numbers: BTreeSet<i64> = run.frames.iter().filter_map(|f| f.session_id).collect();
    let numbers: Vec<String> = numbers.iter().map(i64::to_string).collect();
    match &numbers[..] {
        [] => "frames without a session".to_owned(),
        [one] => format!("session {one}"),
        [first @ .., last] => format!("sessions {} and {last}", first.join(", ")),
    }
}

/// Splits a run that no error fits into the night, at the pause that leaves the most likely parts.
///
/// Takes: `likely`, how likely a run is with its present date, or with its most likely error, as a logarithm; `None` if
/// no error makes it fit.
pub fn parts(run: &Run, likely: &mut dyn FnMut(&Run) -> Option<f64>) -> Vec<Run> {
    if check(run).is_none() || likely(run).is_some() {
        return vec![run.clone()];
    }
    let mut best: Option<(f64, Run, Run)> = None;
    for (length_ms, at) in breaks(run) {
        let (a, b) = run.frames.split_at(at);
        let (a, b) = (run.part(a), run.part(b));
        let mut sum = length_ms as f64 / 3_600_000.0 * 0.3;
        for part in [&a, &b] {
            sum += likely(part).unwrap_or(NEVER);
        }
        if best.as_ref().is_none_or(|(most, ..)| sum > *most) {
            best = Some((sum, a, b));
        }
    }
    match best {
        Some((_, a, b)) => {
            let mut all = parts(&a, likely);
            all.extend(parts(&b, likely));
            all
        }
        None => vec![run.clone()],
    }
}

/// Where a run may be two: the step there in milliseconds, and the index of the next frame.
fn breaks(run: &Run) -> Vec<(i64, usize)> {
    let mut steps: Vec<(i64, usize)> = run
        .frames
        .windows(2)
        .enumerate()
        .map(|(i, two)| (at_ms(&two[1]) - at_ms(&two[0]), i + 1))
        .collect();
    steps.sort_unstable_by_key(|(length_ms, at)| (-length_ms, *at));
    let usual_ms = steps.get(steps.len() / 2).map_or(0, |(ms, _)| *ms);
    let long = steps
        .iter()
        .filter(|(ms, _)| *ms >= SHORTEST_PAUSE_MS || *ms * 5 > usual_ms * 6);
    let short = steps.iter().rev().filter(|(ms, _)| *ms * 5 < usual_ms * 4);
    long.take(MOST_PAUSES)
        .chain(short.take(MOST_SHORT_STEPS))
        .copied()
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::time::Utc;
    use crate::terms::time::WallTime;

    fn frame(at_s: i64, sun_alt_deg: f64) -> RunFrame {
        RunFrame {
            start_utc: Utc::from_unix_ms(at_s * 1000),
            exposure_s: Some(20.0),
            iso: Some(3200.0),
            sun_alt_deg: Some(sun_alt_deg),
            ..RunFrame::read_at(at_s, WallTime::from_seconds(at_s, "").unwrap())
        }
    }

    #[test]
    fn two_runs_less_than_a_cadence_apart_are_parted() {
        for gap_s in [10, 40, 150, 170, 4_000] {
            let mut frames: Vec<RunFrame> = (0..30).map(|k| frame(k * 120, -30.0)).collect();
            let bright = (0..30).map(|k| frame(29 * 120 + gap_s + k * 120, 20.0));
            frames.extend(bright);
            let run = Run {
                frames,
                ..Run::default()
            };
            let is_whole = |part: &Run| {
                let alt = |f: Option<&RunFrame>| f?.sun_alt_deg;
                let (first, last) = (part.frames.first(), part.frames.last());
                (alt(first) == alt(last)).then_some(0.0)
            };
            let parts = parts(&run, &mut { is_whole });
            let sizes: Vec<usize> = parts.iter().map(|part| part.frames.len()).collect();
            assert_eq!(sizes, [30, 30], "{gap_s} s apart");
        }
    }
}
