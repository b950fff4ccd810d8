//! Names on a card that a shell would run or trip over: each command that a message suggests is pasted into a real shell,
//! where it does what was meant and nothing else.

#![cfg(unix)]

use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::path::Path;
use std::process::Command;

use crate::frames::LIGHT;
use crate::frames::Taken;
use crate::frames::raw_by;
use crate::world::World;

/// The commands in a text, as one would mark them with the mouse: up to what parts clauses outside quotes.
fn commands(text: &str) -> Vec<String> {
    const CLAUSES: &[&str] = &["; ", " takes ", " names ", "\n"];
    let mut found = Vec::new();
    let mut rest = text;
    while let Some(at) = ["framefall ", "eval \"$("]
        .iter()
        .filter_map(|s| rest.find(s))
        .min()
    {
        rest = &rest[at..];
        let (mut quoted, mut escaped) = (false, false);
        let end = rest
            .char_indices()
            .find(|(i, sign)| {
                quoted ^= *sign == '\'' && !escaped;
                escaped = *sign == '\\' && !quoted;
                !quoted && CLAUSES.iter().any(|clause| rest[*i..].starts_with(clause))
            })
            .map_or(rest.len(), |(i, _)| i);
        found.push(rest[..end].to_owned());
        rest = &rest[end..];
    }
    found.retain(|c| !c.contains("NUMBER") && !c.contains("audit lists"));
    found
}

/// Pastes a command into a shell and returns its exit code. Nothing else may have run.
fn paste(world: &World, command: &str) -> (i32, String) {
    let program = Path::new(env!("CARGO_BIN_EXE_framefall"));
    let output = Command::new("sh")
        .arg("-c")
        .arg(command)
        .current_dir(world.path("."))
        .env(
            "PATH",
            format!("{}:/bin:/usr/bin", program.parent().unwrap().display()),
        )
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .output()
        .unwrap();
    assert!(!world.path("PWN").exists(), "{command}");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code().unwrap(), said)
}

fn salt_ridge() -> World {
    let world = World::new();
    world.site("Salt Ridge", "47.5", "11.5");
    world
}

/// Three frames of a body, half a minute apart, the last digits of a minute left out.
fn card(world: &World, folder: &OsStr, model: &str, serial: &'static str, minute: &str) {
    let below = world.path(".").join(folder).join("DCIM/100UMBRA");
    fs::create_dir_all(&below).unwrap();
    for i in 0..6 {
        let reading = format!("{minute}:{:02}", i * 10);
        let bytes = raw_by(model, &reading, Taken { serial, ..LIGHT });
        // Files of one size and reading would be copies of each other.
        fs::write(below.join(format!("UMB_{:04}.DNG", 100 + i)), bytes).unwrap();
    }
}

const ODD: &[(&str, &str)] = &[
    ("Umbra N7", "$(touch${IFS}PWN)"),
    ("N7\"; touch PWN; \"", "0001"),
    ("N7'; touch PWN; '", ""),
    ("Dad's body", ""),
    ("Umbra N7", "--read"),
    ("Umbra N7", "a\u{1b}[31m\nb"),
    ("Umbra N7", "`touch PWN`"),
];

#[test]
fn a_clock_in_doubt_is_put_right_by_what_is_printed_whatever_the_body_is_called() {
    for (model, serial) in ODD {
        let world = salt_ridge();
        card(
            &world,
            OsStr::new("card"),
            model,
            serial,
            "2023:12:13 12:40",
        );
        // A second body of the same model, whose clock is right.
        card(&world, OsStr::new("other"), model, "9", "2023:12:14 00:40");
        let said = world.run(&["ingest", "--site", "Salt Ridge", "card", "other"]);
        let suggested = commands(&said.err);
        assert!(!suggested.is_empty(), "{}", said.err);
        let (code, err) = paste(&world, &suggested[0]);
        assert_eq!(code, 0, "{}: {err}", suggested[0]);
        let list = world.run(&["clock", "list", "--as", "json"]).json();
        assert_eq!(list.as_array().unwrap().len(), 1, "{list}");
        let again = commands(&world.run(&["audit"]).out);
        assert!(again.is_empty(), "{again:?}");
    }
}

#[test]
fn a_body_that_lost_its_date_is_named_so_that_a_fix_can_be_stated() {
    for (model, serial) in ODD {
        let world = salt_ridge();
        card(
            &world,
            OsStr::new("card"),
            model,
            serial,
            "2015:01:01 00:03",
        );
        let said = world.run(&["ingest", "--site", "Salt Ridge", "card"]);
        let suggested = commands(&said.err);
        let command = suggested.iter().find(|c| c.contains('…')).unwrap();
        let filled = command.replace('…', "2023-12-13T23:03:00Z");
        assert_eq!(paste(&world, &filled).0, 0, "{filled}");
    }
}

#[test]
fn two_bodies_of_one_number_are_told_apart_by_numbers() {
    let world = salt_ridge();
    card(
        &world,
        OsStr::new("a"),
        "Umbra N7",
        "0042",
        "2023:12:13 22:40",
    );
    card(
        &world,
        OsStr::new("b"),
        "UMBRA N7",
        "0042",
        "2023:12:13 22:40",
    );
    world
        .run(&["ingest", "--site", "Salt Ridge", "a", "b"])
        .ended(0);
    let refused = world
        .run(&["clock", "zone", "0042", "Europe/Vienna"])
        .ended(2);
    for body in ["body-1", "body-2"] {
        assert!(refused.err.contains(body), "{}", refused.err);
        world
            .run(&["clock", "zone", body, "Europe/Vienna"])
            .ended(0);
    }
    world.run(&["clock", "zone", "body-3", "UTC"]).ended(2);
}

const FOLDERS: &[&[u8]] = &[
    b"x'; touch PWN; '",
    b"Dad's card",
    b"$(touch${IFS}PWN)",
    b"a\x1b[31mb\nc",
    b"ends\n",
    b"n\xFFight",
    b"-x",
];

#[test]
fn the_ways_on_for_a_dump_that_is_there_in_part_work_whatever_its_folder_is_called() {
    for folder in FOLDERS {
        for way in 0..2 {
            let world = salt_ridge();
            let folder = OsStr::from_bytes(folder);
            card(&world, folder, "Umbra N7", "0042", "2023:12:13 22:40");
            let from = world.path(".").join(folder);
            let ingest = |at: &Path| {
                Command::new(env!("CARGO_BIN_EXE_framefall"))
                    .arg("ingest")
                    .arg(at)
                    .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
                    .output()
                    .unwrap()
            };
            assert_eq!(ingest(&from).status.code(), Some(0));
            let to = world.path("new").join(folder);
            fs::create_dir_all(world.path("new")).unwrap();
            fs::rename(&from, &to).unwrap();
            fs::remove_file(to.join("DCIM/100UMBRA/UMB_0103.DNG")).unwrap();
            let refused = ingest(&to);
            assert_eq!(refused.status.code(), Some(2));
            let said = String::from_utf8(refused.stderr).unwrap();
            let ways = commands(&said);
            assert_eq!(ways.len(), 2, "{said}");
            let (code, err) = paste(&world, &ways[way]);
            assert_eq!(code, 0, "{}: {err}", ways[way]);
            let dumps = world.run(&["dump", "list", "--as", "json"]).json();
            assert_eq!(
                dumps.as_array().unwrap().len(),
                1 + way,
                "{}: {dumps}",
                ways[way]
            );
        }
    }
}

#[test]
fn what_differs_after_a_move_is_taken_in_by_the_command_named() {
    let world = salt_ridge();
    let odd = "x'; touch PWN; '";
    card(
        &world,
        OsStr::new("card"),
        "Umbra N7",
        "0042",
        "2023:12:13 22:40",
    );
    world
        .run(&["ingest", "--site", "Salt Ridge", "card"])
        .ended(0);
    fs::rename(world.path("card"), world.path(odd)).unwrap();
    fs::remove_file(world.path(odd).join("DCIM/100UMBRA/UMB_0103.DNG")).unwrap();
    let moved = world
        .run(&["dump", "move", "card", odd, "--mostly"])
        .ended(0);
    let suggested = commands(&moved.out);
    assert_eq!(suggested.len(), 1, "{}", moved.out);
    assert_eq!(paste(&world, &suggested[0]).0, 0, "{}", suggested[0]);
}

/// Runs the program with a terminal for its output; `None` where there is no `script` to make one.
#[cfg(target_os = "linux")]
fn on_a_terminal(world: &World, command: &str) -> Option<Vec<u8>> {
    let program = Path::new(env!("CARGO_BIN_EXE_framefall"));
    let output = Command::new("script")
        .args(["-qec", command, "/dev/null"])
        .current_dir(world.path("."))
        .env(
            "PATH",
            format!("{}:/bin:/usr/bin", program.parent()?.display()),
        )
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .env("NO_COLOR", "1")
        .output()
        .ok()?;
    Some(output.stdout)
}

#[cfg(target_os = "linux")]
#[test]
fn raw_bytes_of_names_go_into_pipes_and_not_to_a_terminal() {
    let world = salt_ridge();
    let folder = OsStr::from_bytes(b"cards/c\x1b[31m\xC2\x9b\xFFd");
    card(&world, folder, "Umbra N7", "0042", "2023:12:13 22:40");
    world.run(&["ingest", "cards"]).ended(0);
    for form in ["csv", "json", "jsonl", "paths", "paths0", "table"] {
        let command = format!("framefall frames --as {form}");
        let Some(shown) = on_a_terminal(&world, &command) else {
            eprintln!("skipped: there is no `script` here");
            return;
        };
        let shown = String::from_utf8(shown).unwrap();
        assert!(shown.contains("UMB_0100"), "{shown}");
        let moves = |c: char| c.is_control() && !matches!(c, '\n' | '\r');
        assert!(!shown.chars().any(moves), "{form}: {shown:?}");
        let is_raw = !matches!(form, "table");
        assert_eq!(
            shown.contains("escaped on the screen"),
            is_raw,
            "{form}: {shown}"
        );
    }
    let piped = Command::new(env!("CARGO_BIN_EXE_framefall"))
        .args(["frames", "--as", "paths0"])
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .output()
        .unwrap();
    let first = piped.stdout.split(|byte| *byte == 0).next().unwrap();
    assert!(Path::new(OsStr::from_bytes(first)).is_file());
}
