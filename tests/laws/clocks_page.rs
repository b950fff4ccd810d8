//! The page on clocks: its commands run as written, one after the other, and it names every option of a statement.

use crate::world::World;
use clap::CommandFactory;

fn page() -> String {
    std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/clocks.md")).unwrap()
}

/// The words of a command line, single quotes taken off.
fn words(line: &str) -> Vec<String> {
    line.split('\'')
        .enumerate()
        .flat_map(|(i, part)| match i % 2 {
            0 => part.split_whitespace().map(str::to_owned).collect(),
            _ => vec![part.to_owned()],
        })
        .collect()
}

#[test]
fn every_example_runs_and_moves_what_it_says() {
    let world = World::new();
    world.site_with("Salt Ridge", "38.93", "-116.01", &["--elevation", "1905"]);
    world.site_with("Snow Fell", "63.05", "13.35", &["--elevation", "700"]);
    world.dump("geminids-body-b", "gem", |_| true);
    world.dump("geminids-body-a", "gem-a", |_| true);
    world.dump("quadrantids", "qua", |_| true);
    world.run(&["ingest", "--site", "Salt Ridge", "gem", "gem-a"]);
    world.run(&["ingest", "--site", "Snow Fell", "qua"]);
    let start = |file: &str| {
        let query = format!("file = '{file}'");
        let frames = world.run(&["frames", &query, "--as", "json"]).json();
        frames[0]["start_utc"].as_str().unwrap().to_owned()
    };
    let page = page();
    let commands: Vec<&str> = page
        .lines()
        .filter(|line| line.starts_with("framefall "))
        .collect();
    assert_eq!(commands.len(), 8);
    let mut seen = Vec::new();
    // The page counts the sessions of a catalogue that has other cards too.
    let query = ["frames", "file = N6A_0414.DNG", "--as", "json"];
    let session = world.run(&query).json()[0]["session"].to_string();
    for line in commands {
        let line = line.replace("--session 2 ", &format!("--session {session} "));
        let words = words(&line);
        let words: Vec<&str> = words[1..].iter().map(String::as_str).collect();
        world.run(&words).ended(0);
        seen.push((start("N2M_2207.DNG"), start("N2M_0018.DNG")));
    }
    let at = |i: usize| (seen[i].0.as_str(), seen[i].1.as_str());
    let (right, later) = ("2023-12-14T05:30:21.000Z", "2026-01-03T23:02:36.000Z");
    assert_eq!(at(0), (right, later));
    assert_eq!(at(1), (right, later));
    assert_eq!(at(2), (right, "2026-01-03T23:02:32.000Z"));
    assert_eq!(at(3), at(2), "a dry run");
    assert_eq!(at(4), ("2023-12-14T05:31:00.000Z", at(2).1));
    assert_eq!(at(6), at(2));
    assert_eq!(at(7), at(2), "a dry run about another body");
}

#[test]
fn every_option_of_a_fix_stands_on_the_page() {
    let page = page();
    let command = framefall::cli::args::Arguments::command();
    let clock = command.find_subcommand("clock").unwrap();
    let fix = clock.find_subcommand("fix").unwrap();
    for option in fix.get_arguments().filter_map(|a| a.get_long()) {
        assert!(
            page.contains(&format!("--{option}")) || option == "frame",
            "{option}"
        );
    }
    let readme =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    assert!(readme.contains("docs/clocks.md"));
}
