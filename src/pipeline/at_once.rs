//! Work that does not hang together, done by all processors at once; results in the order of the work.

use std::sync::LazyLock;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;
use std::thread;

/// Work is not shared out below so many parts: a thread costs more than it brings.
const WORTH_A_THREAD: usize = 4;

/// Asked once: the system looks it up in files.
static CORES: LazyLock<usize> =
    LazyLock::new(|| thread::available_parallelism().map_or(1, usize::from));

/// Does each part of the work, and gives what came of each, in order. Whoever is done with a part takes the next one:
/// parts may be of very different size.
pub(super) fn each_at_once<W: Sync, R: Send>(work: &[W], each: impl Fn(&W) -> R + Sync) -> Vec<R> {
    let threads = (*CORES).min(work.len() / WORTH_A_THREAD).max(1);
    if threads == 1 {
        return work.iter().map(each).collect();
    }
    let next = AtomicUsize::new(0);
    let take_parts = || {
        let mut done = Vec::new();
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(part) = work.get(at) else {
                return done;
            };
            done.push((at, each(part)));
        }
    };
    let mut all = thread::scope(|scope| {
        let others: Vec<_> = (1..threads).map(|_| scope.spawn(take_parts)).collect();
        let mut all = take_parts();
        for other in others {
            match other.join() {
                Ok(done) => all.extend(done),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        all
    });
    all.sort_unstable_by_key(|(at, _)| *at);
    all.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_stand_in_the_order_of_the_work() {
        for count in [0, 1, 7, 8, 9, 1000] {
            let work: Vec<usize> = (0..count).collect();
            assert_eq!(
                each_at_once(&work, |n| n * 3),
                work.iter().map(|n| n * 3).collect::<Vec<_>>()
            );
        }
    }
}
