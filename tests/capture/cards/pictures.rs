//! Hostile embedded pictures: skipped with a reason, at little cost, and the run continues.

use std::fs;
use std::process::Command;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::terms::time::Utc;
use framefall::usecase::dumps::recognised::Newcomers;
use framefall::usecase::ingest::messages::Event;
use framefall::usecase::ingest::messages::Watched;
use framefall::usecase::ingest::read_dumps::IngestOrder;
use framefall::usecase::ingest::read_dumps::ingest;

use crate::hostile_jpeg::Claimed;
use crate::hostile_jpeg::claiming;
use crate::world::World;
use crate::world::demo;
use crate::world::with_reading;

/// A raw file of the demo with another embedded picture behind its end.
fn frame_with(picture: &[u8], reading: &str) -> Vec<u8> {
    let file = fs::read(demo("geminids-body-a").join("DCIM/100NCTRN/N6A_0414.DNG")).unwrap();
    let find = |from: usize, what: &[u8]| {
        from + file[from..]
            .windows(what.len())
            .position(|w| w == what)
            .unwrap()
    };
    let old = find(0, &[0xff, 0xd8, 0xff]);
    let end = find(old, &[0xff, 0xd9]) + 2;
    let coded = |n: usize| {
        let n = u32::try_from(n).unwrap();
        if file.starts_with(b"MM") {
            n.to_be_bytes()
        } else {
            n.to_le_bytes()
        }
    };
    let mut made = with_reading(&file, reading);
    for (from, to) in [
        (coded(old), coded(file.len())),
        (coded(end - old), coded(picture.len())),
    ] {
        for at in 0..old - 4 {
            if made[at..at + 4] == from {
                made[at..at + 4].copy_from_slice(&to);
            }
        }
    }
    made.extend_from_slice(picture);
    made
}

fn card(world: &World, frames: usize, picture: &[u8]) {
    for n in 0..frames {
        let reading = format!("2023:12:13 22:{:02}:{:02}", n / 4, n % 4 * 15);
        let name = format!("card/DCIM/100NCTRN/N6A_{n:04}.DNG");
        world.write(&name, &frame_with(picture, &reading));
    }
}

/// 60 KB that claim 10,900 by 10,900 pixels and 400 scans. Decoded, the pictures of this night are minutes of work.
#[test]
fn a_card_of_traps_is_taken_in_and_reported_without_their_pictures() {
    let world = World::new();
    world.site("Hakos", "-23.236", "16.361");
    let trap = claiming(Claimed {
        width: 10_900,
        height: 10_900,
        components: 1,
        scans: 400,
        coded: 50_000,
    });
    assert!(trap.len() < 64 * 1024);
    card(&world, 40, &trap);
    world.run(&["ingest", "card", "--site", "Hakos"]).ended(0);
    world
        .run(&["report", "2023-12-13", "--to", "night.html"])
        .ended(0);
    let page = fs::read_to_string(world.path("night.html")).unwrap();
    assert!(page.contains("too few for the 10900 by 10900 pixels"));
    let count = world
        .run(&["frames", "session is known", "--count"])
        .ended(0);
    assert_eq!(count.out.trim(), "40");
}

/// Ordinary progressive pictures of 24 megapixels, which are held in memory while they are decoded.
#[test]
fn large_pictures_do_not_add_up_in_memory() {
    let world = World::new();
    world.site("Hakos", "-23.236", "16.361");
    for (name, components, shown) in [("colour", 3, false), ("grey", 1, true)] {
        let picture = claiming(Claimed {
            width: 6_000,
            height: 4_000,
            components,
            scans: 4,
            coded: 1_400_000,
        });
        card(&world, 12, &picture);
        world.run(&["ingest", "card", "--site", "Hakos"]).ended(0);
        let program = env!("CARGO_BIN_EXE_framefall");
        let page = world.path(&format!("{name}.html"));
        let run = Command::new("sh")
            .args([
                "-c",
                &format!(
                    "ulimit -v 700000; exec '{program}' report 2023-12-13 --to '{}'",
                    page.display()
                ),
            ])
            .env_clear()
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .output()
            .unwrap();
        let err = String::from_utf8_lossy(&run.stderr);
        assert_eq!(run.status.code(), Some(0), "{err}");
        let page = fs::read_to_string(page).unwrap();
        assert_eq!(page.contains("too much memory"), !shown, "{name}");
    }
}

/// Pictures that a stopped run did not look at are looked at by the next one.
#[test]
fn a_night_whose_pictures_were_not_looked_at_waits_for_the_next_run() {
    let world = World::new();
    let picture = claiming(Claimed {
        width: 160,
        height: 120,
        components: 3,
        scans: 1,
        coded: 2_000,
    });
    card(&world, 12, &picture);
    let dumps = [world.path("card")];
    let order = IngestOrder {
        dumps: &dumps,
        site: None,
        newcomers: Newcomers::Recognised,
        readers: 2,
        watched: Watched::No,
        now: Utc::parse("2024-05-07T00:00:00Z").unwrap(),
    };
    let path = world.path("catalogue.sqlite");
    let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
    let stop = AtomicBool::new(false);
    // Raised when all files are written, before any picture is looked at.
    let first = ingest(&mut catalogue, &order, &stop, &mut |event| {
        if let Event::At { done: 12, .. } = event {
            stop.store(true, Ordering::Relaxed);
        }
    })
    .unwrap();
    assert!(first.stopped && first.sessions == 1, "{first:?}");
    assert_eq!(catalogue.pending_nights().unwrap().len(), 1);
    let looks = || {
        let db = rusqlite::Connection::open(&path).unwrap();
        let count = "SELECT count(*) FROM derived_time JOIN measured_look ON block = frame_id / 32
                     WHERE substr(looks, frame_id % 32 * 6 + 1, 6) > x'000000000000'";
        db.query_row(count, [], |row| row.get::<_, i64>(0)).unwrap()
    };
    assert_eq!(looks(), 0);
    let stop = AtomicBool::new(false);
    let second = ingest(&mut catalogue, &order, &stop, &mut |_| {}).unwrap();
    assert_eq!((second.unchanged, second.sessions), (12, 1));
    assert!(catalogue.pending_nights().unwrap().is_empty());
    assert!(looks() > 0);
}
