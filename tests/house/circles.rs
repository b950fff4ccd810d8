//! No two files depend on each other, directly or through others: what both need has its own file.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::sources::code_lines;
use crate::sources::files_under;

type Known = BTreeMap<String, BTreeSet<String>>;

/// Which files each file names, by `crate::` or `super::`.
fn known() -> Known {
    let files = files_under("src", ".rs");
    let there: BTreeSet<&str> = files.iter().map(|(file, _)| file.as_str()).collect();
    let mut known = Known::new();
    for (file, text) in &files {
        if file.ends_with("_tests.rs") {
            continue;
        }
        let module = file.trim_end_matches(".rs").trim_end_matches("/mod");
        let above = module.rsplit_once('/').map_or("src", |(above, _)| above);
        let entry = known.entry(file.clone()).or_default();
        for (_, line) in code_lines(text) {
            for (word, root) in [("crate::", "src"), ("super::", above)] {
                for (at, _) in line.match_indices(word) {
                    let path = line[at + word.len()..]
                        .split(|c: char| !c.is_alphanumeric() && c != '_' && c != ':')
                        .next()
                        .unwrap_or("");
                    let parts: Vec<&str> = path.split("::").collect();
                    let named = (1..=parts.len()).rev().find_map(|n| {
                        let place = format!("{root}/{}", parts[..n].join("/"));
                        [format!("{place}.rs"), format!("{place}/mod.rs")]
                            .into_iter()
                            .find(|file| there.contains(file.as_str()))
                    });
                    entry.extend(named.filter(|named| named != file));
                }
            }
        }
    }
    known
}

/// A way from a file back to itself, if there is one.
fn circle_through(file: &str, known: &Known) -> Option<Vec<String>> {
    let mut ways = vec![vec![file.to_owned()]];
    let mut seen = BTreeSet::new();
    while let Some(way) = ways.pop() {
        for next in known.get(way.last()?).into_iter().flatten() {
            let mut on = way.clone();
            on.push(next.clone());
            if next == file {
                return Some(on);
            }
            if seen.insert(next.clone()) {
                ways.push(on);
            }
        }
    }
    None
}

#[test]
fn no_files_know_each_other_in_a_circle() {
    let known = known();
    let names: usize = known.values().map(BTreeSet::len).sum();
    assert!(names > 1_000, "only {names} names were followed");
    let circles: Vec<String> = known
        .keys()
        .filter_map(|file| circle_through(file, &known))
        .map(|way| way.join("\n  -> "))
        .collect();
    assert!(circles.is_empty(), "{}", circles.join("\n"));
}

#[test]
fn a_circle_is_found() {
    let names = |of: &[&str]| of.iter().map(|file| (*file).to_owned()).collect();
    let known = Known::from([
        ("a".to_owned(), names(&["b", "d"])),
        ("b".to_owned(), names(&["c"])),
        ("c".to_owned(), names(&["a"])),
        ("d".to_owned(), names(&[])),
    ]);
    assert!(circle_through("a", &known).is_some());
    assert!(circle_through("d", &known).is_none());
}
