//! Where the pictures of a directory begin and end. Reads no picture.

use crate::capture::gathered::Directory;
use crate::capture::ifd::directories::Reading;
use crate::capture::ifd::directories::Walk;
use crate::capture::ifd::entry::Entry;
use crate::capture::ifd::place::Inside;
use crate::terms::records::Extent;

impl Walk<'_> {
    /// Works out the picture of a directory that was read to its end.
    pub fn pictures(&mut self, reading: &Reading) -> Directory {
        let mut about = reading.about;
        if self.place.inside == Inside::Unpacked {
            return about;
        }
        for pieces in [reading.strips, reading.tiles] {
            let (Some(offsets), Some(lengths)) = (pieces.offsets, pieces.lengths) else {
                continue;
            };
            // Camera files store their pieces in order: the first and the last show where the picture ends.
            let last = offsets.count.min(lengths.count).saturating_sub(1);
            for index in [0, last] {
                let Some(piece) = self.piece(offsets, lengths, index) else {
                    continue;
                };
                let end = piece.offset.saturating_add(piece.length);
                about.data_end = Some(about.data_end.map_or(end, |old| old.max(end)));
                if last == 0 {
                    about.strip = Some(piece);
                    break;
                }
            }
        }
        if let (Some(offset @ 1..), Some(length @ 1..)) = reading.jpeg {
            let offset = self.place.base.saturating_add(offset);
            about.jpeg = Some(Extent { offset, length });
        }
        about
    }

    fn piece(&mut self, offsets: Entry, lengths: Entry, index: u64) -> Option<Extent> {
        let offset = self.number(offsets, index)?;
        let length = self.number(lengths, index)?;
        let offset = self.place.base.checked_add(offset)?;
        Some(Extent { offset, length })
    }
}
