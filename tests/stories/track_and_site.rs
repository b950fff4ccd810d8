//! Places that are added later: a recorded track, a site that was entered wrong, a site that is removed.

use crate::world::World;
use serde_json::Value;

const FIX: &[&str] = &[
    "clock",
    "fix",
    "2B-00318",
    "--read",
    "2023-12-13 22:30:21",
    "--true",
    "2023-12-14T05:30:21Z",
];

/// Ten minutes of a walk north: 0.006° in 600 s, a hundred-thousandth of a degree a second.
fn walk(points: &[(&str, &str)]) -> String {
    let points: Vec<String> = points
        .iter()
        .map(|(time, lat)| {
            format!(
                "<trkpt lat=\"{lat}\" lon=\"-116.01\"><ele>1905</ele><time>{time}</time></trkpt>\n"
            )
        })
        .collect();
    let points = points.concat();
    format!(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"a receiver\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\">\n<trk><trkseg>\n{points}</trkseg></trk></gpx>\n"
    )
}

/// Body B's Geminids, no site known, the clock put right.
fn undated_made_right() -> World {
    let world = World::new();
    world.dump("geminids-body-b", "gem", |name| name != "N6A_0430.DNG");
    world.run(&["ingest", "gem"]);
    let fix = world.run(FIX).ended(0);
    assert_eq!(fix.number("newly dated"), 20);
    world
}

fn frames(world: &World) -> Value {
    world.run(&["frames", "--as", "json"]).json()
}

fn add(world: &World, name: &str, lat: &str, lon: &str) {
    world.site_with(name, lat, lon, &["--elevation", "1905"]);
}

#[test]
fn frames_are_placed_on_the_track_at_their_own_instant() {
    let world = undated_made_right();
    let before = frames(&world);
    assert_eq!(before[0]["place_basis"], "none");
    let gpx = walk(&[
        ("2023-12-14T05:26:00Z", "38.9300"),
        ("2023-12-14T05:36:00Z", "38.9360"),
    ]);
    world.write("walk.gpx", gpx.as_bytes());
    let foretold = world
        .run(&["site", "track", "walk.gpx", "--dry-run"])
        .ended(0);
    assert_eq!(frames(&world), before);
    let done = world.run(&["site", "track", "walk.gpx"]).ended(0);
    assert_eq!(done.out, foretold.out);
    let placed = frames(&world);
    let first = &placed[0];
    assert_eq!(first["place_basis"], "track");
    // 05:30:21 and half the exposure are so many seconds after 05:26:00.
    let since = 261.0 + first["exposure_s"].as_f64().unwrap() / 2.0;
    let lat = first["lat_deg"].as_f64().unwrap();
    assert!((lat - (38.93 + since * 1e-5)).abs() < 1e-9, "{lat}");
    assert!((first["lon_deg"].as_f64().unwrap() + 116.01).abs() < 1e-9);
    assert!(first["sun_alt_deg"].as_f64().unwrap() < -18.0);
    // The frames after 05:36 have no track any more, and nothing is carried over to them.
    let after_it = &placed[19];
    assert_eq!(after_it["start_utc"], "2023-12-14T05:37:57.000Z");
    assert_eq!(after_it["place_basis"], "none");
    let twice = world.run(&["site", "track", "walk.gpx"]).ended(2);
    assert!(twice.err.contains("track-1"), "{}", twice.err);
    world
        .run(&["site", "track", "--remove", "track-1"])
        .ended(0);
    let undone = frames(&world);
    assert_eq!(undone[0]["place_basis"], "none");
    assert!(undone[0]["lat_deg"].is_null());
}

#[test]
fn tracks_that_are_none_are_refused_and_change_nothing() {
    let world = undated_made_right();
    let before = frames(&world);
    let good = walk(&[
        ("2023-12-14T05:26:00Z", "38.93"),
        ("2023-12-14T05:36:00Z", "38.936"),
    ]);
    for (name, text, reason) in [
        ("cut.gpx", good[..good.len() / 2].to_owned(), "line"),
        (
            "back.gpx",
            walk(&[
                ("2023-12-14T05:36:00Z", "38.93"),
                ("2023-12-14T05:26:00Z", "38.936"),
            ]),
            "line 5: time goes backwards",
        ),
        ("timeless.gpx", good.replace("time>", "cmt>"), "has a time"),
        (
            "bomb.gpx",
            good.replace("<gpx", "<!DOCTYPE gpx [<!ENTITY a \"aaaa\">]>\n<gpx"),
            "document type",
        ),
        (
            "swapped.gpx",
            good.replace("lat=\"38.93", "lat=\"116.01"),
            "beyond 90",
        ),
    ] {
        world.write(name, text.as_bytes());
        let said = world.run(&["site", "track", name]).ended(2);
        assert!(said.err.contains(reason), "{name}: {}", said.err);
    }
    let missing = world.run(&["site", "track", "nowhere.gpx"]).ended(2);
    assert!(missing.err.contains("cannot be read"), "{}", missing.err);
    assert_eq!(frames(&world), before);
    assert!(
        world
            .run(&["site", "track", "--list"])
            .out
            .contains("no tracks yet")
    );
}

#[test]
fn a_site_that_was_entered_wrong_is_changed_and_its_frames_follow() {
    let world = World::new();
    world.dump("geminids-body-b", "gem", |name| name != "N6A_0430.DNG");
    add(&world, "Salt Ridge", "38.93", "-106.01");
    world.run(&["ingest", "--site", "Salt Ridge", "gem"]);
    assert_eq!(
        frames(&world)[0]["start_utc"],
        "2023-12-14T05:30:21.000Z",
        "Mountain time"
    );
    let foretold = world
        .run(&[
            "site",
            "change",
            "Salt Ridge",
            "--lon",
            "116.01W",
            "--dry-run",
        ])
        .ended(0);
    assert!(
        foretold
            .err
            .contains("20 frames are at this site, in session 1"),
        "{}",
        foretold.err
    );
    assert_eq!(frames(&world)[0]["lon_deg"], -106.01);
    let done = world
        .run(&[
            "site",
            "change",
            "Salt Ridge",
            "--lon",
            "116.01W",
            "--sky-brightness",
            "21.7",
        ])
        .ended(0);
    assert_eq!(done.number("frames checked"), 20);
    assert!(
        done.out.contains("America/Los_Angeles"),
        "the zone moves with it: {}",
        done.out
    );
    let now = frames(&world);
    assert_eq!(now[0]["lon_deg"], -116.01);
    assert_eq!(now[0]["start_utc"], "2023-12-14T06:30:21.000Z");
    assert_eq!(now[0]["session"], 1);
    let sites = world.run(&["site", "list", "--as", "json"]).json();
    assert_eq!(sites[0]["sky_brightness_mag"], 21.7);
    // A name alone moves nothing.
    let named = world
        .run(&["site", "change", "Salt Ridge", "--name", "Salt Flat"])
        .ended(0);
    assert!(named.out.contains("No frame changed."), "{}", named.out);
    assert_eq!(frames(&world)[0]["site"], "Salt Flat");
    for (words, reason) in [
        (
            &["site", "change", "Salt Flat", "--sky-brightness", "35"][..],
            "between 14 and 23",
        ),
        (
            &["site", "change", "Salt Flat", "--limiting-magnitude", "9"][..],
            "between 0 and 8",
        ),
        (
            &["site", "change", "Salt Flat", "--zone", "Europe/Rom"][..],
            "did you mean Europe/Rome",
        ),
        (
            &["site", "change", "Salt Flatt", "--sky-brightness", "21"][..],
            "did you mean 'Salt Flat'?",
        ),
    ] {
        let said = world.run(words).ended(2);
        assert!(said.err.contains(reason), "{}", said.err);
    }
    let gone = world
        .run(&["site", "remove", "Salt Flat", "--yes"])
        .ended(0);
    assert!(gone.err.contains("20 frames"), "{}", gone.err);
    let now = frames(&world);
    assert!(now[0]["site"].is_null() && now[0]["start_utc"].is_null());
    assert_eq!(now[0]["session"], 1, "still one session, by its clock");
}

#[test]
fn a_site_made_from_gps_comes_back_when_its_frames_ask_for_it() {
    let world = World::new();
    world.dump("geminids-body-a", "a", |name| name.starts_with("N6A_04"));
    world.run(&["ingest", "a"]).ended(0);
    let before = frames(&world);
    let site = before[0]["site"].as_str().unwrap().to_owned();
    world.run(&["site", "remove", &site, "--yes"]).ended(0);
    let after = frames(&world);
    assert_eq!(before, after);
    let near = world
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
        .ended(2);
    assert!(near.err.contains("if it is the same place"), "{}", near.err);
    assert!(near.err.contains("site change"), "{}", near.err);
    let sites = world.run(&["site", "list", "--as", "json"]).json();
    assert_eq!(sites[0]["origin"], "exif");
}

#[test]
fn frames_with_a_position_of_their_own_do_not_use_the_site_they_are_stated_to_be_at() {
    let world = World::new();
    world.dump("geminids-body-a", "a", |name| name.starts_with("N6A_04"));
    world.run(&["ingest", "a"]).ended(0);
    world.site("Far Side", "47.5", "11.5");
    world
        .run(&["site", "assign", "Far Side", "--dump", "a"])
        .ended(0);
    for words in [
        &[
            "site",
            "change",
            "Far Side",
            "--elevation",
            "700",
            "--dry-run",
        ][..],
        &["site", "remove", "Far Side", "--dry-run"],
    ] {
        let said = world.run(words).ended(0);
        assert!(
            said.err.contains("0 frames are at this site"),
            "{}",
            said.err
        );
    }
}

#[test]
fn a_site_that_is_stated_late_takes_the_frames_that_are_nearest_to_it() {
    // A drive north: the first frame makes a site, the last are three kilometres on.
    let drive = walk(&[
        ("2023-12-14T05:26:00Z", "38.9300"),
        ("2023-12-14T05:36:00Z", "38.9700"),
    ]);
    let told = |world: &World| -> Vec<Value> {
        let of = |frame: &Value| {
            let told = ["file", "site", "lat_deg", "session", "night", "place_basis"];
            told.map(|key| frame[key].clone()).to_vec().into()
        };
        frames(world).as_array().unwrap().iter().map(of).collect()
    };
    let at = |world: &World, site: &str| {
        let count = world.run(&["frames", &format!("site = '{site}'"), "--count"]);
        count.out.trim().parse::<u64>().unwrap()
    };
    let late = undated_made_right();
    late.write("drive.gpx", drive.as_bytes());
    late.run(&["site", "track", "drive.gpx"]).ended(0);
    let made = frames(&late)[0]["site"].as_str().unwrap().to_owned();
    let all = at(&late, &made);
    let sites = late.run(&["site", "list", "--as", "json"]).json();
    assert_eq!(
        (&sites[0]["site"], &sites[0]["origin"]),
        (&made.clone().into(), &"track".into())
    );
    add(&late, "Far Side", "38.976", "-115.01");
    assert_eq!(at(&late, &made), all, "a degree east");
    let said = late
        .run(&[
            "site",
            "add",
            "North End",
            "--lat",
            "38.976",
            "--lon",
            "-116.01",
            "--elevation",
            "1905",
        ])
        .ended(0);
    let there = at(&late, "North End");
    assert!(
        there > 2 && at(&late, &made) == all - there,
        "{there} of {all}"
    );
    assert_eq!(said.number("frames checked"), there, "{}", said.out);
    // Frames keep their positions, and sessions follow: as if it had been stated first.
    let early = undated_made_right();
    add(&early, "Far Side", "38.976", "-115.01");
    add(&early, "North End", "38.976", "-116.01");
    early.write("drive.gpx", drive.as_bytes());
    early.run(&["site", "track", "drive.gpx"]).ended(0);
    let sessions = |frames: Vec<Value>| {
        let mut seen: Vec<Value> = Vec::new();
        let mut number = |session: &Value| {
            seen.iter()
                .position(|one| one == session)
                .unwrap_or_else(|| {
                    seen.push(session.clone());
                    seen.len() - 1
                })
        };
        let in_order = frames.into_iter().map(|mut frame| {
            frame[3] = number(&frame[3]).into();
            frame
        });
        in_order.collect::<Vec<_>>()
    };
    assert_eq!(sessions(told(&late)), sessions(told(&early)));
    // Frames that are stated to be at a site, but have a position of their own, do not use it.
    late.run(&["site", "assign", "Far Side", "--dump", "gem"])
        .ended(0);
    let darker = ["site", "change", "Far Side", "--sky-brightness", "21.6"];
    let said = late.run(&darker).ended(0);
    let using = at(&late, "Far Side");
    assert_eq!(said.number("frames checked"), using, "{}", said.out);
    assert!(using < all, "the track goes before the statement");
}
