//! One transaction of changes, with its caches.

use std::cell::Cell;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::Deref;

use rusqlite::Transaction;
use rusqlite::TransactionBehavior;

use crate::catalogue::columns::read;
use crate::catalogue::failure::failed;
use crate::catalogue::generation;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::shower::ShowerCode;

/// One transaction of changes of a catalogue, which it reads as it will be. If dropped without [`Batch::commit`], it changes
/// nothing.
#[derive(Debug)]
pub struct Batch<'c> {
    catalogue: &'c Catalogue,
    tx: Transaction<'c>,
    /// How many rows this connection had changed before it.
    pub(super) changes_before: u64,
    pub(super) next_file: i64,
    /// The bodies looked up in this batch: most batches have one or two.
    pub(super) bodies: Vec<([Option<String>; 3], i64)>,
    /// The lenses looked up in this batch.
    pub(super) lenses: Vec<(String, i64)>,
    /// The showers looked up in this batch.
    pub(super) showers: RefCell<Vec<(ShowerCode, i64)>>,
    /// The most recently looked up set of active showers.
    pub(super) latest_active: RefCell<Option<(String, i64)>>,
    /// The most recently recorded day and set of showers.
    pub(super) latest_day: Cell<Option<(i64, i64)>>,
    /// The changes in the makers' frame counts.
    pub(super) made: RefCell<BTreeMap<i64, i64>>,
    /// Whether there were frames without derived rows when it began.
    pub(super) any_pending: bool,
    /// Whether numbers wait for frames of removed dumps.
    pub(super) any_given: bool,
}

impl Catalogue {
    /// Begins a batch.
    pub fn batch(&mut self) -> Result<Batch<'_>, Failure> {
        let catalogue: &Self = self;
        let begin = || -> rusqlite::Result<(Transaction<'_>, i64, bool, bool)> {
            let tx = Transaction::new_unchecked(&catalogue.db, TransactionBehavior::Immediate)?;
            let (next, any_pending, any_given) = tx.query_row(
                "SELECT max(ifnull((SELECT max(file_id) FROM written_file), 0),
                            ifnull((SELECT max(frame_id) FROM written_frame), 0),
                            ifnull((SELECT max(frame_id) FROM given_frame), 0)) + 1,
                        EXISTS (SELECT 1 FROM pending_frame), EXISTS (SELECT 1 FROM given_frame)",
                [],
                read,
            )?;
            Ok((tx, next, any_pending, any_given))
        };
        let started = begin().map_err(|e| failed(&catalogue.path, e))?;
        let (tx, next_file, any_pending, any_given) = started;
        Ok(Batch {
            changes_before: tx.total_changes(),
            catalogue,
            tx,
            next_file,
            bodies: Vec::new(),
            lenses: Vec::new(),
            showers: RefCell::new(Vec::new()),
            latest_active: RefCell::new(None),
            latest_day: Cell::new(None),
            made: RefCell::default(),
            any_pending,
            any_given,
        })
    }
}

impl Deref for Batch<'_> {
    type Target = Catalogue;

    fn deref(&self) -> &Catalogue {
        self.catalogue
    }
}

impl Batch<'_> {
    /// Commits the batch.
    pub fn commit(self) -> Result<(), Failure> {
        self.put_made()?;
        let Self {
            catalogue,
            tx,
            changes_before,
            ..
        } = self;
        catalogue.step(|_| {
            if tx.total_changes() != changes_before {
                generation::renew(&tx)?;
            }
            tx.commit()
        })
    }

    /// The least number that the next new frame can have.
    pub fn next_frame(&self) -> i64 {
        self.next_file
    }
}
