//! Damaged frames on their way to the stacking step: named and left out, unless they are asked for.

use crate::world;
use std::fs;

use crate::world::Said;
use crate::world::World;
use serde_json::Value;

const SHORT: &str = "card/DCIM/100NCTRN/N6A_0412.DNG";
const EMPTY: &str = "card/DCIM/100NCTRN/N6A_0413.DNG";
const BLANK: &str = "card/DCIM/100NCTRN/N6A_0414.DNG";
const GARBLED: &str = "card/DCIM/100NCTRN/N6A_0415.DNG";

/// A card with one frame of each kind of damage.
fn night() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "card", |name| name.contains(".DNG"));
    let bytes = fs::read(world.path(SHORT)).unwrap();
    fs::write(world.path(SHORT), &bytes[..bytes.len() * 3 / 4]).unwrap();
    fs::write(world.path(EMPTY), b"").unwrap();
    fs::write(world.path(BLANK), vec![0; bytes.len()]).unwrap();
    fs::write(world.path(GARBLED), b"this is no picture at all").unwrap();
    world.run(&["ingest", "card"]).ended(1);
    world
}

fn export(world: &World, more: &[&str]) -> Said {
    let words = ["export", "dump = card", "--to", "list.txt", "--overwrite"];
    world.run(&[&words[..], more].concat())
}

fn manifest(world: &World) -> Value {
    let text = fs::read(world.path("list.txt.manifest.json")).unwrap();
    serde_json::from_slice(&text).unwrap()
}

#[test]
fn damaged_frames_are_named_and_left_out_whatever_is_checked() {
    let world = night();
    let all = world::files_of(&world.path("card")).len();
    for check in [
        &[][..],
        &["--check", "content"],
        &["--check", "none"],
        &["--check", "none", "--relative"],
        &["--take", "raw"],
        &["--per-session"],
    ] {
        let said = export(&world, check).ended(1);
        for (file, code) in [
            (SHORT, "truncated"),
            (EMPTY, "empty-file"),
            (BLANK, "blank-file"),
            (GARBLED, "not-understood"),
        ] {
            let line = said
                .err
                .lines()
                .find(|line| line.contains(file))
                .unwrap_or_else(|| panic!("{file} is not named: {}", said.err));
            assert!(line.contains(&format!("damage: {code}")), "{line}");
        }
        assert!(said.err.contains("4 frames are left out"), "{}", said.err);
        assert!(said.err.contains("--with-damaged"), "{}", said.err);
        assert!(!said.err.contains("listed with another"), "{}", said.err);
        let manifest = manifest(&world);
        assert_eq!(manifest["left_out"].as_array().unwrap().len(), 4);
        assert_eq!(manifest["options"]["with_damaged"], false);
        let files = manifest["files"].as_array().unwrap();
        assert_eq!(files.len(), all - 4, "{check:?}");
        let text = serde_json::to_string(files).unwrap();
        assert!(!text.contains("N6A_0412") && !text.contains("N6A_0413"));
    }
}

#[test]
fn damaged_frames_are_handed_on_when_asked_for_and_a_list_stays_as_it_was() {
    let world = night();
    for check in ["files", "content", "none"] {
        let said = export(&world, &["--with-damaged", "--check", check]).ended(0);
        assert!(said.err.contains("4 of them are damaged"), "{}", said.err);
        // None of the four is a JPEG in place of a raw file.
        assert!(!said.err.contains("listed with another"), "{}", said.err);
        let list = fs::read_to_string(world.path("list.txt")).unwrap();
        for file in [SHORT, EMPTY, BLANK, GARBLED] {
            assert!(list.contains(file), "{check}: {file}");
        }
    }
    world
        .run(&["export", "--again", "list.txt.manifest.json"])
        .ended(0);
    // A manifest of an earlier version, which did not ask.
    let path = world.path("list.txt.manifest.json");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replace(",\"with_damaged\":true", "")).unwrap();
    world
        .run(&["export", "--again", "list.txt.manifest.json"])
        .ended(0);
}

#[test]
fn a_list_left_short_by_damage_is_made_again_as_it_was() {
    let world = night();
    export(&world, &[]).ended(1);
    let again = world
        .run(&["export", "--again", "list.txt.manifest.json"])
        .ended(1);
    assert!(again.err.contains("byte for byte"), "{}", again.err);
    let whole = world
        .run(&[
            "export",
            "--again",
            "list.txt.manifest.json",
            "--with-damaged",
        ])
        .ended(1);
    assert!(whole.err.contains("new in the list"), "{}", whole.err);
}

#[test]
fn no_link_leads_to_a_damaged_frame_and_a_missing_file_still_refuses_the_list() {
    let world = night();
    let said = world
        .run(&["export", "dump = card", "--link-into", "tree"])
        .ended(1);
    assert!(said.err.contains("4 frames are left out"), "{}", said.err);
    let links = world::files_of(&world.path("tree"));
    assert!(!links.iter().any(|link| link.ends_with("N6A_0412.DNG")));
    fs::remove_file(world.path("card/DCIM/100NCTRN/N6A_0418.DNG")).unwrap();
    let refused = export(&world, &[]).ended(2);
    assert!(refused.err.contains("1 of "), "{}", refused.err);
    assert!(!world.path("list.txt").exists());
}

#[test]
fn many_damaged_frames_are_counted_behind_the_first() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |name| name.contains(".DNG"));
    for file in world::files_of(&world.path("card")).iter().take(30) {
        fs::write(file, b"").unwrap();
    }
    world.run(&["ingest", "card"]).ended(1);
    let said = export(&world, &[]).ended(1);
    let lines = said.err.lines().filter(|l| l.contains("damage:")).count();
    assert_eq!(lines, 20, "{}", said.err);
    assert!(said.err.contains("and 10 more"), "{}", said.err);
    assert!(said.err.contains("30 frames are left out"), "{}", said.err);
}
