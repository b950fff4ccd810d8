//! The latest state of the catalogue, as a random number that every change replaces. Stored in a row of fixed layout,
//! so that it can be found in the pages of a log without opening the log as a database.

use rusqlite::Connection;
use rusqlite::OptionalExtension;

/// One state of one catalogue; zeros before the first change.
pub(super) type Generation = [u8; 16];

/// A change: the state before it, and the state after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Step {
    pub before: Generation,
    pub after: Generation,
}

/// The beginning of the row's value. Not UTF-8, so no text that a camera wrote can be mistaken for it.
const MARK: &[u8; 16] = b"\xFF\xFEgeneration\0\0\xFE\xFF";
const CHAIN_BYTES: usize = 48;

/// The beginning of the row on its page: 51 bytes, row number 1, a header of 3 bytes: its own length, no value for the
/// row number, a blob of 48 bytes (12 + 2 · 48). Source: SQLite documentation, Database File Format, 1.6 and 2.1.
const CELL_BEGINS: [u8; 5] = [51, 1, 3, 0, 108];

/// The type of page with a table's rows, and where such a page has its number of rows and the position of the first one
/// (same source, 1.6).
const LEAF: u8 = 0x0D;

/// The bytes at the beginning of a page that [`place_on_page`] needs.
pub(super) const PAGE_HEAD: usize = 10;
/// The bytes of the row that [`step_in_cell`] needs.
pub(super) const CELL: usize = CELL_BEGINS.len() + CHAIN_BYTES;

/// Replaces the latest state within a transaction.
pub(super) fn renew(db: &Connection) -> rusqlite::Result<()> {
    let before = latest(db)?.unwrap_or_default();
    let after: Generation = db
        .prepare_cached("SELECT randomblob(16)")?
        .query_row([], |row| row.get(0))?;
    let chain = [&MARK[..], &before, &after].concat();
    db.prepare_cached(
        "INSERT INTO catalogue_generation (only, chain) VALUES (1, ?)
         ON CONFLICT (only) DO UPDATE SET chain = excluded.chain",
    )?
    .execute([chain])?;
    Ok(())
}

/// The latest state; `None` before the first change.
pub(super) fn latest(db: &Connection) -> rusqlite::Result<Option<Generation>> {
    let chain: Option<Vec<u8>> = db
        .prepare_cached("SELECT chain FROM catalogue_generation")?
        .query_row([], |row| row.get(0))
        .optional()?;
    Ok(chain.and_then(|chain| chain.get(32..)?.try_into().ok()))
}

/// Where the row would be on a page that begins like this, if it can be there.
pub(super) fn place_on_page(head: &[u8; PAGE_HEAD]) -> Option<u64> {
    let [kind, _, _, rows_high, rows_low, _, _, _, high, low] = *head;
    (kind == LEAF && rows_high == 0 && rows_low == 1)
        .then(|| u64::from(u16::from_be_bytes([high, low])))
}

/// The change recorded in the row, if these bytes are the row.
pub(super) fn step_in_cell(cell: &[u8; CELL]) -> Option<Step> {
    let rest = cell.strip_prefix(&CELL_BEGINS)?.strip_prefix(MARK)?;
    let (before, after) = rest.split_at_checked(16)?;
    Some(Step {
        before: before.try_into().ok()?,
        after: after.try_into().ok()?,
    })
}
