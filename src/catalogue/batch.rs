//! One transaction of changes, with its caches.

use std::cell::Cell;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::Path;

use rusqlite::Transaction;
use rusqlite::TransactionBehavior;

use crate::catalogue::failure::failed;
use crate::catalogue::generation;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::shower::ShowerCode;

/// One transaction of an ingest. If dropped without [`Batch::commit`], it changes nothing.
#[derive(Debug)]
pub struct Batch<'c> {
    pub(super) tx: Transaction<'c>,
    pub(super) path: &'c Path,
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
        let Self { db, path, .. } = self;
        let begin = |db| -> rusqlite::Result<(Transaction<'_>, i64, bool, bool)> {
            let tx = Transaction::new(db, TransactionBehavior::Immediate)?;
            let (next, any_pending, any_given) = tx.query_row(
                "SELECT max(ifnull((SELECT max(file_id) FROM written_file), 0),
                            ifnull((SELECT max(frame_id) FROM written_frame), 0),
                            ifnull((SELECT max(frame_id) FROM given_frame), 0)) + 1,
                        EXISTS (SELECT 1 FROM pending_frame), EXISTS (SELECT 1 FROM given_frame)",
                [],
                |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
            )?;
            Ok((tx, next, any_pending, any_given))
        };
        let (tx, next_file, any_pending, any_given) = begin(db).map_err(|e| failed(path, e))?;
        Ok(Batch {
            changes_before: tx.total_changes(),
            tx,
            path,
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

impl Batch<'_> {
    /// Commits the batch.
    pub fn commit(self) -> Result<(), Failure> {
        self.put_made()?;
        let Self {
            tx,
            path,
            changes_before,
            ..
        } = self;
        let end = || {
            if tx.total_changes() != changes_before {
                generation::renew(&tx)?;
            }
            tx.commit()
        };
        end().map_err(|e| failed(path, e))
    }

    /// The least number that the next new frame can have.
    pub fn next_frame(&self) -> i64 {
        self.next_file
    }
}
