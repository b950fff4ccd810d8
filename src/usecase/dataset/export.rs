//! Writes the files of a Parquet export completely or not at all: a folder, or two files beside each other. Prints
//! nothing.

use std::cell::RefCell;
use std::fs::File;
use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::output::atomic_file::AtomicFile;
use crate::output::atomic_file::Overwrite;
use crate::output::atomic_file::keep_all;
use crate::output::atomic_folder::AtomicFolder;
use crate::output::outside_dumps::refuse_in_dump;
use crate::output::write_error::with_disk_hint;
use crate::terms::failure::At;
use crate::terms::failure::Failure;
use crate::usecase::dataset::DataFile;
use crate::usecase::dataset::DataOrder;
use crate::usecase::dataset::DataTally;
use crate::usecase::dataset::Table;
use crate::usecase::dataset::order::DataPlace;
use crate::usecase::dataset::write;

/// The word for what is written, in messages.
const DATA_SET: &str = "Parquet export";

/// The form of a Parquet export.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DataForm {
    /// A folder with the files of both tables.
    Folder,
    /// The file of the frames, and the file of the radiants beside it.
    Files,
}

/// Writes a Parquet export to `to`. `prepare` runs when the targets are free, before the first row; `watch` receives
/// the frames written so far and the frames in all. If it is stopped, or no frame matches the query, or it is a dry run,
/// nothing is left at `to`.
///
/// # Errors If `to` is in a dump, is taken, or cannot be written, and if the catalogue cannot be read.
pub fn export(
    catalogue: &Catalogue,
    order: &DataOrder<'_>,
    (form, to, overwrite): (DataForm, &Path, Overwrite),
    prepare: impl FnOnce() -> Result<(), Failure>,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<DataTally, Failure> {
    refuse_in_dump(catalogue, to)?;
    let radiants = radiants_beside(to);
    let mut made = match form {
        DataForm::Files => Made::Files {
            frames: AtomicFile::begin(to, overwrite, DATA_SET)?,
            radiants: AtomicFile::begin(&radiants, overwrite, DATA_SET)?,
        },
        DataForm::Folder => Made::Folder(AtomicFolder::begin(
            to,
            overwrite,
            DATA_SET,
            DataFile::is_one,
        )?),
    };
    prepare()?;
    let _snapshot = catalogue.snapshot(0)?;
    let found = catalogue.count(&order.compiled.tree)?;
    let found = order.limit.map_or(found, |most| found.min(most));
    let tally = if order.dry_run {
        write(
            catalogue,
            order,
            &mut DataPlace {
                open: &mut |_| Ok(std::io::sink()),
                close: &mut |_, _| Ok(()),
                watch: &mut |done| watch(done, found),
            },
        )
    } else {
        // Borrowed by `open` and by `close` in turn, never by both.
        let made = RefCell::new(&mut made);
        write(
            catalogue,
            order,
            &mut DataPlace {
                open: &mut |file| made.borrow_mut().open(file),
                close: &mut |_, file| made.borrow().sync(&file),
                watch: &mut |done| watch(done, found),
            },
        )
    }
    .map_err(|failure| with_disk_hint(DATA_SET, Some(to), failure))
    .map_err(|failure| match failure.at {
        At::Nowhere => failure.at_file(to),
        _ => failure,
    })?;
    if !tally.stopped && tally.frames > 0 && !order.dry_run {
        made.keep()?;
    }
    Ok(tally)
}

/// The files being written.
enum Made<'t> {
    Folder(AtomicFolder<'t>),
    Files {
        frames: AtomicFile<'t>,
        radiants: AtomicFile<'t>,
    },
}

impl Made<'_> {
    fn open(&mut self, file: &DataFile) -> Result<File, Failure> {
        let whole = match (self, file.table) {
            (Self::Folder(folder), _) => return folder.file(&file.below()),
            (Self::Files { frames, .. }, Table::Frames) => frames,
            (Self::Files { radiants, .. }, Table::Radiants) => radiants,
        };
        let copy = whole.out().try_clone();
        copy.map_err(|e| whole.unwritable(e))
    }

    /// Syncs a file of a folder to the disk. Files of their own are synced when they are renamed into place.
    fn sync(&self, file: &File) -> Result<(), Failure> {
        match self {
            Self::Folder(folder) => file.sync_all().map_err(|e| folder.unwritable(e)),
            Self::Files { .. } => Ok(()),
        }
    }

    fn keep(self) -> Result<(), Failure> {
        match self {
            Self::Folder(folder) => folder.keep(),
            Self::Files { frames, radiants } => keep_all(vec![frames.close()?, radiants.close()?]),
        }
    }
}

/// The file of the radiants: `lights.radiants.parquet` beside `lights.parquet`.
fn radiants_beside(frames: &Path) -> PathBuf {
    let mut name = frames.file_stem().unwrap_or_default().to_os_string();
    name.push(".radiants");
    if let Some(ending) = frames.extension() {
        name.push(".");
        name.push(ending);
    }
    frames.with_file_name(name)
}
