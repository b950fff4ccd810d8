//! A shortage of open files is not damage of the card; the exit code follows from the dump; --quiet is quiet.

use std::process::Command;

use rusqlite::Connection;

use crate::world::World;
use crate::world::frame_at;

/// A card of good files in several folders.
fn good_card(world: &World, files: usize) {
    for n in 0..files {
        let reading = format!("2023:12:13 22:{:02}:{:02}", n / 60, n % 60);
        let folder = format!("card/DCIM/{}NCTRN", 100 + n % 5);
        world.write(&format!("{folder}/N2M_{n:04}.DNG"), &frame_at(&reading));
    }
}

#[test]
fn too_many_open_files_are_no_damage_of_the_card() {
    let world = World::new();
    good_card(&world, 60);
    let mut ended = Vec::new();
    for most in 4..40 {
        for name in [
            "catalogue.sqlite",
            "catalogue.sqlite-wal",
            "catalogue.sqlite-shm",
        ] {
            let _ = std::fs::remove_file(world.path(name));
        }
        let program = env!("CARGO_BIN_EXE_framefall");
        let run = Command::new("sh")
            .args([
                "-c",
                &format!("ulimit -n {most}; exec '{program}' ingest --readers 16 card"),
            ])
            .current_dir(world.path(""))
            .env_clear()
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .output()
            .unwrap();
        let err = String::from_utf8_lossy(&run.stderr);
        let code = run.status.code().unwrap_or(-1);
        // 127: the shell itself could not open what the program needs to start.
        if code == 127 {
            continue;
        }
        assert!(matches!(code, 0 | 2), "{most} files: {code}\n{err}");
        ended.push(code);
        let Ok(catalogue) = Connection::open(world.path("catalogue.sqlite")) else {
            continue;
        };
        let count = |sql: &str| catalogue.query_row(sql, [], |row| row.get::<_, i64>(0));
        let blamed = "SELECT count(*) FROM written_finding WHERE code IN ('read-error', 'folder-unreadable')";
        assert!(
            matches!(count(blamed), Ok(0) | Err(_)),
            "{most} files:\n{err}"
        );
        if code == 0 {
            assert_eq!(count("SELECT count(*) FROM written_file"), Ok(60));
        }
        if err.contains("too many files are open") {
            assert!(err.contains("ulimit -n"), "{err}");
        }
    }
    assert!(ended.contains(&2) && ended.contains(&0), "{ended:?}");
}

/// A killed run had committed the files it had read; the next one reads only the rest.
#[test]
fn the_exit_code_says_what_the_dump_holds() {
    let world = World::new();
    good_card(&world, 3);
    let first = world.run(&["ingest", "card"]).ended(0);
    assert_eq!(first.number("damaged"), 0);
    world.write(
        "card/DCIM/101NCTRN/N2M_0900.DNG",
        &frame_at("2023:12:13 22:31:30")[..12_000],
    );
    world.run(&["ingest", "card"]).ended(1);
    let again = world.run(&["ingest", "card"]).ended(1);
    assert_eq!(again.number("unchanged, not read again"), 4);
    assert_eq!(again.number("damaged"), 1);
    assert_eq!(again.number("known from before"), 1);
    // Another dump's damage is not this one's.
    world.write("other/N2M_0901.DNG", &frame_at("2023:12:13 23:31:30"));
    world.run(&["ingest", "other"]).ended(0);
    // Put right, it is damage no longer.
    world.write(
        "card/DCIM/101NCTRN/N2M_0900.DNG",
        &frame_at("2023:12:13 22:31:30"),
    );
    world.run(&["ingest", "card"]).ended(0);
    world.run(&["ingest", "card"]).ended(0);
}

#[test]
fn a_quiet_ingest_names_no_file_and_a_loud_one_only_the_first() {
    let world = World::new();
    for n in 0..70 {
        world.write(&format!("card/N2M_{n:04}.DNG"), b"this is no picture");
    }
    let quiet = world.run(&["-q", "ingest", "card"]).ended(1);
    assert_eq!((quiet.out.as_str(), quiet.err.as_str()), ("", ""));
    for n in 0..70 {
        let name = format!("other/N2M_{n:04}.DNG");
        world.write(&name, format!("this is no picture {n}").as_bytes());
    }
    let loud = world.run(&["ingest", "other"]).ended(1);
    assert_eq!(loud.err.matches("damage: not-understood").count(), 5);
    assert!(
        loud.err
            .contains("and 65 more not-understood: framefall audit --all --code not-understood\n"),
        "{}",
        loud.err
    );
    assert!(loud.err.contains("not-understood (70): "), "{}", loud.err);
}
