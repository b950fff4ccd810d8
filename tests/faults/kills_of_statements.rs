//! A statement that is killed while the frames it concerns are derived anew: either nothing of it was said, or all of it
//! followed.

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
fn a_site_that_moves_and_a_clock_that_is_put_right() {
    let world = World::new();
    card(
        &world.path("card"),
        2_000,
        "2023:12",
        SecondBody::WritesNone,
    );
    world.site("Here", "38.9", "-116.0");
    let ingest = || {
        let said = world.run(&["ingest", "--quiet", "card"]);
        assert!(said.code < 2, "{}", said.err);
    };
    let said = world.run(&["ingest", "--quiet", "--site", "Here", "card"]);
    assert!(said.code < 2, "{}", said.err);
    let at = |name: &str| world.path(name);
    let (catalogue, before, after) = (
        at("catalogue.sqlite"),
        at("before.sqlite"),
        at("after.sqlite"),
    );
    keep(&catalogue, &before);
    let fix = [
        "clock",
        "fix",
        "0077",
        "--read",
        "2023-12-02 00:40:00",
        "--true",
        "2023-12-02T08:10:00Z",
    ];
    let statements: [(&str, &[&str], u32); 3] = [
        (
            "site change",
            &["site", "change", "Here", "--lat", "38.7"],
            7,
        ),
        ("clock fix", &fix, 7),
        ("clock zone", &["clock", "zone", "0077", "+03:00"], 6),
    ];
    for (name, words, rounds) in statements {
        put_back(Some(&before), &catalogue);
        world.run(words).ended(0);
        let _ = std::fs::remove_file(&after);
        keep(&catalogue, &after);
        assert!(
            difference(&before, &after).is_some(),
            "{name} changes nothing"
        );
        let mut met = BTreeSet::new();
        kill_at_random(
            name,
            rounds,
            &|| program(&world, words),
            &mut || put_back(Some(&before), &catalogue),
            &mut || {
                assert_whole(&catalogue);
                ingest();
                let from_before = difference(&catalogue, &before);
                let said = if from_before.is_some() {
                    assert_eq!(
                        difference(&catalogue, &after),
                        None,
                        "{name}: {from_before:?}"
                    );
                    "all of it"
                } else {
                    world.run(words).ended(0);
                    assert_eq!(difference(&catalogue, &after), None, "{name}, said again");
                    "nothing"
                };
                met.insert(said);
            },
        );
        println!("{name}: said after a kill: {met:?}");
        assert!(
            met.contains("nothing"),
            "{name} was never hit before it was made to last"
        );
    }
}
