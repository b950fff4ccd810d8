//! A body's evening is placed once, when all its files are in: no ingest derives a frame twice.

use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::terms::time::Utc;
use framefall::usecase::dumps::recognised::Newcomers;
use framefall::usecase::ingest::messages::IngestReport;
use framefall::usecase::ingest::messages::Watched;
use framefall::usecase::ingest::read_dumps::IngestOrder;
use framefall::usecase::ingest::read_dumps::ingest;

use crate::containers::jpeg;
use crate::tiff_block::Made;
use crate::tiff_block::ascii;
use crate::tiff_block::lay_out;
use crate::tiff_block::long;
use crate::tiff_block::rational;
use crate::world::World;

/// What a body writes into a frame: its reading, the offset beside it, the hour and minute of a GPS time stamp, a latitude.
#[derive(Clone, Copy)]
struct Writes {
    reading: &'static str,
    offset: Option<&'static str>,
    stamp_utc: Option<(u32, u32)>,
    north: Option<(u32, u32)>,
}

fn raw(writes: Writes) -> Vec<u8> {
    let mut primary: Vec<Made> = vec![
        ascii(0x010F, "Umbra"),
        ascii(0x0110, "Umbra N7"),
        long(0x8769, 0),
        long(0x8825, 0),
    ];
    // The version that makes a TIFF file a DNG.
    primary.push((0xC612, 1, vec![1, 4, 0, 0], 1));
    let mut exif = vec![rational(0x829A, &[(15, 1)]), ascii(0x9003, writes.reading)];
    exif.extend(writes.offset.map(|offset| ascii(0x9011, offset)));
    exif.push(rational(0x920A, &[(20, 1)]));
    exif.push(ascii(0xA431, "0042"));
    let mut gps = Vec::new();
    if let Some((degrees, minutes)) = writes.north {
        gps.push(ascii(1, "N"));
        gps.push(rational(2, &[(degrees, 1), (minutes, 1), (0, 1)]));
        gps.push(ascii(3, "E"));
        gps.push(rational(4, &[(12, 1), (30, 1), (0, 1)]));
    }
    if let Some((hour, minute)) = writes.stamp_utc {
        gps.push(rational(7, &[(hour, 1), (minute, 1), (0, 1)]));
        gps.push(ascii(0x1D, &writes.reading[..10]));
    }
    lay_out(false, 0, &[primary, exif, gps])
}

const PLAIN: Writes = Writes {
    reading: "",
    offset: None,
    stamp_utc: None,
    north: None,
};

/// Puts a raw file and its JPEG on a card.
fn shoot(world: &World, below: &str, writes: Writes) {
    let bytes = raw(writes);
    world.write(&format!("{below}.DNG"), &bytes);
    world.write(&format!("{below}.JPG"), &jpeg(&bytes, 600, 400));
}

fn take(world: &World, card: &str, site: Option<&str>) -> IngestReport {
    let mut catalogue =
        Catalogue::open(&world.path("catalogue.sqlite"), Purpose::ChangeOrMake).unwrap();
    let order = IngestOrder {
        dumps: &[world.path(card)],
        site,
        newcomers: Newcomers::Recognised,
        readers: 2,
        watched: Watched::No,
        now: Utc::parse("2026-01-01T00:00:00Z").unwrap(),
    };
    ingest(&mut catalogue, &order, &AtomicBool::new(false), &mut |_| {}).unwrap()
}

/// Each file's start and site.
fn placed(world: &World) -> BTreeMap<String, (Option<String>, Option<i64>)> {
    let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    let mut read = db
        .prepare(
            "SELECT file.name, strftime('%Y-%m-%dT%H:%M:%fZ', time.start_ms / 1000.0, 'unixepoch'), time.site_id FROM derived_time AS time
             JOIN written_file AS file ON file.file_id = time.frame_id",
        )
        .unwrap();
    let rows = read
        .query_map([], |row| Ok((row.get(0)?, (row.get(1)?, row.get(2)?))))
        .unwrap();
    rows.map(Result::unwrap).collect()
}

/// How many frames of before are placed otherwise now.
fn moved(
    before: &BTreeMap<String, (Option<String>, Option<i64>)>,
    now: &BTreeMap<String, (Option<String>, Option<i64>)>,
) -> u64 {
    before
        .iter()
        .filter(|(name, was)| now[*name] != **was)
        .count() as u64
}

// Directive 2000/84/EC: on 27 October 2024 Rome's hour from 2 to 3 happened twice.
#[test]
fn an_hour_that_happened_twice_is_settled_before_anything_is_derived() {
    let world = World::new();
    world.site("Here", "41.9", "12.5");
    let readings = [
        "2024:10:27 01:40:00",
        "2024:10:27 02:00:00",
        "2024:10:27 02:20:00",
        "2024:10:27 02:40:00",
        "2024:10:27 03:00:00",
    ];
    for (i, reading) in readings.into_iter().enumerate() {
        let below = format!("card/DCIM/100NIGHT/NITE000{i}");
        shoot(&world, &below, Writes { reading, ..PLAIN });
    }
    let report = take(&world, "card", Some("Here"));
    assert_eq!((report.frames_new, report.joined), (5, 5));
    assert_eq!(
        report.derived, 5,
        "once each, though a second file joined each"
    );
    assert_eq!(report.undated, 0, "the order of the frames dates all");
    let starts: Vec<String> = placed(&world).into_values().filter_map(|p| p.0).collect();
    assert_eq!(
        starts[2], "2024-10-27T00:20:00.000Z",
        "before the clocks were put back"
    );
    assert_eq!(take(&world, "card", Some("Here")).derived, 0);
}

/// A second card of the same evening: its GPS time stamps show the zone the clock was set to.
#[test]
fn frames_that_others_put_right_are_derived_once_and_the_rest_are_left_alone() {
    let world = World::new();
    world.site("Here", "41.9", "12.5");
    for (i, reading) in ["2024:01:10 22:00:00", "2024:01:10 22:10:00"]
        .into_iter()
        .enumerate()
    {
        let below = format!("first/DCIM/100NIGHT/NITE000{i}");
        shoot(&world, &below, Writes { reading, ..PLAIN });
    }
    let reading = "2024:01:12 22:00:00";
    shoot(
        &world,
        "first/DCIM/100NIGHT/NITE0009",
        Writes { reading, ..PLAIN },
    );
    assert_eq!(take(&world, "first", Some("Here")).derived, 3);
    let before = placed(&world);
    assert_eq!(
        before["NITE0000.DNG"].0.as_deref(),
        Some("2024-01-10T21:00:00.000Z")
    );
    // Half past ten by a clock that was set to UTC+3.
    for (i, (reading, minute)) in [("2024:01:10 22:30:00", 30), ("2024:01:10 22:40:00", 40)]
        .into_iter()
        .enumerate()
    {
        let stamp_utc = Some((19, minute));
        let below = format!("second/DCIM/100NIGHT/NITE001{i}");
        shoot(
            &world,
            &below,
            Writes {
                reading,
                stamp_utc,
                ..PLAIN
            },
        );
    }
    let report = take(&world, "second", Some("Here"));
    let now = placed(&world);
    assert_eq!(
        now["NITE0000.DNG"].0.as_deref(),
        Some("2024-01-10T19:00:00.000Z")
    );
    assert_eq!((report.frames_new, moved(&before, &now)), (2, 2));
    assert_eq!(report.derived, 4, "those of another evening are left alone");
}

/// Offsets beside readings near a clock fix decide the zone of the fix, whatever evening the frames are from.
#[test]
fn a_fix_that_new_frames_have_read_otherwise_moves_frames_once() {
    let world = World::new();
    world.site("Here", "41.9", "12.5");
    for (i, reading) in ["2024:01:10 22:00:00", "2024:01:20 22:00:00"]
        .into_iter()
        .enumerate()
    {
        let below = format!("first/DCIM/100NIGHT/NITE000{i}");
        let offset = Some(["+01:00", "+02:00"][i]);
        shoot(
            &world,
            &below,
            Writes {
                reading,
                offset,
                ..PLAIN
            },
        );
    }
    assert_eq!(take(&world, "first", Some("Here")).derived, 2);
    let fix = [
        "clock",
        "fix",
        "0042",
        "--read",
        "2024-01-15 12:00:00",
        "--true",
        "2024-01-15T11:00:10Z",
    ];
    world.run(&fix).ended(0);
    let before = placed(&world);
    let reading = "2024:01:15 10:00:00";
    let offset = Some("+03:00");
    shoot(
        &world,
        "second/DCIM/100NIGHT/NITE0010",
        Writes {
            reading,
            offset,
            ..PLAIN
        },
    );
    let report = take(&world, "second", Some("Here"));
    let moved = moved(&before, &placed(&world));
    assert_eq!((report.frames_new, moved), (1, 2));
    assert_eq!(report.derived, 3);
}

/// A later frame makes a site that is nearer to an earlier one than the site that this one made.
#[test]
fn sites_are_made_before_any_frame_is_derived() {
    let world = World::new();
    for (i, north) in [(41, 54), (41, 55), (41, 56)].into_iter().enumerate() {
        let below = format!("card/DCIM/100NIGHT/NITE000{i}");
        let reading = [
            "2024:01:10 22:00:00",
            "2024:01:11 22:00:00",
            "2024:01:12 22:00:00",
        ][i];
        let north = Some(north);
        shoot(
            &world,
            &below,
            Writes {
                reading,
                north,
                ..PLAIN
            },
        );
    }
    let report = take(&world, "card", None);
    assert_eq!(report.derived, 3);
    let sites: Vec<Option<i64>> = placed(&world).into_values().map(|p| p.1).collect();
    assert_eq!(
        sites[0], sites[1],
        "1.9 km from the first, as far from the third"
    );
    assert_ne!(sites[1], sites[2], "3.7 km from the first");
    // Of the same evenings another body's card, nearer to the second site.
    let (reading, north) = ("2024:01:10 23:00:00", Some((41, 57)));
    shoot(
        &world,
        "more/DCIM/100NIGHT/NITE0010",
        Writes {
            reading,
            north,
            ..PLAIN
        },
    );
    assert_eq!(take(&world, "more", None).derived, 1);
}

/// A killed ingest leaves files without derived rows, and a note of each: the next ingest derives them with its own.
#[test]
fn what_a_killed_ingest_left_is_derived_with_what_the_next_brings() {
    let world = World::new();
    world.site("Here", "41.9", "12.5");
    let shot = |below: &str, reading| shoot(&world, below, Writes { reading, ..PLAIN });
    shot("card/DCIM/100NIGHT/NITE0000", "2024:10:27 01:45:00");
    take(&world, "card", Some("Here"));
    let whole = placed(&world);
    // What a kill before the first frame was derived leaves.
    let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    db.execute_batch("DELETE FROM derived_session; DELETE FROM derived_sky; DELETE FROM derived_radiant; DELETE FROM derived_time;")
        .unwrap();
    drop(db);
    assert!(placed(&world).is_empty());
    shot("card/DCIM/100NIGHT/NITE0001", "2024:10:27 02:10:00");
    let report = take(&world, "card", Some("Here"));
    assert_eq!(
        (report.frames_new, report.rebuilt, report.derived),
        (1, 1, 2)
    );
    let now = placed(&world);
    assert_eq!(now["NITE0000.DNG"], whole["NITE0000.DNG"]);
    assert_eq!(
        now["NITE0001.DNG"].0.as_deref(),
        Some("2024-10-27T00:10:00.000Z")
    );
}
