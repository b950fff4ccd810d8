//! Folders that may be copied to: outside every card, and outside every dump that framefall did not make by copying.

use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::within::holder_of;
use crate::terms::failure::Failure;

/// A target's folder by its one true name, though it may not be there yet.
///
/// Refuses: what is no folder.
pub(super) fn resolve(named: &Path) -> Result<PathBuf, Failure> {
    let refuse = |why: &str| Failure::output(why).at_file(named);
    if named.exists() && !named.is_dir() {
        return Err(refuse("a target must be a folder, and this is a file"));
    }
    let whole = std::path::absolute(named)
        .map_err(|error| refuse("the target cannot be named").because(error))?;
    let mut lacking = Vec::new();
    let mut at = whole.as_path();
    loop {
        if let Ok(there) = at.canonicalize() {
            let mut place = there;
            place.extend(lacking.iter().rev());
            return Ok(place);
        }
        match (at.file_name(), at.parent()) {
            (Some(name), Some(above)) => {
                lacking.push(name);
                at = above;
            }
            _ => return Err(refuse("there is no such folder").hint("make it first")),
        }
    }
}

/// Refuses a target that is in a card or around one, or in a dump other than one that framefall made there by copying.
///
/// Takes: the target's true path; the cards of the same command; the paths below the target that will be written.
pub(super) fn refuse_strange<'a>(
    catalogue: &Catalogue,
    target: &Path,
    cards: &[PathBuf],
    files: impl Iterator<Item = &'a Path>,
) -> Result<(), Failure> {
    let refuse = |why: String| {
        Err(Failure::output(why)
            .at_file(target)
            .hint("name a folder outside every card and every dump"))
    };
    if let Some(card) = holder_of(target, cards) {
        return refuse(format!("the target is in the card {}", card.display()));
    }
    let targets = [target.to_path_buf()];
    if let Some(card) = cards
        .iter()
        .find(|card| holder_of(card, &targets).is_some())
    {
        return refuse(format!("the card {} is in the target", card.display()));
    }
    let mut below = Vec::new();
    for dump in catalogue.dumps()? {
        if dump.left.is_some()
            || (dump.root == target && !catalogue.cards_of(dump.dump_id)?.is_empty())
        {
            continue;
        }
        if holder_of(target, std::slice::from_ref(&dump.root)).is_some() {
            let label = &dump.label;
            return refuse(format!(
                "the target is in dump {label}, and a dump is never written to"
            ));
        }
        if let Ok(inside) = dump.root.strip_prefix(target) {
            below.push((inside.to_path_buf(), dump.label));
        }
    }
    for file in files {
        if let Some((_, label)) = below.iter().find(|(inside, _)| file.starts_with(inside)) {
            return refuse(format!(
                "{} would be written into dump {label}, and a dump is never written to",
                file.display()
            ));
        }
    }
    Ok(())
}
