//! Brightness samples of pictures, measured on files that may be offline later: stored apart from derived rows, in
//! blocks of consecutive frame numbers. Computes no value.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::terms::failure::Failure;
use crate::terms::picture::Look;

/// Frame numbers in one block. SQL that reads a sample divides by it: `measured_look.block = frame_id / 32`.
const FRAMES: i64 = 32;

/// Bytes of a sample; six zeros if there is none.
const BYTES: usize = 6;

/// Bytes of a block.
const BLOCK_BYTES: usize = 192;

/// Set in every sample; no measure reaches this bit.
const MEASURED: i64 = 1 << 47;

impl Batch<'_> {
    /// Stores the samples of frames.
    pub fn put_looks(&self, looks: &[(i64, Look)]) -> Result<(), Failure> {
        let mut in_order: Vec<(i64, Option<Look>)> = looks
            .iter()
            .map(|(frame_id, look)| (*frame_id, Some(*look)))
            .collect();
        in_order.sort_by_key(|(frame_id, _)| *frame_id);
        self.step(|db| {
            in_order
                .chunk_by(|a, b| a.0 / FRAMES == b.0 / FRAMES)
                .try_for_each(|looks| put_block(db, looks))
        })
    }
}

/// Deletes the sample of a frame, because its number may become another frame's.
pub(super) fn forget_look(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    let known = block(db, frame_id / FRAMES)?.is_some();
    if known {
        put_block(db, &[(frame_id, None)])?;
    }
    Ok(())
}

/// A sample from its six bytes.
pub(super) fn look_of(bytes: [u8; BYTES]) -> Option<Look> {
    let mut eight = [0; 8];
    eight[2..].copy_from_slice(&bytes);
    let number = i64::from_be_bytes(eight);
    (number & MEASURED != 0).then(|| Look::unpacked(number & !MEASURED))
}

/// Writes the samples of one block.
fn put_block(db: &Connection, looks: &[(i64, Option<Look>)]) -> rusqlite::Result<()> {
    let Some((first, _)) = looks.first() else {
        return Ok(());
    };
    let at = first / FRAMES;
    let mut bytes = block(db, at)?.unwrap_or([0; BLOCK_BYTES]);
    for (frame_id, look) in looks {
        let number = look.map_or(0, |look| look.packed() | MEASURED);
        let [_, _, six @ ..] = number.to_be_bytes();
        let nth = usize::try_from(frame_id % FRAMES).unwrap_or(0);
        bytes[nth * BYTES..][..BYTES].copy_from_slice(&six);
    }
    db.prepare_cached("INSERT OR REPLACE INTO measured_look (block, looks) VALUES (?, ?)")?
        .execute(params![at, bytes])?;
    Ok(())
}

/// The bytes of a block.
fn block(db: &Connection, at: i64) -> rusqlite::Result<Option<[u8; BLOCK_BYTES]>> {
    db.prepare_cached("SELECT looks FROM measured_look WHERE block = ?")?
        .query_row([at], |row| row.get(0))
        .optional()
}
