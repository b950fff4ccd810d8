//! The clock against the stars in pictures of one tripod, in words: a step, a drift, a camera that would look below the horizon.
//! Knows no picture; the caller compares them.

use crate::clock::doubt::found::Doubt;
use crate::clock::doubt::found::fix_of;
use crate::terms::command_line::CommandLine;
use crate::terms::duration::in_words;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// Shown where no fix can be stated.
const NO_READING: &str = "the stars do not say which side is right, and no fix can be stated: the frames have no reading";

/// A frame whose stars were compared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SkyFrame {
    /// The catalogue's number.
    pub frame_id: i64,
    /// What the clock showed when the shutter opened.
    pub reading: Option<WallTime>,
    /// When it opened, as derived.
    pub start_utc: Utc,
}

/// What the clock and the stars say of the time between two frames.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compared {
    /// Seconds by the clock.
    pub clock_s: f64,
    /// Seconds by the stars.
    pub sky_s: f64,
    /// One sigma of it.
    pub error_s: f64,
}

impl Compared {
    /// How much farther the clock went than the sky.
    pub fn ahead_s(&self) -> f64 {
        self.clock_s - self.sky_s
    }
}

/// The clock stepped between two neighbouring frames.
pub fn step(camera: &str, (before, after): (&SkyFrame, &SkyFrame), by: Compared) -> Doubt {
    let commands = fix(camera, before, 0.0).zip(fix(camera, after, -by.ahead_s()));
    Doubt {
        code: "clock-against-stars",
        frame_id: after.frame_id,
        saw: format!(
            "the clock of {camera} went on by {} from the frame before, the stars by {:.1} ± {:.1} s: it was set {} by {}",
            seconds(by.clock_s),
            by.sky_s,
            by.error_s,
            if by.ahead_s() > 0.0 { "ahead" } else { "back" },
            seconds(by.ahead_s().abs()),
        ),
        cure: match commands {
            Some((first, second)) => format!(
                "if the frames before it are right, a fix on either side puts the others right: {first}, then {}",
                second.flag("--reset-before")
            ),
            None => NO_READING.to_owned(),
        },
    }
}

/// The clock went at another rate than the sky.
pub fn drift(camera: &str, (first, last): (&SkyFrame, &SkyFrame), by: Compared) -> Doubt {
    let commands = fix(camera, first, 0.0).zip(fix(camera, last, -by.ahead_s()));
    Doubt {
        code: "clock-against-stars",
        frame_id: last.frame_id,
        saw: format!(
            "from {} to {} the clock of {camera} {} {} against the stars (± {:.1} s), little by little",
            first.start_utc,
            last.start_utc,
            if by.ahead_s() > 0.0 { "gained" } else { "lost" },
            seconds(by.ahead_s().abs()),
            by.error_s,
        ),
        cure: match commands {
            Some((first, second)) => format!(
                "if the first frame is right, two fixes follow the clock: {first}, then {second}"
            ),
            None => NO_READING.to_owned(),
        },
    }
}

/// The command that gives a frame the time it has, or one so many seconds later.
fn fix(camera: &str, frame: &SkyFrame, later_s: f64) -> Option<CommandLine> {
    let true_utc = frame.start_utc.plus_s(later_s)?;
    Some(fix_of(camera, frame.reading?).option("--true", true_utc.to_string()))
}

/// The camera would look below the horizon.
///
/// Takes: the altitude of the middle of its stars; whole hours by which the clock may be off so that it would not.
pub fn below_horizon(camera: &str, frame: &SkyFrame, alt_deg: f64, hours: &[i32]) -> Doubt {
    let fits = match (hours.first(), hours.last()) {
        (Some(first), Some(last)) if first == last => {
            format!("; a clock off by {first:+} h would put it above")
        }
        (Some(first), Some(last)) => {
            format!("; a clock off by {first:+} to {last:+} h would put it above")
        }
        _ => String::new(),
    };
    Doubt {
        code: "stars-below-horizon",
        frame_id: frame.frame_id,
        saw: format!(
            "the stars in the picture were below the horizon at {}: the middle of them at {alt_deg:.0}°{fits}",
            frame.start_utc
        ),
        cure: format!(
            "the clock of {camera} or the site is wrong by hours; stars alone do not say by how many: state a clock fix or the site"
        ),
    }
}

/// A body of the sky that stands in the picture where it stood at another time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Elsewhere {
    /// The code of the finding.
    pub code: &'static str,
    /// Its name in a sentence.
    pub body: &'static str,
    /// How many seconds later it was where the picture shows it.
    pub later_s: f64,
    /// How well that is known, in minutes.
    pub error_min: f64,
}

/// A body of the sky in the picture stands where it stood at another time.
pub fn elsewhere(camera: &str, frame: &SkyFrame, one: &Elsewhere) -> Doubt {
    // No finer than it is known.
    let later_s = (one.later_s / 60.0).round() * 60.0;
    let body = one.body;
    let fits = frame.start_utc.plus_s(later_s);
    let at = fits.map_or_else(String::new, |at| format!(", at {at}"));
    let error = in_words(one.error_min * 60.0);
    Doubt {
        code: one.code,
        frame_id: frame.frame_id,
        saw: format!(
            "at {} {body} was elsewhere among the stars; it was where the picture shows it {} {}{at}, give or take {error}",
            frame.start_utc,
            in_words(later_s.abs()),
            if later_s > 0.0 { "later" } else { "earlier" },
        ),
        cure: match fix(camera, frame, later_s) {
            Some(command) => format!(
                "if the bright spot is {body}, the clock or the zone is wrong; find the exact time, then: {command}"
            ),
            None => NO_READING.to_owned(),
        },
    }
}

fn seconds(seconds: f64) -> String {
    if seconds.abs() < 120.0 {
        format!("{seconds:.1} s")
    } else {
        in_words(seconds)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(second: u8) -> SkyFrame {
        SkyFrame {
            frame_id: i64::from(second),
            reading: WallTime::parse(&format!("2023-12-14T01:00:{second:02}")),
            start_utc: Utc::parse(&format!("2023-12-14T00:00:{second:02}Z")).unwrap(),
        }
    }

    #[test]
    fn a_step_names_the_true_time_of_the_later_frame() {
        let by = Compared {
            clock_s: 45.0,
            sky_s: 20.2,
            error_s: 0.4,
        };
        let doubt = step("N6A", (&frame(0), &frame(45)), by);
        assert_eq!(doubt.frame_id, 45);
        assert!(doubt.saw.contains("set ahead by 24.8 s"), "{}", doubt.saw);
        assert!(
            doubt.cure.contains("2023-12-14T00:00:20.200Z"),
            "{}",
            doubt.cure
        );
        assert!(doubt.cure.ends_with("--reset-before"), "{}", doubt.cure);
    }

    #[test]
    fn hours_that_fit_are_told() {
        let doubt = below_horizon("N6A", &frame(1), -23.4, &[-6, -5, -4]);
        assert!(
            doubt.saw.contains("-23°") && doubt.saw.contains("-6 to -4 h"),
            "{}",
            doubt.saw
        );
        assert!(
            !below_horizon("N6A", &frame(1), -23.4, &[])
                .saw
                .contains(" h ")
        );
    }
}
