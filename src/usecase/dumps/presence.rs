//! Whether a dump is where the catalogue has it: a few of its files are checked there, because another card may be in
//! its slot and a mount point may have a file of its own. A dump at its location costs one check of a file. Changes
//! nothing.

use crate::capture::one::read_one;
use crate::capture::presence::Presence;
use crate::capture::presence::Root;
use crate::capture::presence::look;
use crate::capture::presence::look_at_root;
use crate::capture::shortage::is_shortage;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::places::FilePlace;
use crate::terms::failure::Failure;
use crate::terms::time::WallTime;
use crate::usecase::dumps::sample_match::spread;
use crate::usecase::shortage::ran_short;

/// The state of a dump's root.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DumpPresence {
    /// Files of the dump are there.
    Here,
    /// The folder exists, but none of the files checked, of which there are this many.
    Strange(usize),
    /// The folder is there, and empty.
    Empty,
    /// There is no such folder.
    Gone,
    /// It cannot be read: why.
    Shut(String),
    /// Another dump has taken its location.
    Taken,
}

impl DumpPresence {
    /// Whether the dump is known not to be at its root.
    pub const fn is_away(&self) -> bool {
        !matches!(self, Self::Here | Self::Shut(_))
    }
}

/// Checks whether a dump is at its root.
pub fn dump_presence(catalogue: &Catalogue, dump: &DumpPlace) -> Result<DumpPresence, Failure> {
    if dump.left.is_some() {
        return Ok(DumpPresence::Taken);
    }
    match look_at_root(&dump.root) {
        Root::Filled => {}
        Root::Empty => return Ok(DumpPresence::Empty),
        Root::Gone => return Ok(DumpPresence::Gone),
        Root::Shut(error) if is_shortage(&error) => return Err(ran_short(&dump.root, error)),
        Root::Shut(error) => return Ok(DumpPresence::Shut(error.to_string())),
    }
    let mut places = catalogue.places();
    for file_id in catalogue.dump_ends(dump.dump_id)? {
        let file = places.file(file_id)?;
        let seen = look(&file.path(), file.bytes, file.modified_ns);
        if matches!(seen, Presence::Unchanged) {
            return Ok(DumpPresence::Here);
        }
    }
    let sample = spread(&catalogue.dump_files(dump.dump_id)?);
    let (mut others, mut unsure) = (0, 0);
    for file_id in &sample {
        match trace(catalogue, &places.file(*file_id)?)? {
            Trace::Its => return Ok(DumpPresence::Here),
            Trace::None => {}
            Trace::Other => others += 1,
            Trace::Unsure => unsure += 1,
        }
    }
    // If nothing is conclusive and nothing contradicts it, the dump counts as present.
    Ok(if sample.is_empty() || (unsure > 0 && others == 0) {
        DumpPresence::Here
    } else {
        DumpPresence::Strange(sample.len())
    })
}

/// What the path of a known file shows about its dump.
enum Trace {
    /// The file, or the same picture changed.
    Its,
    /// Nothing exists there.
    None,
    /// A picture taken at another time.
    Other,
    /// Not conclusive.
    Unsure,
}

fn trace(catalogue: &Catalogue, file: &FilePlace) -> Result<Trace, Failure> {
    let path = file.path();
    match look(&path, file.bytes, file.modified_ns) {
        Presence::Unchanged => return Ok(Trace::Its),
        Presence::Missing => return Ok(Trace::None),
        Presence::Fault(_) => return Ok(Trace::Unsure),
        Presence::Retimed | Presence::Changed(_) => {}
    }
    let Ok(Some(there)) = read_one(&path) else {
        return Ok(Trace::Unsure);
    };
    let prints = file.fingerprint.zip(there.fingerprint);
    if prints.is_some_and(|(known, there)| known.matches(&there.into())) {
        return Ok(Trace::Its);
    }
    // Cards of one body repeat the names of their files; an edit does not change the capture time.
    Ok(
        match (
            catalogue.clock_of(file.file_id)?,
            there.record.clock_local.map(WallTime::seconds),
        ) {
            (Some(known), Some(read)) if known == read => Trace::Its,
            (Some(_), Some(_)) => Trace::Other,
            _ => Trace::Unsure,
        },
    )
}
