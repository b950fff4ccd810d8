//! Work that does not hang together, done by all processors at once; results in the order of the work.

use std::sync::LazyLock;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;
use std::thread;

use crossbeam_channel::Sender;
use crossbeam_channel::bounded;

use crate::usecase::in_order::InOrder;
use crate::usecase::ingest::messages::Parcel;

/// Work is not shared out below so many parts: a thread costs more than it brings.
const WORTH_A_THREAD: usize = 2;

/// How many processors there are. Asked once: the system looks it up in files.
pub(crate) static CORES: LazyLock<usize> =
    LazyLock::new(|| thread::available_parallelism().map_or(1, usize::from));

/// Does each part of the work, and gives what came of each, in order. Whoever is done with a part takes the next one:
/// parts may be of very different size.
pub(crate) fn parallel_map_ordered<W: Sync, R: Send>(
    work: &[W],
    each: impl Fn(&W) -> R + Sync,
) -> Vec<R> {
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

/// Does two works at once: the second one takes, in order, the parts that the first one gives, of which only so many wait. Once
/// the second one has ended, further parts are dropped. Gives: what came of each.
pub(crate) fn in_step<P: Send, A, B: Send>(
    waiting: usize,
    first: impl FnOnce(&dyn Fn(P)) -> A,
    second: impl FnOnce(&mut dyn Iterator<Item = P>) -> B + Send,
) -> (A, B) {
    thread::scope(|scope| {
        let (out, parts) = bounded(waiting);
        let other = scope.spawn(move || second(&mut parts.into_iter()));
        let came = first(&|part| drop(out.send(part)));
        drop(out);
        match other.join() {
            Ok(of_other) => (came, of_other),
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}

/// Results that are made or wait for their turn, for each worker: what bounds the memory.
const IN_FLIGHT: usize = 4;

/// Makes so many results, each worker on a thread of its own, and gives them to `put` in order as they come. Ends with the
/// first that failed, or where `stop` is raised.
pub(crate) fn parallel_then_in_turn<W: Send, R: Send, E: Send>(
    workers: &mut [W],
    count: usize,
    stop: &AtomicBool,
    make: impl Fn(&mut W, usize) -> Result<R, E> + Sync,
    mut put: impl FnMut(R) -> Result<(), E>,
) -> Result<(), E> {
    let next = AtomicUsize::new(0);
    let make_some = |worker: &mut W, permit: &Sender<()>, out: &Sender<Parcel<Result<R, E>>>| {
        while permit.send(()).is_ok() {
            let at = next.fetch_add(1, Ordering::Relaxed);
            if at >= count {
                return;
            }
            let result = make(worker, at);
            let failed = result.is_err();
            let parcel = Parcel {
                number: at as u64,
                files: vec![result],
            };
            if out.send(parcel).is_err() || failed {
                return;
            }
        }
    };
    thread::scope(|scope| {
        let in_flight = workers.len() * IN_FLIGHT;
        let (permit_out, permits) = bounded(in_flight);
        let (results_out, results) = bounded(in_flight);
        for worker in workers {
            let (permit, out) = (permit_out.clone(), results_out.clone());
            let make_some = &make_some;
            scope.spawn(move || make_some(worker, &permit, &out));
        }
        drop((permit_out, results_out));
        let mut in_order = InOrder::new(&results, &permits, stop);
        let mut put_all = || {
            while let Some(parcel) = in_order.next() {
                for result in parcel {
                    put(result?)?;
                }
            }
            Ok(())
        };
        let ended = put_all();
        // Dropping the receivers makes the remaining workers stop.
        drop((results, permits));
        ended
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
                parallel_map_ordered(&work, |n| n * 3),
                work.iter().map(|n| n * 3).collect::<Vec<_>>()
            );
        }
    }

    #[test]
    fn results_come_in_turn_until_one_fails() {
        let stop = AtomicBool::new(false);
        for (count, fails_at) in [(0, None), (1, None), (1000, None), (1000, Some(700))] {
            let mut came = Vec::new();
            let ended = parallel_then_in_turn(
                &mut [1, 2, 3],
                count,
                &stop,
                |_, at| {
                    if Some(at) == fails_at {
                        Err(at)
                    } else {
                        Ok(at)
                    }
                },
                |at| {
                    came.push(at);
                    Ok(())
                },
            );
            assert_eq!(ended.err(), fails_at);
            let expect: Vec<usize> = (0..fails_at.unwrap_or(count)).collect();
            assert_eq!(came, expect);
        }
    }

    #[test]
    fn nothing_is_made_for_one_who_takes_no_more() {
        let stop = AtomicBool::new(false);
        let count = AtomicUsize::new(0);
        let make = |_: &mut i32, at: usize| {
            count.fetch_add(1, Ordering::Relaxed);
            Ok(at)
        };
        let ended = parallel_then_in_turn(&mut [1, 2], 100_000, &stop, make, |at| {
            if at < 10 { Ok(()) } else { Err("full") }
        });
        assert_eq!(ended, Err("full"));
        assert!(count.load(Ordering::Relaxed) < 100);
    }
}
