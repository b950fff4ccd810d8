//! Whether a path is inside a folder, by whatever names the two are reached: links, `..`, bind mounts. The only place
//! for this decision, for catalogues and all other output. Reads folders and writes nothing.

use std::path::Path;
use std::path::PathBuf;

use crate::terms::failure::Failure;

/// How many links in a row are followed; Linux has the same limit (`path_resolution(7)`).
const MOST_LINKS: usize = 40;

/// The file that is read and written under this name: at the end of its links, whether it exists yet or not.
pub fn linked_file(named: &Path) -> PathBuf {
    let mut path = named.to_path_buf();
    for _ in 0..MOST_LINKS {
        let Ok(to) = path.read_link() else { break };
        // An absolute target replaces the folder.
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

/// The first of these folders that contains a path, or is that path.
///
/// Takes: a path that may not exist yet; then the nearest existing folder above it counts.
pub fn holder_of<'f>(place: &Path, folders: &'f [PathBuf]) -> Option<&'f Path> {
    let there = nearest(place)?;
    let above: Vec<_> = there.ancestors().filter_map(number_of).collect();
    let on_disk = place_on_disk(&there);
    let holds = |folder: &Path| {
        let Ok(folder) = folder.canonicalize() else {
            // The folder does not exist now. A path through it would lead into it.
            return there.starts_with(folder);
        };
        there.starts_with(&folder)
            || number_of(&folder).is_some_and(|number| above.contains(&number))
            // If a folder inside the dump is mounted at a second place, the dump's own root is not in the path.
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
        Some(dump) => Err(Failure::catalogue(format!(
            "the catalogue is inside a card dump, and framefall never writes there: {}",
            dump.display()
        ))
        .at_file(catalogue)
        .hint(
            "name a catalogue outside every dump with --catalogue, or name dumps that do not \
             contain it; you can move a catalogue out of a dump",
        )),
    }
}

/// The nearest existing folder upwards from here, without links.
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

/// Device and inode: two names with the same numbers are one folder.
#[cfg(unix)]
fn number_of(path: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    let about = path.symlink_metadata().ok()?;
    Some((about.dev(), about.ino()))
}

/// Outside Unix only the resolved path is compared.
#[cfg(not(unix))]
const fn number_of(_: &Path) -> Option<(u64, u64)> {
    None
}

/// The device of a path, and the path below the root of its file system.
#[cfg(target_os = "linux")]
fn place_on_disk(path: &Path) -> Option<((u32, u32), PathBuf)> {
    use crate::terms::mountinfo::mount_of;
    let device = number_of(path).map(|(dev, _)| (rustix::fs::major(dev), rustix::fs::minor(dev)));
    let mount = mount_of(&std::fs::read("/proc/self/mountinfo").ok()?, path, device)?;
    Some((mount.device, mount.below(path)?))
}

/// Outside Linux no folder is mounted at two places.
#[cfg(not(target_os = "linux"))]
const fn place_on_disk(_: &Path) -> Option<((u32, u32), PathBuf)> {
    None
}
