//! The rhythm of a run of frames: cadence, gaps, missing frames. Uses only starts; knows no files.

/// A gap counts from this multiple of the cadence.
///
/// Source: our choice: half a cadence more than the cadence exceeds the jitter of an intervalometer.
pub const GAP_FROM_CADENCES: f64 = 1.5;

/// How many steps on either side determine the cadence at a step.
///
/// Source: our choice: enough that two gaps among them do not count, few enough to follow a change of the interval.
const NEIGHBOURS: usize = 4;

/// A step longer than the cadence explains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LongStep {
    /// Index of the frame before it.
    pub after: usize,
    /// Its length in seconds.
    pub step_s: f64,
    /// The cadence around it in seconds.
    pub cadence_s: f64,
    /// Frames missing by the cadence.
    pub missing: u32,
}

/// The usual time from start to start; of two equally common rhythms the slower. Frames started together (a burst
/// within one second) do not count.
///
/// The median step. If clocks show whole seconds only, the mean of the steps within a second of it, rounded to as many
/// digits as that number of steps justifies: a cadence of 22.6 s is read as 22 and 23.
pub fn cadence_s(starts_ms: &[i64]) -> Option<f64> {
    let steps: Vec<i64> = steps(starts_ms).filter(|step| *step > 0).collect();
    let whole_seconds = steps.iter().all(|step| (step + 20).rem_euclid(1_000) <= 40);
    let median = median_ms(steps.clone())?;
    if !whole_seconds {
        return Some(median / 1000.0);
    }
    let near: Vec<f64> = steps
        .iter()
        .map(|step| *step as f64)
        .filter(|step| (step - median).abs() <= 1_020.0)
        .collect();
    let mean_s = near.iter().sum::<f64>() / near.len().max(1) as f64 / 1000.0;
    // The readings at both ends of that many steps are each known to half a second.
    let digits = match near.len() {
        0..10 => return Some(median / 1000.0),
        10..100 => 10.0,
        _ => 100.0,
    };
    Some((mean_s * digits).round() / digits)
}

/// The steps longer than one and a half cadences.
///
/// A body that doubles its cadence for a while (its noise reduction was switched on, or the interval was changed) has a
/// new rhythm and no gaps: a step is a gap only if the steps around it are also shorter.
pub fn long_steps(starts_ms: &[i64]) -> Vec<LongStep> {
    let Some(usual_s) = cadence_s(starts_ms) else {
        return Vec::new();
    };
    let steps: Vec<i64> = steps(starts_ms).collect();
    let mut found = Vec::new();
    for (after, step) in steps.iter().enumerate() {
        let length_s = *step as f64 / 1000.0;
        if length_s <= usual_s * GAP_FROM_CADENCES {
            continue;
        }
        let cadence_s = cadence_about(&steps, after).map_or(usual_s, |local| local.max(usual_s));
        if length_s <= cadence_s * GAP_FROM_CADENCES {
            continue;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        // a night's seconds over at least a millisecond
        let missing = ((length_s / cadence_s).round() - 1.0).clamp(0.0, 1e9) as u32;
        found.push(LongStep {
            after,
            step_s: length_s,
            cadence_s,
            missing,
        });
    }
    found
}

/// The cadence on the calmer side of a step: the median of the steps before it or after it, whichever is longer.
fn cadence_about(steps: &[i64], at: usize) -> Option<f64> {
    let median = |side: &[i64]| {
        let side: Vec<i64> = side.iter().copied().filter(|s| *s > 0).collect();
        // Fewer than three steps have no rhythm.
        (side.len() >= 3).then(|| median_ms(side)).flatten()
    };
    let before = median(&steps[at.saturating_sub(NEIGHBOURS)..at]);
    let after = median(&steps[at + 1..(at + 1 + NEIGHBOURS).min(steps.len())]);
    let longer = match (before, after) {
        (Some(a), Some(b)) => a.max(b),
        (one, other) => one.or(other)?,
    };
    Some(longer / 1000.0)
}

fn steps(starts_ms: &[i64]) -> impl Iterator<Item = i64> {
    starts_ms.windows(2).map(|pair| pair[1] - pair[0])
}

fn median_ms(mut steps: Vec<i64>) -> Option<f64> {
    steps.sort_unstable();
    let middle = steps.len() / 2;
    match steps.len() {
        0 => None,
        // Of three frames the shorter step is the rhythm, the longer a pause.
        2 if steps[1] as f64 > steps[0] as f64 * GAP_FROM_CADENCES => Some(steps[0] as f64),
        n if n % 2 == 1 => Some(steps[middle] as f64),
        _ => {
            let (short, long) = (steps[middle - 1] as f64, steps[middle] as f64);
            // Half the steps of one rhythm, half of another: the middle between them belongs to neither.
            if long > short * GAP_FROM_CADENCES {
                Some(long)
            } else {
                Some(f64::midpoint(short, long))
            }
        }
    }
}

/// What the cadence indicates about the body's own noise reduction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubling {
    /// Cadence and exposure fit together: no sign of noise reduction.
    None,
    /// Every frame is followed by a pause as long as its exposure.
    Throughout,
    /// Some stretches have it and others do not.
    InPart,
}

/// Slack of a doubled cadence beyond twice the exposure: read-out and the timer's own pause.
///
/// Source: common practice, no source; an intervalometer's pause is 1 to 5 s.
const SLACK_S: f64 = 5.0;

/// Whether a body seems to take a dark of the same length after each frame, which doubles the cadence.
///
/// Takes: starts and exposures of the same frames. Bodies do so for exposures of a second and longer; a timer set to
/// twice the exposure looks the same, so this is likely, not certain. A stretch counts from three steps on.
pub fn doubling(starts_ms: &[i64], exposures_s: &[Option<f64>]) -> Doubling {
    let mut doubled = 0;
    let mut single = 0;
    let mut run = 0;
    for (step, exposure) in steps(starts_ms).zip(exposures_s) {
        let Some(exposure) = exposure.filter(|e| *e >= 1.0) else {
            continue;
        };
        let over_s = step as f64 / 1000.0 - 2.0 * exposure;
        let is_doubled = (0.0..=SLACK_S.max(exposure * 0.1)).contains(&over_s)
            // A pause of some seconds doubles the cadence of a short exposure by itself.
            && exposure > SLACK_S;
        if is_doubled {
            run += 1;
            doubled += usize::from(run == 3) * 3 + usize::from(run > 3);
        } else {
            run = 0;
            single += usize::from(over_s < 0.0);
        }
    }
    match (doubled, single) {
        (0, _) => Doubling::None,
        (_, 0..=2) => Doubling::Throughout,
        _ => Doubling::InPart,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn starts(steps_s: &[f64]) -> Vec<i64> {
        let mut at = 0.0;
        let mut starts = vec![0];
        for step in steps_s {
            at += step * 1000.0;
            #[allow(clippy::cast_possible_truncation)]
            starts.push(at as i64);
        }
        starts
    }

    #[test]
    fn a_bulb_timer_with_jitter_has_its_cadence_and_its_one_gap() {
        let mut steps = vec![22.0, 21.9, 22.1, 22.0, 22.2, 22.0, 21.8];
        steps.push(22.0 * 6.0);
        steps.extend([22.0, 22.0, 22.1, 21.9]);
        let starts = starts(&steps);
        assert_eq!(cadence_s(&starts), Some(22.0));
        let gaps = long_steps(&starts);
        assert_eq!(gaps.len(), 1);
        assert_eq!((gaps[0].after, gaps[0].missing), (7, 5));
    }

    #[test]
    fn a_cadence_between_whole_seconds_is_told_as_far_as_the_readings_tell_it() {
        // A clock of whole seconds, 22.6 s from start to start.
        let readings: Vec<i64> = (0..60).map(|i| (226 * i) / 10 * 1000).collect();
        assert_eq!(cadence_s(&readings), Some(22.6));
        // Five steps do not give tenths.
        assert_eq!(cadence_s(&readings[..6]), Some(23.0));
        // Gaps do not affect it.
        let mut with_gap = readings[..20].to_vec();
        with_gap.extend(readings[40..].iter());
        assert_eq!(cadence_s(&with_gap), Some(22.6));
    }

    #[test]
    fn noise_reduction_doubles_the_cadence_and_leaves_no_gaps() {
        // 20 s and a pause of 2 s; then the same with a dark of 20 s after each.
        let mut steps = vec![22.0; 20];
        steps.extend([42.0; 10]);
        let starts = starts(&steps);
        assert_eq!(long_steps(&starts), []);
        let exposures = vec![Some(20.0); starts.len()];
        assert_eq!(doubling(&starts, &exposures), Doubling::InPart);
        assert_eq!(
            doubling(&starts[20..], &exposures[20..]),
            Doubling::Throughout
        );
        assert_eq!(doubling(&starts[..21], &exposures[..21]), Doubling::None);
        // A gap within the doubled stretch is still a gap.
        let mut steps = vec![42.0; 10];
        steps.push(42.0 * 4.0);
        steps.extend([42.0; 10]);
        assert_eq!(long_steps(&self::starts(&steps))[0].missing, 3);
    }

    #[test]
    fn of_two_rhythms_equally_common_the_slower_is_the_cadence_and_neither_has_gaps() {
        // Five exposures of half an hour, then six short ones: the middle between both is the cadence of neither.
        let mut steps = vec![1_810.0; 4];
        steps.push(1_860.0);
        steps.extend([1.0; 5]);
        let starts = starts(&steps);
        assert_eq!(cadence_s(&starts), Some(1_810.0));
        assert_eq!(long_steps(&starts), []);
        let three = self::starts(&[22.0, 132.0]);
        assert_eq!(cadence_s(&three), Some(22.0));
        assert_eq!(long_steps(&three)[0].missing, 5);
    }

    #[test]
    fn a_single_doubled_step_is_one_missing_frame() {
        let starts = starts(&[22.0, 22.0, 22.0, 44.0, 22.0, 22.0, 22.0]);
        let gaps = long_steps(&starts);
        assert_eq!(gaps.len(), 1);
        assert_eq!(gaps[0].missing, 1);
        assert_eq!(doubling(&starts, &[Some(20.0); 8]), Doubling::None);
    }

    #[test]
    fn short_exposures_with_a_pause_are_not_doubled() {
        let starts = starts(&[6.0; 30]);
        assert_eq!(doubling(&starts, &[Some(2.0); 31]), Doubling::None);
        assert_eq!(cadence_s(&[5, 5, 5]), None, "a burst has no cadence");
        assert_eq!(long_steps(&[]), []);
    }
}
