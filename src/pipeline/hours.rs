//! Hours that happened twice or never, settled by the order of a body's frames in one night.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::catalogue::derive::BodyNight;
use crate::catalogue::derive::Derived;
use crate::catalogue::store::Batch;
use crate::clock::order::Known;
use crate::clock::order::Shown;
use crate::clock::order::settle;
use crate::clock::resolve::known;
use crate::clock::rule::Rule;
use crate::pipeline::derive::Deriver;
use crate::pipeline::when::RightedReading;
use crate::terms::failure::Failure;

/// A righted reading that a zone is asked about.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The zone.
    zone: String,
    /// The reading, and what the zone says of it.
    shown: Shown,
}

/// What a zone says of a righted reading; `None` where an offset was written and no zone is asked.
pub(super) fn asked(righted: RightedReading<'_>) -> Option<Asked> {
    let Some(Rule::Zone(zone)) = righted.rule else {
        return None;
    };
    Some(Asked {
        zone: zone.name().to_owned(),
        shown: Shown {
            reading_ms: righted.reading.reading_ms(),
            known: known(righted.reading, zone),
        },
    })
}

/// Settles the doubtful hours of a body's night, those of the flagged frames, and derives those frames anew.
pub(super) fn settle_hours(
    batch: &Batch<'_>,
    deriver: &mut Option<Deriver>,
    night: &BodyNight,
    flagged: &BTreeSet<i64>,
) -> Result<(), Failure> {
    let deriver = match deriver {
        Some(deriver) => deriver,
        None => deriver.insert(Deriver::new(batch)?),
    };
    // Frames of one zone at a time, each in the order of the names that the body gave its files.
    let mut by_zone: BTreeMap<String, Vec<(i64, Shown)>> = BTreeMap::new();
    for frame_id in batch.frames_by_name(night)? {
        let facts = batch.frame_facts(frame_id)?;
        if let Some(asked) = deriver.righted_by_zone(batch, &facts)? {
            by_zone
                .entry(asked.zone)
                .or_default()
                .push((frame_id, asked.shown));
        }
    }
    for frames in by_zone.values() {
        let shown: Vec<Shown> = frames.iter().map(|(_, shown)| *shown).collect();
        for ((frame_id, shown), offset_s) in frames.iter().zip(settle(&shown)) {
            let otherwise = match (shown.known, offset_s) {
                (Known::Sure(own_s), Some(offset_s)) => own_s != offset_s,
                _ => false,
            };
            if otherwise || flagged.contains(frame_id) {
                let facts = batch.frame_facts(*frame_id)?;
                deriver.derive_settled(batch, &facts, Derived::Again, offset_s)?;
            }
        }
    }
    Ok(())
}
