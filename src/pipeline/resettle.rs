//! Moves the dumps of which it is plain that they have moved; where it is not plain, says why. Looks for no files.

use std::path::Path;
use std::path::PathBuf;

use crate::capture::volume::volume_of;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::handle::Catalogue;
use crate::pipeline::dumps::Way;
use crate::pipeline::dumps::put_root;
use crate::pipeline::dumps::way_to;
use crate::pipeline::recognised::Recognised;
use crate::pipeline::seek::Hit;
use crate::terms::failure::Failure;

/// Moves the dumps of which it is plain that they have moved; gives those that were set aside for them.
pub(super) fn settle(
    catalogue: &mut Catalogue,
    moved: &[Hit],
    told: &mut Vec<Recognised>,
) -> Result<Vec<DumpPlace>, Failure> {
    let mut aside = Vec::new();
    let mut places: Vec<&PathBuf> = moved.iter().map(|hit| &hit.place).collect();
    places.sort_unstable();
    places.dedup();
    for place in places {
        let may_be: Vec<&Hit> = moved.iter().filter(|hit| hit.place == *place).collect();
        let volume = volume_of(place);
        let by_volume: Vec<&Hit> = may_be
            .iter()
            .filter(|hit| {
                let known = &hit.dump.volume;
                known.id.is_some() && (&known.id, &known.below) == (&volume.id, &volume.below)
            })
            .copied()
            .collect();
        let hit = match (may_be.as_slice(), by_volume.as_slice()) {
            ([one], _) | (_, [one]) => *one,
            _ => {
                let why = "its files are those of more than one dump that is not there".to_owned();
                told.push(doubtful(place, &may_be, why));
                continue;
            }
        };
        let elsewhere = moved
            .iter()
            .find(|other| other.dump.dump_id == hit.dump.dump_id && other.place != hit.place);
        if let Some(other) = elsewhere {
            let why = format!("it could as well be {}", other.place.display());
            told.push(doubtful(place, &[hit], why));
            continue;
        }
        let freed = match way_to(catalogue, &hit.dump, place)? {
            Way::Free(freed) => freed,
            Way::Claimed(why) => {
                told.push(doubtful(place, &[hit], why));
                continue;
            }
        };
        put_root(catalogue, &hit.dump, place, &freed)?;
        aside.extend(freed);
        told.push(Recognised::Moved {
            label: hit.dump.label.clone(),
            from: hit.dump.place().to_path_buf(),
            to: place.clone(),
        });
    }
    Ok(aside)
}

/// A folder that may be dumps, and is taken as new.
pub(super) fn doubtful(place: &Path, hits: &[&Hit], why: String) -> Recognised {
    Recognised::Doubtful {
        place: place.to_path_buf(),
        labels: hits.iter().map(|hit| hit.dump.label.clone()).collect(),
        why,
    }
}
