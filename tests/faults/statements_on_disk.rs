//! What the photographer states is on the disk before it is confirmed, also while another program has the catalogue open and
//! its log is therefore not carried over. Watched from outside, by the system calls.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::world::World;

/// The system calls of a run that write and sync, in order, with the names of the files.
fn calls(world: &World, words: &[&str]) -> Vec<String> {
    let trace = world.path("trace");
    let output = Command::new("strace")
        .args(["-f", "-y", "-s", "40", "-o"])
        .arg(&trace)
        .args(["-e", "trace=pwrite64,write,fsync,fdatasync"])
        .arg(env!("CARGO_BIN_EXE_framefall"))
        .args(words)
        .current_dir(world.path(""))
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .output()
        .unwrap();
    assert!(
        output.status.code().is_some_and(|code| code < 2),
        "{words:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    let text = fs::read_to_string(trace).unwrap();
    text.lines().map(str::to_owned).collect()
}

/// Where the last call of one of these kinds is on one of these files.
fn last(calls: &[String], kinds: &[&str], ending: &str) -> Option<usize> {
    calls.iter().rposition(|call| {
        kinds.iter().any(|kind| call.contains(&format!(" {kind}("))) && call.contains(ending)
    })
}

fn is_traced() -> bool {
    let traced = Command::new("strace")
        .args(["-o", "/dev/null", "true"])
        .output();
    let traced = traced.is_ok_and(|output| output.status.success());
    if !traced {
        println!("skipped: no strace here, or it may not trace");
    }
    traced
}

#[test]
fn a_statement_is_on_the_disk_before_it_is_confirmed() {
    if !is_traced() {
        return;
    }
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.dump("geminids-body-b", "other", |_| true);
    world.run(&["ingest", "--quiet", "card"]);
    let catalogue = world.path("catalogue.sqlite");
    // Another program has it open, and looks at it: the log stays when a command ends.
    let reader = rusqlite::Connection::open(&catalogue).unwrap();
    let hold = |sql: &str| reader.execute_batch(sql).unwrap();
    hold("BEGIN; SELECT count(*) FROM written_frame");
    let lat = ["--lat", "46.5", "--lon", "11.3", "--elevation", "600"];
    let statements: [&[&str]; 13] = [
        &[&["site", "add", "Here"][..], &lat].concat(),
        &["site", "change", "Here", "--lat", "46.6"],
        &["site", "assign", "Here", "--session", "1"],
        &["sessions", "mark", "1", "--kind", "trial"],
        &["clock", "zone", "6004127", "Europe/Rome"],
        &[
            "clock",
            "fix",
            "6004127",
            "--read",
            "2023-12-13 23:00:00",
            "--true",
            "2023-12-13T22:00:07Z",
        ],
        &["clock", "remove", "fix-1"],
        &["query", "save", "bright", "iso > 800"],
        &["query", "remove", "bright"],
        &["dump", "rename", "card", "first"],
        &[
            "site",
            "add",
            "There",
            "--lat",
            "40",
            "--lon",
            "9",
            "--elevation",
            "1",
        ],
        &["site", "remove", "There", "--yes"],
        &["ingest", "other", "--site", "Here"],
    ];
    for words in statements {
        let calls = calls(&world, words);
        let written = last(&calls, &["pwrite64"], "catalogue.sqlite-wal>");
        let synced = last(&calls, &["fsync", "fdatasync"], "catalogue.sqlite-wal>");
        let written = written.unwrap_or_else(|| panic!("{words:?} wrote nothing to the log"));
        assert!(synced > Some(written), "{words:?}: {calls:#?}");
        // The answer comes afterwards; messages during the run confirm nothing.
        let answer = calls.iter().position(|call| call.contains(" write(1<"));
        assert!(
            answer.is_none_or(|answer| Some(answer) > synced),
            "{words:?}: {calls:#?}"
        );
        let end = last(&calls, &["write"], "write(2<");
        assert!(
            answer.is_some() || end.is_none() || end > synced,
            "{words:?}: {calls:#?}"
        );
        assert!(Path::new(&format!("{}-wal", catalogue.display())).exists());
    }
}
