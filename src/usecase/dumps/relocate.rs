//! Looks up a few pictures of a folder by their contents, spread over its subfolders, to find the known dumps that may
//! be there. Changes nothing.

use std::collections::HashSet;
use std::path::Path;
use std::path::PathBuf;

use crate::capture::glance::glance;
use crate::capture::one::read_one;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::usecase::dumps::sample_match::below_root;

/// The depth of the search.
const DEPTH: usize = 12;

/// The budget for a folder. It is shared evenly among its subfolders, so that none of them uses up all of it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Budget {
    /// Pictures that turn out to belong to no dump.
    pub looks: usize,
    /// Folders.
    pub folders: usize,
}

/// A dump that may be in a folder now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Hit {
    pub dump: DumpPlace,
    pub place: PathBuf,
}

/// A file of a dump at a path that does not fit the dump's root.
#[derive(Clone, Debug)]
pub(crate) struct Orphan {
    pub dump: DumpPlace,
    pub path: PathBuf,
}

/// Looks up a few files of a folder by their contents.
pub(crate) struct Seeker<'s> {
    pub catalogue: &'s Catalogue,
    /// Folders that are known already.
    pub skip: HashSet<PathBuf>,
    pub hits: Vec<Hit>,
    pub strays: Vec<Orphan>,
    /// The pictures that were looked up.
    pub pictures: Vec<PathBuf>,
    /// Folders that were not searched.
    pub left: Vec<PathBuf>,
}

impl<'s> Seeker<'s> {
    pub fn new(catalogue: &'s Catalogue, skip: HashSet<PathBuf>) -> Self {
        Self {
            catalogue,
            skip,
            hits: Vec::new(),
            strays: Vec::new(),
            pictures: Vec::new(),
            left: Vec::new(),
        }
    }

    /// Searches a folder and its subfolders; returns the remaining budget.
    pub fn visit(
        &mut self,
        folder: &Path,
        depth: usize,
        mut budget: Budget,
    ) -> Result<Budget, Failure> {
        if self.skip.contains(folder) {
            return Ok(budget);
        }
        if budget.folders == 0 || budget.looks == 0 || depth > DEPTH {
            self.left.push(folder.to_path_buf());
            return Ok(budget);
        }
        budget.folders -= 1;
        // The walk reports what cannot be listed.
        let Ok(seen) = glance(folder) else {
            return Ok(budget);
        };
        for name in seen.pictures {
            if budget.looks == 0 || self.look_up(folder.join(name))? {
                break;
            }
            budget.looks -= 1;
        }
        let count = seen.folders.len();
        for (at, name) in seen.folders.into_iter().enumerate() {
            // The rest of a dump belongs to it.
            if self.hits.iter().any(|hit| folder.starts_with(&hit.place)) {
                return Ok(budget);
            }
            let share = Budget {
                looks: budget.looks.div_ceil(count - at),
                folders: budget.folders.div_ceil(count - at),
            };
            let rest = self.visit(&folder.join(name), depth + 1, share)?;
            budget.looks -= share.looks - rest.looks;
            budget.folders -= share.folders - rest.folders;
        }
        Ok(budget)
    }

    /// Adds the dumps with a file of these contents; returns whether one has it at such a path.
    fn look_up(&mut self, path: PathBuf) -> Result<bool, Failure> {
        let read = (read_one(&path), path.symlink_metadata());
        let (Ok(Some(reading)), Ok(about)) = read else {
            return Ok(false);
        };
        let mut fits = false;
        let mut places = self.catalogue.places();
        for file_id in self.catalogue.files_with_contents(&reading, about.len())? {
            let file = places.file(file_id)?;
            let below = below_root(&file);
            let depth = below.components().count();
            let dump = (*file.folder.dump).clone();
            let Some(place) = path
                .ends_with(&below)
                .then(|| path.ancestors().nth(depth))
                .flatten()
            else {
                let path = path.clone();
                self.strays.push(Orphan { dump, path });
                continue;
            };
            let place = place.to_path_buf();
            let hit = Hit { dump, place };
            if !self.hits.contains(&hit) {
                self.hits.push(hit);
                fits = true;
            }
        }
        self.pictures.push(path);
        Ok(fits)
    }
}
