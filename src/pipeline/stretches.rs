//! Bytes that are made stretch by stretch of many rows, by all processors at once, each with a connection of its own to one
//! state of the catalogue; and put out in order. Knows no row.

use std::ops::Range;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::catalogue::open::Catalogue;
use crate::catalogue::still::Still;
use crate::pipeline::at_once::CORES;
use crate::pipeline::at_once::each_in_turn;
use crate::terms::failure::Failure;

/// Rows of a stretch: enough that handing it on costs nothing beside making it.
const ROWS: usize = 1_024;

/// How many connections are worth having: one for each processor, none where there is but one.
pub fn readers() -> usize {
    Some(*CORES).filter(|cores| *cores > 1).unwrap_or(0)
}

/// Makes the bytes of a stretch of rows.
pub(super) type Make<'m> = dyn Fn(&Catalogue, Range<usize>) -> Result<Vec<u8>, Failure> + Sync + 'm;

/// Makes so many rows and gives their bytes to `put`, in order. Ends early where `stop` is raised.
///
/// Where there is one stretch only, or no other connection, this thread makes them by the catalogue itself.
pub(super) fn each_stretch(
    still: &mut Still<'_>,
    rows: usize,
    stop: &AtomicBool,
    make: &Make<'_>,
    put: &mut dyn FnMut(Vec<u8>) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let count = rows.div_ceil(ROWS).max(1);
    let stretch = |number: usize| {
        let from = number * ROWS;
        from..rows.min(from + ROWS)
    };
    if count > 1 && still.others().len() > 1 {
        return each_in_turn(
            still.others(),
            count,
            stop,
            |other, number| make(other, stretch(number)),
            put,
        );
    }
    for number in 0..count {
        if stop.load(Ordering::Relaxed) {
            break;
        }
        put(make(still.catalogue(), stretch(number))?)?;
    }
    Ok(())
}
