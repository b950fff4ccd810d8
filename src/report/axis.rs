//! The axis of time, and the clock for its labels. No drawing.

use std::fmt::Write as _;

use crate::terms::time::Utc;

/// The clock of a plot's hours.
#[derive(Clone, Debug, PartialEq)]
pub enum Hours {
    /// A zone: its name, and its offsets from UTC in seconds east, each from an instant on.
    Zone(String, Vec<(Utc, i32)>),
    /// UTC, if the site has no zone.
    Utc,
    /// The camera clock, if UTC is unknown.
    Reading,
}

impl Hours {
    /// The label beside the axis.
    pub fn label(&self) -> String {
        match self {
            Self::Zone(name, _) => format!("local time, {name}"),
            Self::Utc => "UTC".to_owned(),
            Self::Reading => "by the body's clock".to_owned(),
        }
    }

    /// The offset from UTC at a moment of the axis, in milliseconds.
    fn offset_ms(&self, at_ms: i64) -> i64 {
        match self {
            Self::Zone(_, offsets) => offsets
                .iter()
                .rev()
                .find(|(from, _)| from.unix_ms() <= at_ms)
                .or_else(|| offsets.first())
                .map_or(0, |(_, offset_s)| i64::from(*offset_s) * 1000),
            Self::Utc | Self::Reading => 0,
        }
    }

    /// The offsets from UTC from a moment of the axis on, each from an instant on, in milliseconds.
    pub fn offsets(&self, from_ms: i64) -> Vec<(i64, i64)> {
        match self {
            Self::Zone(_, offsets) => offsets
                .iter()
                .map(|(from, offset_s)| (from.unix_ms(), i64::from(*offset_s) * 1000))
                .collect(),
            Self::Utc | Self::Reading => vec![(from_ms, 0)],
        }
    }

    /// A moment of the axis as `02:13`.
    pub fn minute(&self, at_ms: i64) -> String {
        let of_day = (at_ms + self.offset_ms(at_ms) + 30_000)
            .div_euclid(60_000)
            .rem_euclid(1440);
        format!("{:02}:{:02}", of_day / 60, of_day % 60)
    }

    /// A moment of the axis as a tick label: with seconds only if it is not a full minute.
    pub fn tick(&self, at_ms: i64) -> String {
        if (at_ms + self.offset_ms(at_ms)).rem_euclid(60_000) == 0 {
            self.minute(at_ms)
        } else {
            self.second(at_ms)
        }
    }

    /// A moment of the axis as `02:13:05`.
    pub fn second(&self, at_ms: i64) -> String {
        let of_day = (at_ms + self.offset_ms(at_ms))
            .div_euclid(1000)
            .rem_euclid(86_400);
        let mut text = String::new();
        let _ = write!(
            text,
            "{:02}:{:02}:{:02}",
            of_day / 3600,
            of_day / 60 % 60,
            of_day % 60
        );
        text
    }
}

/// A stretch of time laid along a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeAxis {
    /// The moment at the left end.
    pub from_ms: i64,
    /// The moment at the right end, later.
    pub to_ms: i64,
    /// The position of the left end.
    pub left: f64,
    /// The position of the right end.
    pub right: f64,
}

/// Steps between ticks, in seconds.
const TICK_STEPS_S: [i64; 16] = [
    5, 10, 15, 30, 60, 120, 300, 600, 900, 1_800, 3_600, 7_200, 10_800, 14_400, 21_600, 43_200,
];

impl TimeAxis {
    /// The position of a moment, clamped to the ends.
    pub fn x(&self, at_ms: i64) -> f64 {
        let share = (at_ms - self.from_ms) as f64 / (self.to_ms - self.from_ms).max(1) as f64;
        self.left + share.clamp(0.0, 1.0) * (self.right - self.left)
    }

    /// Whether a moment is on it.
    pub const fn holds(&self, at_ms: i64) -> bool {
        self.from_ms <= at_ms && at_ms <= self.to_ms
    }

    /// Moments at full hours or minutes by these hours, at most `most`.
    pub fn ticks(&self, hours: &Hours, most: usize) -> Vec<i64> {
        let length_s = (self.to_ms - self.from_ms) / 1000;
        let fits = |step: &&i64| usize::try_from(length_s / **step).is_ok_and(|n| n <= most);
        let step = TICK_STEPS_S.iter().find(fits).copied().unwrap_or(86_400) * 1000;
        let offset = hours.offset_ms(self.from_ms);
        let first = (self.from_ms + offset + step - 1).div_euclid(step) * step - offset;
        (0..=i64::try_from(most).unwrap_or(20) + 1)
            .map(|k| first + k * step)
            .take_while(|at| *at <= self.to_ms)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Utc {
        Utc::parse(text).unwrap()
    }

    #[test]
    fn ticks_stand_at_full_local_hours_of_a_zone_half_an_hour_off() {
        let hours = Hours::Zone(
            "Australia/Adelaide".into(),
            vec![(at("2024-05-05T00:00:00Z"), 34_200)],
        );
        let axis = TimeAxis {
            from_ms: at("2024-05-05T13:10:00Z").unix_ms(),
            to_ms: at("2024-05-05T21:00:00Z").unix_ms(),
            left: 0.0,
            right: 100.0,
        };
        let ticks = axis.ticks(&hours, 9);
        assert_eq!(hours.minute(ticks[0]), "23:00");
        assert_eq!(ticks[0], at("2024-05-05T13:30:00Z").unix_ms());
        assert_eq!(hours.second(axis.from_ms), "22:40:00");
        assert!(ticks.len() <= 9);
    }

    #[test]
    fn the_hours_follow_a_change_of_the_clocks() {
        let hours = Hours::Zone(
            "Europe/Rome".into(),
            vec![
                (at("2024-10-26T10:00:00Z"), 7200),
                (at("2024-10-27T01:00:00Z"), 3600),
            ],
        );
        assert_eq!(hours.minute(at("2024-10-27T00:30:00Z").unix_ms()), "02:30");
        assert_eq!(hours.minute(at("2024-10-27T01:30:00Z").unix_ms()), "02:30");
    }

    #[test]
    fn an_axis_without_length_divides_by_nothing() {
        let axis = TimeAxis {
            from_ms: 5,
            to_ms: 5,
            left: 1.0,
            right: 9.0,
        };
        assert!(axis.x(5).is_finite());
        assert!(axis.ticks(&Hours::Utc, 5).len() < 3);
    }
}
