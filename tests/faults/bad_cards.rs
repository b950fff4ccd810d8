//! Cards that cannot be read, or not twice alike.

use std::fs;
use std::fs::File;
use std::path::PathBuf;
use std::process::Command;

use crate::copies::EXT4;
use crate::copies::card;
use crate::copies::same;
use crate::mounted::Mounted;
use crate::world::World;
use crate::world::files_of;

fn fill_with_numbers(world: &World) -> Vec<Vec<u8>> {
    let _ = fs::remove_dir(world.path("card/lost+found"));
    let bytes = |number: u8| vec![number; 1_000_000];
    for number in 0..30 {
        world.write(&format!("card/DCIM/A_{number:04}.BIN"), &bytes(number));
    }
    (0..30).map(bytes).collect()
}

/// The end of the card's image is cut off under it: the system gives read errors from there on, as of a bad card.
#[test]
fn a_bad_card_is_named_with_its_spot_and_the_rest_goes_on() {
    let world = World::new();
    let Some(disk) = Mounted::new(&world, "card", 40, EXT4) else {
        return;
    };
    let before = fill_with_numbers(&world);
    assert!(Command::new("sync").status().unwrap().success());
    let _ = fs::write("/proc/sys/vm/drop_caches", "3");
    File::options()
        .write(true)
        .open(&disk.image)
        .unwrap()
        .set_len(20 << 20)
        .unwrap();
    read_bad_card(&world, &before);
}

/// Copies a card of 30 numbered files, some of which give errors: those are named, the rest is copied.
fn read_bad_card(world: &World, before: &[Vec<u8>]) {
    let said = world.run(&[
        "copy",
        "card",
        "--to",
        "copy",
        "--no-ingest",
        "--tries",
        "2",
    ]);
    let whole: Vec<PathBuf> = files_of(&world.path("copy"));
    if said.err.contains("read-error") {
        assert_eq!(said.code, 1, "{}", said.err);
        assert!(
            said.err.contains("at byte ") && said.err.contains("tried 2 times"),
            "{}",
            said.err
        );
        assert!(
            said.err.contains("do not format") || said.err.contains("keep it as it is"),
            "{}",
            said.err
        );
        assert_eq!(said.number("unread") + whole.len() as u64, 30);
        assert!(whole.len() > 3, "the rest goes on: {}", whole.len());
    } else {
        println!("skipped: this system gives no error behind the end of an image");
    }
    for file in whole {
        let number: usize = file.file_stem().unwrap().to_string_lossy()[2..]
            .parse()
            .unwrap();
        assert!(
            fs::read(&file).unwrap() == before[number],
            "{}",
            file.display()
        );
    }
}

/// The same with a device of the kernel that gives errors for one MiB in the middle.
#[test]
fn a_card_with_a_device_that_gives_errors() {
    let has_errors = Command::new("dmsetup").arg("targets").output();
    if !has_errors.is_ok_and(|o| String::from_utf8_lossy(&o.stdout).contains("error")) {
        println!("skipped: no device-mapper with an error target here");
        return;
    }
    let world = World::new();
    let no_journal: &[&str] = &["mkfs.ext4", "-q", "-O", "^has_journal"];
    let Some(disk) = Mounted::new(&world, "card", 40, no_journal) else {
        return;
    };
    let before = fill_with_numbers(&world);
    let run = |words: &[&str]| {
        let output = Command::new(words[0]).args(&words[1..]).output().unwrap();
        assert!(output.status.success(), "{words:?}");
        String::from_utf8(output.stdout).unwrap().trim().to_owned()
    };
    let image = disk.image.to_str().unwrap().to_owned();
    let at = disk.at.to_str().unwrap().to_owned();
    drop(disk);
    let whole = run(&["losetup", "--find", "--show", "--read-only", &image]);
    let name = format!("errors-{}", std::process::id());
    // Sectors of 512 bytes: 20 MiB as they are, 1 MiB of errors, 19 MiB as they are.
    let table =
        format!("0 40960 linear {whole} 0\n40960 2048 error\n43008 38912 linear {whole} 43008");
    run(&["dmsetup", "create", "--readonly", &name, "--table", &table]);
    run(&["mount", "-o", "ro", &format!("/dev/mapper/{name}"), &at]);
    let read = std::panic::catch_unwind(|| read_bad_card(&world, &before));
    run(&["umount", &at]);
    run(&["dmsetup", "remove", &name]);
    run(&["losetup", "--detach", &whole]);
    assert!(read.is_ok(), "see above");
}

/// A reader that returns a wrong byte in the second read, without an error.
#[test]
fn a_card_that_reads_differently_twice() {
    let world = World::new();
    card(&world, "card");
    let has_strace = Command::new("strace").arg("--version").output();
    if !has_strace.is_ok_and(|output| output.status.success()) {
        println!("skipped: no strace here");
        return;
    }
    let traced = |times: &str| {
        let inject = format!("inject=read:poke_exit=@arg2=ff{times}");
        Command::new("strace")
            .args(["-f", "-qq", "-o", "/dev/null", "-P"])
            .arg(
                world
                    .path("card/DCIM/100NIGHT/A_0003.MOV")
                    .canonicalize()
                    .unwrap(),
            )
            .args(["-e", "trace=read", "-e", &inject])
            .arg(env!("CARGO_BIN_EXE_framefall"))
            .args([
                "copy",
                "card",
                "--to",
                "copy",
                "--no-ingest",
                "--read-twice",
            ])
            .current_dir(world.path("").canonicalize().unwrap())
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .output()
            .unwrap()
    };
    let output = traced(":when=1");
    let err = String::from_utf8_lossy(&output.stderr).into_owned();
    if output.status.code() == Some(0) || !err.contains("reads-differ") {
        println!("skipped: bytes of a read cannot be changed here: {err}");
        return;
    }
    assert_eq!(output.status.code(), Some(1), "{err}");
    assert!(!world.path("copy/DCIM/100NIGHT/A_0003.MOV").exists());
    assert_eq!(files_of(&world.path("copy")).len(), 5);
    world
        .run(&[
            "copy",
            "card",
            "--to",
            "copy",
            "--no-ingest",
            "--read-twice",
        ])
        .ended(0);
    same(&world, "card", "copy");
}
