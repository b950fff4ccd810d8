//! The writer of an ingest: restores the order of the files by their paths and commits them in batches.

use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::time::Duration;
use std::time::Instant;

use crossbeam_channel::Receiver;

use crate::capture::volume::volume_of;
use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::terms::basis::Health;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::finding::Severity;
use crate::terms::finding::finding_code;
use crate::terms::records::FileReading;
use crate::terms::site::Site;
use crate::terms::statement::Act;
use crate::terms::statement::SiteRef;
use crate::terms::time::Utc;
use crate::usecase::derive::evenings::Deriver;
use crate::usecase::in_order::InOrder;
use crate::usecase::ingest::ingest_file::Ingested;
use crate::usecase::ingest::ingest_file::ReadFile;
use crate::usecase::ingest::ingest_file::ingest_file;
use crate::usecase::ingest::messages::Event;
use crate::usecase::ingest::messages::IngestReport;
use crate::usecase::ingest::messages::Job;
use crate::usecase::ingest::messages::Kept;
use crate::usecase::ingest::messages::Parcel;
use crate::usecase::ingest::messages::Read;
use crate::usecase::shortage::ran_short;
use crate::usecase::statements::frames::log_frames;
use crate::usecase::statements::state::begin;

/// How many files a batch holds at most.
const BATCH_FILES: usize = 2_000;

/// How old a batch may become before it is committed: the most that is lost with a slow card if the power fails.
const BATCH_AGE: Duration = Duration::from_secs(3);

/// How often the watcher is called.
const TELL_EVERY: Duration = Duration::from_millis(200);

/// The writer of an ingest.
pub struct Writer<'c> {
    catalogue: &'c mut Catalogue,
    roots: &'c [PathBuf],
    dumps: Vec<i64>,
    site: Option<&'c Site>,
    /// The statement that places frames at the site, once there is one.
    placing: Option<i64>,
    deriver: Deriver,
    /// The folder of the previous file: its dump, its path and its number.
    folder: Option<(usize, PathBuf, i64)>,
    report: IngestReport,
    done: u64,
}

impl<'c> Writer<'c> {
    /// Begins to write into a catalogue; records the dumps in it. Offline dumps are not recorded as seen.
    pub fn new(
        catalogue: &'c mut Catalogue,
        roots: &'c [PathBuf],
        away: &[PathBuf],
        site: Option<&'c Site>,
        now: Utc,
    ) -> Result<Self, Failure> {
        let unseen = away
            .iter()
            .map(|root| Ok((root, catalogue.dump_at(root)?)))
            .collect::<Result<Vec<_>, Failure>>()?;
        let batch = catalogue.batch()?;
        let dumps = roots
            .iter()
            .map(|root| {
                if let Some((_, Some(dump_id))) = unseen.iter().find(|(at, _)| *at == root) {
                    return Ok(*dump_id);
                }
                let dump_id = batch.ensure_dump(root, now)?.dump_id;
                batch.note_volume(dump_id, &volume_of(root))?;
                Ok(dump_id)
            })
            .collect::<Result<_, Failure>>()?;
        let deriver = Deriver::new(&batch)?.with_new_frames(batch.next_frame());
        batch.commit()?;
        Ok(Self {
            catalogue,
            roots,
            dumps,
            site,
            placing: None,
            deriver,
            folder: None,
            report: IngestReport::default(),
            done: 0,
        })
    }

    /// Ingests what the readers send until they are done or the run is stopped. Files are written as they come, so that
    /// reading and writing overlap; a batch is open no longer than [`BATCH_AGE`].
    pub(crate) fn run(
        &mut self,
        read: &Receiver<Parcel<Read>>,
        permits: &Receiver<()>,
        stop: &AtomicBool,
        watch: &mut dyn FnMut(Event<'_>),
    ) -> Result<IngestReport, Failure> {
        let mut parcels = InOrder::new(read, permits, stop);
        let mut told = Instant::now();
        // No transaction waits for a card: a batch begins when there is a file for it.
        while let Some(mut parcel) = parcels.next() {
            let mut batch = self.catalogue.batch()?;
            let mut writing = Step {
                roots: self.roots,
                dumps: &self.dumps,
                site_id: self.site.map(|site| site.id),
                placed: Vec::new(),
                folder: &mut self.folder,
                report: &mut self.report,
            };
            let begun = Instant::now();
            let mut files = 0;
            let mut odd = Vec::new();
            let mut short = None;
            loop {
                for (job, reading) in parcel {
                    match reading {
                        Ok(reading) => writing.one(&mut batch, &job, reading, &mut odd)?,
                        Err(error) => {
                            short = Some(ran_short(&job.path(self.roots), error));
                            break;
                        }
                    }
                    files += 1;
                    self.done += 1;
                }
                if told.elapsed() >= TELL_EVERY {
                    told = Instant::now();
                    watch(Event::At {
                        done: self.done,
                        of: 0,
                    });
                }
                let left = BATCH_AGE.saturating_sub(begun.elapsed());
                if files >= BATCH_FILES || left.is_zero() || short.is_some() {
                    break;
                }
                match parcels.next_within(left) {
                    Some(next) => parcel = next,
                    None => break,
                }
            }
            let placed = writing.placed;
            self.deriver.mark_read_otherwise(&batch)?;
            if let Some(site) = self.site.filter(|_| !placed.is_empty()) {
                let number = match self.placing {
                    Some(number) => number,
                    None => begin(&batch, &Act::Place(SiteRef::from(site)))?,
                };
                self.placing = Some(number);
                log_frames(&batch, number, &placed)?;
            }
            batch.commit()?;
            // The receiver may take long, so no transaction is open meanwhile.
            for (path, finding) in &odd {
                watch(Event::Odd {
                    path,
                    finding,
                    kept: Kept::InCatalogue,
                });
            }
            if let Some(short) = short {
                return Err(short);
            }
        }
        watch(Event::At {
            done: self.done,
            of: 0,
        });
        Ok(self.report.clone())
    }

    /// Ends, and returns the deriver for the new frames, which are recorded as lacking rows.
    pub fn finish(self) -> Result<Deriver, Failure> {
        let batch = self.catalogue.batch()?;
        for dump_id in &self.dumps {
            batch.drop_if_empty(*dump_id)?;
        }
        batch.commit()?;
        Ok(self.deriver)
    }
}

/// The parts of the writer that one file needs while the batch holds the catalogue.
struct Step<'s> {
    roots: &'s [PathBuf],
    dumps: &'s [i64],
    site_id: Option<i64>,
    /// Frames that are now stated to be at the site.
    placed: Vec<i64>,
    folder: &'s mut Option<(usize, PathBuf, i64)>,
    report: &'s mut IngestReport,
}

impl Step<'_> {
    fn one(
        &mut self,
        batch: &mut Batch<'_>,
        job: &Job,
        reading: Option<FileReading>,
        odd: &mut Vec<(PathBuf, Finding)>,
    ) -> Result<(), Failure> {
        let Some(mut reading) = reading else {
            let mut extension = crate::capture::class::extension(&job.file.name);
            if extension.is_empty() {
                "no extension".clone_into(&mut extension);
            }
            *self.report.passed_over.entry(extension).or_default() += 1;
            return Ok(());
        };
        self.report.bytes_read += reading.bytes_read;
        let dump_id = self.dumps[job.dump];
        if self
            .folder
            .as_ref()
            .is_none_or(|(dump, path, ..)| *dump != job.dump || *path != job.file.folder)
        {
            let id = batch.ensure_folder(dump_id, &job.file.folder)?;
            *self.folder = Some((job.dump, job.file.folder.clone(), id));
        }
        let Some((_, _, folder_id)) = self.folder.as_ref() else {
            return Ok(());
        };
        let mut file = ReadFile {
            folder_id: *folder_id,
            folder: &job.file.folder,
            name: &job.file.name,
            bytes: job.file.bytes,
            modified_ns: job.file.modified_ns,
            before: job.before,
            reading: &mut reading,
        };
        let taken = ingest_file(batch, &mut file)?;
        self.note_damage(job, &reading, odd);
        match taken {
            Ingested::NewFrame(frame_id)
            | Ingested::Joined(frame_id)
            | Ingested::Changed(frame_id) => {
                match taken {
                    Ingested::NewFrame(_) => self.report.frames_new += 1,
                    Ingested::Joined(_) => self.report.joined += 1,
                    _ => self.report.frames_known += 1,
                }
                if let Some(site_id) = self.site_id
                    && batch.state_place(frame_id, site_id)?
                {
                    self.placed.push(frame_id);
                }
                batch.mark_frames_pending(&[frame_id])
            }
            Ingested::FurtherCopy => {
                self.report.further_copies += 1;
                Ok(())
            }
            Ingested::Unchanged => {
                self.report.frames_known += 1;
                Ok(())
            }
        }
    }

    /// Counts damage, and records it for the watcher. Lesser findings are stored in the catalogue for the audit.
    fn note_damage(&mut self, job: &Job, reading: &FileReading, odd: &mut Vec<(PathBuf, Finding)>) {
        let damaged = matches!(reading.health, Health::Truncated | Health::Unreadable);
        self.report.damaged += u64::from(damaged);
        self.report.unreadable += u64::from(reading.health == Health::Unreadable);
        let serious = reading
            .findings
            .iter()
            .filter(|f| finding_code(f.code).is_some_and(|row| row.severity == Severity::Damage));
        odd.extend(serious.map(|finding| (job.path(self.roots), finding.clone())));
    }
}
