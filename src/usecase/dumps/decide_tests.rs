use super::*;
use crate::terms::volume::Volume;

fn dump(dump_id: i64, root: &str) -> DumpPlace {
    DumpPlace {
        dump_id,
        label: format!("card {dump_id}"),
        root: root.into(),
        left: None,
        volume: Volume::default(),
        first_seen_utc: String::new(),
        last_seen_utc: String::new(),
    }
}

fn seen(dump: &DumpPlace, place: &str, fit: usize, by_volume: bool) -> Sighting {
    let likeness = SampleMatch {
        looked: 10,
        fit,
        missing: 10 - fit,
        ..SampleMatch::default()
    };
    Sighting {
        dump: dump.clone(),
        place: place.into(),
        seen: Seen::Files {
            likeness,
            by_volume,
        },
    }
}

fn root_claim(one: &Sighting, other: &DumpPlace, other_root: &str) -> Claim {
    Claim {
        dump_id: one.dump.dump_id,
        place: one.place.clone(),
        other: other.dump_id,
        other_root: other_root.into(),
        why: format!("that is the root of dump {}", other.label),
    }
}

/// Dumps that are not at their roots, where there are other files.
fn evidence(dumps: &[DumpPlace], sightings: Vec<Sighting>, claims: Vec<Claim>) -> Evidence {
    let presence_of = |dump: &DumpPlace| (dump.dump_id, DumpPresence::Strange(10));
    Evidence {
        asked: vec!["/slot1".into(), "/slot2".into()],
        dumps: dumps.to_vec(),
        presence: dumps.iter().map(presence_of).collect(),
        lost: dumps.to_vec(),
        away: Vec::new(),
        sightings,
        strays: Vec::new(),
        pictures: vec!["/slot1/a.jpg".into(), "/slot2/a.jpg".into()],
        left: Vec::new(),
        claims,
    }
}

fn moves(decision: &Decision) -> Vec<(i64, &str, usize)> {
    let each = decision.moves.iter();
    each.map(|one| (one.dump.dump_id, one.to.to_str().unwrap(), one.freed.len()))
        .collect()
}

#[test]
fn cards_that_changed_slots_change_roots() {
    let (a, b) = (dump(1, "/slot1"), dump(2, "/slot2"));
    let sightings = vec![seen(&a, "/slot2", 10, false), seen(&b, "/slot1", 10, false)];
    let claims = vec![
        root_claim(&sightings[0], &b, "/slot2"),
        root_claim(&sightings[1], &a, "/slot1"),
    ];
    let decision = decide(&evidence(&[a, b], sightings, claims), Newcomers::Recognised).unwrap();
    // The first to move frees the other's root, and no longer blocks it.
    assert_eq!(moves(&decision), [(2, "/slot1", 1), (1, "/slot2", 0)]);
    assert!(decision.set_aside.is_empty());
    let replaced = |one: &Recognised| matches!(one, Recognised::Replaced { .. });
    assert!(!decision.told.iter().any(replaced), "both are somewhere");
}

#[test]
fn a_dump_in_two_places_and_two_dumps_in_one_are_doubtful_unless_a_volume_tells() {
    let (a, b) = (dump(1, "/old1"), dump(2, "/old2"));
    let twice = vec![seen(&a, "/x", 10, false), seen(&a, "/y", 10, false)];
    let decision = decide(
        &evidence(std::slice::from_ref(&a), twice, Vec::new()),
        Newcomers::Recognised,
    )
    .unwrap();
    assert!(decision.moves.is_empty());
    let doubtful = |one: &Recognised| matches!(one, Recognised::Doubtful { .. });
    assert_eq!(decision.told.iter().filter(|one| doubtful(one)).count(), 2);
    for (by_volume, expect) in [(false, vec![]), (true, vec![(2, "/x", 0)])] {
        let both = vec![seen(&a, "/x", 10, false), seen(&b, "/x", 10, by_volume)];
        let all = evidence(&[a.clone(), b.clone()], both, Vec::new());
        let decision = decide(&all, Newcomers::Recognised).unwrap();
        assert_eq!(moves(&decision), expect);
    }
}

#[test]
fn most_of_a_dump_is_refused_and_few_files_are_told() {
    let a = dump(1, "/old");
    let of = |fit| {
        evidence(
            std::slice::from_ref(&a),
            vec![seen(&a, "/x", fit, false)],
            Vec::new(),
        )
    };
    let refused = decide(&of(8), Newcomers::Recognised).unwrap_err();
    assert!(refused.message.contains("looks like dump card 1"));
    assert!(decide(&of(8), Newcomers::New).unwrap().moves.is_empty());
    let told = decide(&of(3), Newcomers::Recognised).unwrap().told;
    assert!(matches!(told[0], Recognised::Few { .. }));
    // The whole of it beside a part: the part is a copy.
    let both = vec![seen(&a, "/x", 8, false), seen(&a, "/y", 10, false)];
    let decision = decide(&evidence(&[a], both, Vec::new()), Newcomers::Recognised).unwrap();
    assert_eq!(moves(&decision), [(1, "/y", 0)]);
}

#[test]
fn a_root_where_other_pictures_lie_is_given_up_and_an_empty_one_is_not() {
    let mut evidence = evidence(
        &[dump(1, "/slot1"), dump(2, "/gone")],
        Vec::new(),
        Vec::new(),
    );
    evidence.pictures.truncate(1);
    let decision = decide(&evidence, Newcomers::Recognised).unwrap();
    assert_eq!(decision.set_aside.len(), 1);
    assert_eq!(decision.set_aside[0].dump_id, 1);
    assert_eq!(decision.away, [PathBuf::from("/gone")]);
    assert!(
        matches!(&decision.told[..], [Recognised::Replaced { label, .. }] if label == "card 1")
    );
}
