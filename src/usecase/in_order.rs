//! Restores the order of work sent by many threads. Does not look at the contents.

use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;
use std::time::Duration;
use std::time::Instant;

use crossbeam_channel::Receiver;
use crossbeam_channel::RecvTimeoutError;

use crate::usecase::ingest::messages::Parcel;

/// How often to check whether the run is to stop.
const LOOK_UP: Duration = Duration::from_millis(50);

/// Parcels, in order.
pub(crate) struct InOrder<'r, T> {
    sent: &'r Receiver<Parcel<T>>,
    permits: &'r Receiver<()>,
    stop: &'r AtomicBool,
    /// Those that came before their turn.
    early: BTreeMap<u64, Vec<T>>,
    next: u64,
}

impl<'r, T> InOrder<'r, T> {
    /// The sender took a permit for each parcel; taking one out here returns its permit.
    pub(crate) fn new(
        sent: &'r Receiver<Parcel<T>>,
        permits: &'r Receiver<()>,
        stop: &'r AtomicBool,
    ) -> Self {
        Self {
            sent,
            permits,
            stop,
            early: BTreeMap::new(),
            next: 0,
        }
    }

    /// The contents of the next parcel, waiting for it if necessary; `None` if there are no more or the run is to stop.
    pub(crate) fn next(&mut self) -> Option<Vec<T>> {
        self.next_before(None)
    }

    /// The same, but also `None` if nothing has come within this time.
    pub(crate) fn next_within(&mut self, patience: Duration) -> Option<Vec<T>> {
        self.next_before(Some(Instant::now() + patience))
    }

    fn next_before(&mut self, end: Option<Instant>) -> Option<Vec<T>> {
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
            match self.sent.recv_timeout(left.min(LOOK_UP)) {
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
