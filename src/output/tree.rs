//! A folder tree of links that appears complete or not at all: it is built beside its target and renamed when done.
//! Never writes into a dump, never follows a link, never removes anything it did not make.

use std::collections::HashSet;
use std::fs;
use std::fs::File;
use std::io;
use std::path::Path;
use std::path::PathBuf;

use tempfile::TempDir;
use walkdir::WalkDir;

use crate::catalogue::names::kept_name;
use crate::framelist::RECORD_NAME;
use crate::framelist::Record;
use crate::framelist::RecordHead;
use crate::framelist::RecordedLink;
use crate::framelist::read_record;
use crate::framelist::write_record;
use crate::output::atomic_file::Overwrite;
use crate::output::outside_dumps::refuse_within;
use crate::output::stale_temp_files::PART_BEGINS;
use crate::output::stale_temp_files::hold;
use crate::output::temp_file::begin_folder;
use crate::output::temp_file::exchange_at_once;
use crate::output::temp_file::failed;
use crate::output::temp_file::folder_of;
use crate::output::temp_file::fsync_folder;
use crate::output::temp_file::is_the_same;
use crate::output::tree_link::Unmade;
use crate::output::tree_link::make_link;
use crate::output::tree_link::modified_ns;
use crate::output::write_error::not_written;
use crate::terms::failure::Failure;
use crate::terms::linktree::LinkAs;
use crate::terms::linktree::TreeLink;

/// What exists at the target.
#[derive(Debug)]
enum Before {
    /// Nothing.
    Nothing,
    /// An empty folder.
    Empty,
    /// A tree that framefall made, and its record.
    Tree(Record),
}

/// A tree being built. If dropped before it is kept, it leaves nothing behind.
#[derive(Debug)]
pub struct AtomicTree {
    part: TempDir,
    /// While this is open, no other run takes the part for a stale one.
    held: Option<File>,
    to: PathBuf,
    before: Before,
    link_as: LinkAs,
    made: HashSet<String>,
}

impl AtomicTree {
    /// Begins a tree at that folder. `dumps` are the roots of every dump.
    ///
    /// Refuses: a place in a dump, a file, a folder with anything but a tree of ours that may be replaced and is
    /// unchanged, a place whose parent folder does not exist or cannot be written to.
    pub fn begin(
        to: &Path,
        overwrite: Overwrite,
        link_as: LinkAs,
        dumps: &[PathBuf],
    ) -> Result<Self, Failure> {
        if link_as == LinkAs::Reflink && !cfg!(target_os = "linux") {
            return Err(failed("reflinks are available on Linux only", to)
                .hint("use --link-as symbolic, hard or copy"));
        }
        let to = true_place(to)?;
        refuse_within(dumps, &to)?;
        let before = what_lies_at(&to)?;
        if let Before::Tree(record) = &before {
            if overwrite == Overwrite::No {
                return Err(failed("there is already a link tree here", &to)
                    .hint("choose another folder, or replace it with --overwrite"));
            }
            refuse_strangers(&to, record)?;
        }
        let part = begin_folder(folder_of(&to)).map_err(|e| not_written("tree", &to, e))?;
        Ok(Self {
            held: hold(part.path()),
            part,
            to,
            before,
            link_as,
            made: HashSet::new(),
        })
    }

    /// The target of the tree.
    pub fn place(&self) -> &Path {
        &self.to
    }

    /// Makes one link; returns its entry for the record.
    ///
    /// Fails if the file system does not support such a link, and if a file cannot be read or changes while it is
    /// copied.
    pub fn link(&mut self, link: &TreeLink) -> Result<RecordedLink, Unmade> {
        let at = self.part.path().join(&link.below);
        if let Some((folder, _)) = link.below.rsplit_once('/')
            && self.made.insert(folder.to_owned())
        {
            fs::create_dir_all(self.part.path().join(folder))
                .map_err(|e| not_written("tree", &self.to, e))?;
        }
        make_link(self.link_as, link, &at, &self.to)?;
        // A copy may be on a disk with coarser time stamps.
        let made = fs::symlink_metadata(&at)
            .ok()
            .filter(|_| self.link_as != LinkAs::Symbolic);
        Ok(RecordedLink {
            below: link.below.clone(),
            source: kept_name(link.source.as_os_str()).text,
            bytes: made.as_ref().map_or(link.bytes, fs::Metadata::len),
            modified_ns: made
                .as_ref()
                .and_then(modified_ns)
                .unwrap_or(link.modified_ns),
        })
    }

    /// Writes the record and renames the tree to its target. Until then the target is unchanged.
    pub fn keep(self, head: &RecordHead, links: &[RecordedLink]) -> Result<(), Failure> {
        let Self {
            part,
            held,
            to,
            before,
            ..
        } = self;
        let unwritable = |e: io::Error| not_written("tree", &to, e);
        let record = part.path().join(RECORD_NAME);
        let mut out = io::BufWriter::new(File::create_new(&record).map_err(unwritable)?);
        write_record(head, links, &mut out).map_err(unwritable)?;
        let file = out.into_inner().map_err(|e| unwritable(e.into_error()))?;
        file.sync_all().map_err(unwritable)?;
        // Outside Unix an open folder cannot be renamed.
        drop((file, held));
        match before {
            Before::Nothing => take_place(part, &to)?,
            Before::Empty => {
                // Outside Unix a folder cannot replace an empty one.
                #[cfg(not(unix))]
                fs::remove_dir(&to).map_err(unwritable)?;
                take_place(part, &to)?;
            }
            Before::Tree(record) => replace(part, &to, &record)?,
        }
        fsync_folder(folder_of(&to));
        Ok(())
    }
}

/// The resolved path of a folder that may not exist yet.
fn true_place(to: &Path) -> Result<PathBuf, Failure> {
    if fs::symlink_metadata(to).is_ok() {
        let place = to
            .canonicalize()
            .map_err(|e| failed("this does not lead to a folder", to).because(e))?;
        if place.parent().is_none() {
            return Err(
                failed("this is the root of the file system", to).hint("name a folder in it")
            );
        }
        return Ok(place);
    }
    let Some(name) = to.file_name() else {
        return Err(failed("this is not the name of a folder", to).hint("give the tree a name"));
    };
    let beside = folder_of(to);
    let beside = beside
        .canonicalize()
        .map_err(|e| failed("there is no such folder", beside).because(e))?;
    Ok(beside.join(name))
}

fn what_lies_at(to: &Path) -> Result<Before, Failure> {
    let Ok(there) = fs::symlink_metadata(to) else {
        return Ok(Before::Nothing);
    };
    if !there.is_dir() {
        return Err(failed("this is a file; a link tree needs a folder", to));
    }
    let unreadable = |e| failed("this folder cannot be read", to).because(e);
    if fs::read_dir(to).map_err(unreadable)?.next().is_none() {
        return Ok(Before::Empty);
    }
    fs::read_to_string(to.join(RECORD_NAME))
        .ok()
        .and_then(|text| read_record(&text))
        .map(Before::Tree)
        .ok_or_else(|| {
            failed(
                "this folder contains files that framefall did not put there",
                to,
            )
            .hint("name an empty folder, or one that does not exist yet")
        })
}

/// Refuses a tree that contains anything but the unchanged links of its record.
fn refuse_strangers(to: &Path, record: &Record) -> Result<(), Failure> {
    match first_stranger(to, record) {
        Ok(None) => Ok(()),
        Ok(Some(stranger)) => Err(failed(
            "the old tree contains a file that framefall did not put there, or that has changed \
             since; it was not replaced",
            &stranger,
        )
        .hint("move the file out of the tree first, or name another folder")),
        Err(e) => Err(failed("the old tree cannot be read", to).because(e)),
    }
}

/// The first file in a tree that is not a link of its record.
fn first_stranger(to: &Path, record: &Record) -> io::Result<Option<PathBuf>> {
    let links: std::collections::HashMap<&str, &RecordedLink> = record
        .links
        .iter()
        .map(|link| (link.below.as_str(), link))
        .collect();
    for entry in WalkDir::new(to).min_depth(1) {
        let entry = entry?;
        if entry.file_type().is_dir() {
            continue;
        }
        let Ok(below) = entry.path().strip_prefix(to) else {
            continue;
        };
        let names: Option<Vec<&str>> = below.iter().map(|name| name.to_str()).collect();
        let below = names.map(|names| names.join("/"));
        if below.as_deref() == Some(RECORD_NAME) {
            continue;
        }
        let there = fs::symlink_metadata(entry.path())?;
        let as_made = below
            .and_then(|below| links.get(below.as_str()))
            .is_some_and(|link| is_as_made(entry.path(), &there, record.link_as, link));
        if !as_made {
            return Ok(Some(entry.into_path()));
        }
    }
    Ok(None)
}

/// Whether a file of a tree is still the link that was made.
fn is_as_made(path: &Path, there: &fs::Metadata, link_as: LinkAs, link: &RecordedLink) -> bool {
    if link_as == LinkAs::Symbolic {
        return there.is_symlink();
    }
    let unchanged = there.is_file()
        && there.len() == link.bytes
        && modified_ns(there) == Some(link.modified_ns);
    unchanged || (link_as == LinkAs::Hard && is_the_same(path, Path::new(&link.source)))
}

fn take_place(part: TempDir, to: &Path) -> Result<(), Failure> {
    fs::rename(part.path(), to).map_err(|e| {
        failed("the tree could not be put in place", to)
            .hint("if this is the top folder of a disk, name a new folder in it")
            .because(e)
    })?;
    // Its name is gone, so there is nothing to clean up.
    let _ = part.keep();
    Ok(())
}

/// Replaces an old tree by a new one, and removes the old one.
fn replace(part: TempDir, to: &Path, record: &Record) -> Result<(), Failure> {
    if !exchange_at_once(part.path(), to).unwrap_or(false) {
        // Two steps if one is not supported. A run that is killed between them leaves both trees, complete.
        let aside = tempfile::Builder::new()
            .prefix(PART_BEGINS)
            .suffix(".old")
            .tempdir_in(folder_of(to))
            .map_err(|e| not_written("tree", to, e))?;
        let old = aside.path().join("tree");
        fs::rename(to, &old)
            .map_err(|e| failed("the old tree could not be moved aside", to).because(e))?;
        if let Err(failure) = take_place(part, to) {
            if fs::rename(&old, to).is_err() {
                let aside = aside.keep();
                return Err(failure.hint(format!("the old tree is in {}", aside.display())));
            }
            return Err(failure);
        }
        return match first_stranger(&old, record) {
            Ok(None) => Ok(()),
            _ => Err(left_aside(to, &aside.keep())),
        };
    }
    // The old tree now has the new tree's temporary name.
    match first_stranger(part.path(), record) {
        Ok(None) => Ok(()),
        _ => Err(left_aside(to, &part.keep())),
    }
}

fn left_aside(to: &Path, aside: &Path) -> Failure {
    failed(
        "the new tree is in place, but the old one was changed meanwhile",
        to,
    )
    .hint(format!("the old tree is in {}", aside.display()))
}
