//! An audit of any length takes a bounded memory, in the order and the forms of a short one.

use std::process::Command;

use rusqlite::Connection;

use crate::world::World;
use crate::world::frame_at;

/// Adds findings to the one file of the catalogue, numbered, with long words.
fn add_findings(world: &World, from: u32, until: u32) {
    let catalogue = Connection::open(world.path("catalogue.sqlite")).unwrap();
    catalogue
        .execute(
            "WITH RECURSIVE n (n) AS (SELECT ?1 WHERE ?1 <= ?2 UNION ALL SELECT n + 1 FROM n WHERE n < ?2)
             INSERT INTO written_finding (file_id, code, saw, did)
             SELECT (SELECT min(file_id) FROM written_file), 'value-absurd',
                    printf('%07d %.*c', n, 700, 'x'), 'nothing' FROM n",
            [from, until],
        )
        .unwrap();
}

#[test]
fn a_long_audit_takes_little_memory_and_is_summed_up() {
    let world = World::new();
    world.write("card/N2M_0001.DNG", &frame_at("2023:12:13 22:31:00"));
    world.run(&["ingest", "card"]).ended(0);
    let before = world.run(&["audit", "--as", "csv"]).ended(1);
    let others = before.out.lines().count() - 1;
    let mut findings = 0;
    for (form, more) in [
        ("table", 3_000),
        ("json", 0),
        ("jsonl", 0),
        ("csv", 147_000),
    ] {
        // The last one: held together, the texts alone are 100 MB.
        add_findings(&world, findings + 1, findings + more);
        findings += more;
        let program = env!("CARGO_BIN_EXE_framefall");
        let run = Command::new("sh")
            .args([
                "-c",
                &format!("ulimit -v 140000; exec '{program}' audit --all --as {form}"),
            ])
            .env_clear()
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .output()
            .unwrap();
        let err = String::from_utf8_lossy(&run.stderr);
        assert_eq!(run.status.code(), Some(1), "{form}: {err}");
        let out = String::from_utf8_lossy(&run.stdout);
        let lines = out.matches("value-absurd").count();
        assert_eq!(lines, findings as usize, "{form}");
        let sum = format!("{} findings:", lines + others);
        assert!(err.contains(&sum), "{err}");
        let note = format!("{findings} note: value-absurd: ");
        assert!(err.contains(&note), "{err}");
        let at = |n: u32| out.find(&format!("{n:07} xxx")).unwrap();
        assert!(at(1) < at(2) && at(2) < at(findings), "{form}: in order");
    }
}

/// As with `head`: the list is cut, the exit code is that of the whole list.
#[test]
fn a_reader_that_leaves_does_not_change_the_exit_code() {
    let world = World::new();
    world.write("card/N2M_0001.DNG", &frame_at("2023:12:13 22:31:00"));
    world.run(&["ingest", "card"]).ended(0);
    add_findings(&world, 1, 3_000);
    let program = env!("CARGO_BIN_EXE_framefall");
    let run = Command::new("sh")
        .args([
            "-c",
            &format!("{{ '{program}' audit --as csv; echo $? >&2; }} | head -n 1"),
        ])
        .env("PATH", std::env::var_os("PATH").unwrap())
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .output()
        .unwrap();
    let err = String::from_utf8_lossy(&run.stderr);
    assert_eq!(err.lines().last(), Some("1"), "{err}");
    assert_eq!(String::from_utf8_lossy(&run.stdout).lines().count(), 1);
}
