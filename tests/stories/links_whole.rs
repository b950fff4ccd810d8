//! A folder tree of links, symbolic, hard, reflinked or copied: complete or absent, and no other file harmed.

#![cfg(unix)]

use std::fs;
use std::os::unix::fs::MetadataExt;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use crate::tree::contents;
use crate::tree::links;
use crate::tree::night;
use crate::tree::no_parts;

#[test]
fn an_empty_folder_is_taken_and_a_tree_replaced_when_told_to() {
    let world = night();
    fs::create_dir(world.path("tree")).unwrap();
    world
        .run(&["export", "kind = light", "--link-into", "tree"])
        .ended(0);
    assert_eq!(links(&world.path("tree")).len(), 64);
    let refused = world
        .run(&["export", "kind = dark", "--link-into", "tree"])
        .ended(2);
    assert!(refused.err.contains("--overwrite"), "{}", refused.err);
    assert_eq!(links(&world.path("tree")).len(), 64);
    world
        .run(&[
            "export",
            "kind = dark",
            "--link-into",
            "tree",
            "--overwrite",
            "--link-as",
            "copy",
        ])
        .ended(0);
    assert_eq!(links(&world.path("tree")).len(), 6);

    // What somebody else put there, or changed, stays.
    let copy = world.path("tree").join(&links(&world.path("tree"))[0]);
    let picture = fs::read(&copy).unwrap();
    for (stranger, bytes) in [
        (
            world.path("tree/2023-12-13 session 4/master.fit"),
            b"mine".to_vec(),
        ),
        (copy.clone(), [&picture[..], b"edited"].concat()),
    ] {
        fs::write(&stranger, bytes).unwrap();
        let refused = world
            .run(&[
                "export",
                "kind = light",
                "--link-into",
                "tree",
                "--overwrite",
            ])
            .ended(2);
        assert!(
            refused
                .err
                .contains(stranger.file_name().unwrap().to_str().unwrap()),
            "{}",
            refused.err
        );
        assert!(stranger.exists());
        if stranger != copy {
            fs::remove_file(&stranger).unwrap();
        }
    }
    no_parts(&world);
}

#[test]
fn a_list_and_a_tree_of_one_name_are_refused_and_neither_is_made() {
    let world = night();
    for (to, tree) in [
        ("one.csv", "one.csv"),
        ("one.csv", "one.csv.manifest.json"),
        ("one.csv", "./one.darks.csv"),
    ] {
        let words = ["export", "kind = light", "--to", to, "--link-into", tree];
        let refused = world
            .run(&[&words[..], &["--with-darks"]].concat())
            .ended(2);
        assert!(refused.err.contains("the same name"), "{}", refused.err);
        for name in ["one.csv", "one.csv.manifest.json", "one.darks.csv"] {
            assert!(!world.path(name).exists(), "{name}");
        }
    }
    no_parts(&world);
}

#[test]
fn hard_links_are_the_file_and_copies_are_their_own() {
    let world = night();
    let before = contents(&world.path("a"));
    let said = world
        .run(&[
            "export",
            "kind = dark",
            "--link-into",
            "hard",
            "--link-as",
            "hard",
        ])
        .ended(0);
    assert!(
        said.err.contains("writes into the original"),
        "{}",
        said.err
    );
    world
        .run(&[
            "export",
            "kind = dark",
            "--link-into",
            "copy",
            "--link-as",
            "copy",
        ])
        .ended(0);
    for (tree, same) in [("hard", true), ("copy", false)] {
        for link in links(&world.path(tree)) {
            let there = fs::symlink_metadata(world.path(tree).join(&link)).unwrap();
            let own = link.split(' ').next_back().unwrap();
            let own = fs::metadata(world.path("a/DCIM/102DARKS").join(own)).unwrap();
            assert!(there.is_file());
            assert_eq!(there.ino() == own.ino(), same, "{link}");
            assert_eq!(there.modified().unwrap(), own.modified().unwrap());
        }
    }
    world
        .run(&[
            "export",
            "kind = light",
            "--link-into",
            "hard",
            "--overwrite",
        ])
        .ended(0);
    assert_eq!(contents(&world.path("a")), before);
}

#[test]
fn reflinks_are_made_or_refused_with_what_else_to_take() {
    let world = night();
    let said = world.run(&[
        "export",
        "kind = dark",
        "--link-into",
        "tree",
        "--link-as",
        "reflink",
    ]);
    if said.code == 0 {
        assert_eq!(links(&world.path("tree")).len(), 6);
    } else {
        println!("this file system makes no reflinks: the refusal is tested alone");
        assert_eq!(said.code, 2);
        assert!(said.err.contains("use --link-as symbolic"), "{}", said.err);
        assert!(!world.path("tree").exists());
    }
    no_parts(&world);
}

/// A link in the place of a picture leads out of the dump, a pipe would be waited for without end.
#[test]
fn what_is_no_file_any_more_is_not_copied_even_unlooked_at() {
    let world = night();
    let dark = world.path("a/DCIM/102DARKS/N6A_0480.DNG");
    let export = |link_as: &str| {
        let words = ["export", "kind = dark", "--check", "none"];
        let tree = ["--link-into", "tree", "--link-as", link_as];
        let said = world.run(&[&words[..], &tree].concat()).ended(2);
        assert!(said.err.contains("N6A_0480"), "{}", said.err);
        assert!(said.err.contains("--allow-missing"), "{}", said.err);
        assert!(!world.path("tree").exists());
    };
    fs::remove_file(&dark).unwrap();
    world.write("elsewhere.DNG", b"not the dump's");
    std::os::unix::fs::symlink(world.path("elsewhere.DNG"), &dark).unwrap();
    export("copy");
    export("hard");
    fs::remove_file(&dark).unwrap();
    if Command::new("mkfifo")
        .arg(&dark)
        .status()
        .is_ok_and(|made| made.success())
    {
        export("copy");
    }
}

#[test]
fn a_hard_link_across_disks_is_refused_with_the_cure() {
    let world = night();
    let disk = |path: &Path| fs::metadata(path).map(|about| about.dev()).ok();
    let other = [
        Path::new("/dev/shm"),
        Path::new("/run"),
        Path::new("/var/tmp"),
    ]
    .into_iter()
    .find(|folder| disk(folder).is_some_and(|own| Some(own) != disk(&world.path("a"))))
    .and_then(|folder| tempfile::tempdir_in(folder).ok());
    let Some(other) = other else {
        println!("skipped: there is no second disk here that may be written to");
        return;
    };
    let tree = other.path().join("tree");
    let into = tree.to_str().unwrap();
    let said = world
        .run(&[
            "export",
            "kind = dark",
            "--link-into",
            into,
            "--link-as",
            "hard",
        ])
        .ended(2);
    assert!(
        said.err.contains("cannot lead to another disk") && said.err.contains("--link-as symbolic"),
        "{}",
        said.err
    );
    assert_eq!(fs::read_dir(other.path()).unwrap().count(), 0);
    world
        .run(&["export", "kind = dark", "--link-into", into])
        .ended(0);
    assert_eq!(links(&tree).len(), 6);
}

#[test]
fn a_kill_leaves_the_old_tree_or_the_new_one() {
    let world = night();
    world
        .run(&[
            "export",
            "kind = dark",
            "--link-into",
            "tree",
            "--link-as",
            "copy",
        ])
        .ended(0);
    let mut whole = 6;
    for round in 0..16_u64 {
        let query = if whole == 6 {
            "kind = light"
        } else {
            "kind = dark"
        };
        let mut child = Command::new(env!("CARGO_BIN_EXE_framefall"))
            .args([
                "export",
                query,
                "--link-into",
                "tree",
                "--link-as",
                "copy",
                "--overwrite",
                "--quiet",
            ])
            .current_dir(world.path(""))
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(round * 4));
        child.kill().unwrap();
        child.wait().unwrap();
        let now = links(&world.path("tree")).len();
        assert!(now == 6 || now == 64, "{now}");
        whole = now;
    }
}
