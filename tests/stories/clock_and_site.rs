//! A body that writes neither place nor zone: nothing is guessed, everything can be stated afterwards.

use crate::world;
use crate::world::World;

#[test]
fn a_site_stated_afterwards_dates_and_places_the_frames() {
    let world = World::new();
    world.dump("geminids-body-b", "card", |name| {
        name != "N2M_2219.DNG" && !name.starts_with("N6A")
    });
    let said = world.run(&["ingest", "card"]).ended(0);
    assert_eq!(said.number("undated"), 19);
    assert_eq!(said.number("without a place"), 19);
    assert!(said.err.contains("site assign"), "{}", said.err);
    let sessions = world.run(&["sessions", "--as", "json"]).json();
    assert_eq!(
        sessions.as_array().unwrap().len(),
        1,
        "grouped by the body's own clock"
    );
    assert!(sessions[0]["start_utc"].is_null());

    let unknown = world
        .run(&["site", "assign", "Salt Rigde", "--session", "1"])
        .ended(2);
    assert!(
        unknown.err.contains("there is no site named 'Salt Rigde'"),
        "{}",
        unknown.err
    );
    world
        .run(&[
            "site",
            "add",
            "Salt Ridge",
            "--lat",
            "38.93",
            "--lon",
            "-116.01",
            "--elevation",
            "1905",
        ])
        .ended(0);
    let close = world
        .run(&["site", "assign", "Salt Rigde", "--session", "1"])
        .ended(2);
    assert!(
        close.err.contains("did you mean 'Salt Ridge'?"),
        "{}",
        close.err
    );
    let done = world
        .run(&["site", "assign", "salt ridge", "--session", "1"])
        .ended(0);
    assert_eq!(done.number("frames checked"), 19);

    let frames = world
        .run(&["frames", "site = 'Salt Ridge'", "--as", "json"])
        .json();
    assert_eq!(frames.as_array().unwrap().len(), 19);
    assert_eq!(frames[0]["time_basis"], "site-zone");
    assert_eq!(frames[0]["place_basis"], "site");
    assert_eq!(frames[0]["session"], 1, "the session keeps its number");
    assert_eq!(
        frames[0]["start_utc"], "2023-12-14T06:30:21.000Z",
        "Pacific standard time is eight hours behind"
    );
    assert!(frames[0]["sun_alt_deg"].as_f64().unwrap() < -40.0);
    // Ingesting the dump again with its site would have done the same.
    let other = World::new();
    other.dump("geminids-body-b", "card", |name| {
        name != "N2M_2219.DNG" && !name.starts_with("N6A")
    });
    other.run(&["ingest", "card"]).ended(0);
    other
        .run(&[
            "site",
            "add",
            "Salt Ridge",
            "--lat",
            "38.93",
            "--lon",
            "-116.01",
            "--elevation",
            "1905",
        ])
        .ended(0);
    let again = other
        .run(&["ingest", "--site", "Salt Ridge", "card"])
        .ended(0);
    assert_eq!(again.number("known frames placed by --site"), 19);
    assert_eq!(
        other
            .run(&["frames", "start is known", "--count"])
            .out
            .trim(),
        "19"
    );
    // The statement outlives a second ingest.
    world.run(&["ingest", "card"]).ended(0);
    assert_eq!(
        world
            .run(&["frames", "start is known", "--count"])
            .out
            .trim(),
        "19"
    );
}

#[test]
fn hours_that_never_were_or_were_twice_leave_the_frame_without_utc() {
    let world = World::new();
    world
        .run(&[
            "site",
            "add",
            "Lago",
            "--lat",
            "45.9N",
            "--lon",
            "8.9E",
            "--elevation",
            "300",
        ])
        .ended(0);
    world.write("card/twice.DNG", &world::frame_at("2024:10:27 02:31:10"));
    world.write("card/never.DNG", &world::frame_at("2024:03:31 02:31:10"));
    world.write("card/plain.DNG", &world::frame_at("2024:03:31 03:31:10"));
    world.run(&["ingest", "--site", "Lago", "card"]).ended(0);
    let frames = world.run(&["frames", "--as", "json"]).json();
    assert_eq!(frames.as_array().unwrap().len(), 3, "every frame is kept");
    let undated = world.run(&["frames", "start is unknown", "--count"]);
    assert_eq!(undated.out.trim(), "2");
    assert_eq!(frames[0]["start_utc"], "2024-03-31T01:31:10.000Z");
    let audit = world.run(&["audit", "--as", "csv"]).ended(1);
    for code in ["clock-twice", "clock-never"] {
        assert!(audit.out.contains(code), "{}", audit.out);
    }
}

#[test]
fn the_order_of_a_nights_frames_settles_the_hour_that_was_twice() {
    let world = World::new();
    world
        .run(&[
            "site",
            "add",
            "Lago",
            "--lat",
            "45.9N",
            "--lon",
            "8.9E",
            "--elevation",
            "300",
        ])
        .ended(0);
    // The clock was put back by hand between the third frame and the fourth.
    let night = [
        ("2024:10:27 01:50:00", "2024-10-26T23:50:00.000Z"),
        ("2024:10:27 02:10:00", "2024-10-27T00:10:00.000Z"),
        ("2024:10:27 02:35:00", "2024-10-27T00:35:00.000Z"),
        ("2024:10:27 02:05:00", "2024-10-27T01:05:00.000Z"),
        ("2024:10:27 02:25:00", "2024-10-27T01:25:00.000Z"),
        ("2024:10:27 02:50:00", "2024-10-27T01:50:00.000Z"),
        ("2024:10:27 03:10:00", "2024-10-27T02:10:00.000Z"),
    ];
    for (i, (reading, _)) in night.iter().enumerate() {
        world.write(&format!("card/L_000{i}.DNG"), &world::frame_at(reading));
    }
    world.run(&["ingest", "--site", "Lago", "card"]).ended(0);
    let starts = |world: &World| -> Vec<String> {
        let frames = world.run(&["frames", "--as", "json"]).json();
        let frames = frames.as_array().unwrap();
        frames.iter().map(|f| f["start_utc"].to_string()).collect()
    };
    let expected: Vec<String> = night.iter().map(|(_, utc)| format!("\"{utc}\"")).collect();
    assert_eq!(starts(&world), expected);
    let audit = world.run(&["audit", "--as", "csv"]);
    assert_eq!(
        audit.out.matches("clock-twice").count(),
        5,
        "settled, and flagged still: {}",
        audit.out
    );
    // A night in spring whose body nobody put forward runs on smoothly.
    for (i, reading) in [
        "2024:03:31 01:50:00",
        "2024:03:31 02:15:00",
        "2024:03:31 02:40:00",
        "2024:03:31 03:05:00",
    ]
    .into_iter()
    .enumerate()
    {
        world.write(&format!("spring/S_000{i}.DNG"), &world::frame_at(reading));
    }
    world.run(&["ingest", "--site", "Lago", "spring"]).ended(0);
    let spring: Vec<String> = starts(&world).into_iter().take(4).collect();
    assert_eq!(
        spring,
        ["00:50", "01:15", "01:40", "02:05"].map(|t| format!("\"2024-03-31T{t}:00.000Z\""))
    );
}

#[test]
fn doubtful_sites_are_refused_with_what_was_probably_meant() {
    let world = World::new();
    let add = |name: &str, lat: &str, lon: &str, more: &[&str]| {
        let mut words = vec![
            "site",
            "add",
            name,
            "--lat",
            lat,
            "--lon",
            lon,
            "--elevation",
            "100",
        ];
        words.extend(more);
        world.run(&words)
    };
    for (lat, lon, more, reason) in [
        ("116W", "38N", &[][..], "swapped"),
        ("116", "38", &[][..], "swapped"),
        ("38.9", "361", &[][..], "beyond 180"),
        (
            "38.9",
            "-116",
            &["--zone", "America/Los_Angles"][..],
            "did you mean America/Los_Angeles",
        ),
    ] {
        let said = add("Nowhere", lat, lon, more).ended(2);
        assert!(said.err.contains(reason), "{lat} {lon}: {}", said.err);
    }
    add("Salt Ridge", "38.93", "-116.01", &[]).ended(0);
    let twin = add("Salt Ridge East", "38.931", "-116.0", &[]).ended(2);
    assert!(
        twin.err.contains("'Salt Ridge' is only 0.9 km from here"),
        "{}",
        twin.err
    );
    let taken = add("SALT RIDGE", "48.93", "-116.0", &[]).ended(2);
    assert!(taken.err.contains("already"), "{}", taken.err);
}
