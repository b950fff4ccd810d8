//! A tree of copies of a card on which single files cannot be read: the others are exported, and the missing ones are named.

#![cfg(unix)]

use std::fs;
use std::path::PathBuf;
use std::process::Command;

use serde_json::Value;

use crate::tree::links;
use crate::tree::night;
use crate::tree::no_parts;
use crate::world::World;

const EXPORT: &[&str] = &[
    "export",
    "night = 2023-12-13 and kind = light",
    "--with-darks",
    "--to",
    "lights.csv",
    "--as",
    "csv",
    "--link-into",
    "tree",
    "--link-as",
    "copy",
    "--check",
    "none",
];

/// A file that can be opened and whose first byte cannot be read: this process's memory. Given back when it is dropped.
struct Unreadable(PathBuf);

impl Unreadable {
    /// `None`, with the reason printed, where the system refuses.
    fn new(file: PathBuf) -> Option<Self> {
        let mounted = Command::new("mount")
            .arg("--bind")
            .arg(format!("/proc/{}/mem", std::process::id()))
            .arg(&file)
            .output();
        match mounted {
            Ok(output) if output.status.success() => Some(Self(file)),
            why => {
                println!("skipped: nothing can be mounted over a file here: {why:?}");
                None
            }
        }
    }
}

impl Drop for Unreadable {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).status();
    }
}

fn manifest(world: &World) -> Value {
    serde_json::from_str(&fs::read_to_string(world.path("lights.csv.manifest.json")).unwrap())
        .unwrap()
}

fn export(world: &World, more: &[&str]) -> crate::world::Said {
    world.run(&[EXPORT, more].concat())
}

#[test]
fn what_cannot_be_copied_leaves_tree_list_and_manifest_alike() {
    let world = night();
    export(&world, &[]).ended(0);
    let all = links(&world.path("tree")).len();
    let lights = manifest(&world)["lists"][0]["frames"].as_u64().unwrap();
    let middle = manifest(&world)["lists"][0]["reference"]["path"].clone();
    let middle = PathBuf::from(middle.as_str().unwrap());
    let name = middle.file_name().unwrap().to_str().unwrap().to_owned();

    // The reference frame is gone, and so is a dark.
    fs::remove_file(&middle).unwrap();
    fs::remove_file(world.path("a/DCIM/102DARKS/N6A_0480.DNG")).unwrap();
    let refused = export(&world, &["--overwrite"]).ended(2);
    assert!(refused.err.contains("--allow-missing"), "{}", refused.err);
    let said = export(&world, &["--overwrite", "--allow-missing"]).ended(1);
    assert!(said.err.contains(&name), "{}", said.err);
    assert!(said.err.contains("missing"), "{}", said.err);
    let left = links(&world.path("tree"));
    // The dark served two sessions.
    assert_eq!(left.len(), all - 3);
    assert!(!left.iter().any(|link| link.ends_with(&name)), "{left:?}");
    let told = manifest(&world);
    assert_eq!(told["lists"][0]["frames"].as_u64(), Some(lights - 1));
    let reference = told["lists"][0]["reference"]["path"].as_str().unwrap();
    assert!(!reference.ends_with(&name), "{reference}");
    let left_out = told["left_out"].as_array().unwrap();
    assert!(
        left_out.iter().any(|one| one.to_string().contains(&name)),
        "{left_out:?}"
    );
    let list = fs::read_to_string(world.path("lights.csv")).unwrap();
    assert!(!list.contains(&name));
    no_parts(&world);

    // A reference frame that was named is not exchanged for another.
    let named = export(
        &world,
        &["--overwrite", "--allow-missing", "--reference", &name],
    )
    .ended(2);
    assert!(named.err.contains("reference frame"), "{}", named.err);
    assert_eq!(links(&world.path("tree")).len(), all - 3);
}

#[test]
fn a_file_that_cannot_be_read_is_told_with_the_error_and_nothing_of_it_is_kept() {
    let world = night();
    let file = world.path("a/DCIM/100NCTRN/N6A_0414.DNG");
    let Some(_unreadable) = Unreadable::new(file) else {
        return;
    };
    let refused = export(&world, &[]).ended(2);
    assert!(refused.err.contains("N6A_0414.DNG"), "{}", refused.err);
    assert!(!world.path("tree").exists() && !world.path("lights.csv").exists());
    let said = export(&world, &["--allow-missing"]).ended(1);
    assert!(said.err.contains("N6A_0414.DNG"), "{}", said.err);
    assert!(
        said.err.contains("read-error") && said.err.contains("(os error 5)"),
        "{}",
        said.err
    );
    let left = links(&world.path("tree"));
    assert!(
        !left.iter().any(|link| link.ends_with("N6A_0414.DNG")),
        "{left:?}"
    );
    assert!(!left.is_empty());
    no_parts(&world);
}

#[test]
fn where_no_file_can_be_copied_nothing_is_written() {
    let world = night();
    fs::remove_dir_all(world.path("a/DCIM")).unwrap();
    let said = export(&world, &["--allow-missing"]).ended(1);
    assert!(said.err.contains("nothing to export"), "{}", said.err);
    assert!(!world.path("tree").exists() && !world.path("lights.csv").exists());
    no_parts(&world);
}
