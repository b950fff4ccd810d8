//! The global options of every command.

use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::purpose::Purpose;
use crate::cli::outcome::Outcome;
use crate::cli::places::catalogue_path;
use crate::cli::print;
use crate::cli::print::Lines;
use crate::cli::print::Quiet;
use crate::framelist::Format;
use crate::terms::failure::Failure;
use crate::terms::printable::printable;
use crate::terms::sheet::Sheet;

/// The global options of every command.
#[derive(Debug)]
pub struct Setting {
    /// The catalogue's file, if given.
    pub catalogue: Option<PathBuf>,
    /// Whether to suppress everything except answers and errors.
    pub quiet: Quiet,
}

impl Setting {
    /// Prints a line to standard error, unless that is suppressed.
    pub fn say(&self, line: &str) {
        if self.quiet == Quiet::No {
            print::warn(line);
        }
    }

    /// Prints lines to standard output, unless that is suppressed.
    pub fn tell(&self, lines: &Lines) -> Result<(), Failure> {
        match self.quiet {
            Quiet::Yes => Ok(()),
            Quiet::No => lines.print(),
        }
    }

    /// Prints a sheet of the catalogue.
    pub fn sheet(
        &self,
        form: Format,
        of: impl FnOnce(&Catalogue) -> Result<Sheet, Failure>,
    ) -> Result<Outcome, Failure> {
        print::sheet(of(&self.open(Purpose::Read)?)?, form)?;
        Ok(Outcome::Done)
    }

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
        if is_new {
            let path = path.to_string_lossy();
            self.say(&format!("made a new catalogue: {}", printable(&path)));
        }
        Ok(opened)
    }
}
