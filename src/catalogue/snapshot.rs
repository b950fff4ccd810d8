//! One state of the catalogue for readers, on several connections at once. Reads no table.

use rusqlite::Transaction;

use crate::catalogue::failure::failed;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;

/// While it lives, everything that is read is of one state of the catalogue, whatever others write meanwhile.
#[derive(Debug)]
pub struct Snapshot<'c> {
    catalogue: &'c Catalogue,
    others: Vec<Catalogue>,
    _tx: Transaction<'c>,
}

impl Catalogue {
    /// Takes a snapshot of the catalogue for readers, with `others` more connections. There are fewer if they cannot be
    /// opened, or if another process writes at that moment.
    pub fn snapshot(&self, others: usize) -> Result<Snapshot<'_>, Failure> {
        let opened: Vec<(Self, i64)> = (0..others)
            .map_while(|_| {
                let other = self.reader().ok()?;
                let version = data_version(&other).ok()?;
                Some((other, version))
            })
            .collect();
        let begin = || -> rusqlite::Result<Transaction<'_>> {
            let tx = self.db.unchecked_transaction()?;
            // The snapshot begins with the first read.
            tx.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))?;
            Ok(tx)
        };
        let tx = begin().map_err(|e| failed(&self.path, e))?;
        // If data_version is the same before and after BEGIN, this connection sees the same snapshot.
        let of_one_state = opened.into_iter().filter_map(|(other, before)| {
            other.db.execute_batch("BEGIN").ok()?;
            (data_version(&other).ok()? == before).then_some(other)
        });
        Ok(Snapshot {
            catalogue: self,
            others: of_one_state.collect(),
            _tx: tx,
        })
    }
}

impl<'c> Snapshot<'c> {
    /// The catalogue of the snapshot.
    pub fn catalogue(&self) -> &'c Catalogue {
        self.catalogue
    }

    /// The other connections to it, one for each thread that reads.
    pub fn others(&mut self) -> &mut [Catalogue] {
        &mut self.others
    }
}

/// A number that changes whenever another connection changes the catalogue. Within a transaction, reading it counts as
/// a read.
pub(super) fn data_version(catalogue: &Catalogue) -> rusqlite::Result<i64> {
    catalogue
        .db
        .pragma_query_value(None, "data_version", |row| row.get(0))
}
