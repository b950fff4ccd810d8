//! Persistent session numbers: a session keeps its number while most of its frames stay together, and gets an earlier
//! one back when its frames come together again. Knows no SQL.

use std::collections::BTreeMap;
use std::collections::HashSet;

use crate::terms::records::Session;

/// A key for a set of frames, whatever their order: first and last number, count, and a hash of them all.
///
/// Source: the hash is FNV-1a, 64 bits, with its published constants (from memory).
pub fn members_key(session: &Session) -> String {
    let mut ids: Vec<i64> = session.members.iter().map(|m| m.frame_id).collect();
    ids.sort_unstable();
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    for byte in ids.iter().flat_map(|id| id.to_le_bytes()) {
        hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    }
    let end = |id: Option<&i64>| id.copied().unwrap_or(0);
    format!(
        "{}-{}-{}-{hash:016x}",
        end(ids.first()),
        end(ids.last()),
        ids.len()
    )
}

/// Gives each session a number it had before; no number goes to two sessions.
///
/// Takes: sessions of all nights that are grouped together, the number each frame's session had before, and the number
/// that exactly these frames once had, by [`members_key`]. Gives: that number first; then the number that most of its
/// frames had.
pub fn assign_numbers(
    sessions: &mut [&mut Session],
    before: &BTreeMap<i64, i64>,
    once: &BTreeMap<String, i64>,
) {
    let mut taken = HashSet::new();
    for session in sessions.iter_mut() {
        session.continues = once
            .get(&members_key(session))
            .copied()
            .filter(|number| taken.insert(*number));
    }
    let mut claims: Vec<(usize, i64, usize)> = Vec::new();
    for (i, session) in sessions.iter().enumerate() {
        let mut votes: BTreeMap<i64, usize> = BTreeMap::new();
        for number in session
            .members
            .iter()
            .filter_map(|m| before.get(&m.frame_id))
        {
            *votes.entry(*number).or_default() += 1;
        }
        claims.extend(votes.into_iter().map(|(number, count)| (count, number, i)));
    }
    // The strongest claim first; between equals the older number, then the earlier session.
    claims.sort_by(|a, b| b.0.cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    for (_, number, i) in claims {
        if sessions[i].continues.is_none() && taken.insert(number) {
            sessions[i].continues = Some(number);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::records::SessionMember;

    fn session(ids: &[i64]) -> Session {
        let members = ids.iter().map(|id| SessionMember {
            frame_id: *id,
            ..SessionMember::default()
        });
        Session {
            members: members.collect(),
            ..Session::default()
        }
    }

    fn numbers(sets: &[&[i64]], before: &[(i64, i64)], once: &[(&[i64], i64)]) -> Vec<Option<i64>> {
        let mut sessions: Vec<Session> = sets.iter().map(|ids| session(ids)).collect();
        let once = once
            .iter()
            .map(|(ids, number)| (members_key(&session(ids)), *number))
            .collect();
        let mut all: Vec<&mut Session> = sessions.iter_mut().collect();
        assign_numbers(&mut all, &before.iter().copied().collect(), &once);
        sessions.iter().map(|s| s.continues).collect()
    }

    #[test]
    fn a_number_stays_with_most_of_its_frames() {
        let before = [(1, 7), (2, 7), (3, 7)];
        assert_eq!(
            numbers(&[&[3], &[1, 2], &[4]], &before, &[]),
            [None, Some(7), None]
        );
    }

    #[test]
    fn frames_that_come_together_again_get_their_number_back() {
        let joined = [(1, 3), (2, 3), (3, 3), (4, 3)];
        let once: &[(&[i64], i64)] = &[(&[1, 2, 3], 3), (&[4], 5)];
        assert_eq!(
            numbers(&[&[3, 2, 1], &[4]], &joined, once),
            [Some(3), Some(5)]
        );
        // Another set of frames has no claim on that number.
        assert_eq!(numbers(&[&[1, 2], &[3, 4]], &joined, once), [Some(3), None]);
    }
}
