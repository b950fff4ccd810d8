//! A folder that is new to the catalogue, and whether it is a known dump that has moved there: a few of its files are looked
//! up by their contents, then the dump's own files are looked for. Where it is in doubt nothing is moved.

use std::collections::HashSet;
use std::path::Path;
use std::path::PathBuf;

use crate::capture::glance::glance;
use crate::capture::one::read_one;
use crate::capture::presence::Root;
use crate::capture::presence::look_at_root;
use crate::capture::volume::same_folder;
use crate::capture::volume::volume_of;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::open::Catalogue;
use crate::pipeline::dumps::claimed;
use crate::pipeline::dumps::put_root;
use crate::pipeline::likeness::below_root;
use crate::pipeline::likeness::look_for;
use crate::terms::failure::Failure;

/// How many files that the catalogue does not know are read before it is left at that.
const STRANGERS: usize = 8;

/// How many folders are looked into.
const FOLDERS: usize = 256;

/// How deep.
const DEPTH: usize = 12;

/// What was made of a folder that is new to the catalogue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Recognised {
    /// A known dump has moved there; the catalogue has its root there now.
    Moved {
        /// The dump's label.
        label: String,
        /// Where it was.
        from: PathBuf,
        /// Where it is.
        to: PathBuf,
    },
    /// It is the root of a known dump by another name, and is read by that.
    Same {
        /// The dump's label.
        label: String,
        /// The root that the catalogue knows.
        root: PathBuf,
        /// The other name.
        named: PathBuf,
    },
    /// It may be a known dump that has moved; it is taken as new.
    Doubtful {
        /// The folder.
        place: PathBuf,
        /// The dumps it may be.
        labels: Vec<String>,
        /// Why that cannot be told.
        why: String,
    },
}

/// A dump that may lie in a folder now.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Hit {
    dump: DumpPlace,
    place: PathBuf,
}

/// Recognises known dumps in folders that are to be ingested, and moves their roots there. A folder that turns out to be a
/// known root by another name is exchanged for that root.
///
/// Costs nothing for a folder within a known dump; for another, a glance into some folders and the reading of a few files,
/// whatever number of dumps the catalogue knows.
pub fn recognise(
    catalogue: &mut Catalogue,
    asked: &mut [PathBuf],
) -> Result<Vec<Recognised>, Failure> {
    let known: HashSet<PathBuf> = catalogue.dump_roots()?.into_iter().collect();
    let is_new = |at: &Path| !at.ancestors().any(|above| known.contains(above));
    if known.is_empty() || !asked.iter().any(|at| is_new(at)) {
        return Ok(Vec::new());
    }
    let mut seeker = Seeker {
        catalogue,
        known: &known,
        strangers: STRANGERS,
        folders: FOLDERS,
        hits: Vec::new(),
    };
    for at in asked.iter().filter(|at| is_new(at)) {
        seeker.strangers = STRANGERS;
        seeker.folders = FOLDERS;
        seeker.visit(at, 0)?;
    }
    let hits = seeker.hits;
    let mut told = Vec::new();
    let mut moved: Vec<Hit> = Vec::new();
    for hit in hits {
        match look_at_root(&hit.dump.root) {
            Root::Filled => told.extend(by_another_name(&hit, asked)),
            Root::Shut(error) => {
                let why = format!(
                    "{} cannot be looked into ({error})",
                    hit.dump.root.display()
                );
                told.push(doubtful(&hit.place, &[&hit], why));
            }
            Root::Empty | Root::Gone => {
                if look_for(catalogue, &hit.dump, &hit.place)?.is_whole() {
                    moved.push(hit);
                }
            }
        }
    }
    settle(catalogue, &moved, &mut told)?;
    Ok(told)
}

/// Moves the dumps of which it is plain that they have moved.
fn settle(
    catalogue: &mut Catalogue,
    moved: &[Hit],
    told: &mut Vec<Recognised>,
) -> Result<(), Failure> {
    let mut places: Vec<&PathBuf> = moved.iter().map(|hit| &hit.place).collect();
    places.sort_unstable();
    places.dedup();
    for place in places {
        let may_be: Vec<&Hit> = moved.iter().filter(|hit| hit.place == *place).collect();
        let volume = volume_of(place);
        let by_volume: Vec<&Hit> = may_be
            .iter()
            .filter(|hit| {
                let known = &hit.dump.volume;
                known.id.is_some() && (&known.id, &known.below) == (&volume.id, &volume.below)
            })
            .copied()
            .collect();
        let hit = match (may_be.as_slice(), by_volume.as_slice()) {
            ([one], _) | (_, [one]) => *one,
            _ => {
                let why = "its files are those of more than one dump that is not there".to_owned();
                told.push(doubtful(place, &may_be, why));
                continue;
            }
        };
        let elsewhere = moved
            .iter()
            .find(|other| other.dump.dump_id == hit.dump.dump_id && other.place != hit.place);
        if let Some(other) = elsewhere {
            let why = format!("it could as well be {}", other.place.display());
            told.push(doubtful(place, &[hit], why));
            continue;
        }
        if let Some(claim) = claimed(catalogue, &hit.dump, place)? {
            told.push(doubtful(place, &[hit], claim));
            continue;
        }
        put_root(catalogue, hit.dump.dump_id, place)?;
        told.push(Recognised::Moved {
            label: hit.dump.label.clone(),
            from: hit.dump.root.clone(),
            to: place.clone(),
        });
    }
    Ok(())
}

fn doubtful(place: &Path, hits: &[&Hit], why: String) -> Recognised {
    Recognised::Doubtful {
        place: place.to_path_buf(),
        labels: hits.iter().map(|hit| hit.dump.label.clone()).collect(),
        why,
    }
}

/// Exchanges folders for the root of a dump that they are another name of: one folder is no second copy of itself.
fn by_another_name(hit: &Hit, asked: &mut [PathBuf]) -> Option<Recognised> {
    if !same_folder(&hit.dump.root, &hit.place) {
        return None;
    }
    let mut exchanged = false;
    for at in asked {
        if let Ok(below) = at.strip_prefix(&hit.place) {
            // Joining nothing would leave a slash at the end.
            *at = hit.dump.root.join(below).components().collect();
            exchanged = true;
        }
    }
    exchanged.then(|| Recognised::Same {
        label: hit.dump.label.clone(),
        root: hit.dump.root.clone(),
        named: hit.place.clone(),
    })
}

/// Looks up a few files of a folder by their contents.
struct Seeker<'s> {
    catalogue: &'s Catalogue,
    known: &'s HashSet<PathBuf>,
    strangers: usize,
    folders: usize,
    hits: Vec<Hit>,
}

impl Seeker<'_> {
    fn visit(&mut self, folder: &Path, depth: usize) -> Result<(), Failure> {
        if self.known.contains(folder) || self.folders == 0 || depth > DEPTH {
            return Ok(());
        }
        self.folders -= 1;
        // What cannot be listed the walk tells of.
        let Ok(seen) = glance(folder) else {
            return Ok(());
        };
        for name in seen.pictures {
            if self.strangers == 0 {
                return Ok(());
            }
            let before = self.hits.len();
            self.look_up(&folder.join(name))?;
            if self.hits.len() > before {
                break;
            }
            self.strangers -= 1;
        }
        for name in seen.folders {
            // The rest of a dump belongs to it.
            if self.hits.iter().any(|hit| folder.starts_with(&hit.place)) {
                return Ok(());
            }
            self.visit(&folder.join(name), depth + 1)?;
        }
        Ok(())
    }

    /// Adds the dumps that have a file of these contents at such a path.
    fn look_up(&mut self, path: &Path) -> Result<(), Failure> {
        let (Ok(Some(reading)), Ok(about)) = (read_one(path), path.symlink_metadata()) else {
            return Ok(());
        };
        let mut places = self.catalogue.places();
        for file_id in self.catalogue.files_with_contents(&reading, about.len())? {
            let file = places.file(file_id)?;
            let below = below_root(&file);
            let depth = below.components().count();
            let Some(place) = path
                .ends_with(&below)
                .then(|| path.ancestors().nth(depth))
                .flatten()
            else {
                continue;
            };
            let hit = Hit {
                dump: (*file.folder.dump).clone(),
                place: place.to_path_buf(),
            };
            if !self.hits.contains(&hit) {
                self.hits.push(hit);
            }
        }
        Ok(())
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use crate::terms::volume::Volume;

    /// As when one disk is mounted at two places.
    #[test]
    fn a_known_root_by_another_name_is_read_as_what_it_is() {
        let world = tempfile::tempdir().unwrap();
        let at = |below: &str| world.path().join(below);
        std::fs::create_dir_all(at("disk/card/DCIM")).unwrap();
        std::os::unix::fs::symlink(at("disk"), at("again")).unwrap();
        let hit = Hit {
            dump: DumpPlace {
                dump_id: 1,
                label: "card".into(),
                root: at("disk/card"),
                volume: Volume::default(),
                first_seen_utc: String::new(),
                last_seen_utc: String::new(),
            },
            place: at("again/card"),
        };
        let mut asked = [at("again/card"), at("again/card/DCIM"), at("other")];
        let told = by_another_name(&hit, &mut asked);
        assert_eq!(asked, [at("disk/card"), at("disk/card/DCIM"), at("other")]);
        assert!(matches!(told, Some(Recognised::Same { named, .. }) if named == at("again/card")));
        let hit = Hit {
            place: at("disk"),
            ..hit
        };
        assert_eq!(by_another_name(&hit, &mut asked), None);
    }
}
