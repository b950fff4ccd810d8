//! Runs of one body that contradict each other: its clock steps back or leaps while the file numbers continue, or two
//! runs overlap. Decides which of the two is dated wrongly, and by how much.

use crate::clock::doubt::numbers::LEAP_MS;
use crate::clock::doubt::rank::Candidate;
use crate::clock::doubt::rank::Facts;
use crate::clock::doubt::rank::is_possible;
use crate::clock::doubt::run::Runs;

/// How much more likely an error is that also resolves another contradiction, as a logarithm; and how much less likely
/// one that creates a new one.
///
/// Source: our choice.
const ANOTHER: f64 = 10.0;

/// The runs on one side of a contradiction, up to the previous or next one.
pub fn block(runs: &Runs, from: usize, side: Side) -> Vec<usize> {
    let mut block = vec![from];
    let mut at = from;
    loop {
        let next = match side {
            Side::Before => &runs.runs[at].before,
            Side::After => &runs.runs[at].after,
        };
        let Some(next) = next.first().copied() else {
            return block;
        };
        let steps = |a: usize, b: usize| runs.steps.iter().any(|s| (s.0, s.1) == (a, b));
        if steps(at, next) || steps(next, at) || block.contains(&next) {
            return block;
        }
        block.push(next);
        at = next;
    }
}

/// Which side of a contradiction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The earlier files.
    Before,
    /// The later files.
    After,
}

/// The runs next to a block by the files.
pub fn neighbours(runs: &Runs, block: &[usize]) -> (Option<i64>, Option<i64>) {
    let outside = |runs: &[usize]| -> Vec<usize> {
        runs.iter()
            .filter(|r| !block.contains(r))
            .copied()
            .collect()
    };
    let before = block
        .iter()
        .flat_map(|r| outside(&runs.runs[*r].before))
        .map(|r| runs.runs[r].span_ms().1)
        .max();
    let after = block
        .iter()
        .flat_map(|r| outside(&runs.runs[*r].after))
        .map(|r| runs.runs[r].span_ms().0)
        .min();
    (before, after)
}

/// Keeps the errors that put a block between its neighbours, and weighs them by the other contradictions they resolve.
pub fn resolving(mut candidates: Vec<Candidate>, facts: &Facts) -> Vec<Candidate> {
    let first = facts.spans.iter().map(|s| s.0).min().unwrap_or(0);
    let last = facts.spans.iter().map(|s| s.1).max().unwrap_or(0);
    let odd = |later_ms: i64| {
        let gaps = [
            facts.before.map(|before| first + later_ms - before),
            facts.after.map(|after| after - last - later_ms),
        ];
        gaps.into_iter()
            .flatten()
            .filter(|gap_ms| !(-60_000..LEAP_MS).contains(gap_ms))
            .count()
    };
    let now = odd(0);
    candidates.retain(|c| is_possible(facts, c.later_ms) && (now == 0 || odd(c.later_ms) < now));
    for candidate in &mut candidates {
        candidate.weight += ANOTHER * (now as f64 - odd(candidate.later_ms) as f64);
    }
    candidates.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    candidates
}
