//! Output without a reader: the work on the catalogue is finished, nothing stays locked, and Ctrl-C ends the program.

use std::fs::File;
use std::io::Read;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

use rusqlite::Connection;

use crate::world::World;

/// Files whose lines fill a pipe several times over.
const FILES: usize = 1_500;

/// The time after which the test counts a run as frozen.
const PATIENCE: Duration = Duration::from_secs(60);

fn damaged_card(world: &World) {
    let long = "x".repeat(180);
    for n in 0..FILES {
        let name = format!("card/{long}/{n:04}{long}.DNG");
        world.write(&name, format!("no picture {n}").as_bytes());
    }
}

fn until(what: &str, mut is_so: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !is_so() {
        assert!(begun.elapsed() < PATIENCE, "{what}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// A pipe that is full before the program begins: its first word to it would wait for ever.
fn full_pipe() -> (File, File) {
    let (reader, writer) = std::io::pipe().unwrap();
    let (reader, writer): (std::os::fd::OwnedFd, std::os::fd::OwnedFd) =
        (reader.into(), writer.into());
    let flags = rustix::fs::fcntl_getfl(&writer).unwrap();
    rustix::fs::fcntl_setfl(&writer, flags | rustix::fs::OFlags::NONBLOCK).unwrap();
    while rustix::io::write(&writer, &[b'.'; 4096]).is_ok() {}
    while rustix::io::write(&writer, b".").is_ok() {}
    rustix::fs::fcntl_setfl(&writer, flags).unwrap();
    (reader.into(), writer.into())
}

fn ingest(world: &World, out: Stdio, err: Stdio) -> Child {
    Command::new(env!("CARGO_BIN_EXE_framefall"))
        .args(["ingest", "card"])
        .current_dir(world.path(""))
        .env_clear()
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .stdout(out)
        .stderr(err)
        .spawn()
        .unwrap()
}

/// How many frames are in sessions or known to be undated: all of them when the work is done.
fn frames(world: &World) -> i64 {
    let Ok(catalogue) = Connection::open(world.path("catalogue.sqlite")) else {
        return 0;
    };
    let count = catalogue.query_row("SELECT count(*) FROM written_frame", [], |row| row.get(0));
    count.unwrap_or(0)
}

fn interrupt(child: &Child) {
    let kill = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(kill.unwrap().success());
}

/// Another program can write, and one Ctrl-C ends the one that waits.
fn is_free_and_ends(world: &World, mut child: Child) {
    until("the ingest does its work", || {
        frames(world) == i64::try_from(FILES).unwrap()
    });
    until("another program can write", || {
        let site = [
            "site", "add", "Hakos", "--lat", "-23.236", "--lon", "16.361",
        ];
        let said = world.run(&[&site[..], &["--elevation", "1800"]].concat());
        assert!(
            said.code == 0 || said.err.contains("writing"),
            "{}",
            said.err
        );
        said.code == 0
    });
    assert!(
        child.try_wait().unwrap().is_none(),
        "it waits for its reader"
    );
    interrupt(&child);
    until("Ctrl-C ends it", || child.try_wait().unwrap().is_some());
    assert_eq!(child.wait().unwrap().code(), Some(130));
}

#[test]
fn an_ingest_whose_errors_nobody_reads_is_done_and_can_be_ended() {
    let world = World::new();
    damaged_card(&world);
    let (mut reader, writer) = full_pipe();
    let child = ingest(&world, Stdio::null(), writer.into());
    is_free_and_ends(&world, child);
    let mut said = Vec::new();
    reader.read_to_end(&mut said).unwrap();
    assert!(said.len() >= 65_536);
}

#[test]
fn an_ingest_whose_answer_nobody_reads_is_done_and_can_be_ended() {
    let world = World::new();
    damaged_card(&world);
    let (_reader, writer) = full_pipe();
    let child = ingest(&world, writer.into(), Stdio::null());
    is_free_and_ends(&world, child);
}

/// A reader that comes late gets every line that is due.
#[test]
fn a_reader_that_comes_late_misses_nothing() {
    let world = World::new();
    damaged_card(&world);
    let (mut reader, writer) = full_pipe();
    let mut child = ingest(&world, Stdio::null(), writer.into());
    until("the ingest does its work", || {
        frames(&world) == i64::try_from(FILES).unwrap()
    });
    let mut said = String::new();
    reader.read_to_string(&mut said).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(1));
    assert_eq!(said.matches("damage: not-understood").count(), 5);
    assert!(said.contains("and 1495 more"), "{said}");
}
