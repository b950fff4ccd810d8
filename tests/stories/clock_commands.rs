//! When the audit suggests a clock command and when it does not: what a pasted command changes, and what must not move.

use crate::clock_in_doubt::card;
use crate::clock_in_doubt::found;
use crate::clock_in_doubt::night;
use crate::clock_in_doubt::salt_ridge;
use crate::clock_in_doubt::split;

/// A night one day ahead has the readings of the next night, which may as well be a day behind: a person must say.
#[test]
fn no_command_is_printed_where_nothing_shows_which_night_is_wrong() {
    let world = salt_ridge();
    let mut readings = night("2023-12-12T17:25:00", 76, 0);
    readings.extend(night("2023-12-13T17:27:00", 76, 24));
    readings.extend(night("2023-12-14T17:29:00", 76, 0));
    card(
        &world,
        "card",
        &readings.iter().map(String::as_str).collect::<Vec<_>>(),
    );
    world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    let rows = found(&world, "clock-steps");
    assert_eq!(rows.len(), 1);
    let did = rows[0]["what_to_do"].as_str().unwrap();
    assert!(
        did.contains("the 76 frames from 2023-12-14 17:27:00 fit the order of the files if the clock was 1 day fast"),
        "{did}"
    );
    assert!(
        did.contains("Nothing shows which of the two is wrong") && !did.contains("framefall clock"),
        "{did}"
    );
}

/// The catalogue was named when the command was suggested: pasted, it acts on that one, not on the usual one.
#[test]
fn a_suggested_command_names_the_catalogue_that_it_was_suggested_for() {
    let world = salt_ridge();
    let readings = ["2023:12:13 10:40:00", "2023:12:13 10:40:30"];
    card(&world, "card", &readings);
    world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    let usual = world.path("catalogue.sqlite");
    let elsewhere = world.path("the other one.sqlite");
    std::fs::copy(&usual, &elsewhere).unwrap();
    let short = found(&world, "clock-daylight")[0]["what_to_do"].to_string();
    assert!(
        short.contains("framefall clock fix") && !short.contains("--catalogue"),
        "{short}"
    );
    let named = [
        "audit",
        "--as",
        "json",
        "--catalogue",
        "the other one.sqlite",
    ];
    let rows = world.run(&named).json();
    let rows = rows.as_array().unwrap();
    let row = rows.iter().find(|row| row["code"] == "clock-daylight");
    let did = row.unwrap()["what_to_do"].as_str().unwrap();
    let words = split(did.split("framefall ").nth(1).unwrap());
    assert!(words.contains(&"the other one.sqlite".to_owned()), "{did}");
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    world.run(&words).ended(0);
    assert_eq!(
        found(&world, "clock-daylight").len(),
        1,
        "the usual one stays"
    );
    let again = world.run(&named).json();
    let again = again.as_array().unwrap().iter();
    assert_eq!(again.filter(|r| r["code"] == "clock-daylight").count(), 0);
}

/// A body that is taken out once a year leaps a year between two files: either night may be wrong, or neither.
#[test]
fn two_nights_a_year_apart_are_both_named_and_no_command_moves_one_of_them() {
    let world = salt_ridge();
    let mut readings = night("2022-12-13T17:25:00", 20, 0);
    readings.extend(night("2023-12-13T17:27:00", 20, 0));
    card(
        &world,
        "card",
        &readings.iter().map(String::as_str).collect::<Vec<_>>(),
    );
    world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    let rows = found(&world, "clock-steps");
    assert_eq!(rows.len(), 1);
    let did = rows[0]["what_to_do"].as_str().unwrap();
    for named in [
        "2022-12-13 17:25:00",
        "2023-12-13 17:27:00",
        "Nothing shows which of the two is wrong, so no command is suggested.",
    ] {
        assert!(did.contains(named), "{did}");
    }
    assert!(!did.contains("framefall clock"), "{did}");
}
