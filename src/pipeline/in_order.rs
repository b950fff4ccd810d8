//! What many readers send, put back into the order of the walk. Looks into no file.

use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;
use std::time::Duration;
use std::time::Instant;

use crossbeam_channel::Receiver;
use crossbeam_channel::RecvTimeoutError;

use crate::pipeline::ingest::Parcel;
use crate::pipeline::ingest::Read;

/// How long to wait at most before looking up whether the run is to stop.
const LOOK_UP: Duration = Duration::from_millis(50);

/// The parcels of an ingest, in order.
pub(super) struct InOrder<'r> {
    read: &'r Receiver<Parcel<Read>>,
    permits: &'r Receiver<()>,
    stop: &'r AtomicBool,
    /// Those that came before their turn.
    early: BTreeMap<u64, Vec<Read>>,
    next: u64,
}

impl<'r> InOrder<'r> {
    /// The walker took a permit for each parcel; taking one out here gives its permit back.
    pub(super) fn new(
        read: &'r Receiver<Parcel<Read>>,
        permits: &'r Receiver<()>,
        stop: &'r AtomicBool,
    ) -> Self {
        Self {
            read,
            permits,
            stop,
            early: BTreeMap::new(),
            next: 0,
        }
    }

    /// The files of the next parcel, waiting for them if need be; `None` when there are no more or the run is to stop.
    pub(super) fn next(&mut self) -> Option<Vec<Read>> {
        self.next_before(None)
    }

    /// The same, but `None` too when they have not come after so long.
    pub(super) fn next_within(&mut self, patience: Duration) -> Option<Vec<Read>> {
        self.next_before(Some(Instant::now() + patience))
    }

    fn next_before(&mut self, end: Option<Instant>) -> Option<Vec<Read>> {
        loop {
            if self.stop.load(Ordering::Relaxed) {
                return None;
            }
            if let Some(files) = self.early.remove(&self.next) {
                self.next += 1;
                let _ = self.permits.recv();
                return Some(files);
            }
            let left = end.map_or(LOOK_UP, |end| end.saturating_duration_since(Instant::now()));
            if left.is_zero() {
                return None;
            }
            match self.read.recv_timeout(left.min(LOOK_UP)) {
                Ok(parcel) => {
                    self.early.insert(parcel.number, parcel.files);
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) if self.early.contains_key(&self.next) => {}
                Err(RecvTimeoutError::Disconnected) => return None,
            }
        }
    }
}
