//! A killed export: each file is the complete old one or the complete new one, and a manifest's hashes show which lists are
//! its own.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::path::PathBuf;

use serde_json::Value;

use crate::killing::kill_at_random;
use crate::kills_of_ingest::program;
use crate::many::SecondBody;
use crate::many::card;
use crate::state::assert_whole;
use crate::world::World;
use crate::world::files_of;

/// The files of a folder, by their names; parts of a killed run, which no reader takes for a list, left out.
type Files = BTreeMap<PathBuf, Vec<u8>>;

fn filled(files: usize) -> World {
    let world = World::new();
    card(
        &world.path("card"),
        files,
        "2023:12",
        SecondBody::WritesNone,
    );
    world.site("Here", "38.9", "-116.0");
    let said = world.run(&["ingest", "--quiet", "--site", "Here", "card"]);
    assert!(said.code < 2, "{}", said.err);
    world
}

fn lists(folder: &Path) -> Files {
    let named = |path: &PathBuf| !path.to_string_lossy().contains("/.framefall-");
    files_of(folder)
        .into_iter()
        .filter(named)
        .map(|path| (path.clone(), fs::read(path).unwrap()))
        .collect()
}

fn lay(folder: &Path, files: &Files) {
    let _ = fs::remove_dir_all(folder);
    fs::create_dir(folder).unwrap();
    for (path, bytes) in files {
        fs::write(path, bytes).unwrap();
    }
}

/// Whether every list of a manifest is the one that its hash means.
fn belongs(manifest: &Path) -> bool {
    let manifest_is: Value = serde_json::from_slice(&fs::read(manifest).unwrap()).unwrap();
    let lists = manifest_is["lists"].as_array().unwrap();
    assert!(!lists.is_empty());
    lists.iter().all(|list| {
        let file = manifest.with_file_name(list["file"].as_str().unwrap());
        fs::read(file).is_ok_and(|bytes| {
            blake3::hash(&bytes).to_hex().as_str() == list["blake3"].as_str().unwrap()
        })
    })
}

/// The contents of a list or a manifest, without the time at which it was written.
fn said(bytes: &[u8]) -> Vec<u8> {
    let Ok(mut manifest) = serde_json::from_slice::<Value>(bytes) else {
        return bytes.to_vec();
    };
    if let Some(written) = manifest.get_mut("written_utc") {
        *written = Value::Null;
    }
    serde_json::to_vec(&manifest).unwrap()
}

/// Kills exports that replace lists by others.
fn kill_exports(name: &str, world: &World, old: &[&str], new: &[&str], rounds: u32) {
    let folder = world.path("lists");
    let export = |query: &[&str]| {
        let words = [&["export", "--overwrite", "--quiet"], query].concat();
        let said = world.run(&words);
        assert!(said.code < 2, "{}", said.err);
    };
    let made = |query: &[&str]| {
        lay(&folder, &Files::new());
        export(query);
        lists(&folder)
    };
    let (before, after) = (made(old), made(new));
    assert_eq!(
        before.keys().collect::<Vec<_>>(),
        after.keys().collect::<Vec<_>>()
    );
    let manifest = before
        .keys()
        .find(|path| path.to_string_lossy().ends_with("manifest.json"))
        .unwrap();
    let words = [&["export", "--overwrite", "--quiet"], new].concat();
    let mut met = BTreeSet::new();
    kill_at_random(
        name,
        rounds,
        &|| program(world, &words),
        &mut || lay(&folder, &before),
        &mut || {
            let now = lists(&folder);
            assert_eq!(
                now.keys().collect::<Vec<_>>(),
                before.keys().collect::<Vec<_>>()
            );
            let mut of_new = 0;
            for (path, bytes) in &now {
                let (was, is) = (*bytes == before[path], said(bytes) == said(&after[path]));
                assert!(was != is, "{} is neither or both", path.display());
                of_new += usize::from(is);
            }
            // The manifest comes last: it is the new one only beside new lists.
            let new_manifest = now[manifest] != before[manifest];
            assert_eq!(new_manifest, of_new == now.len());
            assert_eq!(belongs(manifest), of_new == 0 || of_new == now.len());
            met.insert(of_new);
            assert_whole(&world.path("catalogue.sqlite"));
            export(new);
            assert!(belongs(manifest));
        },
    );
    println!("{name}: new files after a kill: {met:?}");
}

#[test]
fn a_list_and_its_manifest() {
    let world = filled(2_000);
    let to = ["--to", "lists/night.csv"];
    kill_exports(
        "export",
        &world,
        &[&["kind = light and session < 3"], &to[..]].concat(),
        &[&["kind = light"], &to[..]].concat(),
        15,
    );
}

#[test]
fn a_list_for_each_session() {
    let world = filled(2_000);
    let to = ["--to", "lists/night.json", "--per-session"];
    kill_exports(
        "export by session",
        &world,
        &[&["seq < 100"], &to[..]].concat(),
        &[&["seq > 50"], &to[..]].concat(),
        16,
    );
}

/// How many links a tree has, after making sure that its record names each of them and no other.
fn links(tree: &Path) -> usize {
    let record: Value =
        serde_json::from_slice(&fs::read(tree.join("framefall-links.json")).unwrap()).unwrap();
    let recorded: BTreeMap<PathBuf, PathBuf> = record["links"]
        .as_array()
        .unwrap()
        .iter()
        .map(|link| {
            let text = |key: &str| link[key].as_str().unwrap().to_owned();
            (tree.join(text("link")), PathBuf::from(text("source")))
        })
        .collect();
    let there: BTreeMap<PathBuf, PathBuf> = files_of(tree)
        .into_iter()
        .filter(|file| !file.ends_with("framefall-links.json"))
        .map(|file| {
            let source = fs::read_link(&file).unwrap();
            (file, source)
        })
        .collect();
    assert_eq!(recorded, there);
    there.len()
}

#[test]
fn a_tree_of_links() {
    let world = filled(2_000);
    let tree = world.path("trees/tree");
    let words = |query| {
        [
            "export",
            query,
            "--link-into",
            "trees/tree",
            "--overwrite",
            "--quiet",
        ]
    };
    let (few, all) = (words("kind = light and session < 3"), words("kind = light"));
    fs::create_dir(world.path("trees")).unwrap();
    world.run(&all).ended(0);
    let of_all = links(&tree);
    world.run(&few).ended(0);
    let of_few = links(&tree);
    assert!(of_few > 100 && of_all > of_few);
    let mut met = BTreeSet::new();
    kill_at_random(
        "tree of links",
        15,
        &|| program(&world, &all),
        &mut || {
            world.run(&few).ended(0);
            assert_eq!(links(&tree), of_few);
        },
        &mut || {
            let now = links(&tree);
            assert!(now == of_few || now == of_all, "{now}");
            met.insert(now);
        },
    );
    println!("tree of links: links after a kill: {met:?}");
    // The rest beside the tree has a name that cannot be taken for a tree.
    for entry in fs::read_dir(world.path("trees")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let part = name.starts_with(".framefall-") && name.strip_suffix(".part").is_some();
        assert!(name == "tree" || part, "{name}");
    }
}
