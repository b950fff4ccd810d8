//! A value for every reading of a clock, which changes at given readings only. Knows nothing about clocks.

use crate::terms::time::WallTime;

/// A range of readings: the first, and the first after it. `None` means no limit.
pub type Stretch = (Option<WallTime>, Option<WallTime>);

/// A value for every reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Steps<T> {
    /// Each value with the reading from which it applies, up to the next; the first has no limit.
    pieces: Vec<(Option<WallTime>, T)>,
}

impl<T: Copy + PartialEq> Steps<T> {
    /// The same value everywhere.
    pub fn constant(value: T) -> Self {
        Self {
            pieces: vec![(None, value)],
        }
    }

    /// The value at a reading.
    pub fn at(&self, reading: WallTime) -> T {
        self.from(Some(reading))
    }

    /// The value at a reading; for `None`, the value before all others.
    pub fn from(&self, start: Option<WallTime>) -> T {
        let after = self.pieces.partition_point(|(from, _)| *from <= start);
        self.pieces[after.max(1) - 1].1
    }

    /// The readings at which a piece begins, `None` first.
    pub fn starts(&self) -> impl Iterator<Item = Option<WallTime>> + '_ {
        self.pieces.iter().map(|(from, _)| *from)
    }

    /// The values of `other` within a stretch, and these outside it.
    pub fn with(&self, (from, until): Stretch, other: &Self) -> Self {
        let inside = |at: Option<WallTime>| from <= at && until.is_none_or(|end| at < Some(end));
        let mut starts: Vec<Option<WallTime>> = self.starts().chain(other.starts()).collect();
        starts.extend([from, until.or(None)]);
        starts.sort_unstable();
        starts.dedup();
        let pieces = starts
            .into_iter()
            .map(|at| {
                (
                    at,
                    if inside(at) {
                        other.from(at)
                    } else {
                        self.from(at)
                    },
                )
            })
            .collect();
        Self { pieces }
    }
}

/// The stretches in which a predicate, evaluated at these starts, is true; neighbours are joined.
pub fn stretches(
    mut starts: Vec<Option<WallTime>>,
    holds: impl Fn(Option<WallTime>) -> bool,
) -> Vec<Stretch> {
    starts.push(None);
    starts.sort_unstable();
    starts.dedup();
    let mut found: Vec<Stretch> = Vec::new();
    for (i, start) in starts.iter().enumerate() {
        if !holds(*start) {
            continue;
        }
        let end = starts.get(i + 1).copied().flatten();
        match found.last_mut() {
            Some((_, until)) if start.is_some() && *until == *start => *until = end,
            _ => found.push((*start, end)),
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(day: u8) -> WallTime {
        WallTime::parse(&format!("2023-12-{day:02}T00:00:00")).unwrap()
    }

    #[test]
    fn values_are_replaced_within_a_stretch_only() {
        let steps = Steps::constant(0)
            .with((Some(at(5)), None), &Steps::constant(1))
            .with((Some(at(3)), Some(at(8))), &Steps::constant(2));
        let days: Vec<i32> = [2, 3, 7, 8, 9].map(|day| steps.at(at(day))).to_vec();
        assert_eq!(days, [0, 2, 2, 1, 1]);
        assert_eq!(steps.from(None), 0);
        let all = stretches(steps.starts().collect(), |from| steps.from(from) > 0);
        assert_eq!(all, [(Some(at(3)), None)]);
        let second = stretches(steps.starts().collect(), |from| steps.from(from) == 2);
        assert_eq!(second, [(Some(at(3)), Some(at(8)))]);
    }
}
