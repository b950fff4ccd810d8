//! `NOTICES.md` names every crate of a build, with the notices that the licences require.
//!
//! Works from `Cargo.toml` and `Cargo.lock` alone: no network, no cargo.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use toml::{Table, Value};

fn read(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

/// The packages that `Cargo.toml` asks for outside tests, on every platform, and all that those ask for.
///
/// `Cargo.lock` keeps dev-dependencies of our own package only, so what is reached from the others is
/// exactly what builds them.
fn taken_in() -> BTreeSet<String> {
    let manifest: Table = read("Cargo.toml").parse().unwrap();
    let lock: Table = read("Cargo.lock").parse().unwrap();
    let mut needs: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for package in lock["package"].as_array().unwrap() {
        let asked = package.get("dependencies").and_then(Value::as_array);
        // "name", or "name version" where there are several: both are taken in.
        let asked = asked
            .into_iter()
            .flatten()
            .map(|one| one.as_str().unwrap().split(' ').next().unwrap());
        needs
            .entry(package["name"].as_str().unwrap())
            .or_default()
            .extend(asked);
    }
    let mut waiting: Vec<&str> = dependencies(&manifest);
    for platform in manifest["target"].as_table().unwrap().values() {
        waiting.extend(dependencies(platform.as_table().unwrap()));
    }
    let mut found = BTreeSet::new();
    while let Some(name) = waiting.pop() {
        if found.insert(name.to_owned()) {
            waiting.extend(&needs[name]);
        }
    }
    found
}

fn dependencies(of: &Table) -> Vec<&str> {
    ["dependencies", "build-dependencies"]
        .iter()
        .filter_map(|kind| of.get(*kind)?.as_table())
        .flat_map(|table| table.keys().map(String::as_str))
        .collect()
}

/// Crate, licence and copyright of every row of the table.
fn rows(notices: &str) -> Vec<[&str; 3]> {
    let table = notices.split_once("| --- | --- | --- |\n").unwrap().1;
    table
        .lines()
        .take_while(|line| line.starts_with('|'))
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split(" | ").map(str::trim).collect();
            cells.try_into().unwrap()
        })
        .collect()
}

#[test]
fn every_crate_is_named_and_no_other() {
    let notices = read("NOTICES.md");
    let named: BTreeSet<String> = rows(&notices).iter().map(|row| row[0].to_owned()).collect();
    let taken_in = taken_in();
    assert!(taken_in.len() > 80, "{} crates", taken_in.len());
    let missing: Vec<_> = taken_in.difference(&named).collect();
    let gone: Vec<_> = named.difference(&taken_in).collect();
    assert!(
        missing.is_empty() && gone.is_empty(),
        "NOTICES.md lacks {missing:?} (take licence and copyright line from the crate's own files), \
         and still names {gone:?}"
    );
}

/// A licence that is new to the table needs its text, or a choice, written down first.
#[test]
fn every_licence_is_one_we_can_keep() {
    const KEPT: [&str; 11] = [
        "MIT",
        "Apache-2.0",
        "BSD-2-Clause",
        "BSD-3-Clause",
        "BSD-3-Clause AND BSD-2-Clause",
        "CC0-1.0",
        "Zlib",
        "(MIT OR Apache-2.0) AND Unicode-3.0",
        "MIT AND BSD-3-Clause",
        "MIT AND ODbL-1.0",
        "(MIT OR Apache-2.0) AND IJG",
    ];
    let notices = read("NOTICES.md");
    for [name, licence, copyright] in rows(&notices) {
        let kept = KEPT.contains(&licence)
            || licence
                .split(" OR ")
                .flat_map(|one| one.split('/'))
                .any(|one| one == "MIT" || one == "Apache-2.0");
        assert!(kept, "{name}: {licence}");
        assert!(!copyright.is_empty(), "{name}: whose is it?");
    }
}

#[test]
fn what_must_be_said_is_said() {
    let notices = read("NOTICES.md");
    let flat = notices.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        // SOFA Software License, 3 a.
        "uses routines and computations derived from software provided by SOFA under license",
        "does not itself constitute software provided by and/or endorsed by SOFA",
        // ODbL 1.0, 4.2 and 4.3.
        "© OpenStreetMap contributors",
        "https://opendatacommons.org/licenses/odbl/1-0/",
        // Texts that must travel with a binary.
        "The above copyright notice and this permission notice shall be included in all copies",
        "Redistributions in binary form must reproduce the above copyright notice",
        "Neither the name of the copyright holder nor the names of its contributors",
        // Apache Licence 2.0, 4 d: the notice of the crate parquet.
        "This product includes software developed at The Apache Software Foundation",
        "The origin of this software must not be misrepresented",
        "COPYRIGHT AND PERMISSION NOTICE Copyright © 1991-2023 Unicode, Inc.",
        // Licence of the Independent JPEG Group, 2.
        "this software is based in part on the work of the Independent JPEG Group",
        "6. The provision of any version of the SOFA software under the terms",
    ] {
        assert!(flat.contains(words), "NOTICES.md does not say: {words}");
    }
}

#[test]
fn both_licences_are_here_in_full() {
    assert!(read("LICENSE-MIT").contains("Copyright (c) 2026 The framefall authors"));
    let apache = read("LICENSE-APACHE");
    assert!(apache.contains("Version 2.0, January 2004"));
    assert!(apache.contains("END OF TERMS AND CONDITIONS"));
}
