//! Dump -> catalogue: one walker, many readers, one writer; results in the order of the paths.
//!
//! The threads hand files on through bounded channels, and at most a fixed count of files is between the walker and
//! the writer, so memory does not grow with the dump. The writer commits a batch at a time; a run that is stopped
//! leaves whole batches and is carried on by the next one.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::io;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;
use std::thread;

use crossbeam_channel::Receiver;
use crossbeam_channel::Sender;
use crossbeam_channel::bounded;

use crate::capture::read::FileReader;
use crate::capture::walk::WalkedFile;
use crate::capture::walk::names;
use crate::catalogue::derive::BodyNight;
use crate::catalogue::open::Catalogue;
use crate::catalogue::open::OnDisk;
use crate::pipeline::dumps::dump_root;
use crate::pipeline::rebuild::rebuild_missing;
use crate::pipeline::recognise::recognise;
use crate::pipeline::recognised::Newcomers;
use crate::pipeline::recognised::Recognised;
use crate::pipeline::recognised::Recognition;
use crate::pipeline::rederive::Mode;
use crate::pipeline::rederive::place_at;
use crate::pipeline::regroup::regroup;
use crate::pipeline::roots::Roots;
use crate::pipeline::roots::Walk;
use crate::pipeline::take_in::Before;
use crate::pipeline::walker::Walker;
use crate::pipeline::walker::WalkerTally;
use crate::pipeline::writer::Writer;
use crate::site::zone_lookup;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::finding::Finding;
use crate::terms::records::FileReading;
use crate::terms::time::Utc;

/// How many parcels of files may be between the walker and the writer.
const IN_FLIGHT: usize = 32;

/// What to ingest, and how.
#[derive(Clone, Copy, Debug)]
pub struct IngestOrder<'a> {
    /// The dumps' roots.
    pub dumps: &'a [PathBuf],
    /// The site of frames that say no position of their own.
    pub site: Option<&'a str>,
    /// Whether folders may turn out to be dumps that are known.
    pub newcomers: Newcomers,
    /// How many files to read at once.
    pub readers: usize,
    /// Whether anybody looks at the progress.
    pub watched: Watched,
    /// The current time.
    pub now: Utc,
}

/// Whether anybody looks at the progress: then the files are counted ahead of the reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watched {
    /// Somebody does.
    Yes,
    /// Nobody does.
    No,
}

/// Something that happens on the way, for whoever watches.
#[derive(Debug)]
pub enum Event<'a> {
    /// A folder that is new to the catalogue was taken for a known dump, or might have been.
    Recognised(&'a Recognised),
    /// The derived rows of so many frames are missing, and are made again first.
    Missing(u64),
    /// So many files are done, of so many counted by now.
    At {
        /// Done.
        done: u64,
        /// Counted by now.
        of: u64,
    },
    /// Something is odd about a file or folder.
    Odd {
        /// Which.
        path: &'a Path,
        /// What.
        finding: &'a Finding,
        /// Whether the catalogue has it too.
        kept: Kept,
    },
}

/// Whether the catalogue has a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It has: the audit lists it.
    InCatalogue,
    /// It has not: it is about something that is no file of a frame.
    Nowhere,
}

/// What an ingest came to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct IngestReport {
    /// Files met on the dumps.
    pub seen: u64,
    /// Of these, known and unchanged, and therefore not read.
    pub unchanged: u64,
    /// Of these, passed over, by extension.
    pub passed_over: BTreeMap<String, u64>,
    /// Frames that are new to the catalogue.
    pub frames_new: u64,
    /// Frames known before that a file joined, or whose file has changed.
    pub frames_known: u64,
    /// Files that joined a frame as its raw file, its JPEG, or a whole copy of a damaged one.
    pub joined: u64,
    /// Files that repeat the contents of a known file.
    pub further_copies: u64,
    /// Files read by this run that are damaged or could not be read.
    pub damaged: u64,
    /// Files that an earlier ingest found damaged, and that are unchanged since.
    pub damaged_before: u64,
    /// Of the damaged ones of this run, those that could not be read at all.
    pub unreadable: u64,
    /// Folders that could not be listed.
    pub folders_unreadable: u64,
    /// Things that are no files of frames, and about which `watch` heard nothing because there are too many.
    pub odd_untold: u64,
    /// New frames that are left without UTC.
    pub undated: u64,
    /// New or changed frames without a place.
    pub unplaced: u64,
    /// Frames of an earlier ingest that the stated site has placed now.
    pub placed_later: u64,
    /// Frames of an earlier ingest whose derived rows were missing and were made again.
    pub rebuilt: u64,
    /// Sessions that are new or have changed.
    pub sessions: u64,
    /// The nights whose frames are new or have changed, and those that runs over a dark noon join to them.
    pub nights: BTreeSet<BodyNight>,
    /// Bytes read from the dumps.
    pub bytes_read: u64,
    /// Whether the run was stopped before its end.
    pub stopped: bool,
}

/// A file on its way to the readers and on to the writer.
#[derive(Debug)]
pub(super) struct Job {
    pub(super) dump: usize,
    pub(super) file: WalkedFile,
    pub(super) before: Before,
}

impl Job {
    /// The file's path, by the roots of the dumps.
    pub(super) fn path(&self, roots: &[PathBuf]) -> PathBuf {
        roots[self.dump]
            .join(&self.file.folder)
            .join(&self.file.name)
    }
}

/// Files that travel together: waking a thread costs as much as reading a file's head.
#[derive(Debug)]
pub(super) struct Parcel<T> {
    /// Its place in the order of the walk, from 0.
    pub(super) number: u64,
    /// The files, in order.
    pub(super) files: Vec<T>,
}

/// A file that has been read; no reading for one that turned out to be no picture, an error where this computer ran short.
pub(super) type Read = (Job, io::Result<Option<FileReading>>);

/// Makes ready what most ingests need, on a thread of its own, while the catalogue is being opened.
pub fn make_ready() {
    thread::spawn(zone_lookup::make_ready);
}

/// Ingests dumps into a catalogue.
///
/// Refuses: a dump that is no folder, an unknown site, a folder that holds most of a dump that is not at its place.
/// Whatever is wrong with single files is reported to `watch`, once it is in the catalogue and while no transaction is
/// open, and counted; the rest goes on. Fails where this computer runs out of open files or memory.
/// `stop` is looked at between files and pictures.
pub fn ingest(
    catalogue: &mut Catalogue,
    order: &IngestOrder<'_>,
    stop: &AtomicBool,
    watch: &mut dyn FnMut(Event<'_>),
) -> Result<IngestReport, Failure> {
    let site_id = order
        .site
        .map(|name| site_named(catalogue, name))
        .transpose()?;
    let mut asked: Vec<PathBuf> = order
        .dumps
        .iter()
        .map(|dump| dump_root(dump))
        .collect::<Result<_, _>>()?;
    let Recognition { told, away } = recognise(catalogue, &mut asked, order.newcomers)?;
    for one in &told {
        watch(Event::Recognised(one));
    }
    let rebuilt = rebuild_missing(catalogue, stop, &mut |done, missing| {
        if done == 0 {
            watch(Event::Missing(missing));
        }
    })?;
    let known = roots_to_meet(catalogue, &asked, &told)?;
    let roots = Roots::settle(&asked, &known);
    // Nights left ungrouped by a killed run are grouped with this one's.
    let pending = catalogue.pending_nights()?;
    let known: Vec<Option<i64>> = roots
        .dumps
        .iter()
        .map(|root| catalogue.dump_at(root))
        .collect::<Result<_, _>>()?;
    let book = catalogue.reader()?;
    // What a power failure costs of an ingest is read from the cards again.
    catalogue.set_on_disk(OnDisk::Later)?;
    let mut writer = Writer::new(catalogue, &roots.dumps, &away, site_id, order.now)?;
    let (aside, counted) = (AtomicU64::new(0), AtomicU64::new(0));
    let mut tally = Ok(WalkerTally::default());
    let written = thread::scope(|scope| {
        let (permit_out, permits) = bounded(IN_FLIGHT);
        let (jobs_out, jobs) = bounded::<Parcel<Job>>(IN_FLIGHT);
        let (read_out, read) = bounded::<Parcel<Read>>(IN_FLIGHT);
        let (roots, known, aside, counted) = (&roots, &known, &aside, &counted);
        let walker = scope.spawn(move || {
            let walker = Walker {
                roots,
                known,
                book: &book,
                aside,
                stop,
            };
            walker.run(&permit_out, &jobs_out)
        });
        if order.watched == Watched::Yes {
            scope.spawn(move || count_files(&roots.walks, counted, stop));
        }
        for _ in 0..order.readers.max(1) {
            let (jobs, read_out) = (jobs.clone(), read_out.clone());
            scope.spawn(move || read_files(&roots.dumps, stop, &jobs, &read_out));
        }
        drop((jobs, read_out));
        let result = writer.run(&read, &permits, stop, &mut |event| match event {
            Event::At { done, .. } => {
                let done = done + aside.load(Ordering::Relaxed);
                let of = counted.load(Ordering::Relaxed).max(done);
                watch(Event::At { done, of });
            }
            other => watch(other),
        });
        // A writer that failed lets go of the channels, so that the others end too.
        drop((read, permits));
        tally = walker
            .join()
            .unwrap_or_else(|_| Err(broken("the walk of the dump")));
        result
    });
    let mut report = written?;
    let (touched, undated) = writer.finish()?;
    let tally = tally?;
    report.seen = tally.seen;
    report.unchanged = tally.unchanged;
    report.damaged_before = tally.damaged;
    for (extension, count) in tally.passed_over {
        *report.passed_over.entry(extension).or_default() += count;
    }
    report.folders_unreadable = tally.folders_unreadable;
    report.rebuilt = rebuilt;
    for (path, finding) in &tally.odd {
        watch(Event::Odd {
            path,
            finding,
            kept: Kept::Nowhere,
        });
    }
    report.odd_untold = tally.odd_untold;
    let mut nights = touched;
    nights.extend(pending);
    nights.extend(catalogue.pending_nights()?);
    let grouped = regroup(catalogue, &nights, Some(stop))?;
    (report.sessions, report.nights) = (grouped.sessions, grouped.nights);
    report.undated -= catalogue.dated_among(&undated)?;
    if let Some(site_id) = site_id {
        report.placed_later = place_known(catalogue, &roots, &known, site_id)?;
    }
    catalogue.gather_statistics()?;
    catalogue.bring_to_disk()?;
    report.stopped = stop.load(Ordering::Relaxed);
    Ok(report)
}

/// The roots that a walk through the folders asked for may meet.
fn roots_to_meet(
    catalogue: &Catalogue,
    asked: &[PathBuf],
    told: &[Recognised],
) -> Result<Vec<PathBuf>, Failure> {
    let mut known = catalogue.dump_roots()?;
    for one in told {
        // Who lies there now is a dump as a whole too, whatever folder around or within it is named.
        if let Recognised::Replaced { root, .. } = one
            && !known.contains(root)
        {
            known.push(root.clone());
        }
    }
    // A dump within a folder that is walked, and no longer there, is not met.
    known.retain(|root| {
        let within = |at: &PathBuf| root != at && root.starts_with(at);
        !asked.iter().any(within) || root.is_dir()
    });
    Ok(known)
}

/// States the site for frames that an earlier ingest of these dumps left without a place; how many.
fn place_known(
    catalogue: &mut Catalogue,
    roots: &Roots,
    known: &[Option<i64>],
    site_id: i64,
) -> Result<u64, Failure> {
    let mut frames = Vec::new();
    for walk in &roots.walks {
        if let Some(dump_id) = known[walk.dump] {
            frames.extend(catalogue.unplaced_frames(dump_id, &walk.below)?);
        }
    }
    if frames.is_empty() {
        return Ok(0);
    }
    place_at(catalogue, frames, site_id, Mode::Lasting, &mut |_, _| {}).map(|done| done.placed)
}

fn site_named(catalogue: &Catalogue, name: &str) -> Result<i64, Failure> {
    crate::pipeline::sites::site_named(catalogue, name).map(|site| site.id)
}

fn broken(what: &str) -> Failure {
    Failure::new(FailureKind::Bug, format!("{what} broke off"))
        .hint("please report this with the command you ran")
}

/// Counts the files of the dumps, well ahead of those who read them, so that the end can be foretold.
fn count_files(walks: &[Walk], counted: &AtomicU64, stop: &AtomicBool) {
    for walk in walks {
        for _ in names(&walk.at) {
            counted.fetch_add(1, Ordering::Relaxed);
            if stop.load(Ordering::Relaxed) {
                return;
            }
        }
    }
}

/// Reads files until there are no more.
fn read_files(
    roots: &[PathBuf],
    stop: &AtomicBool,
    jobs: &Receiver<Parcel<Job>>,
    read_out: &Sender<Parcel<Read>>,
) {
    let mut reader = FileReader::new();
    let mut path = PathBuf::new();
    for parcel in jobs {
        let mut files = Vec::with_capacity(parcel.files.len());
        for job in parcel.files {
            if stop.load(Ordering::Relaxed) {
                break;
            }
            path.clone_from(&roots[job.dump]);
            path.push(&job.file.folder);
            path.push(&job.file.name);
            let reading = reader.read(&path, job.file.bytes, job.file.class);
            files.push((job, reading));
        }
        let read = Parcel {
            number: parcel.number,
            files,
        };
        if read_out.send(read).is_err() || stop.load(Ordering::Relaxed) {
            return;
        }
    }
}
