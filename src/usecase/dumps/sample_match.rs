//! Compares a sample of a dump's files with a folder. A file of the same path and size matches if its time stamp does;
//! if that differs, its fingerprint decides, because FAT stores times to two seconds and in local time, and a copy may
//! have a time of its own. Changes nothing.

use std::path::Path;
use std::path::PathBuf;

use crate::capture::one::read_one;
use crate::capture::presence::Presence;
use crate::capture::presence::look;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::places::FilePlace;
use crate::terms::failure::Failure;

/// How many files of a dump are checked; all of them if there are no more.
pub const SAMPLE: usize = 32;

/// How many files that do not match are named.
const NAMED: usize = 3;

/// The result of comparing a dump's files with a folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SampleMatch {
    /// How many were checked.
    pub looked: usize,
    /// How many of these match.
    pub fit: usize,
    /// How many of these match by their fingerprints, with other time stamps.
    pub retimed: usize,
    /// How many are missing.
    pub missing: usize,
    /// How many differ.
    pub other: usize,
    /// The first that do not match: their paths, and what was found.
    pub named: Vec<(PathBuf, String)>,
}

impl SampleMatch {
    /// Whether every conclusive file matches, and there is at least one.
    pub const fn is_whole(&self) -> bool {
        self.fit > 0 && self.missing + self.other == 0
    }

    /// Whether more than half of the files match.
    pub const fn is_mostly(&self) -> bool {
        2 * self.fit > self.looked
    }

    /// The result in words, with the first files that do not match.
    pub fn words(&self) -> String {
        let examples: Vec<String> = self
            .named
            .iter()
            .map(|(path, saw)| format!("{}: {saw}", path.display()))
            .collect();
        format!(
            "checked {} of its files: {} match, {} missing, {} different ({})",
            self.looked,
            self.fit,
            self.missing,
            self.other,
            examples.join("; ")
        )
    }

    fn name(&mut self, path: &Path, saw: String) {
        if self.named.len() < NAMED {
            self.named.push((path.to_path_buf(), saw));
        }
    }

    fn look_at(&mut self, path: &Path, file: &FilePlace) {
        self.looked += 1;
        match look(path, file.bytes, file.modified_ns) {
            Presence::Unchanged => self.fit += 1,
            Presence::Missing => {
                self.missing += 1;
                self.name(path, "missing".to_owned());
            }
            Presence::Changed(saw) => {
                self.other += 1;
                self.name(path, saw);
            }
            Presence::Fault(error) => {
                self.other += 1;
                self.name(path, error.to_string());
            }
            Presence::Retimed => {
                let Some(known) = file.fingerprint else {
                    // A blank file among blank files proves nothing.
                    return;
                };
                let there = read_one(path).ok().flatten().and_then(|r| r.fingerprint);
                if there.is_some_and(|there| known.matches(&there.into())) {
                    self.fit += 1;
                    self.retimed += 1;
                } else {
                    self.other += 1;
                    let saw = "the same size, but different contents by its fingerprint";
                    self.name(path, saw.to_owned());
                }
            }
        }
    }
}

/// Compares a sample of a dump's files, spread evenly over the dump, with a folder.
pub fn look_for(
    catalogue: &Catalogue,
    dump: &DumpPlace,
    folder: &Path,
) -> Result<SampleMatch, Failure> {
    let mut found = SampleMatch::default();
    let mut places = catalogue.places();
    for file_id in spread(&catalogue.dump_files(dump.dump_id)?) {
        let file = places.file(file_id)?;
        found.look_at(&folder.join(below_root(&file)), &file);
    }
    Ok(found)
}

/// The path of a file below its dump's root.
pub(crate) fn below_root(file: &FilePlace) -> PathBuf {
    let folder = &file.folder;
    let below = folder.path.strip_prefix(&folder.dump.root);
    below.unwrap_or(&folder.path).join(&file.name)
}

/// At most [`SAMPLE`] of these, including the first and the last, evenly spaced.
pub(crate) fn spread(all: &[i64]) -> Vec<i64> {
    if all.len() <= SAMPLE {
        return all.to_vec();
    }
    (0..SAMPLE)
        .map(|at| all[at * (all.len() - 1) / (SAMPLE - 1)])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sample_has_both_ends_and_nothing_twice() {
        for count in [0, 1, 31, 32, 33, 34, 63, 64, 1_500, 100_001_i64] {
            let all: Vec<i64> = (0..count).collect();
            let few = spread(&all);
            assert_eq!(few.len(), all.len().min(SAMPLE), "{count}");
            assert_eq!((few.first(), few.last()), (all.first(), all.last()));
            assert!(few.windows(2).all(|two| two[0] < two[1]), "{count}");
        }
    }

    #[test]
    fn a_dump_is_known_by_files_that_are_as_they_were() {
        let of = |looked, fit, missing, other| SampleMatch {
            looked,
            fit,
            missing,
            other,
            ..SampleMatch::default()
        };
        assert!(of(3, 3, 0, 0).is_whole());
        assert!(of(3, 2, 0, 0).is_whole(), "one tells nothing");
        assert!(!of(3, 0, 0, 0).is_whole(), "none tells anything");
        assert!(!of(3, 2, 1, 0).is_whole() && of(3, 2, 1, 0).is_mostly());
        assert!(!of(3, 2, 0, 1).is_whole() && !of(4, 2, 0, 2).is_mostly());
    }
}
