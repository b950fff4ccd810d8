//! Writes the lists of calibration frames beside a list.

use std::io::BufWriter;
use std::io::Write;
use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::output::atomic_file::AtomicFile;
use crate::output::atomic_file::ClosedFile;
use crate::output::atomic_file::Overwrite;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::usecase::handoff;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::calibration::Calibration;
use crate::usecase::handoff::calibration::Whose;
use crate::usecase::handoff::calibration_list::CalibrationList;

/// The file of a list of calibration frames.
#[derive(Clone, Debug)]
pub struct ServingName {
    /// The kind of its frames.
    pub kind: Kind,
    /// The lights that they calibrate.
    pub whose: Whose,
    /// Where it is written.
    pub file: PathBuf,
}

/// Lists that are written but not yet renamed, with their details.
type Written<'n> = (Vec<ClosedFile<'n>>, Vec<CalibrationList>);

/// Writes every list beside its target. If nothing matches, the list is empty.
pub(super) fn write<'n>(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    found: &Calibration,
    names: &'n [ServingName],
    overwrite: Overwrite,
) -> Result<Written<'n>, Failure> {
    let mut files = Vec::with_capacity(names.len());
    let mut lists = Vec::with_capacity(names.len());
    for name in names {
        let mut file = AtomicFile::begin(&name.file, overwrite, "list")?;
        let mut out = BufWriter::new(file.out());
        let digest = handoff::calibration_list::write_calibration(
            catalogue, order, found, name.kind, name.whose, &mut out,
        );
        let flushed = out.flush();
        drop(out);
        let digest = digest.map_err(|failure| file.told(failure))?;
        flushed.map_err(|e| file.unwritable(e))?;
        files.push(file.close()?);
        let own = name.file.file_name().unwrap_or_default();
        lists.push(CalibrationList {
            kind: name.kind,
            session: match name.whose {
                Whose::All => None,
                Whose::OfSession(session) => session,
            },
            frames: found.files_of(name.kind, name.whose).len() as u64,
            file: own.to_string_lossy().into_owned(),
            digest,
        });
    }
    Ok((files, lists))
}
