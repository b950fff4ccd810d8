//! Hours that happened twice or never, settled by the order of a body's frames in one night.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::body_night::Derived;
use crate::clock::order::Known;
use crate::clock::order::Shown;
use crate::clock::order::settle;
use crate::pipeline::derive::Deriver;
use crate::terms::failure::Failure;

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
    let mut by_zone: BTreeMap<String, Vec<(i64, i64, Shown)>> = BTreeMap::new();
    for (frame_id, dump_id) in batch.frames_by_name(night)? {
        let facts = batch.frame_facts(frame_id)?;
        if let Some(asked) = deriver.righted_by_zone(batch, &facts)? {
            by_zone
                .entry(asked.zone)
                .or_default()
                .push((dump_id, frame_id, asked.shown));
        }
    }
    for mut frames in by_zone.into_values() {
        one_card_at_a_time(&mut frames);
        let shown: Vec<Shown> = frames.iter().map(|(_, _, shown)| *shown).collect();
        for ((_, frame_id, shown), offset_s) in frames.iter().zip(settle(&shown)) {
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

/// Puts the frames of cards whose names run into each other, since a body began to count anew on each, card by card, in
/// the order of the cards' first readings. Cards whose names follow each other stay as they are.
fn one_card_at_a_time(frames: &mut [(i64, i64, Shown)]) {
    let mut first: BTreeMap<i64, i64> = BTreeMap::new();
    for (dump_id, _, shown) in &*frames {
        first.entry(*dump_id).or_insert(shown.reading_ms);
    }
    let changes = frames.windows(2).filter(|two| two[0].0 != two[1].0).count();
    if changes >= first.len() {
        frames.sort_by_key(|(dump_id, ..)| (first.get(dump_id).copied(), *dump_id));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cards_that_were_numbered_anew_are_taken_one_by_one() {
        let shown = |reading_ms| Shown {
            reading_ms,
            known: Known::Sure(0),
        };
        let order = |frames: &[(i64, i64)]| {
            let mut frames: Vec<_> = frames
                .iter()
                .zip(0..)
                .map(|((dump, at), id)| (*dump, id, shown(*at)))
                .collect();
            one_card_at_a_time(&mut frames);
            frames.iter().map(|f| f.2.reading_ms).collect::<Vec<_>>()
        };
        assert_eq!(
            order(&[(7, 30), (2, 10), (7, 31), (2, 11), (7, 32)]),
            [10, 11, 30, 31, 32]
        );
        // Names that run on over a change of cards tell more than readings do: here the clock was put back.
        assert_eq!(
            order(&[(2, 50), (2, 51), (7, 10), (7, 11)]),
            [50, 51, 10, 11]
        );
    }
}
