//! Stated meteors find their shower by their paths. The meteors are those of the rendered previews, whose ends and showers are known.
#![allow(clippy::unwrap_used)] // a test stops at the first surprise

use crate::clock_by_stars::data;
use crate::clock_by_stars::world;
use crate::world::World;
use serde_json::Value;

/// A preview, the ends of its meteor in pixel centres, and the shower it was drawn for.
type Meteor = (&'static str, [(f64, f64); 2], Option<&'static str>);

const METEORS: [Meteor; 5] = [
    ("F001", [(1281.90, 717.53), (987.08, 454.71)], Some("MON")),
    ("F007", [(1161.07, 191.90), (1242.81, 247.49)], Some("COM")),
    ("F002", [(1487.87, 93.03), (1314.66, 321.40)], Some("ARI")),
    ("F006", [(850.15, 460.52), (903.58, 557.47)], Some("STA")),
    ("F003", [(1162.84, 357.29), (1600.70, 10.11)], None),
];

/// Stated points count from the outer corner of the first pixel.
fn point((x, y): (f64, f64)) -> String {
    format!("{:.2},{:.2}", x + 0.5, y + 0.5)
}

fn list(world: &World, more: &[&str]) -> Vec<Value> {
    let words = [&["trails", "trails > 0", "--as", "json"][..], more].concat();
    let rows = world.run(&words).ended(0).json();
    rows.as_array().unwrap().clone()
}

fn shower_of(world: &World, file: &str) -> String {
    let query = format!("file = {file}.JPG");
    let said = world
        .run(&["frames", &query, "--show", "meteor.shower", "--as", "csv"])
        .ended(0);
    said.out
        .lines()
        .nth(1)
        .unwrap_or_default()
        .trim_matches('"')
        .to_owned()
}

#[test]
fn meteors_belong_to_the_showers_that_they_were_drawn_for() {
    for (file, ends, shower) in METEORS {
        let world = world(&[(file, data(&format!("{file}.JPG")))], 0.0);
        // The ends in either order: a photograph does not show which is the first.
        let (from, to) = (point(ends[1]), point(ends[0]));
        let add = [
            "trails",
            "add",
            &format!("{file}.JPG"),
            "--from",
            &from,
            "--to",
            &to,
            "--is",
            "meteor",
        ];
        world.run(&add).ended(0);
        let row = &list(&world, &[])[0];
        let told = row["path_shower"].as_str().unwrap().to_owned();
        let every = list(&world, &["--explain"]);
        if let Some(shower) = shower {
            assert!(told.contains(shower), "{file} {told}");
            assert!(shower_of(&world, file).contains(shower), "{file}");
            let fit = every.iter().find(|row| row["shower"] == shower).unwrap();
            assert_eq!(fit["verdict"], "fits", "{file} {fit}");
            // Radiants of the drawn meteors scatter by 0.7°: no farther than twice that, and within what the shower allows.
            let number = |key: &str| fit[key].as_f64().unwrap();
            assert!(number("miss_deg") < 1.4, "{file} {fit}");
            assert!(number("miss_deg") < number("limit_deg"), "{file} {fit}");
            assert!(number("miss_error_deg") < 0.6, "{file} {fit}");
            assert_eq!(fit["begins_at"], "--to", "{file} {fit}");
            assert!(fit["end_km"].as_f64().unwrap() > 30.0, "{file} {fit}");
        } else {
            // It passes the wide areas of both Taurids, and is told to be more likely of neither.
            assert!(told.starts_with("ambiguous: "), "{file} {told}");
            let none = every.last().unwrap();
            assert!(none["probability"].as_f64().unwrap() > 0.5, "{file} {none}");
        }
        // Probabilities of all showers and of none.
        let sum: f64 = every
            .iter()
            .map(|row| row["probability"].as_f64().unwrap())
            .sum();
        assert!((sum - 1.0).abs() < 1e-6, "{file} {sum}");
        assert_eq!(every.last().unwrap()["shower"], "sporadic");
    }
}

#[test]
fn what_is_stated_goes_before_the_path_and_a_trail_of_another_kind_has_no_shower() {
    let (file, ends, _) = METEORS[1];
    let world = world(&[(file, data("F007.JPG"))], 0.0);
    let (from, to) = (point(ends[0]), point(ends[1]));
    let add = [
        "trails", "add", "F007.JPG", "--from", &from, "--to", &to, "--is",
    ];
    world
        .run(&[&add[..], &["meteor", "--shower", "GEM"]].concat())
        .ended(0);
    assert_eq!(shower_of(&world, file), "GEM");
    world
        .run(&["trails", "judge", "1", "--is", "satellite"])
        .ended(0);
    assert_eq!(shower_of(&world, file), "");
    assert_eq!(list(&world, &[])[0]["path_shower"], Value::Null);
    assert!(list(&world, &["--explain"]).is_empty());
    world
        .run(&["trails", "judge", "1", "--is", "meteor"])
        .ended(0);
    assert!(shower_of(&world, file).contains("COM"));
    // A short one says nothing.
    world.run(&["trails", "remove", "1"]).ended(0);
    let add = [
        "trails", "add", "F007.JPG", "--from", "400,500", "--to", "404,503", "--is", "meteor",
    ];
    world.run(&add).ended(0);
    let row = &list(&world, &[])[0];
    assert!(
        row["path_shower"]
            .as_str()
            .unwrap()
            .starts_with("undetermined"),
        "{row}"
    );
    assert_eq!(shower_of(&world, file), "");
    // The site goes: nothing is known of the horizon, and nothing of the shower.
    world.run(&["site", "remove", "Hill", "--yes"]).ended(0);
    assert_eq!(list(&world, &[])[0]["path_shower"], "time or place unknown");
}
