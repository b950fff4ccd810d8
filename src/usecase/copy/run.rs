//! Copies cards as planned: keeps what is proved, file by file, and tells what is wrong while the card is there.

use std::collections::HashMap;
use std::io::ErrorKind;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::capture::class::FileClass;
use crate::capture::read::FileReader;
use crate::capture::volume::volume_of;
use crate::catalogue::content::ContentRow;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_folder;
use crate::catalogue::proofs::DeviceRow;
use crate::copy::engine::copy_files;
use crate::copy::order::CopyEvent;
use crate::copy::order::CopyOrder;
use crate::copy::order::Fate;
use crate::copy::order::FileDone;
pub use crate::copy::order::ReadTwice;
use crate::copy::order::TargetRoot;
use crate::copy::prepare;
use crate::copy::remove_stale_parts;
use crate::terms::content::Compared;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::finding::Severity;
use crate::terms::finding::finding_code;
use crate::terms::time::Utc;
use crate::usecase::copy::lists::Listed;
use crate::usecase::copy::lists::write_beside;
use crate::usecase::copy::plan::CardPlan;
use crate::usecase::copy::report::CardReport;
use crate::usecase::copy::report::CopyNews;
use crate::usecase::copy::report::TargetReport;
use crate::usecase::copy::report::card_finding;
use crate::usecase::dumps::recognise::recognise;
use crate::usecase::dumps::recognised::Newcomers;

/// Time stamps of FAT are whole even seconds.
pub(super) const FAT_NS: u64 = 2_000_000_000;

/// How a card is copied.
#[derive(Clone, Copy)]
pub struct CopyHow<'a> {
    /// How often a spot of the card is tried.
    pub tries: u32,
    /// Whether the card is read twice.
    pub twice: ReadTwice,
    /// Whether files that are proved already are read back again.
    pub again: Again,
    /// The current time.
    pub now: &'a dyn Fn() -> Utc,
}

/// Whether files that are proved already are read back again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Again {
    /// They are.
    Yes,
    /// They are left as they are.
    No,
}

/// A target while it is copied to.
struct Place {
    dump_id: i64,
    device_id: i64,
    proved: HashMap<String, ContentRow>,
    report: TargetReport,
}

/// Copies one card as planned. What is proved is kept file by file, so that a run that is killed is carried on.
pub fn copy_card(
    catalogue: &mut Catalogue,
    plan: &CardPlan,
    how: &CopyHow<'_>,
    stop: &AtomicBool,
    tell: &mut dyn FnMut(CopyNews<'_>),
) -> Result<CardReport, Failure> {
    let mut places = open_places(catalogue, plan, how)?;
    let mut report = CardReport {
        card: plan.card.clone(),
        files: plan.files.len() as u64,
        bytes: plan.files.iter().map(|file| file.bytes).sum(),
        left: plan.left.len() as u64,
        ..CardReport::default()
    };
    for (path, finding) in &plan.left {
        report.folders_unreadable += u64::from(finding.code == "folder-unreadable");
        report.unread += u64::from(finding.code == "read-error");
        tell(CopyNews::Odd(path, finding));
    }
    let listed = Listed::beside(&plan.card);
    let texts: Vec<String> = plan
        .files
        .iter()
        .map(|file| kept_folder(&file.below).text)
        .collect();
    let targets: Vec<TargetRoot<'_>> = plan
        .targets
        .iter()
        .map(|target| TargetRoot {
            root: &target.root,
            is_device: target.disk.is_device(),
        })
        .collect();
    let proved: Vec<HashMap<String, ContentRow>> = places
        .iter_mut()
        .map(|place| std::mem::take(&mut place.proved))
        .collect();
    let again = how.again;
    let is_proved = |index: usize, at: usize, modified_ns: i64| {
        let file = &plan.files[index];
        again == Again::No
            && proved[at].get(&texts[index]).is_some_and(|row| {
                row.is_verified()
                    && row.sha256.is_some()
                    && row.bytes == file.bytes
                    && row.modified_ns == modified_ns
                    && modified_ns.abs_diff(file.modified_ns) <= FAT_NS
            })
    };
    let mut order = CopyOrder {
        card: &plan.card,
        card_is_device: plan.disk.is_device(),
        files: &plan.files,
        only: &(0..plan.files.len()).collect::<Vec<usize>>(),
        targets: &targets,
        is_proved: &is_proved,
        tries: how.tries,
        twice: how.twice,
    };
    let mut kept: Result<(), Failure> = Ok(());
    let mut reader = FileReader::new();
    let mut failed: Vec<FileDone> = Vec::new();
    let mut settle =
        |done: &FileDone, kept: &mut Result<(), Failure>, tell: &mut dyn FnMut(CopyNews<'_>)| {
            if kept.is_ok() {
                *kept = keep(catalogue, plan, &places, &texts, done, how);
            }
            count(&mut report, &mut places, plan, done, tell);
            if let Some(finding) = done
                .hashes
                .and_then(|h| listed.differing(&texts[done.index], &h))
            {
                report.list_differs += 1;
                let path = plan.card.join(&plan.files[done.index].below);
                tell(CopyNews::Odd(&path, &finding));
            }
            tell_damage(&mut report, &mut reader, plan, done, tell);
        };
    copy_files(&order, stop, &mut |event| match event {
        CopyEvent::File(done) if is_worth_another_try(&done) => failed.push(done),
        CopyEvent::File(done) => settle(&done, &mut kept, tell),
        at @ CopyEvent::At { .. } => tell_how_far(plan, &at, tell),
    });
    // What a target did not take is written again from the beginning, once.
    if !stop.load(Ordering::Relaxed) && !failed.is_empty() {
        let only: Vec<usize> = failed.drain(..).map(|done| done.index).collect();
        order.only = &only;
        copy_files(&order, stop, &mut |event| match event {
            CopyEvent::File(done) => settle(&done, &mut kept, tell),
            at @ CopyEvent::At { .. } => tell_how_far(plan, &at, tell),
        });
    }
    for done in &failed {
        settle(done, &mut kept, tell);
    }
    kept?;
    for (place, target) in places.iter_mut().zip(&plan.targets) {
        if place.report.verified + place.report.copied > 0 {
            place.report.list = Some(write_beside(catalogue, place.dump_id, &target.root)?);
        }
    }
    report.targets = places.into_iter().map(|place| place.report).collect();
    report.stopped = stop.load(Ordering::Relaxed);
    Ok(report)
}

fn tell_how_far(plan: &CardPlan, at: &CopyEvent, tell: &mut dyn FnMut(CopyNews<'_>)) {
    if let CopyEvent::At {
        done,
        of,
        reading,
        reading_back,
    } = at
    {
        let path = |at: &Option<usize>| at.map(|at| plan.files[at].below.as_path());
        tell(CopyNews::At {
            done: *done,
            of: *of,
            reading: path(reading),
            reading_back: path(reading_back),
        });
    }
}

/// Whether a target failed in a way that a second try may mend: not where the disk is full or protected.
fn is_worth_another_try(done: &FileDone) -> bool {
    done.fates.iter().any(|fate| match fate {
        Fate::Differs => true,
        Fate::Failed(error) => !matches!(
            error.kind(),
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::ReadOnlyFilesystem
        ),
        _ => false,
    })
}

/// Makes the targets' folders, removes what killed runs left there, and finds or makes their dumps in the catalogue.
fn open_places(
    catalogue: &mut Catalogue,
    plan: &CardPlan,
    how: &CopyHow<'_>,
) -> Result<Vec<Place>, Failure> {
    for target in &plan.targets {
        prepare(&target.root).map_err(|error| {
            Failure::output("this target cannot be written to")
                .at_file(&target.root)
                .hint("nothing was copied; check its permissions, or choose another folder")
                .because(error)
        })?;
        let mut folders: Vec<&Path> = plan.files.iter().filter_map(|f| f.below.parent()).collect();
        folders.push(Path::new(""));
        folders.sort_unstable();
        folders.dedup();
        for folder in folders {
            remove_stale_parts(&target.root.join(folder));
        }
    }
    let mut asked: Vec<PathBuf> = plan.targets.iter().map(|t| t.root.clone()).collect();
    recognise(catalogue, &mut asked, Newcomers::Recognised)?;
    let now = (how.now)();
    let batch = catalogue.batch()?;
    let mut places = Vec::new();
    for (at, target) in plan.targets.iter().enumerate() {
        let dump = batch.ensure_dump(&target.root, now)?;
        let volume = volume_of(&target.root);
        batch.note_volume(dump.dump_id, &volume)?;
        batch.put_card(dump.dump_id, &plan.card, now)?;
        let device = DeviceRow {
            number: i64::from_ne_bytes(target.disk.device.to_ne_bytes()),
            volume,
        };
        let device_id = batch.ensure_device(&device)?;
        let mut label = dump.label;
        if at == 0
            && let Some(wanted) = &plan.label
            && batch.put_label(dump.dump_id, wanted)?
        {
            label.clone_from(wanted);
        }
        places.push(Place {
            dump_id: dump.dump_id,
            device_id,
            proved: HashMap::new(),
            report: TargetReport {
                root: target.root.clone(),
                label,
                device: Some(device),
                ..TargetReport::default()
            },
        });
    }
    batch.commit()?;
    for place in &mut places {
        for row in catalogue.contents_of_dump(place.dump_id)? {
            if on_this_device(catalogue, &row, place)? {
                place.proved.insert(row.path.clone(), row);
            }
        }
    }
    Ok(places)
}

/// Whether a file was read back on the device that the target is on now.
fn on_this_device(catalogue: &Catalogue, row: &ContentRow, place: &Place) -> Result<bool, Failure> {
    match (row.device_id, &place.report.device) {
        (Some(then), _) if then == place.device_id => Ok(true),
        (Some(then), Some(now)) => Ok(catalogue.device(then)?.is_same(now)),
        _ => Ok(false),
    }
}

/// Keeps what is proved of a file.
fn keep(
    catalogue: &mut Catalogue,
    plan: &CardPlan,
    places: &[Place],
    texts: &[String],
    done: &FileDone,
    how: &CopyHow<'_>,
) -> Result<(), Failure> {
    let Some(hashes) = done.hashes else {
        return Ok(());
    };
    let now = (how.now)();
    let batch = catalogue.batch()?;
    for (place, fate) in places.iter().zip(&done.fates) {
        let (Fate::Written(found) | Fate::There(found)) = fate else {
            continue;
        };
        batch.put_measured(&ContentRow {
            dump_id: place.dump_id,
            path: texts[done.index].clone(),
            bytes: plan.files[done.index].bytes,
            modified_ns: found.modified_ns,
            blake3: hashes.blake3,
            sha256: Some(hashes.sha256),
            taken: Some(now),
            checked: Some(now),
            way: Some(found.way),
            result: Some(Compared::Same),
            device_id: Some(place.device_id),
        })?;
    }
    batch.commit()
}

/// Counts what became of a file, and tells what is wrong.
fn count(
    report: &mut CardReport,
    places: &mut [Place],
    plan: &CardPlan,
    done: &FileDone,
    tell: &mut dyn FnMut(CopyNews<'_>),
) {
    let below = &plan.files[done.index].below;
    if let Some(fault) = &done.fault {
        report.unread += 1;
        let finding = card_finding(fault);
        let path = plan.card.join(below);
        tell(CopyNews::Odd(&path, &finding));
    }
    for (place, fate) in places.iter_mut().zip(&done.fates) {
        let to = &mut place.report;
        let Some(finding) = to.count(&plan.card.join(below), fate) else {
            continue;
        };
        let path = to.root.join(below);
        tell(CopyNews::Odd(&path, &finding));
    }
}

/// Looks whether a picture that was copied is whole, and tells it at once where it is not: the card is still there.
fn tell_damage(
    report: &mut CardReport,
    reader: &mut FileReader,
    plan: &CardPlan,
    done: &FileDone,
    tell: &mut dyn FnMut(CopyNews<'_>),
) {
    let class = plan.classes[done.index];
    if matches!(class, FileClass::PassedOver(_)) {
        return;
    }
    let is_there = |fate: &Fate| matches!(fate, Fate::Written(_) | Fate::There(_) | Fate::Proved);
    let Some(at) = done.fates.iter().position(is_there) else {
        return;
    };
    let file = &plan.files[done.index];
    let copy = plan.targets[at].root.join(&file.below);
    let Ok(Some(reading)) = reader.read(&copy, file.bytes, class) else {
        return;
    };
    let is_damage =
        |f: &&Finding| finding_code(f.code).is_some_and(|row| row.severity == Severity::Damage);
    let path = plan.card.join(&file.below);
    for (at, finding) in reading.findings.iter().filter(is_damage).enumerate() {
        report.damaged += u64::from(at == 0);
        tell(CopyNews::Odd(&path, finding));
    }
}
