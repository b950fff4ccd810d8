//! Work that does not hang together, done by all processors at once; results in the order of the work.

use std::thread;

/// Work is not shared out below so many parts: a thread costs more than it brings.
const WORTH_A_THREAD: usize = 4;

/// Does each part of the work, and gives what came of each, in order.
pub(super) fn each_at_once<W: Sync, R: Send>(work: &[W], each: impl Fn(&W) -> R + Sync) -> Vec<R> {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let threads = cores.min(work.len() / WORTH_A_THREAD).max(1);
    if threads == 1 {
        return work.iter().map(each).collect();
    }
    let share = work.len().div_ceil(threads);
    let each = &each;
    thread::scope(|scope| {
        let others: Vec<_> = work[share..]
            .chunks(share)
            .map(|part| scope.spawn(move || part.iter().map(each).collect::<Vec<R>>()))
            .collect();
        let mut done: Vec<R> = work[..share].iter().map(each).collect();
        for other in others {
            match other.join() {
                Ok(part) => done.extend(part),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        done
    })
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
