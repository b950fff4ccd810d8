//! Taking statements over that is killed: none of them is here, or all are.

use std::collections::BTreeSet;

use crate::killing::kill_at_random;
use crate::kills_of_ingest::program;
use crate::many::SecondBody;
use crate::many::card;
use crate::state::assert_whole;
use crate::state::difference;
use crate::state::keep;
use crate::state::put_back;
use crate::world::World;

#[test]
fn statements_that_are_taken_over() {
    let world = World::new();
    card(
        &world.path("card"),
        2_000,
        "2023:12",
        SecondBody::WritesNone,
    );
    let at = |name: &str| world.path(name);
    let stated = at("stated.sqlite");
    let state = |words: &[&str]| {
        let said = world.run(&[&["--catalogue", stated.to_str().unwrap()], words].concat());
        assert!(said.code < 2, "{}", said.err);
    };
    for words in [
        &[
            "site",
            "add",
            "Here",
            "--lat",
            "38.9",
            "--lon",
            "-116.0",
            "--elevation",
            "600",
        ][..],
        &["ingest", "--quiet", "--site", "Here", "card"],
        &["clock", "zone", "0077", "+03:00"],
        &["query", "save", "a", "iso > 1"],
        &["statement", "save", "log.jsonl"],
    ] {
        state(words);
    }
    let said = world.run(&["ingest", "--quiet", "card"]);
    assert!(said.code < 2, "{}", said.err);
    let (catalogue, before, after) = (
        at("catalogue.sqlite"),
        at("before.sqlite"),
        at("after.sqlite"),
    );
    let words = ["statement", "take", "log.jsonl"];
    keep(&catalogue, &before);
    world.run(&words).ended(0);
    keep(&catalogue, &after);
    assert!(difference(&before, &after).is_some());
    let mut met = BTreeSet::new();
    kill_at_random(
        "statement take",
        10,
        &|| program(&world, &words),
        &mut || put_back(Some(&before), &catalogue),
        &mut || {
            assert_whole(&catalogue);
            let untouched = difference(&catalogue, &before).is_none();
            met.insert(untouched);
            // Again: known statements are not taken twice, and frames left without a session are grouped.
            world.run(&words).ended(0);
            let said = world.run(&["ingest", "--quiet", "card"]);
            assert!(said.code < 2, "{}", said.err);
            assert_eq!(
                difference(&catalogue, &after),
                None,
                "untouched: {untouched}"
            );
        },
    );
    assert!(
        met.contains(&true),
        "no kill fell before the statements were taken"
    );
}
