//! Whether an archive lasts: files read back in slices, and lists of hashes.

use std::fs;
use std::process::Command;

use crate::world::World;
use crate::world::files_of;

#[test]
fn an_archive_is_checked_in_slices_the_oldest_first() {
    let world = World::new();
    world.dump("geminids-body-a", "old", |_| true);
    world.run(&["ingest", "old"]).ended(0);
    let first = world
        .run(&["audit", "--content", "--at-most", "0.2MB"])
        .ended(0);
    assert!(
        first.err.contains("hashed for the first time"),
        "{}",
        first.err
    );
    assert!(
        first.err.contains("not all files were reached"),
        "{}",
        first.err
    );
    let hashed = |said: &str| -> u64 {
        let line = said
            .lines()
            .find(|line| line.contains("hashed for the first time"));
        line.map_or(0, |line| line.split(' ').next().unwrap().parse().unwrap())
    };
    let (mut sum, mut runs) = (hashed(&first.err), 1);
    loop {
        let next = world
            .run(&["audit", "--content", "--at-most", "0.2MB"])
            .ended(0);
        let now = hashed(&next.err);
        sum += now;
        runs += 1;
        if next.err.contains("matching the kept hashes") {
            break;
        }
        assert!(runs < 60);
    }
    assert_eq!(sum, 80, "each file once before any a second time");
    assert!(runs > 3, "{runs}");
    let list = world.run(&["dump", "list", "--as", "json"]).ended(0).json();
    assert!(
        list[0]["last_proved"].as_str().unwrap().ends_with("never"),
        "{list}"
    );
    world.run(&["audit", "--content", "--for", "1h"]).ended(0);
    for words in [["--for", "soon"], ["--at-most", "much"]] {
        let said = world
            .run(&["audit", "--content", words[0], words[1]])
            .ended(2);
        assert!(said.err.contains("write it as"), "{}", said.err);
    }
}

#[test]
fn lists_for_older_dumps_and_lists_that_were_there() {
    let world = World::new();
    world.dump("geminids-body-a", "old", |_| true);
    world.write("old/with\nnewline.txt", b"odd");
    world.run(&["ingest", "old"]).ended(0);
    world
        .run(&["dump", "hashes", "old", "--to", "hashes.txt"])
        .ended(0);
    let check = |list: &str, folder: &str| {
        Command::new("sha256sum")
            .args(["--check", "--strict", "--quiet", list])
            .current_dir(world.path(folder))
            .status()
            .unwrap()
            .success()
    };
    assert!(check("hashes.txt", ""));
    fs::create_dir(world.path("aside")).unwrap();
    world
        .run(&["dump", "hashes", "old", "--to", "aside/hashes.txt"])
        .ended(0);
    assert!(check("hashes.txt", "aside"), "absolute names elsewhere");
    let inside = world
        .run(&["dump", "hashes", "old", "--to", "old/hashes.txt"])
        .ended(2);
    assert!(inside.err.contains("never writes there"), "{}", inside.err);
    world
        .run(&["dump", "hashes", "old", "--to", "hashes.txt"])
        .ended(2);

    // A list of stock tools beside a dump is read; one that differs is a finding.
    let made = Command::new("sh")
        .args([
            "-c",
            "find old -type f -print0 | xargs -0 sha256sum > old.sha256",
        ])
        .current_dir(world.path(""))
        .status();
    assert!(made.unwrap().success());
    let said = world.run(&["audit", "--content"]).ended(0);
    assert!(
        said.err.contains("lists of hashes beside the dumps"),
        "{}",
        said.err
    );
    let text = fs::read_to_string(world.path("old.sha256")).unwrap();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let digit = if lines[0].starts_with('0') { "1" } else { "0" };
    lines[0].replace_range(0..1, digit);
    fs::write(world.path("old.sha256"), lines.join("\n") + "\n").unwrap();
    let said = world.run(&["audit", "--content"]).ended(1);
    assert!(said.out.contains("list-differs"), "{}", said.out);
    // In the form of b3sum, which has the same lines.
    fs::remove_file(world.path("old.sha256")).unwrap();
    let file = files_of(&world.path("old")).remove(0);
    let name = file
        .strip_prefix(world.path("old"))
        .unwrap()
        .display()
        .to_string();
    let right = blake3::hash(&fs::read(&file).unwrap()).to_hex();
    world.write("old/B3SUMS", format!("{right}  {name}\n").as_bytes());
    world.run(&["audit", "--content"]).ended(0);
    world.write(
        "old/B3SUMS",
        format!("{}  {name}\n", "0".repeat(64)).as_bytes(),
    );
    world.run(&["audit", "--content"]).ended(1);
}
