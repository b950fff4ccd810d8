//! One file read -> a new frame, another file of a known frame, or a copy. The decisions of an ingest.

use std::ffi::OsStr;
use std::path::Path;

use crate::capture::pair::PressSide;
use crate::capture::pair::merge;
use crate::capture::pair::rank;
use crate::capture::pair::same_press;
use crate::capture::pair::stem_of;
use crate::catalogue::batch::Batch;
use crate::catalogue::file_rows::FileRow;
use crate::catalogue::file_rows::NewFile;
use crate::catalogue::file_rows::PressRow;
use crate::catalogue::names::kept_name;
use crate::terms::basis::Health;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::records::CaptureRecord;
use crate::terms::records::FileReading;
use crate::usecase::statements::wait::await_statements;

/// A file that has been read, on its way into the catalogue.
#[derive(Debug)]
pub struct ReadFile<'a> {
    /// The folder's number.
    pub folder_id: i64,
    /// The folder below the dump's root.
    pub folder: &'a Path,
    /// Its name.
    pub name: &'a OsStr,
    /// Its size.
    pub bytes: u64,
    /// The file system's time stamp.
    pub modified_ns: i64,
    /// What the catalogue knew about it.
    pub before: Before,
    /// The result of reading it.
    pub reading: &'a mut FileReading,
}

/// The outcome for a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ingested {
    /// It is the first file of a new frame.
    NewFrame(i64),
    /// It is another file of the same press of the shutter: a raw file's JPEG.
    Joined(i64),
    /// It repeats the contents of a known file.
    FurtherCopy,
    /// It was known, and its data are unchanged.
    Unchanged,
    /// It was known, and its frame's data have changed.
    Changed(i64),
}

/// What the catalogue knew about a file before it was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Before {
    /// Nothing.
    New,
    /// This file was read, and its size or time has changed since.
    Changed(i64),
    /// Reading this file gave an error of the disk.
    Failed(i64),
}

/// Ingests a file.
///
/// A file that the catalogue knows by its path is updated; a file whose contents it knows is a copy; a file of the same
/// press of the shutter joins that frame; any other begins a frame.
pub fn ingest_file(batch: &mut Batch<'_>, file: &mut ReadFile<'_>) -> Result<Ingested, Failure> {
    // Most files of a night are the first of their second, so no existing frame can be the same press.
    if file.before == Before::New
        && let Some(clock) = file.reading.record.clock_local
        && !batch.has_frame_at(clock)?
    {
        return begin(batch, file);
    }
    let same = batch.file_with_contents(file.reading, file.bytes)?;
    if let Before::Changed(file_id) | Before::Failed(file_id) = file.before
        && let Some(known) = batch.known_file(file_id, file.folder_id)?
    {
        return take_again(batch, file, &known, same);
    }
    match same {
        Some(same) => add_copy(batch, file, &same),
        None => begin_or_join(batch, file),
    }
}

/// Ingests a file that the catalogue knows by its path.
fn take_again(
    batch: &mut Batch<'_>,
    file: &mut ReadFile<'_>,
    known: &FileRow,
    same: Option<FileRow>,
) -> Result<Ingested, Failure> {
    let contents_stand = same.as_ref().is_some_and(|s| {
        s.file_id == known.file_id || (known.copy_of.is_some() && s.frame_id == known.frame_id)
    });
    if contents_stand {
        batch.rewrite_file(known, known.copy_of, new_file(file))?;
        return Ok(Ingested::Unchanged);
    }
    if matches!(file.before, Before::Changed(_)) {
        file.reading.findings.push(Finding::new(
            "changed",
            "its size, time or contents have changed since it was last read",
            "read it again",
        ));
    }
    batch.orphan_copies(known.file_id)?;
    let stem = stem_of(&kept_name(file.name).text);
    if known.files_of_frame == 1
        && same.is_none()
        && press_of(batch, file, &stem, Some(known.frame_id))?.is_none()
    {
        // The frame's only file: the frame keeps its number and its statements.
        let record = file.reading.record.clone();
        let camera = batch.ensure_camera(&record)?;
        batch.rewrite_file(known, None, new_file(file))?;
        batch.rewrite_frame(known.frame_id, camera, known.file_id, &record)?;
        return Ok(Ingested::Changed(known.frame_id));
    }
    // The file now belongs to another frame; the one it leaves keeps its other files, or is removed.
    if known.files_of_frame == 1 {
        let left = known.frame_id;
        if await_statements(batch, &[left])? > 0 {
            file.reading.findings.push(Finding::new(
                "changed",
                format!("it was the only file of frame {left}, of which something is stated, and holds another frame now"),
                "removed that frame; the statements wait for it, and apply when a copy of the former file is ingested",
            ));
        }
        batch.keep_number(left)?;
    }
    batch.detach_file(known)?;
    match same {
        Some(same) => add_copy(batch, file, &same),
        None => begin_or_join(batch, file),
    }
}

fn add_copy(
    batch: &mut Batch<'_>,
    file: &ReadFile<'_>,
    same: &FileRow,
) -> Result<Ingested, Failure> {
    if let Some(print) = file.reading.fingerprint {
        batch.complete_fingerprint(same.file_id, print)?;
    }
    batch.add_file(
        same.frame_id,
        Some(same.copy_of.unwrap_or(same.file_id)),
        new_file(file),
    )?;
    Ok(Ingested::FurtherCopy)
}

/// Joins the frame of the same press of the shutter, or begins a new one.
fn begin_or_join(batch: &mut Batch<'_>, file: &mut ReadFile<'_>) -> Result<Ingested, Failure> {
    let stem = stem_of(&kept_name(file.name).text);
    if let Some(press) = press_of(batch, file, &stem, None)? {
        return join(batch, file, &press);
    }
    begin(batch, file)
}

fn begin(batch: &mut Batch<'_>, file: &ReadFile<'_>) -> Result<Ingested, Failure> {
    let camera = batch.ensure_camera(&file.reading.record)?;
    Ok(Ingested::NewFrame(batch.add_frame(camera, new_file(file))?))
}

/// The frame of the same press of the shutter, if the catalogue has one other than `except`.
fn press_of(
    batch: &Batch<'_>,
    file: &mut ReadFile<'_>,
    stem: &str,
    except: Option<i64>,
) -> Result<Option<PressRow>, Failure> {
    let Some(clock) = file.reading.record.clock_local else {
        return Ok(None);
    };
    let mut differs = None;
    for press in batch.frames_at_press(clock, |name| stem_of(name) == stem)? {
        if Some(press.frame_id) == except {
            continue;
        }
        match relation(file, stem, &press) {
            Relation::Stranger => {}
            Relation::Joins => return Ok(Some(press)),
            Relation::Differs => differs = Some(press.frame_id),
        }
    }
    if let Some(frame_id) = differs {
        file.reading.findings.push(Finding::new(
            "copy-differs",
            format!(
                "the same body, time, name and container as frame {frame_id}, but different \
                     contents"
            ),
            "kept it as a frame of its own",
        ));
    }
    Ok(None)
}

/// The relation of a file to a frame with its stem and second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Relation {
    /// A press of another shutter.
    Stranger,
    /// The same press: its other container, or an undamaged copy of a damaged file.
    Joins,
    /// The same press and container, both undamaged, but different contents.
    Differs,
}

fn relation(file: &ReadFile<'_>, stem: &str, press: &PressRow) -> Relation {
    let record = &file.reading.record;
    let ours = PressSide {
        stem,
        folder: file.folder,
        clock_local: record.clock_local,
        make: record.make.as_deref(),
        model: record.model.as_deref(),
        serial: record.serial.as_deref(),
        format: file.reading.format,
    };
    let [make, model, serial] = &press.body;
    let theirs = PressSide {
        stem,
        folder: file.folder,
        clock_local: press.clock_local,
        make: make.as_deref(),
        model: model.as_deref(),
        serial: serial.as_deref(),
        format: "",
    };
    let Some(twin) = press
        .files
        .iter()
        .find(|other| other.format == file.reading.format)
    else {
        let meets = press.files.iter().any(|other| {
            let theirs = PressSide {
                folder: Path::new(&other.folder),
                format: &other.format,
                ..theirs
            };
            same_press(&ours, &theirs)
        });
        return if meets {
            Relation::Joins
        } else {
            Relation::Stranger
        };
    };
    // Another file of the same container: copies may be in any folder, but body and time must be the same.
    if !same_press(&ours, &theirs) {
        return Relation::Stranger;
    }
    let damaged = |health: Health| matches!(health, Health::Truncated | Health::Unreadable);
    if damaged(twin.health) == damaged(file.reading.health) {
        Relation::Differs
    } else {
        Relation::Joins
    }
}

/// Adds the file to the frame. The best of its files comes first: undamaged before damaged, raw before JPEG.
fn join(
    batch: &mut Batch<'_>,
    file: &mut ReadFile<'_>,
    press: &PressRow,
) -> Result<Ingested, Failure> {
    let file_id = batch.add_file(press.frame_id, None, new_file(file))?;
    let before = batch.frame_record(press.frame_id)?;
    let lead_rank = |format: &str, health: Health| (health != Health::Sound, rank(format));
    let best_before = press
        .files
        .iter()
        .map(|f| lead_rank(&f.format, f.health))
        .min();
    let leads =
        best_before.is_none_or(|best| lead_rank(file.reading.format, file.reading.health) < best);
    let record: CaptureRecord = if leads {
        merge(file.reading.record.clone(), &before)
    } else {
        merge(before.clone(), &file.reading.record)
    };
    if !leads && record == before {
        return Ok(Ingested::Joined(press.frame_id));
    }
    let camera = batch.ensure_camera(&record)?;
    let first = if leads { file_id } else { press.first_file_id };
    batch.rewrite_frame(press.frame_id, camera, first, &record)?;
    Ok(Ingested::Joined(press.frame_id))
}

fn new_file<'f>(file: &'f ReadFile<'_>) -> NewFile<'f> {
    NewFile {
        folder_id: file.folder_id,
        name: file.name,
        bytes: file.bytes,
        modified_ns: file.modified_ns,
        reading: file.reading,
    }
}
