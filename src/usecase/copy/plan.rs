//! Which cards to which targets. Everything that can be asked before the first byte is asked here; nothing is written.

use std::collections::BTreeMap;
use std::path::Path;
use std::path::PathBuf;

use crate::capture::class::FileClass;
use crate::capture::disk::Disk;
use crate::capture::walk::Trash;
use crate::capture::walk::Walked;
use crate::capture::walk::walk_telling;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::within::refuse_catalogue_in;
use crate::copy::names::unfit;
use crate::copy::order::CardFile;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::plural::counted;
use crate::usecase::copy::targets::refuse_strange;
use crate::usecase::copy::targets::resolve;
use crate::usecase::dumps::manage::dump_root;
use crate::usecase::shortage::ran_short;

/// How many names a refusal lists.
const LISTED: usize = 5;

/// Room that is left beside the files: folders, and the lists of hashes.
const SPARE: u64 = 1 << 20;

/// What was asked for.
#[derive(Clone, Copy, Debug)]
pub struct CopyRequest<'a> {
    /// The cards.
    pub cards: &'a [PathBuf],
    /// The folders to copy them to.
    pub to: &'a [PathBuf],
    /// The labels of their dumps, in the order of the cards; none, or one for each.
    pub labels: &'a [String],
}

/// A card and where it is copied to.
#[derive(Debug)]
pub struct CardPlan {
    /// The card's root.
    pub card: PathBuf,
    /// The label that was asked for.
    pub label: Option<String>,
    /// The disk it is on.
    pub disk: Disk,
    /// Every file of it, in the order of the walk.
    pub files: Vec<CardFile>,
    /// What each file may be.
    pub classes: Vec<FileClass>,
    /// What is not copied, and why.
    pub left: Vec<(PathBuf, Finding)>,
    /// The folders that stand for its root.
    pub targets: Vec<TargetPlan>,
}

/// One of them.
#[derive(Debug)]
pub struct TargetPlan {
    /// The folder; it may not be there yet.
    pub root: PathBuf,
    /// The disk it is on.
    pub disk: Disk,
}

/// Plans a copy.
///
/// Refuses: a card that is no folder; targets in cards or in other dumps; names that a target cannot hold; targets without
/// room for what they lack; a label that another dump has.
pub fn plan(catalogue: &Catalogue, request: &CopyRequest<'_>) -> Result<Vec<CardPlan>, Failure> {
    let cards: Vec<PathBuf> = request
        .cards
        .iter()
        .map(|card| dump_root(card))
        .collect::<Result<_, _>>()?;
    let labels = labels(request, &cards)?;
    let mut seen: Vec<PathBuf> = Vec::new();
    let mut plans = Vec::new();
    for (card, label) in cards.iter().zip(labels) {
        let mut plan = list(card)?;
        for to in request.to {
            let base = resolve(to)?;
            let root = match &label {
                Some(label) if cards.len() > 1 => base.join(label),
                _ => base,
            };
            if seen.contains(&root) {
                return Err(Failure::words("this target is named twice")
                    .at_file(&root)
                    .hint("two copies need two folders, better on two disks"));
            }
            seen.push(root.clone());
            let files = plan.files.iter().map(|file| file.below.as_path());
            refuse_strange(catalogue, &root, &cards, files)?;
            refuse_catalogue_in(catalogue.path(), std::slice::from_ref(&root))?;
            let disk = disk_of(&root)?;
            refuse_names(&disk, &root, &plan.files)?;
            plan.targets.push(TargetPlan { root, disk });
        }
        plan.label = label.filter(|_| !request.labels.is_empty());
        refuse_label(catalogue, &plan)?;
        plans.push(plan);
    }
    refuse_small(&plans)?;
    Ok(plans)
}

/// The label of each card: as it was asked for; with several cards else the name of its folder.
fn labels(request: &CopyRequest<'_>, cards: &[PathBuf]) -> Result<Vec<Option<String>>, Failure> {
    let refuse = |why: String, hint: &str| Err(Failure::words(why).hint(hint));
    let several = cards.len() > 1;
    if !request.labels.is_empty() && request.labels.len() != cards.len() {
        return refuse(
            format!(
                "{} for {}",
                counted(request.labels.len() as u64, "label"),
                counted(cards.len() as u64, "card")
            ),
            "give --label once for each card, in their order",
        );
    }
    let mut labels: Vec<Option<String>> = Vec::new();
    for (at, card) in cards.iter().enumerate() {
        let label = match request.labels.get(at) {
            Some(label) => Some(label.trim().to_owned()),
            None if several => card
                .file_name()
                .map(|name| name.to_string_lossy().into_owned()),
            None => None,
        };
        let is_name = |label: &String| {
            !label.is_empty()
                && !label.contains(['/', '\\'])
                && !label.chars().any(char::is_control)
                && label != "."
                && label != ".."
        };
        if several && label.is_none() || label.as_ref().is_some_and(|label| !is_name(label)) {
            return refuse(
                format!(
                    "{} needs a label that can be a folder's name",
                    card.display()
                ),
                "give one with --label",
            );
        }
        let alike = |other: &Option<String>| {
            let small = |label: &Option<String>| label.as_ref().map(|label| label.to_lowercase());
            label.is_some() && small(other) == small(&label)
        };
        if labels.iter().any(alike) {
            return refuse(
                format!(
                    "two cards would have the label {}",
                    label.unwrap_or_default()
                ),
                "give --label once for each card, in their order",
            );
        }
        labels.push(label);
    }
    Ok(labels)
}

/// Refuses a label of a dump that is not at one of the targets.
fn refuse_label(catalogue: &Catalogue, plan: &CardPlan) -> Result<(), Failure> {
    let Some(label) = &plan.label else {
        return Ok(());
    };
    let small = label.to_lowercase();
    let taken = catalogue
        .dumps()?
        .into_iter()
        .find(|dump| dump.label.to_lowercase() == small)
        .filter(|dump| plan.targets.iter().all(|target| target.root != dump.root));
    match taken {
        None => Ok(()),
        Some(dump) => Err(
            Failure::words(format!("another dump has the label {label}"))
                .at_file(dump.place())
                .hint("choose another label; framefall dump list shows those there are"),
        ),
    }
}

/// Lists a card. Links, pipes and folders of deleted files are named and left.
fn list(card: &Path) -> Result<CardPlan, Failure> {
    let mut plan = CardPlan {
        card: card.to_path_buf(),
        label: None,
        disk: disk_of(card)?,
        files: Vec::new(),
        classes: Vec::new(),
        left: Vec::new(),
        targets: Vec::new(),
    };
    for step in walk_telling(card, Trash::All) {
        match step.map_err(|error| ran_short(card, error))? {
            Walked::File(file) => {
                plan.files.push(CardFile {
                    below: file.folder.join(&file.name),
                    bytes: file.bytes,
                    modified_ns: file.modified_ns,
                });
                plan.classes.push(file.class);
            }
            Walked::Odd { path, finding } => plan.left.push((card.join(path), finding)),
        }
    }
    Ok(plan)
}

fn disk_of(folder: &Path) -> Result<Disk, Failure> {
    Disk::of(folder).map_err(|error| {
        Failure::output("this folder's disk cannot be asked")
            .at_file(folder)
            .because(error)
    })
}

fn refuse_names(disk: &Disk, root: &Path, files: &[CardFile]) -> Result<(), Failure> {
    let named = files.iter().map(|file| (file.below.as_path(), file.bytes));
    let wrong = unfit(disk, named);
    if wrong.is_empty() {
        return Ok(());
    }
    let listed: Vec<String> = wrong
        .iter()
        .take(LISTED)
        .map(|one| format!("{} ({})", one.below.display(), one.why))
        .collect();
    let more = match wrong.len().saturating_sub(LISTED) {
        0 => String::new(),
        more => format!(", and {more} more"),
    };
    Err(Failure::output(format!(
        "this target cannot hold {} of the card's files: {}{more}",
        wrong.len(),
        listed.join(", ")
    ))
    .at_file(root)
    .hint("nothing was written; choose a target with another file system"))
}

/// Refuses targets whose disks have no room for what they lack. Two targets on one disk need room for both.
fn refuse_small(plans: &[CardPlan]) -> Result<(), Failure> {
    let mut needs: BTreeMap<u64, (u64, &TargetPlan)> = BTreeMap::new();
    for plan in plans {
        for target in &plan.targets {
            let lacking = plan
                .files
                .iter()
                .filter(|file| target.root.join(&file.below).symlink_metadata().is_err());
            let bytes: u64 = lacking.map(|file| target.disk.space_of(file.bytes)).sum();
            needs.entry(target.disk.device).or_insert((0, target)).0 += bytes;
        }
    }
    for (needed, target) in needs.into_values() {
        if needed > 0 && needed.saturating_add(SPARE) > target.disk.free {
            let megabytes = |bytes: u64| format!("{:.1} MB", bytes as f64 / 1e6);
            return Err(Failure::output(format!(
                "the disk has no room for the copy: {} are needed, {} are free",
                megabytes(needed + SPARE),
                megabytes(target.disk.free)
            ))
            .at_file(&target.root)
            .hint("nothing was written; make room, or choose another disk"));
        }
    }
    Ok(())
}
