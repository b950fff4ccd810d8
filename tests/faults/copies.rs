//! Cards and disks that fail while a card is copied: small disks that are mounted from files, full, protected, in memory, or
//! with a spot that cannot be read. FAT and exFAT are tried where this computer makes and mounts them.

use std::fs;
use std::path::PathBuf;
use std::process::Command;

use crate::disk::Disk;
use crate::mounted::Mounted;
use crate::world::World;
use crate::world::files_of;

pub const EXT4: &[&str] = &["mkfs.ext4", "-q", "-E", "lazy_itable_init=0"];

pub fn card(world: &World, at: &str) {
    for number in 0..6_u8 {
        let bytes: Vec<u8> = (0..700_001_usize)
            .map(|byte| u8::try_from(byte % 253).unwrap() ^ number)
            .collect();
        world.write(&format!("{at}/DCIM/100NIGHT/A_{number:04}.MOV"), &bytes);
    }
}

pub fn same(world: &World, one: &str, other: &str) {
    let read = |root: &str| -> Vec<(PathBuf, Vec<u8>)> {
        let root = world.path(root);
        files_of(&root)
            .into_iter()
            .map(|file| {
                (
                    file.strip_prefix(&root).unwrap().to_owned(),
                    fs::read(&file).unwrap(),
                )
            })
            .collect()
    };
    assert!(read(one) == read(other), "{one} and {other}");
}

/// Two disks count as two devices, two folders of one disk as one; files that were read back are called verified.
#[test]
fn devices_are_counted() {
    let world = World::new();
    card(&world, "card");
    let (Some(one), Some(two)) = (
        Mounted::new(&world, "one", 30, EXT4),
        Mounted::new(&world, "two", 30, EXT4),
    ) else {
        return;
    };
    let said = world
        .run(&[
            "copy",
            "card",
            "--to",
            "one/a",
            "--to",
            "one/b",
            "--to",
            "two/c",
            "--no-ingest",
        ])
        .ended(0);
    assert_eq!(said.number("devices"), 2);
    assert_eq!(said.number("verified"), 6);
    let rows = world
        .run(&["dump", "proof", "a", "--as", "json"])
        .ended(0)
        .json();
    for row in rows.as_array().unwrap() {
        assert_eq!(
            (&row["verified_copies"], &row["devices"]),
            (&3.into(), &2.into()),
            "{row}"
        );
    }
    let said = world.run(&["dump", "proof", "a"]).ended(0);
    assert_eq!(said.number("verified on two devices or more"), 6);
    for (disk, folder) in [(&one, "a"), (&two, "c")] {
        let checked = Command::new("sha256sum")
            .args(["--check", "--quiet", &format!("{folder}.sha256")])
            .current_dir(&disk.at)
            .status();
        assert!(checked.unwrap().success());
    }
    // Into a disk's own root: the list is within it.
    let Some(_root) = Mounted::new(&world, "root", 30, EXT4) else {
        return;
    };
    let _ = fs::remove_dir(world.path("root/lost+found"));
    world
        .run(&["copy", "card", "--to", "root", "--no-ingest"])
        .ended(0);
    let checked = Command::new("sha256sum")
        .args(["--check", "--quiet", "framefall.sha256"])
        .current_dir(world.path("root"))
        .status();
    assert!(checked.unwrap().success());
}

#[test]
fn a_disk_in_memory_holds_copies_and_nothing_verified() {
    let world = World::new();
    card(&world, "card");
    let Some(_disk) = Disk::of_kib(world.path("memory"), 20_000) else {
        return;
    };
    let said = world
        .run(&["copy", "card", "--to", "memory/night", "--no-ingest"])
        .ended(0);
    assert_eq!(said.number("verified"), 0);
    assert_eq!(said.number("copied, not verified"), 6);
    assert!(
        said.err.contains("'copied' is not 'verified'"),
        "{}",
        said.err
    );
    let proof = world.run(&["dump", "proof", "night"]).ended(1);
    assert_eq!(proof.number("copied, not verified"), 6);
    same(&world, "card", "memory/night");
}

#[test]
fn a_disk_without_room_is_refused_before_the_first_byte() {
    let world = World::new();
    card(&world, "card");
    let Some(disk) = Disk::of_kib(world.path("small"), 6_000) else {
        return;
    };
    disk.fill(3_000);
    let said = world
        .run(&["copy", "card", "--to", "small/night", "--to", "other"])
        .ended(2);
    assert!(said.err.contains("has no room"), "{}", said.err);
    assert!(!world.path("small/night").exists() && !world.path("other").exists());
    disk.empty();
    world
        .run(&["copy", "card", "--to", "small/night", "--no-ingest"])
        .ended(0);
    same(&world, "card", "small/night");
}

/// A disk that fills up while it is copied to: the other target is complete, nothing half is left, the same command carries on.
#[test]
fn a_disk_that_fills_up_meanwhile() {
    let world = World::new();
    card(&world, "card");
    let Some(disk) = Disk::of_kib(world.path("small"), 6_000) else {
        return;
    };
    let filler = world.path("small/filler");
    let mut copying = Command::new(env!("CARGO_BIN_EXE_framefall"))
        .args([
            "copy",
            "card",
            "--to",
            "small/night",
            "--to",
            "other",
            "--no-ingest",
            "--quiet",
        ])
        .current_dir(world.path(""))
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .spawn()
        .unwrap();
    while !world.path("small/night").exists() && copying.try_wait().unwrap().is_none() {
        std::thread::yield_now();
    }
    let _ = fs::write(&filler, vec![1; 4_500_000]);
    copying.wait().unwrap();
    same(&world, "card", "other");
    for file in files_of(&world.path("small/night")) {
        let below = file.strip_prefix(world.path("small/night")).unwrap();
        assert!(fs::read(&file).unwrap() == fs::read(world.path("card").join(below)).unwrap());
    }
    fs::remove_file(&filler).unwrap();
    world
        .run(&[
            "copy",
            "card",
            "--to",
            "small/night",
            "--to",
            "other",
            "--no-ingest",
        ])
        .ended(0);
    same(&world, "card", "small/night");
    drop(disk);
}

#[test]
fn a_protected_disk_is_refused_and_the_card_stays() {
    let world = World::new();
    card(&world, "card");
    let Some(disk) = Mounted::new(&world, "disk", 30, EXT4) else {
        return;
    };
    disk.again("remount,ro");
    let said = world.run(&["copy", "card", "--to", "disk/night"]).ended(2);
    assert!(
        said.err.contains("cannot be written to") && said.err.contains("ead-only"),
        "{}",
        said.err
    );
    disk.again("remount,rw");
    world
        .run(&["copy", "card", "--to", "disk/night", "--no-ingest"])
        .ended(0);
    same(&world, "card", "disk/night");
}

/// By the kernel where it has them, else by programs that serve them, whose devices cannot be asked.
#[test]
fn fat_and_exfat() {
    for (name, make, serve) in [
        ("fat", &["mkfs.vfat"][..], &["fusefat", "-o", "rw+"][..]),
        (
            "exfat",
            &["mkfs.exfat"],
            &["mount", "-t", "exfat-fuse", "-o", "loop"],
        ),
    ] {
        let world = World::new();
        card(&world, "card");
        let of_kernel = Mounted::new(&world, name, 40, make);
        let proven = if of_kernel.is_some() {
            "verified"
        } else {
            "copied, not verified"
        };
        let Some(_disk) = of_kernel.or_else(|| Mounted::by(&world, name, 40, make, serve)) else {
            continue;
        };
        let to = format!("{name}/night");
        for odd in ["12:30.txt", "dcim/100night/a_0001.mov"] {
            world.write(&format!("card/{odd}"), b"not on FAT");
            let said = world.run(&["copy", "card", "--to", &to]).ended(2);
            assert!(said.err.contains(odd), "{}", said.err);
            assert!(!world.path(&to).exists());
            fs::remove_file(world.path(&format!("card/{odd}"))).unwrap();
        }
        fs::remove_dir_all(world.path("card/dcim")).unwrap();
        let said = world
            .run(&["copy", "card", "--to", &to, "--no-ingest"])
            .ended(0);
        assert_eq!(said.number(proven), 6, "{}", said.out);
        same(&world, "card", &to);
        let again = world
            .run(&["copy", "card", "--to", &to, "--no-ingest"])
            .ended(0);
        assert_eq!(again.number(proven), 6);
        assert_eq!(again.number("there before"), 6);
        let checked = Command::new("sha256sum")
            .args(["--check", "--quiet", "night.sha256"])
            .current_dir(world.path(name))
            .status();
        assert!(checked.unwrap().success());
    }
}

/// Ctrl-C ends after the files in hand with 130, and the same command carries on.
#[test]
fn ctrl_c_stops_after_the_file_in_hand() {
    let world = World::new();
    for number in 0..60_u8 {
        world.write(&format!("card/A_{number:04}.MOV"), &vec![number; 2_000_000]);
    }
    let words = ["copy", "card", "--to", "copy", "--no-ingest"];
    let mut copying = Command::new(env!("CARGO_BIN_EXE_framefall"))
        .args(words)
        .current_dir(world.path(""))
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .stdout(std::process::Stdio::null())
        .spawn()
        .unwrap();
    while !world.path("copy/A_0001.MOV").exists() && copying.try_wait().unwrap().is_none() {
        std::thread::yield_now();
    }
    let pid = copying.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &pid])
            .status()
            .unwrap()
            .success()
    );
    assert_eq!(copying.wait().unwrap().code(), Some(130));
    let there = files_of(&world.path("copy"));
    assert!((2..60).contains(&there.len()), "{}", there.len());
    for file in there {
        let card = world.path("card").join(file.file_name().unwrap());
        assert!(fs::read(&file).unwrap() == fs::read(card).unwrap());
    }
    let said = world.run(&words).ended(0);
    assert_eq!(said.number("files"), 60);
    same(&world, "card", "copy");
}
