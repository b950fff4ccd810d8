//! `framefall export --as parquet`: the data set's files, in a folder or two beside each other, whole or not at all.

use std::cell::RefCell;
use std::fs::File;
use std::path::Path;
use std::path::PathBuf;

use crate::cli::args_export::ExportArgs;
use crate::cli::args_export::is_file;
use crate::cli::commands::export_told::frames;
use crate::cli::commands::lists;
use crate::cli::outcome::Outcome;
use crate::cli::places::now;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::progress::Progress;
use crate::cli::setting::Setting;
use crate::cli::stop::STOP;
use crate::cli::stop::prepare_for_ctrl_c;
use crate::output::atomic_file::AtomicFile;
use crate::output::atomic_file::Overwrite;
use crate::output::atomic_file::keep_all;
use crate::output::atomic_folder::AtomicFolder;
use crate::output::outside_dumps::refuse_in_dump;
use crate::output::write_error::told_of;
use crate::terms::failure::At;
use crate::terms::failure::Failure;
use crate::terms::printable::printable;
use crate::usecase::dataset;
use crate::usecase::dataset::DataFile;
use crate::usecase::dataset::DataOrder;
use crate::usecase::dataset::DataPlace;
use crate::usecase::dataset::DataTally;
use crate::usecase::dataset::Parted;
use crate::usecase::dataset::Table;
use crate::usecase::listings::frames::why_none;

/// Runs the command; the words were looked at.
pub fn run(
    setting: &Setting,
    args: &ExportArgs,
    query: &str,
    to: &Path,
) -> Result<Outcome, Failure> {
    let overwrite = if args.overwrite {
        Overwrite::Yes
    } else {
        Overwrite::No
    };
    let (compiled, catalogue) = lists::compile_and_open(query, setting)?;
    refuse_in_dump(&catalogue, to)?;
    let radiants = beside(to);
    let mut made = if is_file(to) {
        Made::Files {
            frames: AtomicFile::begin(to, overwrite, "data set")?,
            radiants: AtomicFile::begin(&radiants, overwrite, "data set")?,
        }
    } else {
        Made::Folder(AtomicFolder::begin(
            to,
            overwrite,
            "data set",
            DataFile::is_one,
        )?)
    };
    prepare_for_ctrl_c()?;
    let _still = catalogue.snapshot(0)?;
    let order = DataOrder {
        query,
        compiled: &compiled,
        limit: args.limit,
        parted: if args.per_year {
            Parted::ByYear
        } else {
            Parted::Not
        },
        version: env!("CARGO_PKG_VERSION"),
        now: now()?,
        stop: &STOP,
    };
    let tally = {
        let found = catalogue.count(&compiled.tree)?;
        let found = args.limit.map_or(found, |most| found.min(most));
        let progress = Progress::new("frames", setting.quiet);
        // Opened by one, closed by the other, and neither while the other runs.
        let made = RefCell::new(&mut made);
        let tally = dataset::write(
            &catalogue,
            &order,
            &mut DataPlace {
                open: &mut |file| made.borrow_mut().open(file),
                close: &mut |_, file| made.borrow().sync(&file),
                watch: &mut |done| progress.at(done, found),
            },
        );
        progress.end();
        tally
            .map_err(|failure| told_of("data set", Some(to), failure))
            .map_err(|failure| match failure.at {
                At::Nowhere => failure.at_file(to),
                _ => failure,
            })?
    };
    if tally.stopped {
        return Ok(Outcome::Stopped);
    }
    if tally.frames == 0 {
        print::warn(&why_none(&catalogue, &compiled)?);
        print::warn(&format!(
            "nothing to export; {} was not written",
            printable(&to.to_string_lossy())
        ));
        return Ok(Outcome::NeedsAttention);
    }
    made.keep()?;
    if setting.quiet == Quiet::No {
        tell(&tally, to);
    }
    Ok(Outcome::Done)
}

/// What is being made.
enum Made<'t> {
    /// A folder with the files of both tables.
    Folder(AtomicFolder<'t>),
    /// A file a table.
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

    /// Brings a file of a folder to the disk. Files of their own are brought there when they take their places.
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

/// The file of the radiants, beside that of the frames: `lights.radiants.parquet` beside `lights.parquet`.
fn beside(frames: &Path) -> PathBuf {
    let mut name = frames.file_stem().unwrap_or_default().to_os_string();
    name.push(".radiants");
    if let Some(ending) = frames.extension() {
        name.push(".");
        name.push(ending);
    }
    frames.with_file_name(name)
}

fn tell(tally: &DataTally, to: &Path) {
    let radiants = if tally.radiants == 1 {
        "radiant"
    } else {
        "radiants"
    };
    print::warn(&format!(
        "{} and {} {radiants} over them written to {}",
        frames(tally.frames),
        tally.radiants,
        printable(&to.to_string_lossy())
    ));
}
