//! Compares a list that was made again with its manifest. Writes nothing.

use std::collections::HashMap;

use crate::catalogue::handle::Catalogue;
use crate::framelist::ListDigest;
use crate::framelist::ManifestFile;
use crate::framelist::PastManifest;
use crate::terms::failure::Failure;
use crate::terms::fingerprint::Fingerprint;
use crate::usecase::derive::maker::PROGRAM;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::calibration::Calibration;
use crate::usecase::handoff::manifest::each_file;
use crate::usecase::handoff::manifest::state;
use crate::usecase::handoff::plan::Plan;

/// The files of a manifest, by their paths.
#[derive(Debug, Default)]
pub struct PastFiles {
    files: HashMap<String, ManifestFile>,
}

impl PastFiles {
    /// Notes a file.
    pub fn note(&mut self, file: ManifestFile) {
        self.files.insert(file.path.clone(), file);
    }

    /// The paths of the files by their marks, in reverse alphabetical order.
    fn by_mark(&self) -> HashMap<Mark, Vec<String>> {
        let mut by_mark: HashMap<Mark, Vec<String>> = HashMap::new();
        for (path, past) in &self.files {
            if let Some(mark) = mark(path, past.bytes, past.fingerprint) {
                by_mark.entry(mark).or_default().push(path.clone());
            }
        }
        for paths in by_mark.values_mut() {
            paths.sort_by(|a, b| b.cmp(a));
        }
        by_mark
    }

    /// Removes the file that this one was at another path, and returns that path.
    fn take_moved(
        &mut self,
        by_mark: &mut HashMap<Mark, Vec<String>>,
        now: &ManifestFile,
    ) -> Option<String> {
        let paths = by_mark.get_mut(&mark(&now.path, now.bytes, now.fingerprint)?)?;
        let then = self.files.get(paths.last()?)?;
        if then.blake3.zip(now.blake3).is_some_and(|(a, b)| a != b) {
            return None;
        }
        let path = paths.pop()?;
        self.files.remove(&path);
        Some(path)
    }
}

/// What identifies a file at another path: its own name, size and fingerprint.
///
/// The fingerprint is shortened to the length in earlier lists.
type Mark = (String, u64, [u8; 6]);

fn mark(path: &str, bytes: u64, fingerprint: Option<Fingerprint>) -> Option<Mark> {
    let name = path.rsplit(std::path::is_separator).next()?;
    Some((name.to_owned(), bytes, fingerprint?.short()))
}

/// The differences between a list and its manifest.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Differences {
    /// Whether every list has the same bytes.
    pub same_bytes: bool,
    /// Files that are new in the list: how many, and the first of them.
    pub added: (u64, Vec<String>),
    /// Files that are gone from it.
    pub gone: (u64, Vec<String>),
    /// Files that have another path now: `OLD is now NEW`.
    pub moved: (u64, Vec<String>),
    /// Files whose contents, size or time have changed.
    pub changed: (u64, Vec<String>),
    /// Differences in the state of the catalogue and of the program: what, then, now.
    pub state: Vec<(String, String, String)>,
}

/// How many files of each kind of difference are named.
const TOLD: usize = 5;

/// Compares a list that was made again with its manifest.
pub fn differences(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    plan: &Plan,
    calibration: &Calibration,
    lists: &[(String, ListDigest)],
    past: &PastManifest,
    mut files: PastFiles,
) -> Result<Differences, Failure> {
    let mut found = Differences {
        // By their bytes and not by their names: a list may have been renamed together with its manifest.
        same_bytes: lists.iter().map(bytes).eq(past.lists.iter().map(bytes)),
        ..Differences::default()
    };
    let mut elsewhere = Vec::new();
    each_file(catalogue, order, plan, calibration, &mut |file| {
        match files.files.remove(&file.path) {
            None => elsewhere.push(file),
            Some(then) if is_other(&then, &file) => note(&mut found.changed, file.path),
            Some(_) => {}
        }
        Ok(())
    })?;
    if !elsewhere.is_empty() {
        // Files at the same paths have been removed by now.
        let mut by_mark = files.by_mark();
        for file in elsewhere {
            match files.take_moved(&mut by_mark, &file) {
                Some(old) => note(&mut found.moved, format!("{old} is now {}", file.path)),
                None => note(&mut found.added, file.path),
            }
        }
    }
    let mut gone: Vec<String> = files.files.into_keys().collect();
    gone.sort();
    for path in gone {
        note(&mut found.gone, path);
    }
    if past.program != PROGRAM {
        found
            .state
            .push(("program".into(), past.program.clone(), PROGRAM.into()));
    }
    for (key, now) in state(catalogue, plan)? {
        let then = past.catalogue.get(key);
        if then != Some(&now) {
            let then = then.map_or_else(|| "unknown".to_owned(), ToString::to_string);
            found.state.push((key.into(), then, now.to_string()));
        }
    }
    Ok(found)
}

const fn bytes(list: &(String, ListDigest)) -> &ListDigest {
    &list.1
}

fn note(kind: &mut (u64, Vec<String>), path: String) {
    kind.0 += 1;
    if kind.1.len() < TOLD {
        kind.1.push(path);
    }
}

fn is_other(then: &ManifestFile, now: &ManifestFile) -> bool {
    let hashes_differ = then.blake3.zip(now.blake3).is_some_and(|(a, b)| a != b);
    let prints_differ = match (then.fingerprint, now.fingerprint) {
        (Some(then), Some(now)) => !then.matches(&now),
        (then, now) => then.is_some() != now.is_some(),
    };
    (then.bytes, &then.modified_utc) != (now.bytes, &now.modified_utc)
        || prints_differ
        || hashes_differ
}
