//! Decides whether folders to be ingested are known dumps that have moved, on evidence gathered before. Reads no file
//! and no catalogue, changes nothing.

use std::collections::HashMap;
use std::collections::HashSet;
use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::dumps::DumpPlace;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::usecase::dumps::presence::DumpPresence;
use crate::usecase::dumps::recognised::Newcomers;
use crate::usecase::dumps::recognised::Recognised;
use crate::usecase::dumps::relocate::Orphan;
use crate::usecase::dumps::sample_match::SampleMatch;

/// The evidence about the folders and the dumps that may be in them.
#[derive(Clone, Debug)]
pub(crate) struct Evidence {
    /// The folders to be ingested.
    pub asked: Vec<PathBuf>,
    /// Every dump.
    pub dumps: Vec<DumpPlace>,
    /// The presence of the dumps concerned.
    pub presence: HashMap<i64, DumpPresence>,
    /// Dumps at whose roots there are other files.
    pub lost: Vec<DumpPlace>,
    /// Roots among, above or inside the folders whose dumps are offline.
    pub away: Vec<PathBuf>,
    /// Dumps that may be at locations that are not their roots.
    pub sightings: Vec<Sighting>,
    /// Files of dumps at paths that do not fit their dumps.
    pub strays: Vec<Orphan>,
    /// The pictures that were looked up.
    pub pictures: Vec<PathBuf>,
    /// Folders that were not searched.
    pub left: Vec<PathBuf>,
    /// Objections to moves of dumps to locations where they were found.
    pub claims: Vec<Claim>,
}

/// A dump that may be at a location.
#[derive(Clone, Debug)]
pub(crate) struct Sighting {
    pub dump: DumpPlace,
    pub place: PathBuf,
    pub seen: Seen,
}

/// What was found of it.
#[derive(Clone, Debug)]
pub(crate) enum Seen {
    /// The location is its own root by another name.
    OwnRoot,
    /// The dump is at its root: this is a copy.
    Copy,
    /// Its root cannot be read: why.
    Unsure(String),
    /// It is not at its root, and this part of it is here.
    Files {
        likeness: SampleMatch,
        /// Whether the location is on the dump's own volume, at the same path.
        by_volume: bool,
    },
}

/// An objection to the move of a dump to a location: another dump, as long as that has a root.
#[derive(Clone, Debug)]
pub(crate) struct Claim {
    pub dump_id: i64,
    pub place: PathBuf,
    pub other: i64,
    pub other_root: PathBuf,
    pub why: String,
}

/// The decision.
#[derive(Clone, Debug, Default)]
pub(crate) struct Decision {
    /// The folders to ingest; a known root by another name is replaced by that root.
    pub asked: Vec<PathBuf>,
    /// Dumps that have moved, in the order in which their roots are to be changed.
    pub moves: Vec<Move>,
    /// Dumps to be marked offline, since others are at their roots.
    pub set_aside: Vec<DumpPlace>,
    /// Roots whose dumps are offline.
    pub away: Vec<PathBuf>,
    /// What to report.
    pub told: Vec<Recognised>,
}

/// A dump that has moved to a location, and the dumps that it replaces there.
#[derive(Clone, Debug)]
pub(crate) struct Move {
    pub dump: DumpPlace,
    pub to: PathBuf,
    pub freed: Vec<DumpPlace>,
}

/// Decides which dumps have moved. In case of doubt, none has.
///
/// Refuses: a folder with most of an offline dump.
pub(crate) fn decide(evidence: &Evidence, newcomers: Newcomers) -> Result<Decision, Failure> {
    let mut decision = Decision {
        asked: evidence.asked.clone(),
        away: evidence.away.clone(),
        ..Decision::default()
    };
    let mut moved: Vec<&Sighting> = Vec::new();
    let mut mostly: Vec<(&Sighting, &SampleMatch)> = Vec::new();
    for one in &evidence.sightings {
        match &one.seen {
            Seen::Copy => {}
            Seen::OwnRoot => {
                let told = by_another_name(one, &mut decision.asked);
                decision.told.extend(told);
            }
            Seen::Unsure(error) => {
                let root = one.dump.root.display();
                let why = format!("{root} cannot be read ({error})");
                decision.told.push(doubtful(&one.place, &[one], why));
            }
            Seen::Files { likeness, .. } if likeness.is_whole() => moved.push(one),
            Seen::Files { likeness, .. } if likeness.is_mostly() => mostly.push((one, likeness)),
            Seen::Files { likeness, .. } => decision.told.push(Recognised::Few {
                place: one.place.clone(),
                label: one.dump.label.clone(),
                found: likeness.clone(),
            }),
        }
    }
    if newcomers == Newcomers::New {
        moved.clear();
        let same = |one: &Recognised| matches!(one, Recognised::Same { .. });
        decision.told.retain(same);
    } else {
        // A part of a dump beside the whole of it is a copy; so is a part of another dump beside a whole one.
        mostly.retain(|(part, _)| {
            let alike = |whole: &&Sighting| {
                whole.dump.dump_id == part.dump.dump_id || whole.place == part.place
            };
            !moved.iter().any(alike)
        });
        if let Some((one, likeness)) = mostly.first() {
            return Err(looks_like(one, likeness));
        }
        decision.told.extend(renamed(evidence, &moved));
        decision.told.extend(looked_short(evidence));
    }
    let mut roots: HashMap<i64, Option<PathBuf>> = evidence
        .dumps
        .iter()
        .map(|dump| (dump.dump_id, dump.left.is_none().then(|| dump.root.clone())))
        .collect();
    decide_roots(evidence, &moved, &mut roots, &mut decision);
    let mut aside: Vec<DumpPlace> = decision
        .moves
        .iter()
        .flat_map(|one| one.freed.clone())
        .collect();
    for dump in &evidence.lost {
        let root = roots.get(&dump.dump_id).and_then(Option::as_ref);
        if root != Some(&dump.root) {
            continue;
        }
        let is_taken = |at: &PathBuf| at.starts_with(&dump.root);
        if evidence.pictures.iter().chain(&evidence.left).any(is_taken) {
            roots.insert(dump.dump_id, None);
            decision.set_aside.push(dump.clone());
            aside.push(dump.clone());
        } else {
            decision.away.push(dump.root.clone());
        }
    }
    aside.retain(|dump| roots.get(&dump.dump_id) == Some(&None));
    decision
        .told
        .extend(aside.into_iter().map(|dump| Recognised::Replaced {
            label: dump.label,
            root: dump.root,
        }));
    Ok(decision)
}

/// Decides the moves, location by location; gives the reason in case of doubt. Updates `roots`.
fn decide_roots(
    evidence: &Evidence,
    moved: &[&Sighting],
    roots: &mut HashMap<i64, Option<PathBuf>>,
    decision: &mut Decision,
) {
    let mut places: Vec<&PathBuf> = moved.iter().map(|one| &one.place).collect();
    places.sort_unstable();
    places.dedup();
    for place in places {
        let may_be: Vec<&Sighting> = moved
            .iter()
            .filter(|one| one.place == *place)
            .copied()
            .collect();
        let on_its_volume = |one: &&&Sighting| {
            matches!(
                &one.seen,
                Seen::Files {
                    by_volume: true,
                    ..
                }
            )
        };
        let by_volume: Vec<&Sighting> = may_be.iter().filter(on_its_volume).copied().collect();
        let one = match (may_be.as_slice(), by_volume.as_slice()) {
            ([one], _) | (_, [one]) => *one,
            _ => {
                let why = "its files belong to more than one offline dump".to_owned();
                decision.told.push(doubtful(place, &may_be, why));
                continue;
            }
        };
        let dump_id = one.dump.dump_id;
        let elsewhere =
            |other: &&&Sighting| other.dump.dump_id == dump_id && other.place != one.place;
        if let Some(other) = moved.iter().find(elsewhere) {
            let why = format!("it could as well be {}", other.place.display());
            decision.told.push(doubtful(place, &[one], why));
            continue;
        }
        match freed_for(evidence, one, roots, &decision.moves) {
            Err(why) => decision.told.push(doubtful(place, &[one], why)),
            Ok(freed) => {
                for other in &freed {
                    roots.insert(other.dump_id, None);
                }
                roots.insert(dump_id, Some(place.clone()));
                decision.told.push(Recognised::Moved {
                    label: one.dump.label.clone(),
                    from: one.dump.place().to_path_buf(),
                    to: place.clone(),
                });
                decision.moves.push(Move {
                    dump: one.dump.clone(),
                    to: place.clone(),
                    freed,
                });
            }
        }
    }
}

/// The offline dumps that a move replaces.
///
/// Refuses: if a dump that is present objects; why.
fn freed_for(
    evidence: &Evidence,
    one: &Sighting,
    roots: &HashMap<i64, Option<PathBuf>>,
    moves: &[Move],
) -> Result<Vec<DumpPlace>, String> {
    let mut freed = Vec::new();
    for other in &evidence.dumps {
        let Some(Some(root)) = roots.get(&other.dump_id) else {
            continue;
        };
        let claim = evidence.claims.iter().find(|claim| {
            (claim.dump_id, claim.other) == (one.dump.dump_id, other.dump_id)
                && (&claim.place, &claim.other_root) == (&one.place, root)
        });
        let Some(claim) = claim else {
            continue;
        };
        let has_moved = moves
            .iter()
            .any(|earlier| earlier.dump.dump_id == other.dump_id);
        if has_moved || !is_away(evidence, other) {
            return Err(claim.why.clone());
        }
        freed.push(other.clone());
    }
    Ok(freed)
}

fn is_away(evidence: &Evidence, dump: &DumpPlace) -> bool {
    let found = evidence.presence.get(&dump.dump_id);
    found.is_some_and(DumpPresence::is_away)
}

/// Reports that a folder has most of a dump, and the two ways to continue.
fn looks_like(one: &Sighting, found: &SampleMatch) -> Failure {
    let Sighting { dump, place, .. } = one;
    let label = &dump.label;
    Failure::new(
        FailureKind::Dump,
        format!(
            "this looks like dump {label}, which is no longer at {}, but it is incomplete: {}; \
             nothing was ingested",
            dump.place().display(),
            found.words()
        ),
    )
    .at_file(place)
    .hint(format!(
        "if it is that dump, move it and ingest it again: {}; if it is another dump: {}",
        CommandLine::new("dump move")
            .argument(label)
            .argument(place)
            .flag("--mostly"),
        CommandLine::new("ingest").argument(place).flag("--as-new")
    ))
}

/// Reports dumps whose files are somewhere under other names, once for each.
fn renamed(evidence: &Evidence, moved: &[&Sighting]) -> Vec<Recognised> {
    let mut told = Vec::new();
    let mut named: HashSet<i64> = moved.iter().map(|one| one.dump.dump_id).collect();
    for Orphan { dump, path } in &evidence.strays {
        if named.contains(&dump.dump_id) || !is_away(evidence, dump) {
            continue;
        }
        // A copy of a file that is in its place may be anywhere.
        let same = evidence.strays.iter().filter(|other| other.path == *path);
        let is_copy = same
            .into_iter()
            .any(|other| !is_away(evidence, &other.dump));
        if !is_copy && named.insert(dump.dump_id) {
            told.push(Recognised::Renamed {
                path: path.clone(),
                label: dump.label.clone(),
            });
        }
    }
    told
}

/// Reports that the search ended early, if a longer one might have found a dump.
fn looked_short(evidence: &Evidence) -> Option<Recognised> {
    let first = evidence.left.first()?;
    let any_away = evidence.dumps.iter().any(|dump| is_away(evidence, dump));
    any_away.then(|| Recognised::LookedShort {
        first: first.clone(),
        count: evidence.left.len(),
    })
}

/// Replaces folders by the root of a dump of which they are another name: one folder is not a second copy of itself.
pub(crate) fn by_another_name(one: &Sighting, asked: &mut [PathBuf]) -> Option<Recognised> {
    let mut exchanged = false;
    for at in asked {
        if let Ok(below) = at.strip_prefix(&one.place) {
            // Joining an empty path would leave a slash at the end.
            *at = one.dump.root.join(below).components().collect();
            exchanged = true;
        }
    }
    exchanged.then(|| Recognised::Same {
        label: one.dump.label.clone(),
        root: one.dump.root.clone(),
        named: one.place.clone(),
    })
}

/// A folder that may be several dumps, and is treated as new.
fn doubtful(place: &Path, may_be: &[&Sighting], why: String) -> Recognised {
    Recognised::Doubtful {
        place: place.to_path_buf(),
        labels: may_be.iter().map(|one| one.dump.label.clone()).collect(),
        why,
    }
}

#[cfg(test)]
#[path = "decide_tests.rs"]
mod tests;
