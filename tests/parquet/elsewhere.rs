//! Data sets read back by libraries that are not ours, in Python: every cell against the JSON of the same query, counts
//! against `--count`, and the recipes of the documentation.
//!
//! `FRAMEFALL_PYTHON` names an interpreter that has them; `python3` where it names none.

#![cfg(feature = "parquet")]

use crate::years;
use std::process::Command;

use crate::world::World;
use framefall::terms::field::FIELDS;
use framefall::terms::field_radiant::RADIANT_FIELDS;
use serde_json::Value;

const SCRIPT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/parquet_elsewhere.py");

fn python() -> String {
    std::env::var("FRAMEFALL_PYTHON").unwrap_or_else(|_| "python3".to_owned())
}

/// Whether the interpreter has a library; prints a message if not.
fn has(library: &str) -> bool {
    let there = Command::new(python())
        .args(["-c", &format!("import {library}")])
        .output()
        .is_ok_and(|said| said.status.success());
    if !there {
        println!(
            "skipped: {} has no {library} here (FRAMEFALL_PYTHON names another)",
            python()
        );
    }
    there
}

/// The output of a Python program.
fn run(world: &World, words: &[&str]) -> String {
    let said = Command::new(python())
        .args(words)
        .current_dir(world.path(""))
        .output()
        .unwrap();
    let err = String::from_utf8_lossy(&said.stderr);
    assert!(said.status.success(), "{words:?}\n{err}");
    String::from_utf8(said.stdout).unwrap()
}

fn count(world: &World, query: &str) -> i64 {
    let said = world.run(&["frames", query, "--count"]);
    said.out.trim().parse().unwrap()
}

/// The digits that JSON rounds each key to.
fn decimals() -> Value {
    let keys = FIELDS.iter().chain(RADIANT_FIELDS);
    keys.filter_map(|field| Some((field.key.to_owned(), Value::from(field.decimals_kept?))))
        .collect::<serde_json::Map<_, _>>()
        .into()
}

#[test]
fn another_library_reads_the_same_cells_and_counts() {
    if !has("pyarrow") {
        return;
    }
    let world = years::archive();
    world.write("decimals.json", decimals().to_string().as_bytes());
    for (at, query) in [
        "",
        "kind = light",
        "GEM.alt > 30",
        "night = 2023-12-13 and moon.alt < 0",
        "start is unknown",
        "night is unknown",
        "night in 2017..2022 or site is unknown",
    ]
    .iter()
    .enumerate()
    {
        let frames = count(&world, query);
        assert!(frames > 0, "{query}");
        let listed = world.run(&["frames", query, "--as", "json"]).ended(0);
        let radiants: usize = listed
            .json()
            .as_array()
            .unwrap()
            .iter()
            .map(|frame| frame["radiants"].as_array().unwrap().len())
            .sum();
        world.write("told.json", listed.out.as_bytes());
        let high = match *query {
            "" => "GEM.alt > 30 and moon.alt < 0".to_owned(),
            query => format!("({query}) and GEM.alt > 30 and moon.alt < 0"),
        };
        let (plain, parted, file) = (
            format!("plain{at}"),
            format!("parted{at}"),
            format!("{at}.parquet"),
        );
        world
            .run(&["export", query, "--as", "parquet", "--to", &plain])
            .ended(0);
        world
            .run(&[
                "export",
                query,
                "--as",
                "parquet",
                "--per-year",
                "--to",
                &parted,
            ])
            .ended(0);
        world.run(&["export", query, "--to", &file]).ended(0);
        for (frames_at, radiants_at, layout) in [
            (
                format!("{plain}/frames"),
                format!("{plain}/radiants"),
                "plain",
            ),
            (
                format!("{parted}/frames"),
                format!("{parted}/radiants"),
                "parted",
            ),
            (file, format!("{at}.radiants.parquet"), "plain"),
        ] {
            let words = [
                SCRIPT,
                &frames_at,
                &radiants_at,
                layout,
                "told.json",
                "decimals.json",
            ];
            let found: Value = serde_json::from_str(&run(&world, &words)).unwrap();
            assert_eq!(found["frames"], frames, "{query}");
            assert_eq!(found["radiants"], radiants, "{query}");
            assert_eq!(found["gem_high_and_dark"], count(&world, &high), "{query}");
            assert!(
                found["cells"].as_i64().unwrap() >= frames * 50,
                "{query}: {found}"
            );
            if query.is_empty() && layout == "parted" {
                let (read, all) = (&found["pruned"][0], &found["pruned"][1]);
                assert_eq!(*read, 1, "one folder of a year is read");
                assert!(all.as_i64().unwrap() > 8, "{found}");
            }
        }
    }
}

#[test]
fn the_recipes_of_the_documentation_answer_as_framefall_does() {
    let text = include_str!("../../docs/parquet.md");
    let recipes: Vec<&str> = text
        .split("```python\n")
        .skip(1)
        .map(|rest| rest.split("```").next().unwrap())
        .collect();
    assert_eq!(recipes.len(), 3);
    let world = years::archive();
    world
        .run(&[
            "export",
            "kind = light",
            "--as",
            "parquet",
            "--per-year",
            "--to",
            "lights-by-year",
        ])
        .ended(0);
    for recipe in recipes {
        let library = recipe
            .lines()
            .find_map(|line| line.strip_prefix("import "))
            .unwrap();
        if !has(library.split(['.', ' ']).next().unwrap()) {
            continue;
        }
        let said = run(&world, &["-c", recipe]);
        let asks = recipe.lines().next().unwrap();
        match asks
            .strip_prefix("# framefall frames '")
            .and_then(|rest| rest.strip_suffix("' --count"))
        {
            Some(query) => {
                let frames = count(&world, query);
                assert!(frames > 50, "{frames}");
                assert_eq!(said.trim(), frames.to_string(), "{recipe}");
            }
            None => assert!(said.contains("2023"), "{said}"),
        }
    }
}
