//! Hours that happened twice or never, resolved by the order of a body's frames in one night.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::clock::fix::BodyClock;
use crate::clock::night::night_by_reading;
use crate::clock::night::night_by_zone;
use crate::clock::order::Known;
use crate::clock::order::Shown;
use crate::clock::order::assign_offsets;
use crate::placing::book::SiteBook;
use crate::placing::time::FrameTime;
use crate::placing::time::ReadFrame;
use crate::placing::time::asked;
use crate::placing::time::righted;
use crate::terms::finding::Finding;

/// The offsets that follow from the order of the frames, by index: those of ambiguous readings, and of readings that
/// continue them against the rules of their zone.
///
/// Takes: the frames of an evening in the order of the body's file names.
pub(super) fn decided_hours(
    frames: &[ReadFrame<'_>],
    book: &SiteBook,
    clock: &BodyClock,
) -> BTreeMap<usize, i32> {
    let mut settled = BTreeMap::new();
    if !frames.iter().any(|frame| is_doubtful(&frame.time)) {
        return settled;
    }
    // Frames of one night and zone at a time.
    let mut together: BTreeMap<(Option<String>, String), Vec<OnCard>> = BTreeMap::new();
    let mut doubtful = BTreeSet::new();
    for (at, frame) in frames.iter().enumerate() {
        let zone = book.zone(frame.assigned.site_id);
        let Some(righted) = righted(frame.facts, frame.stamped, zone, clock) else {
            continue;
        };
        let night = match (frame.time.start_utc, zone) {
            (Some(start), Some(zone)) => night_by_zone(start, zone),
            _ => night_by_reading(righted.reading),
        };
        let Some(asked) = asked(righted) else {
            continue;
        };
        if is_doubtful(&frame.time) {
            doubtful.insert(night.clone());
        }
        let of = together.entry((night, asked.zone)).or_default();
        of.push((frame.facts.dump_id, at, asked.shown));
    }
    together.retain(|(night, _), _| doubtful.contains(night));
    for mut of in together.into_values() {
        one_card_at_a_time(&mut of);
        let shown: Vec<Shown> = of.iter().map(|(_, _, shown)| *shown).collect();
        for ((_, at, shown), offset_s) in of.iter().zip(assign_offsets(&shown)) {
            let Some(offset_s) = offset_s else {
                continue;
            };
            let otherwise = matches!(shown.known, Known::Sure(own_s) if own_s != offset_s);
            if otherwise || is_doubtful(&frames[*at].time) {
                settled.insert(*at, offset_s);
            }
        }
    }
    settled
}

/// A frame: its dump, its index among those given, its reading.
type OnCard = (i64, usize, Shown);

fn is_doubtful(time: &FrameTime) -> bool {
    let in_doubt = |finding: &Finding| matches!(finding.code, "clock-twice" | "clock-never");
    time.findings.iter().any(in_doubt)
}

/// If a body restarted its file numbers on each card, so that the names of several cards interleave, puts the frames
/// card by card, in the order of the cards' first readings. Cards with consecutive names stay as they are.
fn one_card_at_a_time(frames: &mut [OnCard]) {
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
                .enumerate()
                .map(|(place, (dump, at))| (*dump, place, shown(*at)))
                .collect();
            one_card_at_a_time(&mut frames);
            frames.iter().map(|f| f.2.reading_ms).collect::<Vec<_>>()
        };
        assert_eq!(
            order(&[(7, 30), (2, 10), (7, 31), (2, 11), (7, 32)]),
            [10, 11, 30, 31, 32]
        );
        // Names that continue across a change of cards are better evidence than readings: here the clock was put back.
        assert_eq!(
            order(&[(2, 50), (2, 51), (7, 10), (7, 11)]),
            [50, 51, 10, 11]
        );
    }
}
