//! Makes the bytes of many rows in parallel, stretch by stretch, each thread with a connection of its own to one state
//! of the catalogue; and outputs them in order. Knows no row.

use std::ops::Range;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::snapshot::Snapshot;
use crate::terms::failure::Failure;
use crate::usecase::parallel::CORES;
use crate::usecase::parallel::parallel_then_in_turn;

/// Rows of a stretch: enough that passing it on costs little compared with making it.
const ROWS: usize = 1_024;

/// How many connections are useful: one for each processor, none if there is only one.
pub fn readers() -> usize {
    Some(*CORES).filter(|cores| *cores > 1).unwrap_or(0)
}

/// Makes the bytes of a stretch of rows, in the given empty buffer.
pub(crate) type Make<'m> =
    dyn Fn(&Catalogue, Range<usize>, Vec<u8>) -> Result<Vec<u8>, Failure> + Sync + 'm;

/// A pool of reusable output buffers; allocating fresh pages costs as much as filling them.
#[derive(Default)]
struct Rooms(Mutex<Vec<Vec<u8>>>);

impl Rooms {
    fn take(&self) -> Vec<u8> {
        self.held().pop().unwrap_or_default()
    }

    fn give_back(&self, mut room: Vec<u8>) {
        room.clear();
        self.held().push(room);
    }

    fn held(&self) -> MutexGuard<'_, Vec<Vec<u8>>> {
        // A thread that panicked left intact buffers.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Makes this many rows and passes their bytes to `put`, in order. Ends early if `stop` is set.
///
/// If there is only one stretch, or no other connection, this thread makes them with the catalogue itself.
pub(crate) fn each_stretch(
    still: &mut Snapshot<'_>,
    rows: usize,
    stop: &AtomicBool,
    make: &Make<'_>,
    put: &mut dyn FnMut(&[u8]) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let count = rows.div_ceil(ROWS).max(1);
    let stretch = |number: usize| {
        let from = number * ROWS;
        from..rows.min(from + ROWS)
    };
    let rooms = Rooms::default();
    let mut put_out = |bytes: Vec<u8>| {
        put(&bytes)?;
        rooms.give_back(bytes);
        Ok(())
    };
    if count > 1 && still.others().len() > 1 {
        return parallel_then_in_turn(
            still.others(),
            count,
            stop,
            |other, number| make(other, stretch(number), rooms.take()),
            put_out,
        );
    }
    for number in 0..count {
        if stop.load(Ordering::Relaxed) {
            break;
        }
        put_out(make(still.catalogue(), stretch(number), rooms.take())?)?;
    }
    Ok(())
}
