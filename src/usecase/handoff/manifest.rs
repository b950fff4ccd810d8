//! Plan and written lists -> the manifest beside them. Accesses no disk.

use std::collections::HashSet;
use std::io;
use std::io::Write;
use std::ops::Range;
use std::sync::atomic::Ordering;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::handoff::Grouped;
use crate::catalogue::makers::MadeOf;
use crate::catalogue::names::kept_name;
use crate::catalogue::places::FilePlace;
use crate::catalogue::snapshot::Snapshot;
use crate::framelist::FileLines;
use crate::framelist::ListDigest;
use crate::framelist::ManifestFile;
use crate::framelist::ManifestHead;
use crate::framelist::ManifestLeftOut;
use crate::framelist::ManifestList;
use crate::framelist::ManifestOptions;
use crate::framelist::ManifestReference;
use crate::framelist::ManifestWriter;
use crate::framelist::StateValue;
use crate::terms::digits::date_and_time;
use crate::terms::digits::put;
use crate::terms::failure::Failure;
use crate::terms::handoff::Check;
use crate::terms::handoff::Damaged;
use crate::terms::handoff::Lacking;
use crate::terms::handoff::PathsFrom;
use crate::terms::handoff::Take;
use crate::usecase::derive::maker::PROGRAM;
use crate::usecase::derive::maker::editions;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::calibration::Calibration;
use crate::usecase::handoff::calibration::Whose;
use crate::usecase::handoff::calibration_list::CalibrationList;
use crate::usecase::handoff::calibration_note::calibration_notes;
use crate::usecase::handoff::plan::Plan;
use crate::usecase::stretches::each_stretch;

/// Writes the manifest of written lists, given the file name and digest of each in the order of the plan's parts, and
/// of the lists of calibration frames beside them.
pub fn write_manifest(
    still: &mut Snapshot<'_>,
    order: &HandOrder<'_>,
    plan: &Plan,
    lists: &[(String, ListDigest)],
    found: &Calibration,
    serving: &[CalibrationList],
    out: &mut dyn Write,
) -> Result<(), Failure> {
    let unwritable =
        |error: io::Error| Failure::output("the manifest could not be written").because(error);
    let head = ManifestHead {
        program: PROGRAM.to_owned(),
        written_utc: order.now.to_string(),
        query: order.query.to_owned(),
        meaning: order.compiled.tree.to_string(),
        options: options(order),
        catalogue: state(still.catalogue(), plan)?,
        lists: plan
            .parts
            .iter()
            .zip(lists)
            .map(|(part, (file, digest))| ManifestList {
                file: file.clone(),
                serves_as: None,
                session: part.session,
                frames: part.entries.len() as u64,
                digest: digest.clone(),
                reference: part.reference.as_ref().map(|r| ManifestReference {
                    path: r.path.clone(),
                    place: r.place,
                    mid_utc: r.mid_utc.to_string(),
                }),
            })
            .chain(serving.iter().map(|list| ManifestList {
                file: list.file.clone(),
                serves_as: Some(list.kind.word()),
                session: list.session,
                frames: list.frames,
                digest: list.digest.clone(),
                reference: None,
            }))
            .collect(),
        calibration: calibration_notes(still.catalogue(), found)?,
    };
    let mut writer = ManifestWriter::begin(out, &head).map_err(unwritable)?;
    let file_ids = files_of(plan, found);
    let hashes = Hashes::of(still.catalogue(), plan, found)?;
    let make = |catalogue: &Catalogue, rows: Range<usize>, room: Vec<u8>| {
        let mut lines = FileLines::behind(rows.start as u64, room);
        each_told(catalogue, &hashes, &file_ids[rows], &mut |file| {
            lines.file(&file);
            Ok(true)
        })?;
        Ok(lines.into_bytes())
    };
    each_stretch(still, file_ids.len(), order.stop, &make, &mut |lines| {
        writer.files(lines).map_err(unwritable)
    })?;
    writer.end_files().map_err(unwritable)?;
    let mut places = still.catalogue().places();
    for left in &plan.left_out {
        let file = places.file(left.file_id)?;
        let finding = left.finding(plan);
        let left_out = ManifestLeftOut {
            path: kept_name(file.path().as_os_str()).text,
            dump: file.folder.dump.label.clone(),
            code: finding.code.to_owned(),
            saw: finding.saw,
        };
        writer.left_out(&left_out).map_err(unwritable)?;
    }
    writer.finish().map_err(unwritable)
}

/// Passes every file of the plan to `each`, as in a manifest, followed by the calibration files that are not among
/// them.
pub(super) fn each_file(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    plan: &Plan,
    found: &Calibration,
    each: &mut dyn FnMut(ManifestFile) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let hashes = Hashes::of(catalogue, plan, found)?;
    let file_ids = files_of(plan, found);
    each_told(catalogue, &hashes, &file_ids, &mut |file| {
        each(file)?;
        Ok(!order.stop.load(Ordering::Relaxed))
    })
}

/// The numbers of the files of a plan, followed by those of calibration files that are not among them.
fn files_of(plan: &Plan, found: &Calibration) -> Vec<i64> {
    let mut file_ids: Vec<i64> = plan.entries.iter().map(|entry| entry.file_id).collect();
    if !found.sets.is_empty() {
        let listed: HashSet<i64> = file_ids.iter().copied().collect();
        let serving = found
            .kinds
            .iter()
            .flat_map(|kind| found.files_of(*kind, Whose::All))
            .map(|frame| frame.file_id)
            .filter(|file_id| !listed.contains(file_id));
        file_ids.extend(serving);
    }
    file_ids
}

/// Where the hashes of files are looked up.
struct Hashes<'h> {
    plan: &'h Plan,
    found: &'h Calibration,
    /// Whether the catalogue has any.
    any_kept: bool,
}

impl<'h> Hashes<'h> {
    fn of(catalogue: &Catalogue, plan: &'h Plan, found: &'h Calibration) -> Result<Self, Failure> {
        Ok(Self {
            plan,
            found,
            any_kept: catalogue.knows_contents()?,
        })
    }

    fn hash(&self, catalogue: &Catalogue, file_id: i64) -> Result<Option<[u8; 32]>, Failure> {
        let taken = self.plan.hashes.get(&file_id);
        match taken.or(self.found.hashes.get(&file_id)) {
            Some(hash) => Ok(Some(*hash)),
            None if self.any_kept => catalogue.content_of(file_id),
            None => Ok(None),
        }
    }
}

/// Passes files to `each`, as in a manifest. `each` may stop the run by returning `false`.
fn each_told(
    catalogue: &Catalogue,
    hashes: &Hashes<'_>,
    file_ids: &[i64],
    each: &mut dyn FnMut(ManifestFile) -> Result<bool, Failure>,
) -> Result<(), Failure> {
    let ids = file_ids.iter().copied();
    catalogue.places().each_file(ids, |file| {
        each(told(&file, hashes.hash(catalogue, file.file_id)?))
    })
}

fn told(file: &FilePlace, blake3: Option<[u8; 32]>) -> ManifestFile {
    ManifestFile {
        path: kept_name(file.path().as_os_str()).text,
        dump: file.folder.dump.label.clone(),
        bytes: file.bytes,
        modified_utc: to_the_nanosecond(file.modified_ns),
        fingerprint: file.fingerprint,
        blake3,
    }
}

/// A file system's time stamp with all nine digits.
fn to_the_nanosecond(ns: i64) -> String {
    // Every instant of an `i64` is before the year 2263.
    let to_the_second = date_and_time(ns.div_euclid(1_000_000_000)).unwrap_or_default();
    let mut text = *b"0000-00-00T00:00:00.000000000Z";
    text[..19].copy_from_slice(&to_the_second);
    put(&mut text[20..29], ns.rem_euclid(1_000_000_000));
    String::from_utf8_lossy(&text).into_owned()
}

/// The state of the catalogue, by the names that a manifest gives its parts, with the makers of the rows of a plan's frames.
pub(super) fn state(
    catalogue: &Catalogue,
    plan: &Plan,
) -> Result<Vec<(&'static str, StateValue)>, Failure> {
    let number = |n: Option<i64>| n.map_or(StateValue::Null, StateValue::from);
    let text = |t: Option<&str>| t.map_or(StateValue::Null, StateValue::from);
    let state = catalogue.state()?;
    let frames: Vec<i64> = plan.entries.iter().map(|entry| entry.frame_id).collect();
    let makers = catalogue.makers_of(MadeOf::Frames(&frames))?;
    let signed: Vec<String> = makers.iter().map(ToString::to_string).collect();
    let [file, session, fix, zone] = state.newest;
    Ok(vec![
        ("schema", StateValue::from(state.schema)),
        ("shower_table", text(editions(&makers).as_deref())),
        ("derived_by", StateValue::from(signed)),
        (
            "latest_ingest_utc",
            text(state.latest_ingest_utc.as_deref()),
        ),
        ("newest_file", number(file)),
        ("newest_session", number(session)),
        ("newest_clock_fix", number(fix)),
        ("newest_clock_zone", number(zone)),
    ])
}

fn options(order: &HandOrder<'_>) -> ManifestOptions {
    let (paths, root) = match order.paths {
        PathsFrom::Absolute => ("absolute", None),
        PathsFrom::List(_) => ("relative", None),
        PathsFrom::Root(root) => ("root", Some(kept_name(root.as_os_str()).text)),
    };
    ManifestOptions {
        form: order.format.word().to_owned(),
        take: match order.take {
            Take::First => None,
            Take::Raw => Some("raw".to_owned()),
            Take::Jpeg => Some("jpeg".to_owned()),
        },
        paths: paths.to_owned(),
        root,
        per_session: order.grouped == Grouped::BySession,
        reference: order.reference.map(str::to_owned),
        show: order.show_words.map(str::to_owned),
        limit: order.limit,
        calibration: order
            .calibration
            .iter()
            .map(|kind| kind.word().to_owned())
            .collect(),
        check: match order.check {
            Check::Files => "files",
            Check::Content => "content",
            Check::Nothing => "none",
        }
        .to_owned(),
        allow_missing: order.lacking == Lacking::LeftOut,
        with_damaged: order.damaged == Damaged::HandedOn,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_stamp_keeps_its_nanoseconds() {
        for (ns, text) in [
            (1_702_512_727_250_123_456, "2023-12-14T00:12:07.250123456Z"),
            (0, "1970-01-01T00:00:00.000000000Z"),
            (-1, "1969-12-31T23:59:59.999999999Z"),
        ] {
            assert_eq!(to_the_nanosecond(ns), text);
        }
    }
}
