//! Walks the directories of a block: the wanted tags, and the entries about pictures. Bounded, without recursion.

use crate::capture::gathered::Directory;
use crate::capture::gathered::Gathered;
use crate::capture::gathered::Role;
use crate::capture::ifd::entry::Entry;
use crate::capture::ifd::entry::Shape;
use crate::capture::ifd::place::Inside;
use crate::capture::ifd::place::Place;
use crate::capture::source::Lack;
use crate::capture::source::Source;
use crate::capture::wanted::Lane;

/// The entries with the positions of strips or tiles.
#[derive(Clone, Copy, Default)]
pub struct Pieces {
    /// Their offsets.
    pub offsets: Option<Entry>,
    /// Their lengths.
    pub lengths: Option<Entry>,
}

/// The most directories followed in one block.
pub(super) const MOST_DIRECTORIES: usize = 24;

/// The most entries read in one directory. Real ones have under 200.
const MOST_ENTRIES: u64 = 1024;

/// The most `SubIFDs` followed.
const MOST_SUBS: u64 = 12;

/// The longest chain of directories followed.
const LONGEST_CHAIN: u8 = 8;

pub(super) struct Walk<'a> {
    pub source: &'a mut Source,
    pub place: Place,
    pub shape: Shape,
    pub out: &'a mut Gathered,
    pub seen: Vec<u64>,
    pub soon: Vec<(Role, u64)>,
    pub later: Vec<(Role, u64)>,
    pub note: Option<Entry>,
}

impl Walk<'_> {
    pub fn directory(&mut self, role: Role, offset: u64) {
        if offset == 0 {
            return;
        }
        let start = self.place.base.saturating_add(offset);
        if start >= self.place.end {
            self.ends(role, start.saturating_add(1));
            self.lost(role, offset, Lack::PastEnd);
            return;
        }
        if self.seen.contains(&start) || self.seen.len() >= MOST_DIRECTORIES {
            self.out
                .warn(|| format!("{} at {offset}: already read", named(role)));
            return;
        }
        self.seen.push(start);
        let said = match self.shape.count(self.source, start) {
            Ok(said) => said,
            Err(lack) => {
                self.ends(role, start.saturating_add(self.shape.counter));
                return self.lost(role, offset, lack);
            }
        };
        let count = said.min(MOST_ENTRIES);
        if said > count {
            self.out
                .warn(|| format!("{} has a count of {said} entries", named(role)));
        }
        let first = start + self.shape.counter;
        let table = count * self.shape.entry;
        if let Ok(len) = usize::try_from(table + self.shape.wide) {
            // One read if the table crosses pages; missing bytes show up entry by entry.
            let _ = self.source.bytes(first, len);
        }
        if said == count {
            self.ends(role, first.saturating_add(table));
        }
        let mut reading = Reading {
            about: Directory::of(role),
            strips: Pieces::default(),
            tiles: Pieces::default(),
            jpeg: (None, None),
        };
        for i in 0..count {
            let at = first + i * self.shape.entry;
            let entry = if at + self.shape.entry > self.place.end {
                Err(Lack::PastEnd)
            } else {
                self.shape.entry_at(self.source, self.place, at)
            };
            match entry {
                Ok(Some(entry)) => self.take(role, entry, &mut reading),
                Ok(None) => {}
                Err(lack) => {
                    self.lost(role, at, lack);
                    break;
                }
            }
        }
        if matches!(role, Role::Chain(_) | Role::Sub) {
            let about = self.pictures(&reading);
            self.out.directories.push(about);
        }
        if let Role::Chain(n) = role
            && n < LONGEST_CHAIN
            && said == count
            && first + table + self.shape.wide <= self.place.end
            && let Ok(next) = self.shape.pointer(self.source, first + table)
        {
            self.later.push((Role::Chain(n + 1), next));
        }
    }

    /// Whether the block is the file itself, so that a pointer past its end means that bytes are lost.
    fn is_whole_file(&self) -> bool {
        self.place.base == 0
            && self.place.end == self.source.length()
            && self.place.inside == Inside::File
    }

    /// Records where a directory ends. Only for the file itself does an end past it mean that bytes are lost.
    fn ends(&mut self, role: Role, end: u64) {
        if self.is_whole_file() {
            let length = self.source.length();
            self.out.promise(named(role), end, length);
        }
    }

    fn lost(&mut self, role: Role, offset: u64, lack: Lack) {
        self.out
            .warn(|| format!("{} at {offset}: {}", named(role), lack.words()));
    }

    fn take(&mut self, role: Role, entry: Entry, reading: &mut Reading) {
        if role == Role::Gps {
            self.want(Lane::Gps, entry);
            return;
        }
        let chain0 = role == Role::Chain(0);
        match entry.id {
            0x00FE => reading.about.subfile = self.number(entry, 0),
            0x0100 => reading.about.width = self.number(entry, 0),
            0x0101 => reading.about.height = self.number(entry, 0),
            0x0103 => reading.about.compression = self.number(entry, 0),
            0x0106 => reading.about.photometric = self.number(entry, 0),
            0x0111 => reading.strips.offsets = Some(entry),
            0x0117 => reading.strips.lengths = Some(entry),
            0x0144 => reading.tiles.offsets = Some(entry),
            0x0145 => reading.tiles.lengths = Some(entry),
            0x0201 => reading.jpeg.0 = self.number(entry, 0),
            0x0202 => reading.jpeg.1 = self.number(entry, 0),
            0x014A if chain0 => {
                for i in 0..entry.count.min(MOST_SUBS) {
                    if let Some(offset) = self.number(entry, i) {
                        self.later.push((Role::Sub, offset));
                    }
                }
            }
            0x8769 if chain0 => self.point(Role::Exif, entry),
            0x8825 if chain0 || role == Role::Exif => self.point(Role::Gps, entry),
            0xA002 | 0xA003 if role == Role::Exif => {
                let pixels = self.number(entry, 0).unwrap_or(0);
                let size = self.out.exif_size.get_or_insert((0, 0));
                if entry.id == 0xA002 {
                    size.0 = pixels;
                } else {
                    size.1 = pixels;
                }
            }
            // The maker's own: in the Exif directory, or copied into a DNG.
            0x927C if role == Role::Exif => self.note = Some(entry),
            0xC634 if chain0 => self.note = self.note.or(Some(entry)),
            0xC612 if chain0 => self.out.dng = true,
            // Directories further down the chain describe thumbnails: their makers and dates are not the frame's.
            _ if chain0 => self.want(Lane::Primary, entry),
            _ if role == Role::Exif => self.want(Lane::Exif, entry),
            _ => {}
        }
    }

    fn point(&mut self, role: Role, entry: Entry) {
        if let Some(offset) = self.number(entry, 0) {
            self.soon.push((role, offset));
        }
    }

    /// One whole number of an entry's value.
    pub fn number(&mut self, entry: Entry, index: u64) -> Option<u64> {
        self.shape.number(self.source, self.place, entry, index)
    }
}

/// What was read of a directory so far.
pub(super) struct Reading {
    pub about: Directory,
    pub strips: Pieces,
    pub tiles: Pieces,
    pub jpeg: (Option<u64>, Option<u64>),
}

const fn named(role: Role) -> &'static str {
    match role {
        Role::Chain(0) => "IFD0",
        Role::Chain(1) => "IFD1",
        Role::Chain(2) => "IFD2",
        Role::Chain(_) => "a directory of the chain",
        Role::Sub => "a SubIFD",
        Role::Exif => "the Exif directory",
        Role::Gps => "the GPS directory",
    }
}
