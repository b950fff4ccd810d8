//! Chooses the file of a frame to export: of the requested kind, the first unchanged copy.

use std::collections::HashMap;
use std::collections::VecDeque;

use crate::capture::pair::rank;
use crate::capture::presence::ContentReader;
use crate::capture::presence::Presence;
use crate::capture::presence::look;
use crate::capture::shortage::is_shortage;
use crate::catalogue::content::ContentTaken;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::places::FilePlace;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::handoff::Check;
use crate::terms::handoff::Damaged;
use crate::terms::handoff::Take;
use crate::usecase::dumps::away::is_there;
use crate::usecase::dumps::away::oddness;
use crate::usecase::handoff::entry::Why;
use crate::usecase::shortage::ran_short;

/// Checks files, and remembers which dumps are present.
pub(super) struct Chooser<'c> {
    catalogue: &'c Catalogue,
    take: Take,
    check: Check,
    damaged: Damaged,
    roots: HashMap<i64, bool>,
    reader: Option<ContentReader>,
    /// The hashes of files that were read, by their numbers.
    pub hashes: HashMap<i64, [u8; 32]>,
    /// Hashes that the catalogue does not have yet.
    pub taken: VecDeque<ContentTaken>,
}

/// The result of the choice.
pub(super) enum Choice {
    /// This file.
    File(FilePlace),
    /// None: the file concerned, and why.
    None(FilePlace, Why),
}

impl<'c> Chooser<'c> {
    pub fn new(catalogue: &'c Catalogue, take: Take, check: Check, damaged: Damaged) -> Self {
        Self {
            catalogue,
            take,
            check,
            damaged,
            roots: HashMap::new(),
            reader: (check == Check::Content).then(ContentReader::new),
            hashes: HashMap::new(),
            taken: VecDeque::new(),
        }
    }

    /// Chooses among the files of a frame, the one shown for it first.
    ///
    /// The best file of the requested kind sets container and health; if it has changed or is missing, a copy with the
    /// same container and health replaces it. An undamaged copy is preferred to a damaged file. `None` if the frame has
    /// no file at all.
    pub fn choose(&mut self, files: Vec<FilePlace>) -> Result<Option<Choice>, Failure> {
        let fits = |file: &FilePlace| match self.take {
            Take::First => true,
            Take::Raw => rank(file.format) == 0,
            Take::Jpeg => file.format == "jpeg",
        };
        let Some(shown) = files.first().cloned() else {
            return Ok(None);
        };
        let best = match self.take {
            Take::First => files
                .iter()
                .filter(|file| file.format == shown.format)
                .min_by_key(|file| file.health.is_damaged()),
            Take::Raw | Take::Jpeg => files
                .iter()
                .filter(|file| fits(file))
                .min_by_key(|file| file.health),
        };
        let leaves_damaged = self.damaged == Damaged::LeftOut;
        let Some(best) = best.cloned() else {
            let why = if leaves_damaged && files.iter().all(|file| file.health.is_damaged()) {
                Why::Damaged(self.damage(&shown)?)
            } else {
                Why::Odd(lacks(self.take, &files))
            };
            return Ok(Some(Choice::None(shown, why)));
        };
        if leaves_damaged && best.health.is_damaged() {
            let why = Why::Damaged(self.damage(&best)?);
            return Ok(Some(Choice::None(best, why)));
        }
        let mut first_wrong = None;
        for file in files
            .into_iter()
            .filter(|file| file.format == best.format && file.health == best.health)
        {
            match self.wrong(&file)? {
                None => return Ok(Some(Choice::File(file))),
                Some(why) => {
                    first_wrong.get_or_insert((file, why));
                }
            }
        }
        Ok(first_wrong.map(|(file, why)| Choice::None(file, why)))
    }

    /// The damage of a file found when it was read.
    fn damage(&self, file: &FilePlace) -> Result<Finding, Failure> {
        let (code, saw) = self
            .catalogue
            .damage_of(file.file_id)?
            .unwrap_or_else(|| ("read-error", file.health.word().to_owned()));
        Ok(Finding::new(code, saw, LEFT))
    }

    /// How a file differs from when it was read.
    fn wrong(&mut self, file: &FilePlace) -> Result<Option<Why>, Failure> {
        if self.check == Check::Nothing {
            return Ok(None);
        }
        let dump = &file.folder.dump;
        let there = match self.roots.get(&dump.dump_id) {
            Some(known) => *known,
            None => is_there(self.catalogue, dump)?,
        };
        self.roots.insert(dump.dump_id, there);
        if !there {
            return Ok(Some(Why::Away(dump.dump_id)));
        }
        let path = file.path();
        let odd = |code, saw: String| Ok(Some(Why::Odd(Finding::new(code, saw, LEFT))));
        if let Some((code, saw)) = oddness(&path, file.bytes, file.modified_ns) {
            return odd(code, saw);
        }
        let Some(reader) = &mut self.reader else {
            return Ok(None);
        };
        let found = match reader.contents(&path, file.bytes) {
            Ok(found) => found,
            Err(error) if is_shortage(&error) => return Err(ran_short(&path, error)),
            Err(error) => return odd("read-error", error.to_string()),
        };
        // A process that writes to the file meanwhile changes its time stamp.
        if !matches!(
            look(&path, file.bytes, file.modified_ns),
            Presence::Unchanged
        ) {
            return odd("changed", "it changed while it was read".to_owned());
        }
        match self.catalogue.content_of(file.file_id)? {
            Some(known) if known == found.blake3 => {}
            Some(_) => {
                return odd(
                    "contents-differ",
                    "its contents have changed since they were last hashed".to_owned(),
                );
            }
            None if file.fingerprint.is_some_and(|known| {
                !found
                    .fingerprint
                    .is_some_and(|there| known.matches(&there.into()))
            }) =>
            {
                return odd(
                    "contents-differ",
                    "its fingerprint has changed since it was ingested".to_owned(),
                );
            }
            None => self.taken.push_back(ContentTaken {
                file_id: file.file_id,
                bytes: file.bytes,
                modified_ns: file.modified_ns,
                blake3: found.blake3,
            }),
        }
        self.hashes.insert(file.file_id, found.blake3);
        Ok(None)
    }
}

/// How a frame that cannot be exported was handled.
pub(super) const LEFT: &str = "listed no file of this frame";

/// The finding for a frame without a file of the requested kind.
pub(super) const LACKS_KIND: &str = "kind-lacking";

fn lacks(take: Take, files: &[FilePlace]) -> Finding {
    let wanted = match take {
        Take::Jpeg => "JPEG",
        Take::Raw | Take::First => "raw file",
    };
    let mut there: Vec<&str> = files.iter().map(|file| file.format).collect();
    there.dedup();
    Finding::new(
        LACKS_KIND,
        format!("no {wanted}, only {}", there.join(", ")),
        LEFT,
    )
}
