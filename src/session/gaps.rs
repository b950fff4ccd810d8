//! Gaps of a session with their most likely cause, and changes of its settings. Decided by file numbers, folders and
//! dumps; nothing is guessed beyond them.

use crate::session::rhythm::long_steps;
use crate::terms::basis::Kind;
use crate::terms::exposure::exposure_text;
use crate::terms::night::GapCause;
use crate::terms::night::NightFrame;
use crate::terms::night::SessionGap;
use crate::terms::night::SettingsChange;

/// A frame's start on the axis that orders its session: UTC, otherwise the camera clock.
pub fn start_ms(frame: &NightFrame) -> Option<i64> {
    frame
        .start_utc
        .map(crate::terms::time::Utc::unix_ms)
        .or_else(|| {
            frame
                .clock_local
                .map(crate::terms::time::WallTime::reading_ms)
        })
}

/// The indices of a session's lights among its frames, and their starts; those of every frame if none is a light.
///
/// Gives: nothing if a start is unknown.
pub fn rhythm_of(frames: &[NightFrame]) -> (Vec<usize>, Vec<i64>) {
    let lights = |at: &usize| frames[*at].kind == Some(Kind::Light);
    let mut places: Vec<usize> = (0..frames.len()).filter(lights).collect();
    if places.is_empty() {
        places = (0..frames.len()).collect();
    }
    let starts: Vec<i64> = places
        .iter()
        .filter_map(|at| start_ms(&frames[*at]))
        .collect();
    if starts.len() == places.len() {
        (places, starts)
    } else {
        (Vec::new(), Vec::new())
    }
}

/// The gaps between the lights of a session. If other frames of it were taken in between, there is none.
///
/// Takes: its frames in order; the other frames of the same body that night, to see whether it was busy elsewhere.
pub fn gaps(frames: &[NightFrame], others: &[&NightFrame]) -> Vec<SessionGap> {
    let (places, starts) = rhythm_of(frames);
    long_steps(&starts)
        .into_iter()
        .map(|long| (long, places[long.after], places[long.after + 1]))
        .filter(|(_, from, to)| to - from == 1 && frames[*from].kind == Some(Kind::Light))
        .map(|(long, from, to)| {
            let (before, after) = (&frames[from], &frames[to]);
            let span = starts[long.after]..starts[long.after + 1];
            let elsewhere = others
                .iter()
                .find(|f| start_ms(f).is_some_and(|at| span.contains(&at)))
                .and_then(|f| f.session_id);
            let cause = elsewhere.map_or_else(|| cause(before, after), GapCause::BusyElsewhere);
            let busy = matches!(cause, GapCause::BusyElsewhere(_));
            SessionGap {
                after: from,
                step_s: long.step_s,
                length_s: long.step_s - long.cadence_s,
                missing: if busy { 0 } else { long.missing },
                cause,
            }
        })
        .collect()
}

fn cause(before: &NightFrame, after: &NightFrame) -> GapCause {
    if before.dump != after.dump {
        return GapCause::CardChange;
    }
    match number_step(&before.file, &after.file) {
        Some(NumberStep::On(1)) => GapCause::NotFired,
        Some(NumberStep::On(step)) => GapCause::FramesMissing(step - 1),
        Some(NumberStep::Anew) => GapCause::CounterReset,
        None => GapCause::Unknown,
    }
}

/// How file numbers continue from one frame to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NumberStep {
    /// By this many, through 9999 to 0001 if necessary.
    On(u32),
    /// They restart.
    Anew,
}

/// How many numbers of four digits a card's counter runs through before it restarts at 0001.
///
/// Source: JEITA CP-3461 (DCF 2.0), file numbers 0001 to 9999 (from memory).
const DCF_NUMBERS: u32 = 9_999;

/// A counter that jumps by more than this was set, and did not run there.
///
/// Source: our choice: more frames than fit in a night at one a second.
const LONGEST_JUMP: u32 = 5_000;

/// How the numbers of two files continue. `None` if either has no number, or their other letters differ.
pub fn number_step(before: &str, after: &str) -> Option<NumberStep> {
    let (letters, first) = numbered(before)?;
    let (other, second) = numbered(after)?;
    if !letters.eq_ignore_ascii_case(other) {
        return None;
    }
    let step = if second > first {
        second - first
    } else {
        (second + DCF_NUMBERS).checked_sub(first)?
    };
    Some(match step {
        1..=LONGEST_JUMP => NumberStep::On(step),
        _ => NumberStep::Anew,
    })
}

/// A file's name without its number, and the number: the last four digits before the extension.
fn numbered(file: &str) -> Option<(&str, u32)> {
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem);
    let digits = stem
        .bytes()
        .rev()
        .take_while(u8::is_ascii_digit)
        .count()
        .min(4);
    if digits < 3 {
        return None;
    }
    let (letters, number) = stem.split_at(stem.len() - digits);
    Some((letters, number.parse().ok()?))
}

/// Where the settings of a session changed.
pub fn changes(frames: &[NightFrame]) -> Vec<SettingsChange> {
    let mut found = Vec::new();
    for (at, pair) in frames.windows(2).enumerate() {
        let (a, b) = (&pair[0], &pair[1]);
        let mut words = Vec::new();
        let mut note =
            |name: &str, before: Option<f64>, after: Option<f64>, show: fn(f64) -> String| {
                if let (Some(before), Some(after)) = (before, after)
                    && (before - after).abs() > 1e-6 * before.abs()
                {
                    words.push(format!("{name} {} to {}", show(before), show(after)));
                }
            };
        note("exposure", a.exposure_s, b.exposure_s, exposure_text);
        note("aperture", a.f_number, b.f_number, |f| {
            format!("f/{}", rounded(f))
        });
        note("ISO", a.iso, b.iso, rounded);
        if !words.is_empty() {
            found.push(SettingsChange {
                at: at + 1,
                words: words.join(", "),
            });
        }
    }
    found
}

/// A setting as photographers write it: at most two digits after the point.
fn rounded(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::time::Utc;

    fn shot(number: u32, at_s: f64, dump: &str) -> NightFrame {
        NightFrame {
            file: format!("NITE{number:04}.NEF"),
            dump: dump.to_owned(),
            session_id: Some(1),
            start_utc: Utc::from_unix_ms(1_702_500_000_000).and_then(|e| e.plus_s(at_s)),
            exposure_s: Some(20.0),
            kind: Some(Kind::Light),
            ..NightFrame::default()
        }
    }

    fn run(first: u32, count: u32, from_s: f64, dump: &str) -> Vec<NightFrame> {
        (0..count)
            .map(|i| {
                let number = (first + i - 1) % 9_999 + 1;
                shot(number, from_s + 22.0 * f64::from(i), dump)
            })
            .collect()
    }

    #[test]
    fn the_cause_of_a_gap_is_told_by_file_numbers_and_dumps() {
        let first = run(100, 10, 0.0, "card-1");
        for (second, cause) in [
            (run(110, 10, 400.0, "card-1"), GapCause::NotFired),
            (run(118, 10, 400.0, "card-1"), GapCause::FramesMissing(8)),
            (run(110, 10, 400.0, "card-2"), GapCause::CardChange),
            (run(1, 10, 400.0, "card-1"), GapCause::CounterReset),
        ] {
            let frames = [first.clone(), second].concat();
            let gaps = gaps(&frames, &[]);
            assert_eq!(gaps.len(), 1);
            assert_eq!(gaps[0].cause, cause);
            assert_eq!(gaps[0].missing, 8);
            assert!((gaps[0].length_s - (400.0 - 9.0 * 22.0 - 22.0)).abs() < 1e-9);
        }
        let mut other = shot(110, 300.0, "card-1");
        other.session_id = Some(7);
        let frames = [first, run(111, 10, 400.0, "card-1")].concat();
        let gaps = gaps(&frames, &[&other]);
        assert_eq!(gaps[0].cause, GapCause::BusyElsewhere(7));
        assert_eq!(gaps[0].missing, 0);
    }

    #[test]
    fn the_counter_rolls_over_from_9999_to_0001() {
        let frames = [run(9_990, 10, 0.0, "a"), run(1, 10, 220.0, "a")].concat();
        assert_eq!(gaps(&frames, &[]), []);
        assert_eq!(
            number_step("N_9999.DNG", "N_0001.DNG"),
            Some(NumberStep::On(1))
        );
        assert_eq!(
            number_step("N_9998.DNG", "N_0003.DNG"),
            Some(NumberStep::On(4))
        );
        assert_eq!(
            number_step("IMG_0005.CR2", "IMG_0005.CR2"),
            Some(NumberStep::Anew)
        );
        assert_eq!(number_step("IMG_0005.CR2", "DSC_0006.CR2"), None);
        assert_eq!(number_step("moon.CR2", "sun.CR2"), None);
    }

    #[test]
    fn changes_of_settings_are_told_where_they_happen() {
        let mut frames = run(1, 4, 0.0, "a");
        for f in &mut frames {
            f.iso = Some(3200.0);
        }
        frames[2].exposure_s = Some(0.005);
        frames[3].exposure_s = Some(0.005);
        frames[3].iso = Some(1600.0);
        let words: Vec<_> = changes(&frames)
            .into_iter()
            .map(|c| (c.at, c.words))
            .collect();
        assert_eq!(
            words,
            [
                (2, "exposure 20 s to 1/200 s".to_owned()),
                (3, "ISO 3200 to 1600".to_owned())
            ]
        );
    }
}
