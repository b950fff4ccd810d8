//! Clocks that must be wrong are found without being asked for, with the evidence and the command that puts them
//! right; clocks that are right are left in peace.

use crate::world;
use crate::world::World;
use serde_json::Value;

pub fn salt_ridge() -> World {
    let world = World::new();
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
    world
}

/// The findings of one code.
pub fn found(world: &World, code: &str) -> Vec<Value> {
    let rows = world.run(&["audit", "--as", "json"]).json();
    let rows = rows.as_array().unwrap().clone();
    rows.into_iter().filter(|row| row["code"] == code).collect()
}

/// A card of frames at these readings, half a minute apart from each.
pub fn card(world: &World, folder: &str, readings: &[&str]) {
    for (i, reading) in readings.iter().enumerate() {
        world.write(
            &format!("{folder}/DCIM/100NCTRN/N2M_{:04}.DNG", 3000 + i),
            &world::frame_at(reading),
        );
    }
}

#[test]
fn a_night_session_dated_at_noon_is_found_and_put_right_by_the_suggested_command() {
    let world = salt_ridge();
    card(
        &world,
        "card",
        &[
            "2023:12:13 10:40:00",
            "2023:12:13 10:40:30",
            "2023:12:13 10:41:00",
        ],
    );
    let said = world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    assert_eq!(said.number("clocks in doubt"), 1);
    assert!(said.err.contains("clock-daylight"), "{}", said.err);
    let rows = found(&world, "clock-daylight");
    assert_eq!(rows.len(), 1);
    let did = rows[0]["what_to_do"].as_str().unwrap();
    assert!(did.contains("12 h slow"), "{did}");
    let command = did.split("framefall ").nth(1).unwrap();
    let words: Vec<String> = split(command);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    world.run(&words).ended(0);
    assert!(found(&world, "clock-daylight").is_empty());
    let frames = world.run(&["frames", "--as", "json"]).json();
    assert_eq!(frames[0]["start_utc"], "2023-12-14T06:40:00.000Z");
}

/// The words of a command line with single quotes.
pub fn split(line: &str) -> Vec<String> {
    line.split('\'')
        .enumerate()
        .flat_map(|(i, part)| {
            if i % 2 == 1 {
                vec![part.to_owned()]
            } else {
                part.split_whitespace().map(str::to_owned).collect()
            }
        })
        .collect()
}

#[test]
fn a_session_that_runs_into_the_day_is_found() {
    let world = salt_ridge();
    // From before dawn to well after sunrise, in December at 39° north.
    let readings: Vec<String> = (0..12)
        .map(|i| {
            format!(
                "2023:12:14 {:02}:{:02}:00",
                5 + (i * 15) / 60,
                (i * 15) % 60
            )
        })
        .collect();
    card(
        &world,
        "card",
        &readings.iter().map(String::as_str).collect::<Vec<_>>(),
    );
    world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    let rows = found(&world, "clock-sunrise");
    assert_eq!(rows.len(), 1, "{:?}", world.run(&["audit"]).out);
    let did = rows[0]["what_to_do"].as_str().unwrap();
    assert!(did.contains("h fast (fits from"), "{did}");
}

#[test]
fn two_bodies_that_cannot_both_be_right_are_found() {
    let world = salt_ridge();
    world.dump("geminids-body-a", "a", |name| name.starts_with("N6A_04"));
    // Body B's clock shows the morning after for body A's evening.
    card(
        &world,
        "b",
        &[
            "2023:12:14 08:50:00",
            "2023:12:14 08:52:00",
            "2023:12:14 08:54:00",
        ],
    );
    world.run(&["ingest", "a"]).ended(0);
    world.run(&["ingest", "--site", "Salt Ridge", "b"]);
    let rows = found(&world, "clocks-disagree");
    assert_eq!(rows.len(), 1, "{}", world.run(&["audit"]).out);
    assert!(rows[0]["found"].as_str().unwrap().contains("2B-00318"));
    assert!(
        rows[0]["what_to_do"]
            .as_str()
            .unwrap()
            .contains("12 h fast")
    );
}

#[test]
fn numbers_that_rise_while_the_clock_steps_back_and_a_default_date_are_found() {
    let world = salt_ridge();
    card(
        &world,
        "card",
        &[
            "2023:12:13 22:40:00",
            "2023:12:13 22:40:30",
            "2015:01:01 00:00:40",
            "2015:01:01 00:01:10",
        ],
    );
    world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    let steps = found(&world, "clock-steps");
    assert_eq!(steps.len(), 1);
    assert_eq!(steps[0]["file"], "N2M_3002.DNG");
    let default = found(&world, "clock-default");
    assert_eq!(default.len(), 1);
    assert!(
        default[0]["found"]
            .as_str()
            .unwrap()
            .starts_with("2 frames from 2015-01-01")
    );
}

#[test]
fn the_demo_nights_are_left_in_peace() {
    let world = salt_ridge();
    world.dump("geminids-body-a", "a", |_| true);
    world.dump("eta-aquariids", "eta", |_| true);
    let said = world.run(&["ingest", "a", "eta"]).ended(0);
    assert_eq!(said.number("clocks in doubt"), 0, "{}", said.err);
    for code in [
        "clock-daylight",
        "clock-sunrise",
        "gps-clock-apart",
        "offset-differs",
        "clock-steps",
    ] {
        assert!(found(&world, code).is_empty(), "{code}");
    }
}

/// When the shutter opened, frame by frame.
fn starts(world: &World) -> Vec<String> {
    let starts = world
        .run(&["frames", "iso > 0", "--show", "start", "--as", "json"])
        .json();
    starts
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row["start_utc"].as_str().unwrap().to_owned())
        .collect()
}

/// Summer time ended in Los Angeles on 2023-11-05 at 2:00 (IANA time zone database). The body put its clock back by
/// itself, which the order of its frames shows; so no frame is undated, and nothing is odd about the step.
#[test]
fn a_clock_put_back_with_summer_time_is_no_doubt_and_leaves_nothing_undated() {
    let world = salt_ridge();
    let readings = [
        "2023:11:05 00:50:00",
        "2023:11:05 01:15:00",
        "2023:11:05 01:40:00",
        "2023:11:05 01:05:00",
        "2023:11:05 01:30:00",
        "2023:11:05 01:55:00",
        "2023:11:05 02:20:00",
    ];
    card(&world, "card", &readings);
    let said = world
        .run(&["ingest", "--site", "Salt Ridge", "card"])
        .ended(0);
    assert_eq!(said.number("undated"), 0);
    assert_eq!(said.number("clocks in doubt"), 0, "{}", said.err);
    assert_eq!(found(&world, "clock-twice").len(), 5);
    let starts = starts(&world);
    assert_eq!(starts[2], "2023-11-05T08:40:00.000Z");
    assert_eq!(starts[3], "2023-11-05T09:05:00.000Z");
}

/// Two cards of one night, with files numbered from 1 again on the second: their names do not show their order.
#[test]
fn cards_numbered_anew_do_not_tell_that_the_clock_was_put_back() {
    let world = salt_ridge();
    card(
        &world,
        "first",
        &[
            "2023:11:05 01:05:00",
            "2023:11:05 01:10:00",
            "2023:11:05 01:15:00",
        ],
    );
    let second: Vec<String> = (0..12)
        .map(|k| {
            format!(
                "2023:11:05 {:02}:{:02}:00",
                1 + (20 + 5 * k) / 60,
                (20 + 5 * k) % 60
            )
        })
        .collect();
    let second: Vec<&str> = second.iter().map(String::as_str).collect();
    card(&world, "second", &second);
    world
        .run(&["ingest", "--site", " Salt Ridge ", "first", "second"])
        .ended(0);
    let starts = starts(&world);
    // One smooth run, and its last frames are certain: 2:00 and later was standard time, eight hours behind UTC.
    assert_eq!(starts.len(), 15);
    assert_eq!(starts[0], "2023-11-05T09:05:00.000Z");
    assert_eq!(starts[14], "2023-11-05T10:15:00.000Z");
}

/// Readings of a clock, ten minutes apart, from a true local time on; the clock is ahead by so many hours.
pub fn night(from: &str, frames: i64, fast_h: i64) -> Vec<String> {
    let from: jiff::civil::DateTime = from.parse().unwrap();
    let reading = |i: i64| from + jiff::Span::new().minutes(10 * i + 60 * fast_h);
    (0..frames)
        .map(|i| reading(i).strftime("%Y:%m:%d %H:%M:%S").to_string())
        .collect()
}

/// From the Sun at -10° in the evening to the same in the morning, at 39° north in December; the next night is right.
/// Most of these runs are cut in two by noon of the wrong clock.
#[test]
fn the_first_suggestion_for_a_whole_night_is_the_true_error_and_leaves_the_next_night_alone() {
    for (fast_h, words) in [
        (1, "1 h fast"),
        (-1, "1 h slow"),
        (12, "12 h fast"),
        (-8, "8 h slow"),
    ] {
        let world = salt_ridge();
        let mut readings = night("2023-12-13T17:25:00", 76, fast_h);
        readings.extend(night("2023-12-14T18:30:00", 70, 0));
        card(
            &world,
            "card",
            &readings.iter().map(String::as_str).collect::<Vec<_>>(),
        );
        world.run(&["ingest", "--site", "Salt Ridge", "card"]);
        let before = starts(&world);
        let rows = world.run(&["audit", "--as", "json"]).json();
        let did = rows.as_array().unwrap().iter().find_map(|row| {
            let is_clock = row["code"].as_str()?.starts_with("clock-");
            row["what_to_do"].as_str().filter(|_| is_clock)
        });
        let did = did
            .unwrap_or_else(|| panic!("{fast_h} h: nothing found"))
            .to_owned();
        let first = format!("the frames fit the night if the clock was {words} (fits from ");
        assert!(did.contains(&first), "{did}");
        let words = split(did.split("framefall ").nth(1).unwrap());
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        world.run(&words).ended(0);
        let after = starts(&world);
        assert_eq!(after[0], "2023-12-14T01:25:00.000Z", "{did}");
        assert_eq!(after[75], "2023-12-14T13:55:00.000Z", "{did}");
        assert_eq!(after[76..], before[76..], "the next night stays");
        let rows = world.run(&["audit", "--as", "json"]).json();
        let codes = rows
            .as_array()
            .unwrap()
            .iter()
            .map(|row| row["code"].as_str().unwrap());
        assert_eq!(codes.filter(|code| code.starts_with("clock")).count(), 0);
    }
}

/// A year ahead between two right nights: the order of the files shows which one, and the statement is limited to it.
#[test]
fn a_year_between_right_nights_is_found_and_put_right() {
    let world = salt_ridge();
    let mut readings = night("2023-12-12T17:25:00", 20, 0);
    let wrong = night("2023-12-13T17:27:00", 20, 0);
    readings.extend(
        wrong
            .iter()
            .map(|reading| reading.replacen("2023", "2024", 1)),
    );
    readings.extend(night("2023-12-14T17:29:00", 20, 0));
    card(
        &world,
        "card",
        &readings.iter().map(String::as_str).collect::<Vec<_>>(),
    );
    world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    let before = starts(&world);
    let rows = found(&world, "clock-steps");
    assert_eq!(rows.len(), 1, "{rows:?}");
    let did = rows[0]["what_to_do"].as_str().unwrap();
    assert!(did.contains("if the clock was 1 year fast"), "{did}");
    let words = split(did.split("framefall ").nth(1).unwrap());
    world
        .run(&words.iter().map(String::as_str).collect::<Vec<_>>())
        .ended(0);
    // Listed in the order of time now.
    let after = starts(&world);
    assert_eq!(after[20], "2023-12-14T01:27:00.000Z");
    assert_eq!(after[..20], before[..20]);
    assert_eq!(after[40..], before[20..40]);
    assert!(found(&world, "clock-steps").is_empty());
}
