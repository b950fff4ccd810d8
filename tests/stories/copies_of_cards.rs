//! Several cards at once, damaged pictures, and folders that no copy is written to.

use crate::copies::bytes_of;
use crate::world::World;

#[test]
fn several_cards_at_once_have_a_folder_each() {
    let world = World::new();
    world.dump("geminids-body-a", "a/CARD", |_| true);
    world.dump("geminids-body-b", "b/CARD", |name| name != "N2M_2219.DNG");
    let alike = world
        .run(&["copy", "a/CARD", "b/CARD", "--to", "all"])
        .ended(2);
    assert!(alike.err.contains("--label"), "{}", alike.err);
    assert!(!world.path("all").exists());
    world
        .run(&[
            "copy", "a/CARD", "b/CARD", "--label", "body A", "--label", "body B", "--to", "all",
        ])
        .ended(0);
    for (card, copy) in [("a/CARD", "all/body A"), ("b/CARD", "all/body B")] {
        assert_eq!(bytes_of(&world.path(card)), bytes_of(&world.path(copy)));
        assert!(world.path(&format!("{copy}.sha256")).exists());
    }
    let list = world.run(&["dump", "list", "--as", "json"]).ended(0).json();
    let labels: Vec<_> = list
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row["dump"].clone())
        .collect();
    assert_eq!(labels, ["body A", "body B"]);
}

#[test]
fn damaged_pictures_are_told_while_the_card_is_there() {
    let world = World::new();
    world.dump("geminids-body-b", "card", |_| true);
    let said = world
        .run(&["copy", "card", "--to", "night", "--no-ingest", "--quiet"])
        .ended(1);
    assert!(said.err.contains("damage: truncated"), "{}", said.err);
    assert!(
        said.err.contains("card/DCIM/100NCTRN/N2M_2219.DNG"),
        "{}",
        said.err
    );
    assert!(said.err.contains("keep it as it is"), "{}", said.err);
}

#[test]
fn no_card_and_no_dump_is_written_to() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.dump("geminids-body-b", "dump", |_| true);
    world.run(&["ingest", "--quiet", "dump"]);
    let before = [bytes_of(&world.path("card")), bytes_of(&world.path("dump"))];
    for target in [
        "card",
        "card/DCIM/copy",
        ".",
        "dump",
        "dump/new",
        "card/DCIM/100NCTRN/N6A_0414.DNG",
    ] {
        let said = world.run(&["copy", "card", "--to", target]).ended(2);
        assert!(said.err.contains("framefall: "), "{target}: {}", said.err);
        assert_eq!(
            [bytes_of(&world.path("card")), bytes_of(&world.path("dump"))],
            before,
            "{target}"
        );
    }
    world
        .run(&["copy", "card", "--to", "one", "--to", "./one"])
        .ended(2);
    world.run(&["copy", "nowhere", "--to", "one"]).ended(2);
    assert!(
        !world.path("one").exists(),
        "nothing before it is known to work"
    );
}
