//! The reference page of the query language: every field is on it with an example, and every example runs.

use crate::world::World;
use framefall::terms::field::FIELDS;
use framefall::terms::field_radiant::RADIANT_FIELDS;

fn page() -> String {
    std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/query.md")).unwrap()
}

/// Field, key and example of each row of the table of fields.
fn rows(page: &str) -> Vec<(String, String, String)> {
    let table = page.split("## Fields").nth(1).unwrap();
    table
        .lines()
        .filter(|line| line.starts_with("| `"))
        .map(|line| {
            let cells: Vec<&str> = line.split('|').map(str::trim).collect();
            let bare = |at: usize| cells[at].trim_matches('`').to_owned();
            (bare(1), bare(2), bare(5))
        })
        .collect()
}

#[test]
fn every_field_has_its_row_and_an_example_that_asks_for_it() {
    let page = page();
    let rows = rows(&page);
    let named = FIELDS.iter().filter(|f| !f.name.is_empty());
    let mut expect: Vec<(String, String)> = named
        .map(|f| (f.name.to_owned(), f.key.to_owned()))
        .collect();
    let radiants = RADIANT_FIELDS.iter();
    expect.extend(radiants.map(|f| (format!("GEM.{}", f.name), f.key.to_owned())));
    let got: Vec<(String, String)> = rows
        .iter()
        .map(|(f, k, _)| (f.clone(), k.clone()))
        .collect();
    assert_eq!(got, expect);
    for (field, _, example) in &rows {
        let asks = field
            .strip_prefix("GEM.")
            .map_or(field.clone(), |of| format!(".{of}"));
        assert!(example.contains(&asks), "{field}: {example}");
    }
}

#[test]
fn every_example_runs() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card", "--quiet"]).ended(0);
    let page = page();
    let mut queries: Vec<String> = rows(&page)
        .into_iter()
        .map(|(_, _, example)| example)
        .collect();
    let blocks = page.split("```").skip(1).step_by(2);
    queries.extend(
        blocks
            .flat_map(str::lines)
            .filter(|l| !l.is_empty())
            .map(str::to_owned),
    );
    assert!(queries.len() > 60, "{}", queries.len());
    let mut answered = 0;
    for query in queries {
        let said = world.run(&["frames", &query, "--count"]);
        // An answer without frames ends with 1.
        assert!(matches!(said.code, 0 | 1), "{query}: {}", said.err);
        assert_eq!(said.err, "", "{query}");
        answered += u32::from(said.code == 0);
    }
    assert!(answered > 20, "only {answered} find a frame of the demo");
    for option in [
        "--show start,GEM.alt,moon.alt",
        "--by 'GEM.alt desc,start'",
        "--per session",
    ] {
        assert!(page.contains(option), "{option}");
        let words = option.split_once(' ').unwrap();
        world
            .run(&["frames", words.0, words.1.trim_matches('\'')])
            .ended(0);
    }
}
