//! The README is right: its commands run on the demo data, and every command is in it.

use crate::world;
use crate::world::World;
use clap::CommandFactory;

fn readme() -> String {
    std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap()
}

/// The words of a command line, quotes taken off.
pub fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quote = None;
    for c in line.chars() {
        match (quote, c) {
            (None, '\'' | '"') => quote = Some(c),
            (Some(q), c) if q == c => quote = None,
            (None, ' ') => words.push(String::new()),
            (_, c) => words.last_mut().unwrap().push(c),
        }
    }
    words
}

#[test]
fn the_first_real_use_runs_as_written() {
    let world = World::new();
    let readme = readme();
    let block = readme
        .split("## On your own cards")
        .nth(1)
        .unwrap()
        .split("```")
        .nth(1)
        .unwrap();
    let dump = world::demo("geminids-body-a")
        .to_string_lossy()
        .into_owned();
    let commands: Vec<&str> = block.lines().filter(|line| !line.is_empty()).collect();
    assert_eq!(commands.len(), 6, "six commands");
    for line in commands {
        let words = words(&line.replace("/path/to/card-dump", &dump));
        assert_eq!(words[0], "framefall");
        let words: Vec<&str> = words[1..].iter().map(String::as_str).collect();
        world.run(&words).ended(0);
    }
    assert!(world.path("geminids.csv").exists());
    assert!(world.path("night.html").exists());
}

#[test]
fn the_readme_is_short_and_shows_what_the_screen_shows() {
    let readme = readme();
    let words = readme.split_whitespace().count();
    assert!(words <= 1_500, "{words} words");
    let world = World::new();
    world.site_with("Salt Ridge", "38.93N", "116.01W", &["--elevation", "1905"]);
    for label in ["geminids-body-a", "geminids-body-b"] {
        let dump = world::demo(label).to_string_lossy().into_owned();
        world.run(&["ingest", "--site", "Salt Ridge", &dump]);
    }
    let shown = readme
        .split("```\n$ framefall sessions 2\n")
        .nth(1)
        .unwrap();
    let shown = shown.split("```").next().unwrap();
    assert!(shown.lines().count() >= 20);
    let said = world.run(&["sessions", "2"]).ended(0);
    assert!(
        said.out.starts_with(shown),
        "README:\n{shown}\nthe program:\n{}",
        said.out
    );
}

#[test]
fn every_command_stands_in_the_readme() {
    let readme = readme();
    for command in framefall::cli::args::Arguments::command().get_subcommands() {
        let name = command.get_name();
        assert!(
            readme.contains(&format!("`framefall {name}")),
            "README lacks {name}"
        );
    }
}

#[test]
fn the_demo_runs_to_its_end_and_leaves_nothing_behind() {
    let world = World::new();
    let said = world.run(&["demo"]).ended(0);
    for words in [
        "frames new",
        "sessions",
        "GEM.alt",
        "20 frames written",
        "truncated",
    ] {
        assert!(
            said.out.contains(words) || said.err.contains(words),
            "{words}"
        );
    }
    let left: Vec<_> = std::fs::read_dir(world.path("")).unwrap().collect();
    assert!(left.is_empty(), "{left:?}");
}
