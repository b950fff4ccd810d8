//! The walker of an ingest: goes through the dumps in order, skips unchanged files and files that are not pictures, and
//! passes the rest on in parcels.

use std::collections::BTreeMap;
use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;

use crossbeam_channel::Sender;

use crate::capture::class::FileClass;
use crate::capture::walk::Walked;
use crate::capture::walk::WalkedFile;
use crate::capture::walk::walk;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_name;
use crate::catalogue::read::KnownFile;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::usecase::ingest::ingest_file::Before;
use crate::usecase::ingest::messages::Job;
use crate::usecase::ingest::messages::Parcel;
use crate::usecase::ingest::roots::Roots;
use crate::usecase::shortage::ran_short;

/// The most files sent together.
const PARCEL: usize = 16;

/// The first parcels are small, so that every reader of a small dump has something to do.
const SMALL_PARCELS: u64 = 64;

/// How many findings of the walk are reported one by one.
const ODD_TOLD: usize = 100;

/// What the walker met without passing it on.
#[derive(Debug, Default)]
pub(crate) struct WalkerTally {
    /// Files met.
    pub(crate) seen: u64,
    /// Of these, known and unchanged.
    pub(crate) unchanged: u64,
    /// Of these, known to be damaged.
    pub(crate) damaged: u64,
    /// Of these, skipped, by extension.
    pub(crate) passed_over: BTreeMap<String, u64>,
    /// The first findings; a dump full of links must not fill the memory.
    pub(crate) odd: Vec<(PathBuf, Finding)>,
    /// How many more findings there are.
    pub(crate) odd_untold: u64,
    /// Folders that could not be listed.
    pub(crate) folders_unreadable: u64,
}

/// Walks the dumps and passes on files that must be read.
pub(crate) struct Walker<'a> {
    /// The dumps and the walks through them.
    pub(crate) roots: &'a Roots,
    /// The dumps' numbers in the catalogue, where it knows them.
    pub(crate) known: &'a [Option<i64>],
    /// The catalogue, read-only.
    pub(crate) book: &'a Catalogue,
    /// Files skipped so far, which nobody else will count as done.
    pub(crate) aside: &'a AtomicU64,
    /// Set to stop the run.
    pub(crate) stop: &'a AtomicBool,
}

impl Walker<'_> {
    /// Runs until the walk ends or the receiver is dropped (the writer failed and reports the error).
    pub(crate) fn run(
        &self,
        permit_out: &Sender<()>,
        jobs_out: &Sender<Parcel<Job>>,
    ) -> Result<WalkerTally, Failure> {
        let mut tally = WalkerTally::default();
        let mut number = 0;
        let mut files = Vec::with_capacity(PARCEL);
        let hand_on = |files: &mut Vec<Job>, number: &mut u64| {
            let parcel = Parcel {
                number: *number,
                files: std::mem::replace(files, Vec::with_capacity(PARCEL)),
            };
            *number += 1;
            permit_out.send(()).is_ok() && jobs_out.send(parcel).is_ok()
        };
        let mut folder = KnownFolder::default();
        for through in &self.roots.walks {
            for walked in walk(&through.at) {
                if self.stop.load(Ordering::Relaxed) {
                    return Ok(tally);
                }
                let mut file = match walked.map_err(|e| ran_short(&through.at, e))? {
                    Walked::Odd { path, finding } => {
                        tally.folders_unreadable += u64::from(finding.code == "folder-unreadable");
                        if tally.odd.len() < ODD_TOLD {
                            tally.odd.push((through.at.join(path), finding));
                        } else {
                            tally.odd_untold += 1;
                        }
                        continue;
                    }
                    Walked::File(file) => file,
                };
                tally.seen += 1;
                if let FileClass::PassedOver(extension) = &file.class {
                    self.aside.fetch_add(1, Ordering::Relaxed);
                    *tally
                        .passed_over
                        .entry((*extension).to_owned())
                        .or_default() += 1;
                    continue;
                }
                let (dump, place) = through.place_of(file.folder);
                file.folder = place;
                let before = match self.before(dump, &file, &mut folder)? {
                    Known::Unchanged { damaged } => {
                        self.aside.fetch_add(1, Ordering::Relaxed);
                        tally.unchanged += 1;
                        tally.damaged += u64::from(damaged);
                        continue;
                    }
                    Known::ToRead(before) => before,
                };
                files.push(Job { dump, file, before });
                let full = if number < SMALL_PARCELS { 1 } else { PARCEL };
                if files.len() >= full && !hand_on(&mut files, &mut number) {
                    return Ok(tally);
                }
            }
        }
        if !files.is_empty() {
            hand_on(&mut files, &mut number);
        }
        Ok(tally)
    }

    /// What the catalogue knows about a file.
    fn before(
        &self,
        dump: usize,
        file: &WalkedFile,
        folder: &mut KnownFolder,
    ) -> Result<Known, Failure> {
        let Some(dump_id) = self.known[dump] else {
            return Ok(Known::ToRead(Before::New));
        };
        let here = folder
            .path
            .as_ref()
            .is_some_and(|(of, path)| *of == dump && *path == file.folder);
        if !here {
            folder.files = self.book.known_files(dump_id, &file.folder)?;
            folder.path = Some((dump, file.folder.clone()));
        }
        Ok(match folder.files.get(&kept_name(&file.name).text) {
            None => Known::ToRead(Before::New),
            Some(known) if known.failed_before => Known::ToRead(Before::Failed(known.file_id)),
            Some(known) if (known.bytes, known.modified_ns) == (file.bytes, file.modified_ns) => {
                Known::Unchanged {
                    damaged: known.damaged,
                }
            }
            Some(known) => Known::ToRead(Before::Changed(known.file_id)),
        })
    }
}

/// What the catalogue knows about a file of the walk.
enum Known {
    /// It is unchanged since it was read.
    Unchanged {
        /// Whether it was damaged then.
        damaged: bool,
    },
    /// It must be read.
    ToRead(Before),
}

/// The known files in the folder that the walk is in.
#[derive(Default)]
struct KnownFolder {
    path: Option<(usize, PathBuf)>,
    files: HashMap<String, KnownFile>,
}
