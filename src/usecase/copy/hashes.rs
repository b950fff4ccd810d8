//! A list of hashes for a dump that has none: every file of it that was never hashed is read.

use std::collections::HashMap;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::capture::disk::Disk;
use crate::capture::walk::Walked;
use crate::capture::walk::walk;
use crate::catalogue::content::ContentRow;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_folder;
use crate::copy::read_back::BackReader;
use crate::copy::read_back::Sha256Too;
use crate::output::atomic_file::Overwrite;
use crate::output::outside_dumps::refuse_in_dump;
use crate::terms::content::Compared;
use crate::terms::content::ReadWay;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::finding::Finding;
use crate::terms::time::Utc;
use crate::usecase::copy::here::device_of;
use crate::usecase::copy::lists::write_named;
use crate::usecase::dumps::manage::dump_labelled;
use crate::usecase::dumps::presence::DumpPresence;
use crate::usecase::dumps::presence::dump_presence;
use crate::usecase::shortage::ran_short;

/// What came of a list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct HashesReport {
    /// Files in it.
    pub files: u64,
    /// Of these, those that were read for it.
    pub read: u64,
    /// Files that are left out: they could not be read, or differ from the hash that was kept.
    pub left_out: u64,
    /// Whether it was stopped; no list was written then.
    pub stopped: bool,
}

/// What is told on the way.
#[derive(Debug)]
pub enum HashesNews<'a> {
    /// Bytes read, and the file that is being read.
    At(u64, &'a Path),
    /// A file that is left out, and why.
    Odd(&'a Path, &'a Finding),
}

/// Writes the list of a dump's files to a file.
///
/// Refuses: an unknown dump, one that is not here, a place in a dump, a file that is there and may not be replaced.
pub fn write_hashes(
    catalogue: &mut Catalogue,
    label: &str,
    (to, overwrite): (&Path, Overwrite),
    now: Utc,
    stop: &AtomicBool,
    tell: &mut dyn FnMut(HashesNews<'_>),
) -> Result<HashesReport, Failure> {
    let dump = dump_labelled(catalogue, label)?;
    refuse_in_dump(catalogue, to)?;
    if overwrite == Overwrite::No && to.exists() {
        return Err(Failure::output("this file exists already")
            .at_file(to)
            .hint("choose another name, or replace it with --overwrite"));
    }
    let is_here = dump_presence(catalogue, &dump)? == DumpPresence::Here;
    let disk = Disk::of(&dump.root)
        .ok()
        .filter(|_| is_here)
        .ok_or_else(|| {
            Failure::new(FailureKind::Dump, format!("dump {label} is not here"))
                .at_file(dump.place())
                .hint("mount its disk, or ingest it where it is now")
        })?;
    let mut known: HashMap<String, ContentRow> = catalogue
        .contents_of_dump(dump.dump_id)?
        .into_iter()
        .map(|row| (row.path.clone(), row))
        .collect();
    let batch = catalogue.batch()?;
    let device_id = batch.ensure_device(&device_of(&dump.root, &disk))?;
    batch.commit()?;
    let way = ReadWay::Dropped.if_device(disk.is_device());
    let reader = BackReader::new();
    let mut report = HashesReport::default();
    let mut bytes = 0;
    let mut listed = Vec::new();
    for step in walk(&dump.root) {
        if stop.load(Ordering::Relaxed) {
            report.stopped = true;
            return Ok(report);
        }
        let file = match step.map_err(|error| ran_short(&dump.root, error))? {
            Walked::File(file) => file,
            Walked::Odd { path, finding } => {
                tell(HashesNews::Odd(&dump.root.join(path), &finding));
                continue;
            }
        };
        let below = file.folder.join(&file.name);
        let path = dump.root.join(&below);
        let text = kept_folder(&below).text;
        let before = known
            .remove(&text)
            .filter(|row| row.bytes == file.bytes && row.modified_ns == file.modified_ns);
        if let Some(row) = before.as_ref().filter(|row| row.sha256.is_some()) {
            listed.push(row.clone());
            continue;
        }
        tell(HashesNews::At(bytes, &path));
        let read = reader.read(&path, way, Sha256Too::Yes, &mut |read| {
            bytes += read;
        });
        let finding = match read {
            Ok(content)
                if before
                    .as_ref()
                    .is_none_or(|row| row.blake3 == content.blake3) =>
            {
                report.read += 1;
                let row = ContentRow {
                    dump_id: dump.dump_id,
                    path: text,
                    bytes: file.bytes,
                    modified_ns: file.modified_ns,
                    blake3: content.blake3,
                    sha256: content.sha256,
                    taken: before.as_ref().map_or(Some(now), |row| row.taken),
                    checked: Some(now),
                    way: Some(content.way),
                    result: before.as_ref().map(|_| Compared::Same),
                    device_id: Some(device_id),
                };
                let batch = catalogue.batch()?;
                batch.put_measured(&row)?;
                batch.commit()?;
                listed.push(row);
                continue;
            }
            Ok(_) => Finding::new(
                "contents-differ",
                "its contents have changed since they were last hashed",
                "left it out of the list",
            ),
            Err(fault) => Finding::new(
                "read-error",
                format!("at byte {}: {}", fault.offset, fault.error),
                "left it out of the list",
            ),
        };
        report.left_out += 1;
        tell(HashesNews::Odd(&path, &finding));
    }
    report.files = listed.len() as u64;
    write_named(&listed, &dump.root, to, overwrite)?;
    Ok(report)
}
