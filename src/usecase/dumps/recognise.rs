//! Recognises moved dumps in folders to be ingested: gathers the evidence and carries out the decision. A few files of
//! the folders are looked up by their contents, then the dumps' own files are checked. A root where another dump is now
//! is such a folder too.

use std::collections::HashMap;
use std::collections::HashSet;
use std::collections::hash_map::Entry;
use std::path::PathBuf;

use crate::capture::volume::same_folder;
use crate::capture::volume::volume_of;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::usecase::dumps::decide::Claim;
use crate::usecase::dumps::decide::Evidence;
use crate::usecase::dumps::decide::Seen;
use crate::usecase::dumps::decide::Sighting;
use crate::usecase::dumps::decide::decide;
use crate::usecase::dumps::manage::claim;
use crate::usecase::dumps::manage::put_root;
use crate::usecase::dumps::manage::set_aside;
use crate::usecase::dumps::presence::DumpPresence;
use crate::usecase::dumps::presence::dump_presence;
use crate::usecase::dumps::recognised::Newcomers;
use crate::usecase::dumps::recognised::Recognition;
use crate::usecase::dumps::relocate::Budget;
use crate::usecase::dumps::relocate::Hit;
use crate::usecase::dumps::relocate::Seeker;
use crate::usecase::dumps::sample_match::look_for;

/// The most that is searched in a folder.
const BUDGET: Budget = Budget {
    looks: 128,
    folders: 1_024,
};

/// Recognises known dumps in folders to be ingested, and moves their roots there. A folder that turns out to be a known
/// root by another name is replaced by that root; a root where another dump is now is freed for it.
///
/// Refuses: a folder with most of an offline dump. Nothing has been changed then.
///
/// For a folder within a known dump this costs one or two checks of files; for another, listing some folders and
/// reading a few files, however many dumps the catalogue has.
pub fn recognise(
    catalogue: &mut Catalogue,
    asked: &mut Vec<PathBuf>,
    newcomers: Newcomers,
) -> Result<Recognition, Failure> {
    if catalogue.dumps()?.is_empty() {
        return Ok(Recognition::default());
    }
    let decision = decide(&gather(catalogue, asked, newcomers)?, newcomers)?;
    for one in &decision.moves {
        put_root(catalogue, &one.dump, &one.to, &one.freed)?;
    }
    for dump in &decision.set_aside {
        set_aside(catalogue, dump)?;
    }
    *asked = decision.asked;
    Ok(Recognition {
        told: decision.told,
        away: decision.away,
    })
}

/// Gathers the evidence about the folders.
fn gather(
    catalogue: &Catalogue,
    asked: &[PathBuf],
    newcomers: Newcomers,
) -> Result<Evidence, Failure> {
    let dumps = catalogue.dumps()?;
    let mut known = HashSet::new();
    let mut lost = Vec::new();
    let mut presence = PresenceCache::default();
    let mut away = Vec::new();
    for dump in dumps.iter().filter(|dump| dump.left.is_none()) {
        let meets = |at: &PathBuf| at.starts_with(&dump.root) || dump.root.starts_with(at);
        if !asked.iter().any(meets) {
            continue;
        }
        let found = presence.of(catalogue, dump)?;
        if matches!(found, DumpPresence::Strange(_)) {
            lost.push(dump.clone());
        } else {
            if found.is_away() {
                away.push(dump.root.clone());
            }
            known.insert(dump.root.clone());
        }
    }
    let mut seeker = Seeker::new(catalogue, known);
    for root in lost.iter().map(|dump| &dump.root).chain(asked) {
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
                presence.0.insert(dump.dump_id, DumpPresence::Here);
            }
            !own
        });
        for stray in &strays {
            presence.of(catalogue, &stray.dump)?;
        }
        for dump in &dumps {
            if left.is_empty() || presence.of(catalogue, dump)?.is_away() {
                break;
            }
        }
    }
    let mut sightings = Vec::new();
    for hit in hits {
        if hit.place != hit.dump.root {
            sightings.push(sight(catalogue, hit, &mut presence)?);
        }
    }
    let claims = claims(catalogue, &dumps, &sightings, &mut presence)?;
    Ok(Evidence {
        asked: asked.to_vec(),
        dumps,
        presence: presence.0,
        lost,
        away,
        sightings,
        strays,
        pictures,
        left,
        claims,
    })
}

/// The presence of dumps, each checked once.
#[derive(Default)]
struct PresenceCache(HashMap<i64, DumpPresence>);

impl PresenceCache {
    fn of(&mut self, catalogue: &Catalogue, dump: &DumpPlace) -> Result<&DumpPresence, Failure> {
        Ok(match self.0.entry(dump.dump_id) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(unknown) => unknown.insert(dump_presence(catalogue, dump)?),
        })
    }
}

/// Checks a location where a dump may be, if the dump is not at its root.
fn sight(
    catalogue: &Catalogue,
    hit: Hit,
    presence: &mut PresenceCache,
) -> Result<Sighting, Failure> {
    let Hit { dump, place } = hit;
    let seen = match presence.of(catalogue, &dump)? {
        DumpPresence::Here if same_folder(&dump.root, &place) => Seen::OwnRoot,
        DumpPresence::Here => Seen::Copy,
        DumpPresence::Shut(error) => Seen::Unsure(error.clone()),
        _ => {
            let (known, volume) = (&dump.volume, volume_of(&place));
            Seen::Files {
                likeness: look_for(catalogue, &dump, &place)?,
                by_volume: known.id.is_some()
                    && (&known.id, &known.below) == (&volume.id, &volume.below),
            }
        }
    };
    Ok(Sighting { dump, place, seen })
}

/// The objections to moves to the locations where whole dumps were found, wherever the other dumps are or may be moved
/// to.
fn claims(
    catalogue: &Catalogue,
    dumps: &[DumpPlace],
    sightings: &[Sighting],
    presence: &mut PresenceCache,
) -> Result<Vec<Claim>, Failure> {
    let is_whole =
        |one: &&Sighting| matches!(&one.seen, Seen::Files { likeness, .. } if likeness.is_whole());
    let whole: Vec<&Sighting> = sightings.iter().filter(is_whole).collect();
    let mut claims = Vec::new();
    for one in &whole {
        for other in dumps
            .iter()
            .filter(|other| other.dump_id != one.dump.dump_id)
        {
            let own = other.left.is_none().then_some(&other.root);
            let may_be = whole
                .iter()
                .filter(|seen| seen.dump.dump_id == other.dump_id);
            for root in own.into_iter().chain(may_be.map(|seen| &seen.place)) {
                let there = DumpPlace {
                    root: root.clone(),
                    ..other.clone()
                };
                if let Some(why) = claim(catalogue, &one.dump, &there, &one.place)? {
                    presence.of(catalogue, other)?;
                    claims.push(Claim {
                        dump_id: one.dump.dump_id,
                        place: one.place.clone(),
                        other: other.dump_id,
                        other_root: there.root,
                        why,
                    });
                }
            }
        }
    }
    Ok(claims)
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use crate::catalogue::purpose::Purpose;
    use crate::terms::volume::Volume;
    use crate::usecase::dumps::decide::by_another_name;
    use crate::usecase::dumps::recognised::Recognised;

    /// For example, one disk mounted at two places.
    #[test]
    fn a_known_root_by_another_name_is_read_as_what_it_is() {
        let world = tempfile::tempdir().unwrap();
        let at = |below: &str| world.path().join(below);
        std::fs::create_dir_all(at("disk/card/DCIM")).unwrap();
        std::os::unix::fs::symlink(at("disk"), at("again")).unwrap();
        let catalogue = Catalogue::open(&at("c.sqlite"), Purpose::ChangeOrMake).unwrap();
        let mut presence = PresenceCache(HashMap::from([(1, DumpPresence::Here)]));
        let mut seen_at = |place: PathBuf| {
            let dump = DumpPlace {
                dump_id: 1,
                label: "card".into(),
                root: at("disk/card"),
                left: None,
                volume: Volume::default(),
                first_seen_utc: String::new(),
                last_seen_utc: String::new(),
            };
            sight(&catalogue, Hit { dump, place }, &mut presence).unwrap()
        };
        let again = seen_at(at("again/card"));
        assert!(matches!(again.seen, Seen::OwnRoot));
        let mut asked = [at("again/card"), at("again/card/DCIM"), at("other")];
        let told = by_another_name(&again, &mut asked);
        assert_eq!(asked, [at("disk/card"), at("disk/card/DCIM"), at("other")]);
        assert!(matches!(told, Some(Recognised::Same { named, .. }) if named == at("again/card")));
        assert!(matches!(seen_at(at("disk")).seen, Seen::Copy));
    }
}
