//! The reference frame, from which the turn of the sky is counted: the one the photographer names, or the light nearest
//! the middle of the list.

use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::kept_name;
use crate::catalogue::places::FilePlace;
use crate::catalogue::places::Places;
use crate::terms::failure::Failure;
use crate::terms::handoff::PathsFrom;
use crate::terms::time::Utc;
use crate::usecase::handoff::entry::Entry;
use crate::usecase::handoff::entry::refused;
use crate::usecase::handoff::listed::listed;
use crate::usecase::handoff::listed::true_path;

/// How many candidates for an ambiguous name are listed.
const TOLD: usize = 8;

/// The reference frame of a list.
#[derive(Clone, Debug, PartialEq)]
pub struct Reference {
    /// The frame.
    pub entry: Entry,
    /// The middle of its exposure.
    pub mid_utc: Utc,
    /// Its path, in the list's form.
    pub path: String,
    /// Its session and its position there.
    pub place: Option<(i64, i64)>,
}

impl Reference {
    /// Describes an entry as a reference; `None` if it has no UTC.
    pub(super) fn of(
        catalogue: &Catalogue,
        paths: &PathsFrom,
        places: &mut Places<'_>,
        entry: &Entry,
    ) -> Result<Option<Self>, Failure> {
        let Some(mid_utc) = entry.mid_utc else {
            return Ok(None);
        };
        let file = places.file(entry.file_id)?;
        let frame = catalogue.handed_frame(entry.frame_id)?;
        Ok(Some(Self {
            entry: *entry,
            mid_utc,
            path: kept_name(listed(paths, &file.path())?.as_os_str()).text,
            place: frame.session.zip(frame.seq),
        }))
    }
}

/// The frame in the middle of those with UTC: of the lights, if there are any. The same rule as for the turn within a
/// session.
pub(super) fn nearest_the_middle(entries: &[Entry]) -> Option<Entry> {
    let dated = |light: bool| {
        entries
            .iter()
            .filter(move |entry| entry.mid_utc.is_some() && (entry.is_light || !light))
    };
    let lights = dated(true).count();
    if lights > 0 {
        return dated(true).nth(lights / 2).copied();
    }
    dated(false).nth(dated(false).count() / 2).copied()
}

/// The photographer's name for the reference frame.
enum Name {
    /// A session and a position in it.
    Position(i64, i64),
    /// A file, or the end of its path.
    File(PathBuf),
}

/// The search for a frame by its name, among those of the list.
pub(super) struct Wanted {
    said: String,
    name: Name,
    found: Vec<(Entry, PathBuf)>,
    more: u64,
}

impl Wanted {
    pub fn named(said: &str) -> Result<Self, Failure> {
        let number = |text: &str| text.parse::<i64>().ok();
        let position = said
            .split_once('/')
            .and_then(|(session, seq)| number(session).zip(number(seq)));
        let name = match position {
            Some((session, seq)) => Name::Position(session, seq),
            None if said.is_empty() => {
                return Err(refused("the reference frame has no name").hint(HOW));
            }
            None => Name::File(Path::new(said).components().as_path().to_path_buf()),
        };
        Ok(Self {
            said: said.to_owned(),
            name,
            found: Vec::new(),
            more: 0,
        })
    }

    /// Records a frame if it matches the name.
    pub fn look_at(
        &mut self,
        catalogue: &Catalogue,
        entry: &Entry,
        files: &[FilePlace],
    ) -> Result<(), Failure> {
        let is_it = match &self.name {
            Name::Position(session, seq) => {
                let frame = catalogue.handed_frame(entry.frame_id)?;
                !files.is_empty() && frame.session == Some(*session) && frame.seq == Some(*seq)
            }
            Name::File(name) => files.iter().any(|file| {
                file.name.eq_ignore_ascii_case(name.as_os_str())
                    || (name.components().count() > 1 && file.path().ends_with(name))
                    || (name.is_absolute()
                        && name.file_name() == Some(file.name.as_os_str())
                        && true_path(&file.path()).as_ref() == Some(name))
            }),
        };
        if is_it {
            if self.found.len() < TOLD {
                let path = files.first().map(FilePlace::path).unwrap_or_default();
                self.found.push((*entry, path));
            } else {
                self.more += 1;
            }
        }
        Ok(())
    }

    /// The frame.
    ///
    /// Refuses: none, several, one that cannot be exported, one without UTC.
    pub fn choose(self, entries: &[Entry]) -> Result<Entry, Failure> {
        let said = &self.said;
        match self.found.as_slice() {
            [] => Err(refused(format!("no frame of the list is {said}")).hint(HOW)),
            [(entry, path)] => {
                let listed = entries.iter().find(|e| e.frame_id == entry.frame_id);
                let Some(listed) = listed else {
                    return Err(refused("the reference frame cannot be listed")
                        .at_file(path)
                        .hint("restore its file, or name another frame with --reference"));
                };
                if listed.mid_utc.is_none() {
                    return Err(
                        refused("the reference frame has no UTC, so the turn is unknown")
                            .at_file(path)
                            .hint("state its site or zone, or name another frame with --reference"),
                    );
                }
                Ok(*listed)
            }
            several => {
                let mut lines: Vec<String> = several
                    .iter()
                    .map(|(_, path)| path.display().to_string())
                    .collect();
                if self.more > 0 {
                    lines.push(format!("and {} more", self.more));
                }
                Err(refused(format!(
                    "{said} fits {} frames of the list",
                    several.len() as u64 + self.more
                ))
                .hint(format!(
                    "name one of them by more of its path: {}",
                    lines.join("; ")
                )))
            }
        }
    }
}

const HOW: &str = "name a file of the list, the end of its path, or its session and position in it, such as 4/120";
