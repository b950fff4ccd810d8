//! Whether a place is inside a folder, by whatever names the two are reached: links, `..`, bind mounts. The one place of
//! this decision, for catalogues and for everything else that is written. Looks at folders and writes nothing.

use std::path::Path;
use std::path::PathBuf;

use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;

/// How many links in a row are followed; Linux stops at as many (`path_resolution(7)`).
const MOST_LINKS: usize = 40;

/// The file that is read and written under this name: at the end of its links, whether it is there yet or not.
pub fn linked_file(named: &Path) -> PathBuf {
    let mut path = named.to_path_buf();
    for _ in 0..MOST_LINKS {
        let Ok(to) = path.read_link() else { break };
        // An absolute target takes the place of the folder.
        path = folder_of(&path).join(to);
    }
    match (path.canonicalize(), path.file_name()) {
        (Ok(path), _) => path,
        (Err(_), Some(name)) => match folder_of(&path).canonicalize() {
            Ok(folder) => folder.join(name),
            Err(_) => path,
        },
        _ => path,
    }
}

/// The first of these folders that a place is inside of, or that it is.
///
/// Takes: a place that may not be there yet; then the nearest folder above it counts that is.
pub fn holder_of<'f>(place: &Path, folders: &'f [PathBuf]) -> Option<&'f Path> {
    let there = nearest(place)?;
    let above: Vec<_> = there.ancestors().filter_map(number_of).collect();
    let on_disk = place_on_disk(&there);
    let holds = |folder: &Path| {
        let Ok(folder) = folder.canonicalize() else {
            // Nothing is there now. A path that leads through it would lead into it.
            return there.starts_with(folder);
        };
        there.starts_with(&folder)
            || number_of(&folder).is_some_and(|number| above.contains(&number))
            // Mounting a folder inside the dump at a second place leaves the dump's own root out of the path.
            || match (&on_disk, place_on_disk(&folder)) {
                (Some((disk, place)), Some((of, folder))) => *disk == of && place.starts_with(folder),
                _ => false,
            }
    };
    folders
        .iter()
        .map(PathBuf::as_path)
        .find(|folder| holds(folder))
}

/// Refuses a catalogue that is, or would be, inside a dump.
pub fn refuse_catalogue_in(catalogue: &Path, dumps: &[PathBuf]) -> Result<(), Failure> {
    match holder_of(&linked_file(catalogue), dumps) {
        None => Ok(()),
        Some(dump) => Err(Failure::new(
            FailureKind::Catalogue,
            format!(
                "the catalogue lies in this card dump, and those are never written to: {}",
                dump.display()
            ),
        )
        .at_file(catalogue)
        .hint(
            "name a catalogue outside every dump with --catalogue, or name dumps that it does not lie in; a catalogue that \
             was put into a dump can be moved out of it",
        )),
    }
}

/// The nearest place on the way up from here that is there, free of links.
fn nearest(place: &Path) -> Option<PathBuf> {
    place.ancestors().find_map(|at| {
        let at = Some(at).filter(|at| !at.as_os_str().is_empty());
        at.unwrap_or(Path::new(".")).canonicalize().ok()
    })
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Device and inode: two names with the same are of one folder.
#[cfg(unix)]
fn number_of(path: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    let about = path.symlink_metadata().ok()?;
    Some((about.dev(), about.ino()))
}

/// Elsewhere than on Unix the true path alone decides.
#[cfg(not(unix))]
const fn number_of(_: &Path) -> Option<(u64, u64)> {
    None
}

/// The device that a path is on, and where it is below the root of the file system there.
#[cfg(target_os = "linux")]
fn place_on_disk(path: &Path) -> Option<((u32, u32), PathBuf)> {
    use crate::terms::mountinfo::mount_of;
    let device = number_of(path).map(|(dev, _)| (rustix::fs::major(dev), rustix::fs::minor(dev)));
    let mount = mount_of(&std::fs::read("/proc/self/mountinfo").ok()?, path, device)?;
    Some((mount.device, mount.below(path)?))
}

/// Elsewhere than on Linux no folder is at two places by mounting alone.
#[cfg(not(target_os = "linux"))]
const fn place_on_disk(_: &Path) -> Option<((u32, u32), PathBuf)> {
    None
}
