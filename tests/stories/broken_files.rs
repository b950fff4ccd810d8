//! A card with every kind of file and damage: damage is reported, the rest is ingested, nothing hangs.

use crate::world;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use crate::world::World;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::terms::time::Utc;
use framefall::usecase::ingest::messages::Event;
use framefall::usecase::ingest::messages::Watched;
use framefall::usecase::ingest::read_dumps::IngestOrder;
use framefall::usecase::ingest::read_dumps::ingest;

#[test]
fn damage_is_told_with_its_file_and_the_rest_goes_on() {
    let world = World::new();
    let whole = world::frame_at("2023:12:13 22:31:00");
    world.write("card/DCIM/100NCTRN/N2M_0001.DNG", &whole);
    world.write(
        "card/DCIM/100NCTRN/N2M_0002.DNG",
        &world::frame_at("2023:12:13 22:31:30")[..12_000],
    );
    world.write("card/DCIM/100NCTRN/N2M_0003.DNG", b"");
    world.write("card/DCIM/100NCTRN/N2M_0004.DNG", &vec![0; 40_000]);
    world.write(
        "card/DCIM/100NCTRN/N2M_0005.DNG",
        b"this is no picture, whatever its name says",
    );
    world.write("card/DCIM/100NCTRN/N2M_0006.MOV", b"moving");
    let said = world.run(&["ingest", "card"]).ended(1);
    assert_eq!(said.number("files seen"), 6);
    assert_eq!(said.number("frames new"), 5);
    assert_eq!(said.number("damaged"), 4);
    assert_eq!(said.number("skipped"), 1);
    assert!(said.out.contains("mov 1"), "{}", said.out);
    for (code, file) in [
        ("truncated", "N2M_0002.DNG"),
        ("empty-file", "N2M_0003.DNG"),
        ("blank-file", "N2M_0004.DNG"),
        ("not-understood", "N2M_0005.DNG"),
    ] {
        let told = said
            .err
            .lines()
            .any(|line| line.contains(code) && line.contains(file));
        assert!(told, "{code} {file} in\n{}", said.err);
    }
    let audit = world.run(&["audit", "--as", "csv"]).ended(1);
    assert!(
        audit
            .out
            .contains("damage,truncated,card,DCIM/100NCTRN,N2M_0002.DNG"),
        "{}",
        audit.out
    );
    // The settings of the truncated file are complete all the same.
    let cut = world
        .run(&["frames", "health = truncated", "--as", "json"])
        .json();
    assert_eq!(cut[0]["clock_local"], "2023-12-13T22:31:30");
    assert_eq!(cut[0]["iso"], 6400.0);
}

#[cfg(unix)]
#[test]
fn links_pipes_and_strange_names_do_no_harm() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    use std::os::unix::fs::symlink;

    let world = World::new();
    let folder = world.path("card/DCIM/100NCTRN");
    world.write(
        "outside/SECRET.DNG",
        &world::frame_at("2023:12:13 22:40:00"),
    );
    world.write(
        "card/DCIM/100NCTRN/plain.DNG",
        &world::frame_at("2023:12:13 22:31:00"),
    );
    world.write(
        "card/DCIM/100NCTRN/line\nfeed\u{1b}[31m.DNG",
        &world::frame_at("2023:12:13 22:31:30"),
    );
    let not_utf8 = folder.join(OsStr::from_bytes(b"night\xff.DNG"));
    std::fs::write(&not_utf8, world::frame_at("2023:12:13 22:32:00")).unwrap();
    symlink(world.path("outside"), folder.join("outside")).unwrap();
    symlink(world.path("outside/SECRET.DNG"), folder.join("linked.DNG")).unwrap();
    symlink(&folder, folder.join("loop")).unwrap();
    let made = std::process::Command::new("mkfifo")
        .arg(folder.join("PIPE.DNG"))
        .status();
    assert!(made.unwrap().success());

    let said = world.run(&["ingest", "card"]).ended(0);
    assert_eq!(said.number("frames new"), 3);
    assert_eq!(
        said.err.matches("note: link-left ").count(),
        3,
        "{}",
        said.err
    );
    assert!(said.err.contains("not-a-file"), "{}", said.err);
    let table = world.run(&["frames"]).ended(0);
    assert!(
        !table.out.contains('\u{1b}'),
        "no escape reaches the terminal"
    );
    assert!(
        table.out.contains("line\\nfeed\\u{1b}[31m.DNG"),
        "{}",
        table.out
    );

    let refused = world.run(&["frames", "--as", "paths"]);
    assert_eq!(refused.code, 2);
    assert!(refused.err.contains("paths0"), "{}", refused.err);
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_framefall"))
        .args(["frames", "--as", "paths0"])
        .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
        .output()
        .unwrap();
    let paths: Vec<&[u8]> = output
        .stdout
        .split(|b| *b == 0)
        .filter(|p| !p.is_empty())
        .collect();
    assert_eq!(paths.len(), 3);
    for path in paths {
        assert!(
            std::fs::metadata(OsStr::from_bytes(path)).is_ok(),
            "{path:?} is byte for byte on the disk"
        );
    }
    // A name that is not UTF-8 is known again.
    let again = world.run(&["ingest", "card"]).ended(0);
    assert_eq!(again.number("unchanged, not read again"), 3);
}

#[test]
fn a_stopped_ingest_keeps_what_it_committed_and_is_carried_on() {
    const FILES: usize = 4_500;
    let world = World::new();
    let picture =
        std::fs::read(world::demo("eta-aquariids").join("DCIM/103NCTRN/N6A_1031.JPG")).unwrap();
    for i in 0..FILES {
        let reading = format!(
            "2024:05:06 {:02}:{:02}:{:02}",
            i / 3600,
            i / 60 % 60,
            i % 60
        );
        world.write(
            &format!("card/DCIM/100NCTRN/N6A_{i:04}.JPG"),
            &world::with_reading(&picture, &reading),
        );
    }
    let dumps = [world.path("card")];
    let order = IngestOrder {
        dumps: &dumps,
        site: None,
        newcomers: framefall::usecase::dumps::recognised::Newcomers::Recognised,
        readers: 2,
        watched: Watched::Yes,
        now: Utc::parse("2024-05-07T00:00:00Z").unwrap(),
    };
    let mut catalogue =
        Catalogue::open(&world.path("catalogue.sqlite"), Purpose::ChangeOrMake).unwrap();
    let stop = AtomicBool::new(false);
    let mut heard = 0;
    let first = ingest(&mut catalogue, &order, &stop, &mut |event| {
        if let Event::At { done, .. } = event {
            heard = done;
            stop.store(true, Ordering::Relaxed);
        }
    })
    .unwrap();
    assert!(first.stopped);
    assert!(
        first.frames_new >= heard && first.frames_new < FILES as u64,
        "{first:?}"
    );
    assert!(first.sessions > 0, "what was committed is grouped");

    let stop = AtomicBool::new(false);
    let second = ingest(&mut catalogue, &order, &stop, &mut |_| {}).unwrap();
    assert!(!second.stopped);
    assert_eq!(second.unchanged, first.frames_new, "nothing is read twice");
    assert_eq!(first.frames_new + second.frames_new, FILES as u64);
    drop(catalogue);
    let whole = world
        .run(&["frames", "session is known", "--count"])
        .ended(0);
    assert_eq!(whole.out.trim(), FILES.to_string());
}
