//! A set of frame numbers as a short text: `3..90 95..120/5 130`.

use std::fmt;

/// Frame numbers, as runs of equal steps: the frames of a card have consecutive numbers, or every second number if each
/// frame has two files.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FrameSet {
    runs: Vec<Run>,
}

/// Numbers from `first` to `last`, each `step` after the previous one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Run {
    first: i64,
    last: i64,
    step: i64,
}

impl FrameSet {
    /// The set of these numbers, whatever their order.
    pub fn of(numbers: impl IntoIterator<Item = i64>) -> Self {
        let mut numbers: Vec<i64> = numbers.into_iter().collect();
        numbers.sort_unstable();
        numbers.dedup();
        let mut runs: Vec<Run> = Vec::new();
        let mut rest = numbers.as_slice();
        while let [first, after @ ..] = rest {
            let step = after.first().map_or(1, |second| second - first);
            let follow = rest
                .windows(2)
                .take_while(|two| two[1] - two[0] == step)
                .count();
            // Two separate numbers are shorter by themselves.
            let taken = if follow == 1 && step > 1 {
                1
            } else {
                follow + 1
            };
            runs.push(Run {
                first: *first,
                last: rest[taken - 1],
                step: if taken == 1 { 1 } else { step },
            });
            rest = &rest[taken..];
        }
        Self { runs }
    }

    /// Parses the text of a set. Parts that cannot be parsed are left out.
    pub fn parse(text: &str) -> Self {
        let run = |word: &str| {
            let (span, step) = word.split_once('/').unwrap_or((word, "1"));
            let (first, last) = span.split_once("..").unwrap_or((span, span));
            let run = Run {
                first: first.parse().ok()?,
                last: last.parse().ok()?,
                step: step.parse().ok()?,
            };
            (run.step > 0 && run.first <= run.last).then_some(run)
        };
        Self {
            runs: text.split_ascii_whitespace().filter_map(run).collect(),
        }
    }

    /// The numbers, in order within each run.
    pub fn frames(&self) -> Vec<i64> {
        self.runs.iter().flat_map(Run::numbers).collect()
    }

    /// Whether the two sets have a number in common.
    pub fn meets(&self, other: &Self) -> bool {
        self.runs.iter().any(|run| {
            other
                .runs
                .iter()
                .filter(|there| run.first <= there.last && there.first <= run.last)
                .any(|there| run.numbers().any(|number| there.has(number)))
        })
    }
}

impl Run {
    fn numbers(&self) -> impl Iterator<Item = i64> + use<> {
        let step = usize::try_from(self.step).unwrap_or(1);
        (self.first..=self.last).step_by(step)
    }

    const fn has(&self, number: i64) -> bool {
        self.first <= number && number <= self.last && (number - self.first) % self.step == 0
    }
}

impl fmt::Display for FrameSet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, run) in self.runs.iter().enumerate() {
            let space = if i == 0 { "" } else { " " };
            match (run.first == run.last, run.step) {
                (true, _) => write!(f, "{space}{}", run.first)?,
                (false, 1) => write!(f, "{space}{}..{}", run.first, run.last)?,
                (false, step) => write!(f, "{space}{}..{}/{step}", run.first, run.last)?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn runs_are_short() {
        for (numbers, text) in [
            (vec![], ""),
            (vec![7], "7"),
            (vec![9, 8, 7], "7..9"),
            (vec![1, 3, 5, 7, 8], "1..7/2 8"),
            (vec![1, 9, 10, 11], "1 9..11"),
            (vec![4, 6], "4 6"),
            (vec![1, 3, 5, 6, 7], "1..5/2 6..7"),
        ] {
            assert_eq!(FrameSet::of(numbers).to_string(), text);
        }
    }

    #[test]
    fn what_is_no_set_is_left_out() {
        assert_eq!(FrameSet::parse("x 3..1 5/0 -- 4").frames(), [4]);
    }

    proptest! {
        #[test]
        fn a_set_is_read_back_and_meets_what_it_shares(
            one in prop::collection::btree_set(0_i64..60, 0..30),
            other in prop::collection::btree_set(0_i64..60, 0..30),
        ) {
            let (a, b) = (FrameSet::of(one.iter().copied()), FrameSet::of(other.iter().copied()));
            let read = FrameSet::parse(&a.to_string());
            prop_assert_eq!(&read, &a);
            prop_assert_eq!(read.frames(), one.iter().copied().collect::<Vec<_>>());
            prop_assert_eq!(a.meets(&b), one.intersection(&other).next().is_some());
        }
    }
}
