//! A folder that is new to the catalogue, and whether it is a known dump that has moved there: a few of its files are looked
//! up by their contents, then the dump's own files are looked for. A root where another dump lies now is such a folder too.
//! Where it is in doubt nothing is moved.

use std::collections::HashMap;
use std::collections::HashSet;
use std::path::PathBuf;

use crate::capture::volume::same_folder;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::handle::Catalogue;
use crate::pipeline::dumps::set_aside;
use crate::pipeline::likeness::Likeness;
use crate::pipeline::likeness::look_for;
use crate::pipeline::recognised::Newcomers;
use crate::pipeline::recognised::Recognised;
use crate::pipeline::recognised::Recognition;
use crate::pipeline::resettle::doubtful;
use crate::pipeline::resettle::settle;
use crate::pipeline::seek::Budget;
use crate::pipeline::seek::Hit;
use crate::pipeline::seek::Seeker;
use crate::pipeline::seek::Stray;
use crate::pipeline::standing::Standing;
use crate::pipeline::standing::standing;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;

/// How much is looked at in a folder before it is left at that.
const BUDGET: Budget = Budget {
    looks: 128,
    folders: 1_024,
};

/// What becomes of the folders that are to be ingested.
#[derive(Debug, Default)]
struct Found {
    /// Dumps that are all there.
    moved: Vec<Hit>,
    /// Dumps of which most is there.
    mostly: Vec<(Hit, Likeness)>,
    told: Vec<Recognised>,
}

/// Recognises known dumps in folders that are to be ingested, and moves their roots there. A folder that turns out to be a
/// known root by another name is exchanged for that root; a root where another dump lies now is freed for it.
///
/// Refuses: a folder that holds most of a dump that is not at its place. Nothing has been changed then.
///
/// Costs a look or two at files for a folder within a known dump; for another, a glance into some folders and the reading of
/// a few files, whatever number of dumps the catalogue knows.
pub fn recognise(
    catalogue: &mut Catalogue,
    asked: &mut [PathBuf],
    newcomers: Newcomers,
) -> Result<Recognition, Failure> {
    let dumps = catalogue.dumps()?;
    let mut known = HashSet::new();
    let mut lost = Vec::new();
    let mut standings = HashMap::new();
    let mut away = Vec::new();
    for dump in dumps.iter().filter(|dump| dump.left.is_none()) {
        let meets = |at: &PathBuf| at.starts_with(&dump.root) || dump.root.starts_with(at);
        if !asked.iter().any(meets) {
            continue;
        }
        let found = standing(catalogue, dump)?;
        if matches!(found, Standing::Strange(_)) {
            lost.push(dump.clone());
        } else {
            if found.is_away() {
                away.push(dump.root.clone());
            }
            known.insert(dump.root.clone());
        }
        standings.insert(dump.dump_id, found);
    }
    if dumps.is_empty() {
        return Ok(Recognition::default());
    }
    let mut seeker = Seeker::new(catalogue, known);
    for root in lost.iter().map(|dump| &dump.root).chain(asked.iter()) {
        if !root.ancestors().any(|above| seeker.skip.contains(above)) {
            seeker.visit(root, 0, BUDGET)?;
            seeker.skip.insert(root.clone());
        }
    }
    let Seeker {
        hits,
        strays,
        pictures,
        left,
        ..
    } = seeker;
    if newcomers == Newcomers::Recognised {
        // Files that were renamed in place are still its own.
        lost.retain(|dump| {
            let own = hits
                .iter()
                .any(|hit| hit.dump == *dump && hit.place == dump.root)
                || strays
                    .iter()
                    .any(|at| at.dump == *dump && at.path.starts_with(&dump.root));
            if own {
                standings.insert(dump.dump_id, Standing::Here);
            }
            !own
        });
    }
    let mut found = sort_out(catalogue, asked, hits, &mut standings)?;
    if newcomers == Newcomers::New {
        found.moved.clear();
        found
            .told
            .retain(|one| matches!(one, Recognised::Same { .. }));
    } else {
        if let Some((hit, likeness)) = found.mostly.first() {
            return Err(mostly(hit, likeness));
        }
        found
            .told
            .extend(renamed(catalogue, &strays, &found, &mut standings)?);
        found
            .told
            .extend(looked_short(catalogue, &dumps, &left, &mut standings)?);
    }
    let mut aside = settle(catalogue, &found.moved, &mut found.told)?;
    for dump in lost {
        let is_taken = |at: &PathBuf| at.starts_with(&dump.root);
        let now = catalogue.dump_place(dump.dump_id)?;
        if now.root != dump.root {
            continue;
        }
        if pictures.iter().chain(&left).any(is_taken) {
            set_aside(catalogue, &dump)?;
            aside.push(dump);
        } else {
            away.push(dump.root);
        }
    }
    for dump in aside {
        if catalogue.dump_place(dump.dump_id)?.left.is_some() {
            found.told.push(Recognised::Replaced {
                label: dump.label,
                root: dump.root,
            });
        }
    }
    let told = found.told;
    Ok(Recognition { told, away })
}

/// Looks for the files of the dumps that may lie somewhere.
fn sort_out(
    catalogue: &Catalogue,
    asked: &mut [PathBuf],
    hits: Vec<Hit>,
    standings: &mut HashMap<i64, Standing>,
) -> Result<Found, Failure> {
    let mut found = Found::default();
    for hit in hits {
        if hit.place == hit.dump.root {
            continue;
        }
        match stands(catalogue, &hit.dump, standings)? {
            Standing::Here => found.told.extend(by_another_name(&hit, asked)),
            Standing::Shut(error) => {
                let why = format!(
                    "{} cannot be looked into ({error})",
                    hit.dump.root.display()
                );
                found.told.push(doubtful(&hit.place, &[&hit], why));
            }
            _ => {
                let likeness = look_for(catalogue, &hit.dump, &hit.place)?;
                if likeness.is_whole() {
                    found.moved.push(hit);
                } else if likeness.is_mostly() {
                    found.mostly.push((hit, likeness));
                } else {
                    found.told.push(Recognised::Few {
                        place: hit.place,
                        label: hit.dump.label,
                        found: likeness,
                    });
                }
            }
        }
    }
    // A part of a dump beside the whole of it is a copy; so is a part of another where one is whole.
    found.mostly.retain(|(part, _)| {
        !found
            .moved
            .iter()
            .any(|whole| whole.dump.dump_id == part.dump.dump_id || whole.place == part.place)
    });
    Ok(found)
}

fn stands(
    catalogue: &Catalogue,
    dump: &DumpPlace,
    standings: &mut HashMap<i64, Standing>,
) -> Result<Standing, Failure> {
    if let Some(known) = standings.get(&dump.dump_id) {
        return Ok(known.clone());
    }
    let found = standing(catalogue, dump)?;
    standings.insert(dump.dump_id, found.clone());
    Ok(found)
}

/// Says that a folder holds most of a dump, and the ways on.
fn mostly(hit: &Hit, found: &Likeness) -> Failure {
    let Hit { dump, place } = hit;
    let label = &dump.label;
    Failure::new(
        FailureKind::Dump,
        format!(
            "this looks like dump {label}, which is not at {} now, but not all of it is here: {}; nothing was taken in",
            dump.place().display(),
            found.words()
        ),
    )
    .at_file(place)
    .hint(format!(
        "if it is that dump, move it and ingest it again: {}; if it is a dump of its own: {}",
        CommandLine::new("dump move")
            .argument(label)
            .argument(place)
            .flag("--mostly"),
        CommandLine::new("ingest").argument(place).flag("--as-new")
    ))
}

/// Tells of dumps whose files lie somewhere under other names, once for each.
fn renamed(
    catalogue: &Catalogue,
    strays: &[Stray],
    found: &Found,
    standings: &mut HashMap<i64, Standing>,
) -> Result<Vec<Recognised>, Failure> {
    let mut told = Vec::new();
    let mut named: HashSet<i64> = found.moved.iter().map(|hit| hit.dump.dump_id).collect();
    for Stray { dump, path } in strays {
        if named.contains(&dump.dump_id) || !stands(catalogue, dump, standings)?.is_away() {
            continue;
        }
        // A copy of what is at its place may lie anywhere.
        let mut is_copy = false;
        for other in strays.iter().filter(|other| other.path == *path) {
            is_copy |= !stands(catalogue, &other.dump, standings)?.is_away();
        }
        if !is_copy && named.insert(dump.dump_id) {
            told.push(Recognised::Renamed {
                path: path.clone(),
                label: dump.label.clone(),
            });
        }
    }
    Ok(told)
}

/// Says that the look ended early, where a dump might have been found by a longer one.
fn looked_short(
    catalogue: &Catalogue,
    dumps: &[DumpPlace],
    left: &[PathBuf],
    standings: &mut HashMap<i64, Standing>,
) -> Result<Option<Recognised>, Failure> {
    let Some(first) = left.first() else {
        return Ok(None);
    };
    for dump in dumps {
        if stands(catalogue, dump, standings)?.is_away() {
            return Ok(Some(Recognised::LookedShort {
                first: first.clone(),
                count: left.len(),
            }));
        }
    }
    Ok(None)
}

/// Exchanges folders for the root of a dump that they are another name of: one folder is no second copy of itself.
fn by_another_name(hit: &Hit, asked: &mut [PathBuf]) -> Option<Recognised> {
    if !same_folder(&hit.dump.root, &hit.place) {
        return None;
    }
    let mut exchanged = false;
    for at in asked {
        if let Ok(below) = at.strip_prefix(&hit.place) {
            // Joining nothing would leave a slash at the end.
            *at = hit.dump.root.join(below).components().collect();
            exchanged = true;
        }
    }
    exchanged.then(|| Recognised::Same {
        label: hit.dump.label.clone(),
        root: hit.dump.root.clone(),
        named: hit.place.clone(),
    })
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use crate::terms::volume::Volume;

    /// As when one disk is mounted at two places.
    #[test]
    fn a_known_root_by_another_name_is_read_as_what_it_is() {
        let world = tempfile::tempdir().unwrap();
        let at = |below: &str| world.path().join(below);
        std::fs::create_dir_all(at("disk/card/DCIM")).unwrap();
        std::os::unix::fs::symlink(at("disk"), at("again")).unwrap();
        let hit = Hit {
            dump: DumpPlace {
                dump_id: 1,
                label: "card".into(),
                root: at("disk/card"),
                left: None,
                volume: Volume::default(),
                first_seen_utc: String::new(),
                last_seen_utc: String::new(),
            },
            place: at("again/card"),
        };
        let mut asked = [at("again/card"), at("again/card/DCIM"), at("other")];
        let told = by_another_name(&hit, &mut asked);
        assert_eq!(asked, [at("disk/card"), at("disk/card/DCIM"), at("other")]);
        assert!(matches!(told, Some(Recognised::Same { named, .. }) if named == at("again/card")));
        let hit = Hit {
            place: at("disk"),
            ..hit
        };
        assert_eq!(by_another_name(&hit, &mut asked), None);
    }
}
