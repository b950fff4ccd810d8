//! Calibration frames that do not match, are gone, damaged, on a disk that is not there, or came later.

use std::fs;

use crate::calibration::LATER;
use crate::calibration::LIGHTS;
use crate::calibration::NIGHT;
use crate::calibration::ingest;
use crate::calibration::manifest;
use crate::calibration::rows;
use crate::calibration::run;
use crate::frames::LIGHT;
use crate::frames::Taken;
use crate::frames::raw;
use crate::frames::reading;
use crate::world::World;

#[test]
fn a_list_without_a_match_says_so_and_why() {
    let world = World::new();
    run(&world, "light", NIGHT, 3600, 20, LIGHT);
    run(
        &world,
        "dark",
        NIGHT,
        18_000,
        20,
        Taken {
            exposure: (30, 1),
            ..LIGHT
        },
    );
    ingest(&world);
    let said = world
        .run(&[
            "export",
            LIGHTS,
            "--to",
            "list.csv",
            "--with-darks",
            "--with-bias",
            "--quiet",
        ])
        .ended(1);
    assert!(
        said.err.contains(
            "0, none; of 20 darks of this body, none is exposed as long; those there \
                       are have 30 s"
        ),
        "{}",
        said.err
    );
    assert!(
        said.err.contains("there are no bias frames of this body"),
        "{}",
        said.err
    );
    assert_eq!(
        rows(&world, "list.csv").len(),
        20,
        "the list is written all the same"
    );
    assert_eq!(rows(&world, "list.darks.csv").len(), 0);
    assert_eq!(
        manifest(&world, "list.csv")["calibration"][0]["match"],
        "none"
    );

    let none = world
        .run(&["export", "kind = dark", "--to", "darks.csv", "--with-darks"])
        .ended(1);
    assert!(
        none.err.contains("none of these frames is a light"),
        "{}",
        none.err
    );
}

#[test]
fn damaged_and_missing_frames_are_not_chosen() {
    let world = World::new();
    world.dump("geminids-body-a", "a", |_| true);
    let dark = |n: u32| world.path(&format!("a/DCIM/102DARKS/N6A_{n:04}.DNG"));
    let whole = fs::read(dark(480)).unwrap();
    fs::write(dark(480), &whole[..whole.len() / 2]).unwrap();
    world.run(&["ingest", "a"]).ended(1);
    fs::remove_file(dark(482)).unwrap();
    let said = world
        .run(&["export", LIGHTS, "--to", "list.txt", "--with-darks"])
        .ended(0);
    let names = |list: &str| -> Vec<String> {
        let text = fs::read_to_string(world.path(list)).unwrap();
        text.lines()
            .map(|path| path[path.len() - 8..path.len() - 4].to_owned())
            .collect()
    };
    assert_eq!(
        names("list.darks.txt"),
        ["0478", "0479", "0481", "0483"],
        "each once"
    );
    assert!(said.err.contains("4, usable"), "{}", said.err);
    assert!(
        said.err
            .contains("2 that match are missing, changed or damaged in the dump a"),
        "{}",
        said.err
    );

    // Its lights and darks are of one kind of file.
    let jpeg = world
        .run(&[
            "export",
            "kind = light and file like '*.DNG'",
            "--to",
            "j.txt",
            "--with-darks",
            "--take",
            "jpeg",
            "--allow-missing",
        ])
        .ended(1);
    for told in [
        "none of the 6 matching darks can be exported",
        "5 that match in the dump a are of another kind of file than their lights",
        "1 that match are missing, changed or damaged in the dump a",
    ] {
        assert!(jpeg.err.contains(told), "{}", jpeg.err);
    }
}

#[test]
fn a_disk_that_is_not_plugged_in_is_named() {
    let world = World::new();
    run(&world, "light", NIGHT, 3600, 20, LIGHT);
    ingest(&world);
    for i in 0..12 {
        let bytes = raw(&reading(LATER, 3600 + i * 20), LIGHT);
        world.write(&format!("library/dark/N7_{i:04}.DNG"), &bytes);
    }
    world.run(&["ingest", "library"]).ended(0);
    fs::rename(world.path("library"), world.path("away")).unwrap();
    let said = world
        .run(&["export", LIGHTS, "--to", "list.txt", "--with-darks"])
        .ended(1);
    assert!(
        said.err
            .contains("12 that match are in the dump library, which is offline"),
        "{}",
        said.err
    );
    fs::rename(world.path("away"), world.path("library")).unwrap();
    world
        .run(&[
            "export",
            LIGHTS,
            "--to",
            "list.txt",
            "--with-darks",
            "--overwrite",
        ])
        .ended(0);
}

#[test]
fn a_list_made_again_finds_darks_that_came_meanwhile() {
    let world = World::new();
    run(&world, "light", NIGHT, 3600, 20, LIGHT);
    run(&world, "dark", LATER, 3600, 4, LIGHT);
    ingest(&world);
    world
        .run(&["export", LIGHTS, "--to", "list.csv", "--with-darks"])
        .ended(0);
    let again = world
        .run(&["export", "--again", "list.csv.manifest.json"])
        .ended(0);
    assert!(again.err.contains("byte for byte"), "{}", again.err);
    run(&world, "more/dark", LATER, 9000, 8, LIGHT);
    ingest(&world);
    let again = world
        .run(&["export", "--again", "list.csv.manifest.json"])
        .ended(1);
    assert!(again.err.contains("new in the list"), "{}", again.err);
    world
        .run(&["export", "--again", "list.csv.manifest.json", "--overwrite"])
        .ended(1);
    assert_eq!(rows(&world, "list.darks.csv").len(), 12);
}
