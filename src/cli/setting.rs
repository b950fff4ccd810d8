//! The global options of every command.

use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::places::catalogue_path;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::terms::failure::Failure;
use crate::terms::printable::printable;

/// The global options of every command.
#[derive(Debug)]
pub struct Setting {
    /// The catalogue's file, if given.
    pub catalogue: Option<PathBuf>,
    /// Whether to suppress everything except answers and errors.
    pub quiet: Quiet,
}

impl Setting {
    /// The catalogue's file.
    pub fn catalogue(&self) -> Result<PathBuf, Failure> {
        catalogue_path(self.catalogue.as_ref())
    }

    /// Opens the catalogue; an upgrade is reported on standard error, even with `--quiet`.
    pub fn open(&self, purpose: Purpose) -> Result<Catalogue, Failure> {
        let path = self.catalogue()?;
        let is_new = purpose == Purpose::ChangeOrMake && path.symlink_metadata().is_err();
        let opened = Catalogue::open_and_tell(&path, purpose, &mut |words| {
            print::warn(&printable(words));
        })?;
        if is_new && self.quiet == Quiet::No {
            print::warn(&format!(
                "made a new catalogue: {}",
                printable(&path.to_string_lossy())
            ));
        }
        Ok(opened)
    }
}
