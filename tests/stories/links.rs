//! A folder tree of links for programs that take folders: laid out by session and kind, in places that are free.

#![cfg(unix)]

use crate::world;
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt;

use crate::frames::LIGHT;
use crate::frames::raw;
use crate::frames::reading;
use crate::tree::contents;
use crate::tree::links;
use crate::tree::night;
use crate::tree::no_parts;
use crate::world::World;

#[test]
fn frames_lie_by_session_and_kind_in_the_order_of_their_starts() {
    let world = night();
    let before = contents(&world.path("a"));
    let said = world
        .run(&["export", "night = 2023-12-13", "--link-into", "tree"])
        .ended(0);
    assert!(said.err.contains("72 links made in"), "{}", said.err);
    let tree = world.path("tree");
    let links = links(&tree);
    assert_eq!(links.len(), 72);
    assert_eq!(links[2], "2023-12-13 session 2/light/0001 N6A_0414.DNG");
    assert_eq!(links[71], "2023-12-13 session 4/dark/0006 N6A_0483.DNG");
    let first = fs::read_link(tree.join(&links[2])).unwrap();
    assert_eq!(
        first,
        world
            .path("a/DCIM/100NCTRN/N6A_0414.DNG")
            .canonicalize()
            .unwrap()
    );

    // The frame's other file, when that is asked for; no list beside it.
    world
        .run(&[
            "export",
            "file = N6A_0460.DNG",
            "--take",
            "jpeg",
            "--link-into",
            "jpeg",
        ])
        .ended(0);
    assert!(world::files_of(&world.path("jpeg"))[0].ends_with("0001 N6A_0460.JPG"));
    assert_eq!(contents(&world.path("a")), before, "the dump is as it was");
    no_parts(&world);
}

#[test]
fn names_of_two_cards_do_not_collide_and_none_leaves_its_folder() {
    let world = World::new();
    let names: [&[u8]; 9] = [
        b"IMG_0001.DNG",
        b"img_0001.dng",
        b"..\\..\\up.DNG",
        b"line\nfeed.DNG",
        b"\xFFnot utf-8\xC3.DNG",
        b"CON.DNG",
        b"dots.DNG. .",
        b"\xE2\x80\xAEgnD.DNG",
        &[b'x'; 255],
    ];
    for (i, name) in names.iter().enumerate() {
        for (card, step) in [("one", 0), ("two", 7)] {
            let seconds = 3600 + u32::try_from(i).unwrap() * 20 + step;
            let folder = world.path(card).join("light");
            fs::create_dir_all(&folder).unwrap();
            fs::write(
                folder.join(OsStr::from_bytes(name)),
                raw(&reading("2023:12:14", seconds), LIGHT),
            )
            .unwrap();
        }
    }
    world.run(&["ingest", "one", "two"]);
    let all = world.run(&["frames", "--count"]).out.trim().to_owned();
    world.run(&["export", "", "--link-into", "tree"]).ended(0);
    let links = links(&world.path("tree"));
    assert_eq!(links.len().to_string(), all);
    assert!(links.len() >= 14, "{links:#?}");
    let folded: BTreeSet<String> = links.iter().map(|link| link.to_lowercase()).collect();
    assert_eq!(folded.len(), links.len());
    for link in &links {
        assert_eq!(link.split('/').count(), 3, "{link}");
        assert!(
            !link.contains(['\\', '\n', '\u{202e}']) && link.len() < 200,
            "{link}"
        );
    }
}

#[test]
fn places_that_are_not_free_are_refused_and_left_alone() {
    let world = night();
    world.write("mine/result.tif", b"a night's work");
    world.write("file", b"");
    let before = contents(&world.path(""));
    for (into, said) in [
        ("a", "is inside a card dump"),
        ("a/DCIM/tree", "is inside a card dump"),
        ("a/../a/tree", "is inside a card dump"),
        ("mine", "did not put there"),
        ("file", "a link tree needs a folder"),
        ("nowhere/tree", "there is no such folder"),
        ("/", "root of the file system"),
        ("nowhere/..", "not the name of a folder"),
    ] {
        for more in [&[][..], &["--overwrite"]] {
            let refused = world
                .run(&[&["export", "", "--link-into", into], more].concat())
                .ended(2);
            assert!(refused.err.contains(said), "{into}: {}", refused.err);
        }
    }
    let inside = world
        .run(&["export", "", "--link-into", "new", "--to", "new/list.csv"])
        .ended(2);
    assert!(!world.path("new").exists(), "{}", inside.err);
    world.run(&["export", ""]).ended(2);
    world
        .run(&["export", "", "--link-into", "new", "--as", "csv"])
        .ended(2);
    world
        .run(&["export", "", "--to", "l.csv", "--link-as", "copy"])
        .ended(2);
    let none = world
        .run(&["export", "iso = 1", "--link-into", "new"])
        .ended(1);
    assert!(
        none.err.contains("nothing to export; new was not written"),
        "{}",
        none.err
    );
    assert_eq!(contents(&world.path("")), before);
}
