//! Local time at the site: in tables under a line that names the zone, in data with its offset, in queries without one.

use rusqlite::Connection;

use crate::world;
use crate::world::World;

/// A night in Europe in which the clocks are put back, one frame in Chile, one without a place.
fn nights() -> World {
    let world = World::new();
    world.site("Lago", "45.9N", "8.9E");
    world.site("Cerro", "30.2S", "70.8W");
    // The body was set to UTC+2 and never put back.
    for (i, reading) in [
        "2024:10:27 02:30:00",
        "2024:10:27 03:30:00",
        "2024:10:27 03:30:30",
    ]
    .iter()
    .enumerate()
    {
        world.write(&format!("lago/L_{i}.DNG"), &world::frame_at(reading));
    }
    world.write("cerro/C_0.DNG", &world::frame_at("2024:01:05 01:00:00"));
    world.write("lost/X_0.DNG", &world::frame_at("2024:02:05 01:00:00"));
    world.run(&["ingest", "lago", "--site", "Lago"]).ended(0);
    world
        .run(&["clock", "zone", "N2", "+02:00", "--from", "2024-10-01"])
        .ended(0);
    world.run(&["ingest", "cerro", "--site", "Cerro"]).ended(0);
    world.run(&["ingest", "lost"]).ended(0);
    world
}

/// Offsets by the IANA time zone database (from memory): Rome +02:00 to 2024-10-27T01:00Z, Santiago -03:00 in January.
#[test]
fn data_has_the_offset_and_a_query_has_none() {
    let world = nights();
    let frames = world.run(&["frames", "--as", "json"]).ended(0).json();
    let local: Vec<_> = frames
        .as_array()
        .unwrap()
        .iter()
        .map(|frame| (frame["file"].as_str().unwrap(), &frame["start_local"]))
        .collect();
    let of = |file: &str| local.iter().find(|(name, _)| *name == file).unwrap().1;
    assert_eq!(of("L_0.DNG"), "2024-10-27T02:30:00.000+02:00");
    assert_eq!(of("L_1.DNG"), "2024-10-27T02:30:00.000+01:00");
    assert_eq!(of("C_0.DNG"), "2024-01-05T01:00:00.000-03:00");
    assert!(of("X_0.DNG").is_null());
    let count = |query: &str| {
        world
            .run(&["frames", query, "--count"])
            .out
            .trim()
            .to_owned()
    };
    assert_eq!(count("local = 2024-10-27T02:30"), "3");
    assert_eq!(count("local >= 2024-10-27T02:30:30"), "1");
    assert_eq!(count("local in 2024-01-05T00:59..2024-01-05T01:00"), "1");
    assert_eq!(count("local is unknown"), "1");
    assert_eq!(count("zone = 'America/Santiago'"), "1");
    let zoned = world.run(&["frames", "local > 2024-01-05T01:00Z"]).ended(2);
    assert!(
        zoned.err.contains("local time at the site"),
        "{}",
        zoned.err
    );
    let csv = world.run(&[
        "frames",
        "--show",
        "file,local,zone",
        "--by",
        "local",
        "--as",
        "csv",
    ]);
    let first = csv.out.lines().nth(1).unwrap();
    assert_eq!(
        first,
        "C_0.DNG,2024-01-05T01:00:00.000-03:00,America/Santiago"
    );
    let sessions = world.run(&["sessions", "--as", "csv"]).ended(0);
    let heading = sessions.out.lines().next().unwrap();
    assert!(
        heading.contains("start_utc,end_utc,start_local,end_local,zone,clock_local"),
        "{heading}"
    );
    assert!(
        sessions.out.contains("2024-01-05T01:00:00.000-03:00"),
        "{}",
        sessions.out
    );
}

#[test]
fn tables_name_one_zone_once_and_several_by_their_offsets() {
    let world = nights();
    let one = world.run(&["frames", "night = 2024-10-26"]).ended(0);
    let lines: Vec<&str> = one.out.lines().collect();
    assert_eq!(lines[0], "local: time at the site, Europe/Rome");
    assert!(lines[1].starts_with("local "), "{}", lines[1]);
    assert!(
        lines[3].starts_with("2024-10-27 02:30:00  "),
        "{}",
        lines[3]
    );
    let several = world.run(&["frames", "site is known"]).ended(0);
    assert!(
        several.out.contains("2024-01-05 01:00:00 -03:00  "),
        "{}",
        several.out
    );
    assert!(
        several.out.contains("2024-10-27 02:30:00 +01:00  "),
        "{}",
        several.out
    );
    let utc = world
        .run(&["frames", "night = 2024-10-26", "--utc"])
        .ended(0);
    assert!(utc.out.starts_with("start "), "{}", utc.out);
    assert!(utc.out.contains("2024-10-27T01:30:00Z"), "{}", utc.out);
    let sessions = world.run(&["sessions"]).ended(0);
    assert!(
        sessions.out.contains("2024-01-05 01:00:00 -03:00"),
        "{}",
        sessions.out
    );
    let utc = world.run(&["sessions", "--utc"]).ended(0);
    assert!(utc.out.contains("2024-01-05T04:00:00Z"), "{}", utc.out);
    let chosen = world
        .run(&["sessions", "--show", "session,zone,frames"])
        .ended(0);
    assert!(chosen.out.starts_with("session  zone"), "{}", chosen.out);
    let unknown = world
        .run(&["sessions", "--show", "session,radiant"])
        .ended(2);
    assert!(
        unknown.err.contains("no column 'radiant'"),
        "{}",
        unknown.err
    );
}

/// Every frame and session has the local time in SQL that it has in the lists, without a function of framefall's own.
#[test]
fn sql_has_the_local_time_of_the_lists() {
    let world = nights();
    let of_sql = |sql: &str| -> Vec<Vec<Option<String>>> {
        let db = Connection::open(world.path("catalogue.sqlite")).unwrap();
        let mut read = db.prepare(sql).unwrap();
        let columns = read.column_count();
        let rows = read.query_map([], |row| (0..columns).map(|at| row.get(at)).collect());
        rows.unwrap().map(Result::unwrap).collect()
    };
    let of_list = |command: &str, keys: &[&str]| -> Vec<Vec<Option<String>>> {
        let list = world.run(&[command, "--as", "json"]).ended(0).json();
        let text = |row: &serde_json::Value, key: &str| row[key].as_str().map(str::to_owned);
        let mut rows: Vec<_> = list
            .as_array()
            .unwrap()
            .iter()
            .map(|row| keys.iter().map(|key| text(row, key)).collect())
            .collect();
        rows.sort();
        rows
    };
    let keys = ["start_local", "zone", "start_utc", "file"];
    let frames = of_sql("SELECT start_local, zone, start_utc, file FROM frame ORDER BY 1, 2, 3, 4");
    assert_eq!(frames, of_list("frames", &keys));
    assert_eq!(frames.iter().filter(|row| row[0].is_some()).count(), 4);
    let sky = of_sql("SELECT start_local FROM frame_sky WHERE file = 'L_1.DNG'");
    assert_eq!(sky[0][0].as_deref(), Some("2024-10-27T02:30:00.000+01:00"));
    let keys = ["start_local", "end_local", "zone", "start_utc"];
    let sessions =
        of_sql("SELECT start_local, end_local, zone, start_utc FROM session ORDER BY 1, 2, 3, 4");
    assert_eq!(sessions, of_list("sessions", &keys));

    // Another zone for the site, and none for its old one.
    world
        .run(&["site", "change", "Cerro", "--zone", "-05:30"])
        .ended(0);
    let moved = of_sql("SELECT start_local FROM frame WHERE file = 'C_0.DNG'");
    assert!(
        moved[0][0].as_deref().unwrap().ends_with("-05:30"),
        "{moved:?}"
    );
    let zones = of_sql("SELECT DISTINCT zone FROM zone_offset");
    assert_eq!(zones.len(), 2, "{zones:?}");
}
