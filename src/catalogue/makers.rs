//! The makers of derived rows, and how many frames each has. Computes no value.

use std::collections::BTreeSet;
use std::rc::Rc;

use rusqlite::params;
use rusqlite::types::Value;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::columns;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::maker::Maker;
use crate::terms::maker::MakerCount;
use crate::terms::time::day_of_date;

/// The frames whose makers are requested.
#[derive(Clone, Copy, Debug)]
pub enum MadeOf<'a> {
    /// All.
    All,
    /// Those of these numbers.
    Frames(&'a [i64]),
    /// Those of the nights between two dates, both included.
    Nights(&'a str, &'a str),
}

impl Catalogue {
    /// The makers of derived rows that are in use, in the order in which they first appeared. Reads no frame.
    pub fn makers(&self) -> Result<Vec<MakerCount>, Failure> {
        self.all(
            "SELECT maker_id, program, formulas, shower_table, frames FROM derived_maker
             WHERE frames > 0 ORDER BY maker_id",
            [],
        )
    }

    /// The makers of these frames' rows. Frames are read only if there is more than one maker.
    pub fn makers_of(&self, frames: MadeOf<'_>) -> Result<BTreeSet<Maker>, Failure> {
        let mut makers = self.makers()?;
        let used: Option<BTreeSet<i64>> = match frames {
            _ if makers.len() < 2 => None,
            MadeOf::All => None,
            MadeOf::Frames(ids) => {
                let ids = Rc::new(ids.iter().copied().map(Value::from).collect::<Vec<_>>());
                Some(self.all(
                    "SELECT DISTINCT time.maker_id FROM rarray(?) AS listed
                     CROSS JOIN derived_time AS time ON time.frame_id = listed.value
                     WHERE time.maker_id IS NOT NULL",
                    [ids],
                )?)
            }
            MadeOf::Nights(first, last) => Some(self.all(
                "SELECT DISTINCT maker_id FROM derived_time WHERE night_day BETWEEN ? AND ? AND maker_id IS NOT NULL",
                [day_of_date(first), day_of_date(last)],
            )?),
        };
        if let Some(used) = used {
            makers.retain(|one| used.contains(&one.maker_id));
        }
        Ok(makers.into_iter().map(|one| one.maker).collect())
    }

    /// The first frame whose rows are by a maker.
    pub fn first_frame_by(&self, maker_id: i64) -> Result<Option<i64>, Failure> {
        self.one_if_any(
            "SELECT frame_id FROM derived_time WHERE maker_id = ? ORDER BY frame_id LIMIT 1",
            [maker_id],
        )
    }
}

impl Batch<'_> {
    /// The number of a maker.
    pub fn ensure_maker(&self, maker: &Maker) -> Result<i64, Failure> {
        self.one(
            "INSERT INTO derived_maker (program, formulas, shower_table) VALUES (?, ?, ?)
             ON CONFLICT DO UPDATE SET program = program RETURNING maker_id",
            params![maker.program, maker.formulas, maker.shower_table],
        )
    }

    /// Counts a frame whose rows now have another maker. The counts are written when the batch is committed.
    pub(super) fn count_made(&self, before: Option<i64>, now: Option<i64>) {
        if before == now {
            return;
        }
        let mut counts = self.made.borrow_mut();
        if let Some(before) = before {
            *counts.entry(before).or_default() -= 1;
        }
        if let Some(now) = now {
            *counts.entry(now).or_default() += 1;
        }
    }

    /// Writes the counts.
    pub(super) fn put_made(&self) -> Result<(), Failure> {
        let counts = self.made.take();
        self.step(|db| {
            for (maker_id, more) in counts.into_iter().filter(|(_, more)| *more != 0) {
                db.prepare_cached(
                    "UPDATE derived_maker SET frames = frames + ? WHERE maker_id = ?",
                )?
                .execute([more, maker_id])?;
            }
            Ok(())
        })
    }
}

columns!(MakerCount: maker_id maker frames);
columns!(Maker: program formulas shower_table);
