//! Fetches the wanted values of a block: neighbours in one read, in the order of their positions on the disk.

use crate::capture::block::Found;
use crate::capture::block::LONGEST_VALUE;
use crate::capture::gathered::Pending;
use crate::capture::ifd::directories::Walk;
use crate::capture::ifd::entry::Entry;
use crate::capture::source::PAGE;
use crate::capture::wanted;
use crate::capture::wanted::Lane;

impl Walk<'_> {
    /// Adds an entry to the values to fetch, if its tag is wanted.
    pub fn want(&mut self, directory: Lane, entry: Entry) {
        let Some(tag) = wanted::find(directory, entry.id) else {
            return;
        };
        if entry.len == 0 {
            return;
        }
        let end = entry.at.saturating_add(entry.len);
        if end > self.place.end || entry.len > LONGEST_VALUE {
            self.out.warn(|| {
                let why = if end > self.place.end {
                    "past the end"
                } else {
                    "too long"
                };
                format!("{}: {} bytes at {}, {why}", tag.name, entry.len, entry.at)
            });
            return;
        }
        let found = if tag.lane == directory {
            Found::AtHome
        } else {
            Found::Elsewhere
        };
        // Of two equal entries the first is used.
        if self
            .out
            .pending
            .iter()
            .any(|p| p.tag == tag && p.found == found)
        {
            return;
        }
        self.out.pending.push(Pending {
            tag,
            found,
            kind: entry.kind,
            at: entry.at,
            len: usize::try_from(entry.len).unwrap_or(0),
        });
    }

    /// Fetches the listed values into the block of wanted tags.
    pub fn fetch(&mut self) {
        let mut pending = std::mem::take(&mut self.out.pending);
        pending.sort_unstable_by_key(|p| (p.at, p.tag.id));
        let mut from = 0;
        while from < pending.len() {
            let run = self.run(&pending[from..]);
            for value in &pending[from..from + run] {
                match self.source.bytes(value.at, value.len) {
                    Ok(raw) => {
                        let (tag, order) = (value.tag, self.shape.order);
                        self.out.block.put(tag, value.found, order, value.kind, raw);
                    }
                    Err(lack) => self
                        .out
                        .warn(|| format!("{} at {}: {}", value.tag.name, value.at, lack.words())),
                }
            }
            from += run;
        }
        pending.clear();
        self.out.pending = pending;
    }

    /// Reads ahead over values that are within a page of each other, and returns their number.
    fn run(&mut self, values: &[Pending]) -> usize {
        let Some(first) = values.first() else {
            return 0;
        };
        if self.source.held_bytes(first.at, first.len).is_some() {
            return 1;
        }
        let mut end = first.at + first.len as u64;
        let mut run = 1;
        while let Some(next) = values.get(run)
            && next.at <= end + PAGE
        {
            end = end.max(next.at + next.len as u64);
            run += 1;
        }
        if let Ok(len) = usize::try_from(end - first.at) {
            // A read that fails as a whole is repeated value by value.
            let _ = self.source.bytes(first.at, len);
        }
        run
    }
}
