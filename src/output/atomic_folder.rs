//! A folder that appears complete or not at all: it is filled beside its target and renamed when done.

use std::fs;
use std::fs::File;
use std::io::Error;
use std::io::ErrorKind;
use std::path::Path;
use std::path::PathBuf;

use tempfile::TempDir;
use walkdir::WalkDir;

use crate::output::atomic_file::Overwrite;
use crate::output::stale_temp_files::hold;
use crate::output::temp_file::begin_folder;
use crate::output::temp_file::exchange_at_once;
use crate::output::temp_file::failed;
use crate::output::temp_file::folder_of;
use crate::output::temp_file::fsync_folder;
use crate::output::temp_file::take_at_once;
use crate::output::write_error::not_written;
use crate::terms::failure::Failure;

/// The most entries of a folder checked before it may be replaced: no Parquet export has more files.
const MOST_ENTRIES: usize = 1_000_000;

/// A folder being filled. If dropped before it is kept, it leaves nothing behind.
pub struct AtomicFolder<'t> {
    part: TempDir,
    /// While this is open, no other run takes the part for a stale one.
    held: Option<File>,
    /// As the user wrote it, for messages.
    said: &'t Path,
    /// Its target.
    to: PathBuf,
    what: &'static str,
    replaces: bool,
}

impl<'t> AtomicFolder<'t> {
    /// Begins a folder of that name; `what` names its contents in messages. `is_ours` decides from a file's path below
    /// the folder whether the file may be replaced.
    ///
    /// Refuses: a file of that name; an existing folder that may not be replaced, or contains anything that is not
    /// ours.
    pub fn begin(
        to: &'t Path,
        overwrite: Overwrite,
        what: &'static str,
        is_ours: fn(&Path) -> bool,
    ) -> Result<Self, Failure> {
        // A link means the folder it leads to.
        let place = to.canonicalize().unwrap_or_else(|_| to.to_path_buf());
        let there = place.symlink_metadata().is_ok();
        if there && !place.is_dir() {
            return Err(
                failed(&format!("this is a file; the {what} needs a folder"), to)
                    .hint("name a folder, or a file that ends in .parquet"),
            );
        }
        if there && overwrite == Overwrite::No {
            return Err(exists(to));
        }
        if there
            && let Some(other) = other_than(&place, is_ours).map_err(|e| {
                failed("this folder cannot be read, so it was not replaced", to).because(e)
            })?
        {
            return Err(failed(
                &format!("this folder contains more than a {what}, so it was not replaced"),
                &other,
            )
            .hint("choose another name"));
        }
        let part = begin_folder(folder_of(&place)).map_err(|e| not_written(what, to, e))?;
        Ok(Self {
            held: hold(part.path()),
            part,
            said: to,
            to: place,
            what,
            replaces: there,
        })
    }

    /// A new file in it, by its path below; folders on the way are created.
    pub fn file(&self, below: &Path) -> Result<File, Failure> {
        let path = self.part.path().join(below);
        let made = path.parent().map_or(Ok(()), fs::create_dir_all);
        made.and_then(|()| File::create_new(&path))
            .map_err(|e| self.unwritable(e))
    }

    /// An error of writing it.
    pub fn unwritable(&self, error: Error) -> Failure {
        not_written(self.what, self.said, error)
    }

    /// Renames it to its target. Its files are on the disk already; its folders are synced first.
    pub fn keep(mut self) -> Result<(), Failure> {
        fsync_all(self.part.path());
        // Outside Unix an open folder cannot be renamed.
        self.held = None;
        let put = if self.replaces {
            exchange(self.part.path(), &self.to)
        } else {
            take_new(self.part.path(), &self.to)
        };
        match put {
            Ok(()) if self.replaces => {
                // The replaced folder now has the name of the part, and is removed with this value.
                fsync_folder(folder_of(&self.to));
                Ok(())
            }
            Ok(()) => {
                fsync_folder(folder_of(&self.to));
                // It no longer exists.
                let _ = self.part.keep();
                Ok(())
            }
            Err(error) if error.kind() == ErrorKind::AlreadyExists => Err(exists(self.said)),
            Err(error) => Err(self.unwritable(error)),
        }
    }
}

/// The first entry below a folder that is not ours: a file that `is_ours` rejects, a link, an empty folder.
fn other_than(root: &Path, is_ours: fn(&Path) -> bool) -> Result<Option<PathBuf>, Error> {
    let mut entries = WalkDir::new(root).min_depth(1).into_iter().peekable();
    let mut seen = 0_usize;
    while let Some(entry) = entries.next() {
        let entry = entry?;
        seen += 1;
        let is_other = if entry.file_type().is_dir() {
            // The contents of a folder follow it directly.
            entries.peek().is_none_or(|next| {
                next.as_ref()
                    .is_ok_and(|next| next.depth() <= entry.depth())
            })
        } else {
            let below = entry.path().strip_prefix(root).unwrap_or(entry.path());
            !entry.file_type().is_file() || !is_ours(below)
        };
        if is_other || seen > MOST_ENTRIES {
            return Ok(Some(entry.into_path()));
        }
    }
    Ok(None)
}

/// Renames a folder to a name that does not exist.
fn take_new(from: &Path, to: &Path) -> Result<(), Error> {
    if take_at_once(from, to)? {
        return Ok(());
    }
    if to.symlink_metadata().is_ok() {
        return Err(ErrorKind::AlreadyExists.into());
    }
    fs::rename(from, to)
}

/// Exchanges two folders: in one step if the system can, otherwise by way of a third name.
fn exchange(one: &Path, other: &Path) -> Result<(), Error> {
    if exchange_at_once(one, other)? {
        return Ok(());
    }
    let aside = one.with_extension("old");
    fs::rename(other, &aside)?;
    if let Err(error) = fs::rename(one, other) {
        fs::rename(&aside, other)?;
        return Err(error);
    }
    fs::rename(&aside, one)
}

/// Syncs a folder and its subfolders to the disk. Some file systems do not support that.
fn fsync_all(root: &Path) {
    for folder in WalkDir::new(root).into_iter().flatten() {
        if folder.file_type().is_dir() {
            fsync_folder(folder.path());
        }
    }
}

fn exists(to: &Path) -> Failure {
    failed("this folder already exists", to)
        .hint("choose another name, or replace it with --overwrite")
}
