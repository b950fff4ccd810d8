//! Dump -> catalogue: one walker, many readers, one writer; results in the order of the paths.
//!
//! The threads pass files through bounded channels, and at most a fixed number of files is between the walker and the
//! writer, so memory does not grow with the dump. The writer commits a batch at a time; a run that is stopped leaves
//! complete batches, and the next one continues it.

use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;
use std::thread;

use crossbeam_channel::Receiver;
use crossbeam_channel::Sender;
use crossbeam_channel::bounded;

use crate::capture::read::FileReader;
use crate::capture::walk::names;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::OnDisk;
use crate::site::zone_lookup;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::site::Site;
use crate::terms::statement::Act;
use crate::terms::statement::SiteRef;
use crate::terms::time::Utc;
use crate::usecase::derive::evenings::Deriver;
use crate::usecase::derive::evenings::Reached;
use crate::usecase::derive::pending::derive_pending;
use crate::usecase::derive::regroup::regroup;
use crate::usecase::dumps::manage::dump_root;
use crate::usecase::dumps::recognise::recognise;
use crate::usecase::dumps::recognised::Newcomers;
use crate::usecase::dumps::recognised::Recognised;
use crate::usecase::dumps::recognised::Recognition;
use crate::usecase::ingest::messages::Event;
use crate::usecase::ingest::messages::IngestReport;
use crate::usecase::ingest::messages::Job;
use crate::usecase::ingest::messages::Kept;
use crate::usecase::ingest::messages::Parcel;
use crate::usecase::ingest::messages::Read;
use crate::usecase::ingest::messages::Watched;
use crate::usecase::ingest::roots::Roots;
use crate::usecase::ingest::roots::Walk;
use crate::usecase::ingest::walker::Walker;
use crate::usecase::ingest::walker::WalkerTally;
use crate::usecase::ingest::writer::Writer;
use crate::usecase::sites::book::site_named;
use crate::usecase::statements::arrive::state_arrived;
use crate::usecase::statements::state::state;

/// How many parcels of files may be between the walker and the writer.
const IN_FLIGHT: usize = 32;

/// What to ingest, and how.
#[derive(Clone, Copy, Debug)]
pub struct IngestOrder<'a> {
    /// The dumps' roots.
    pub dumps: &'a [PathBuf],
    /// The site of frames without a position of their own.
    pub site: Option<&'a str>,
    /// Whether folders may turn out to be known dumps.
    pub newcomers: Newcomers,
    /// How many files to read at once.
    pub readers: usize,
    /// Whether progress is displayed.
    pub watched: Watched,
    /// The current time.
    pub now: Utc,
}

/// Prepares data that most ingests need, in a thread of its own, while the catalogue is being opened.
pub fn make_ready() {
    thread::spawn(zone_lookup::make_ready);
}

/// Ingests dumps into a catalogue.
///
/// Refuses: a dump that is not a folder, an unknown site, a folder with most of an offline dump. Problems of single
/// files are reported to `watch`, once they are in the catalogue and while no transaction is open, and counted; the
/// rest continues. Fails if this computer runs out of open files or memory. `stop` is checked between files and
/// pictures.
pub fn ingest(
    catalogue: &mut Catalogue,
    order: &IngestOrder<'_>,
    stop: &AtomicBool,
    watch: &mut dyn FnMut(Event<'_>),
) -> Result<IngestReport, Failure> {
    let site = order
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
    let (lacking, _) = catalogue.pending_frames()?;
    if lacking > 0 {
        watch(Event::Missing(lacking));
    }
    let known = roots_to_meet(catalogue, &asked, &told)?;
    let roots = Roots::resolve(&asked, &known);
    // Nights left ungrouped by a killed run are grouped with this one's.
    let pending = catalogue.pending_nights()?;
    let known: Vec<Option<i64>> = roots
        .dumps
        .iter()
        .map(|root| catalogue.dump_at(root))
        .collect::<Result<_, _>>()?;
    let book = catalogue.reader()?;
    // After a power failure, the lost part of an ingest can be read from the cards again.
    catalogue.set_on_disk(OnDisk::Later)?;
    let mut writer = Writer::new(catalogue, &roots.dumps, &away, site.as_ref(), order.now)?;
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
        // A writer that failed drops the channels, so that the other threads end too.
        drop((read, permits));
        tally = walker
            .join()
            .unwrap_or_else(|_| Err(broken("the walk of the dump")));
        result
    });
    let mut report = written?;
    let mut deriver = writer.finish()?;
    count_walked(tally?, &mut report, watch);
    if report.frames_new + report.joined > 0 {
        report.frames_awaited = state_arrived(catalogue)?;
        // Fixes may be limited to frames that have arrived.
        deriver.forget_clocks();
    }
    let placed_now = match &site {
        Some(site) => state_known(catalogue, &roots, &known, site)?,
        None => Vec::new(),
    };
    derive_all(catalogue, &mut deriver, &placed_now, &mut report, watch)?;
    report.rebuilt = lacking;
    let mut nights = deriver.touched;
    nights.extend(pending);
    nights.extend(catalogue.pending_nights()?);
    let grouped = regroup(catalogue, &nights, Some(stop))?;
    (report.sessions, report.nights) = (grouped.sessions, grouped.nights);
    report.stopped = stop.load(Ordering::Relaxed);
    catalogue.keep_proofs()?;
    catalogue.settle(if report.stopped { 0 } else { report.frames_new })?;
    catalogue.bring_to_disk()?;
    Ok(report)
}

/// Counts what the walk met.
fn count_walked(tally: WalkerTally, report: &mut IngestReport, watch: &mut dyn FnMut(Event<'_>)) {
    report.seen = tally.seen;
    report.unchanged = tally.unchanged;
    report.damaged_before = tally.damaged;
    for (extension, count) in tally.passed_over {
        *report.passed_over.entry(extension).or_default() += count;
    }
    report.folders_unreadable = tally.folders_unreadable;
    for (path, finding) in &tally.odd {
        watch(Event::Odd {
            path,
            finding,
            kept: Kept::Nowhere,
        });
    }
    report.odd_untold = tally.odd_untold;
}

/// The roots that a walk through the requested folders may meet.
fn roots_to_meet(
    catalogue: &Catalogue,
    asked: &[PathBuf],
    told: &[Recognised],
) -> Result<Vec<PathBuf>, Failure> {
    let mut known = catalogue.dump_roots()?;
    for one in told {
        // What is mounted at that root now becomes a dump of its own, even if the user named a parent or a subfolder.
        if let Recognised::Replaced { root, .. } = one
            && !known.contains(root)
        {
            known.push(root.clone());
        }
    }
    // An offline dump inside a folder that is walked is not met.
    known.retain(|root| {
        let within = |at: &PathBuf| root != at && root.starts_with(at);
        !asked.iter().any(within) || root.is_dir()
    });
    Ok(known)
}

/// Derives every frame that lacks rows, and counts the results. Ingested files are derived even if the run was stopped.
fn derive_all(
    catalogue: &mut Catalogue,
    deriver: &mut Deriver,
    placed_now: &[i64],
    report: &mut IngestReport,
    watch: &mut dyn FnMut(Event<'_>),
) -> Result<(), Failure> {
    let first_new = deriver.first_new();
    let mut each = |frame_id: i64, reached: &Reached| {
        let is_placed = reached.place != PlaceBasis::None;
        if frame_id >= first_new {
            report.undated += u64::from(reached.time == TimeBasis::None);
            report.unplaced += u64::from(!is_placed);
        } else if placed_now.binary_search(&frame_id).is_ok() {
            report.placed_later += u64::from(is_placed);
        }
    };
    derive_pending(
        catalogue,
        deriver,
        &AtomicBool::new(false),
        &mut each,
        &mut |done, of| watch(Event::Derived { done, of }),
    )?;
    report.derived = deriver.derived();
    Ok(())
}

/// States the site for frames that an earlier ingest of these dumps left without a place, and records that their rows
/// are outdated; returns their numbers, in order.
fn state_known(
    catalogue: &mut Catalogue,
    roots: &Roots,
    known: &[Option<i64>],
    site: &Site,
) -> Result<Vec<i64>, Failure> {
    let mut frames = Vec::new();
    for walk in &roots.walks {
        if let Some(dump_id) = known[walk.dump] {
            frames.extend(catalogue.unplaced_frames(dump_id, &walk.below)?);
        }
    }
    frames.sort_unstable();
    frames.dedup();
    if !frames.is_empty() {
        let batch = catalogue.batch()?;
        let place = Act::Place(SiteRef::from(site));
        state(&batch, &place, frames.clone())?;
        batch.mark_frames_pending(&frames)?;
        batch.commit()?;
    }
    Ok(frames)
}

fn broken(what: &str) -> Failure {
    Failure::new(FailureKind::Bug, format!("{what} stopped unexpectedly"))
        .hint("please report this with the command you ran")
}

/// Counts the files of the dumps, well ahead of the readers, so that the remaining time can be estimated.
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
