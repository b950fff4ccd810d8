//! One state of the catalogue for whoever reads, on several connections at once. Reads no table.

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
    /// Holds the state of the catalogue for whoever reads, on so many connections besides this one. There are fewer of them
    /// where they cannot be had, or where another writes in this very moment.
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
            // The state is that of the first look.
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
    /// The catalogue that is held.
    pub fn catalogue(&self) -> &'c Catalogue {
        self.catalogue
    }

    /// The other connections to it, one for each thread that reads.
    pub fn others(&mut self) -> &mut [Catalogue] {
        &mut self.others
    }
}

/// Another number whenever another connection has changed the catalogue. Within a transaction it is a look as any.
fn data_version(catalogue: &Catalogue) -> rusqlite::Result<i64> {
    catalogue
        .db
        .pragma_query_value(None, "data_version", |row| row.get(0))
}
