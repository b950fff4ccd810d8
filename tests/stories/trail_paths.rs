//! Stated meteors find their shower by their paths. The meteors are those of the rendered previews, whose ends and showers are known.
#![allow(clippy::unwrap_used)] // a test stops at the first surprise

use crate::browser::check_page;
use crate::browser::words_of;
use crate::clock_by_stars::data;
use crate::clock_by_stars::world;
use crate::world::World;
use framefall::terms::picture::shown_at;
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
        if shower == Some("COM") {
            draws_the_meteor(&world, row);
            turns_places_upright(&world);
        }
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

/// The report of a frame with a judged meteor: in the table, cut out, and on the chart of its shower at the distance that the list
/// has by its great circle; the radiant in the picture; the picture on the dome.
fn draws_the_meteor(world: &World, row: &Value) {
    let report = |more: &[&str]| {
        let words = [&["report", "1", "--to", "r.html", "--overwrite"][..], more].concat();
        world.run(&words).ended(0);
        let html = std::fs::read_to_string(world.path("r.html")).unwrap();
        check_page(&html);
        html
    };
    let html = report(&[]);
    let words = words_of(&html);
    assert!(
        words.contains("Meteors") && !words.contains("Candidates"),
        "{words}"
    );
    let chart = html
        .split("Trails of COM about the radiant")
        .nth(1)
        .unwrap();
    let told = chart.split("passes it at ").nth(1).unwrap();
    let drawn: f64 = told.split('°').next().unwrap().parse().unwrap();
    let every = list(world, &["--explain"]);
    let fit = every.iter().find(|row| row["shower"] == "COM").unwrap();
    assert!(
        (drawn - fit["miss_deg"].as_f64().unwrap().abs()).abs() <= 0.051,
        "{drawn} {fit}"
    );
    assert!(html.contains("alt=\"meteor 1 in F007.JPG\""));
    assert!(html.contains("class=\"outline\"") && words.contains("Outlined"));
    assert!(
        html.contains("radiant of COM outside it")
            || html.contains("radiant of COM in the picture")
    );
    let degrees = format!("{:.1}°", row["length_deg"].as_f64().unwrap());
    assert!(words.contains(&degrees), "{degrees} {words}");
    // Without pictures the table, the chart and the dome stay.
    let bare = report(&["--no-pictures"]);
    assert!(
        !bare.contains("<img")
            && bare.contains("Trails of COM")
            && bare.contains("class=\"outline\"")
    );
}

/// With `--oriented` places are those of the picture turned upright, in columns, in JSON and of trails.
fn turns_places_upright(world: &World) {
    let keys = ["x_px", "y_px", "seen_x_px", "seen_y_px"];
    let radiant = |more: &[&str]| -> Vec<f64> {
        let words = [&["frames", "file = F007.JPG", "--as", "json"][..], more].concat();
        let frame = world.run(&words).ended(0).json();
        let all = frame[0]["radiants"].as_array().unwrap();
        let com = all.iter().find(|one| one["shower"] == "COM").unwrap();
        keys.map(|key| com[key].as_f64().unwrap()).to_vec()
    };
    let columns = |more: &[&str]| -> Vec<f64> {
        let show = "COM.x,COM.y,COM.seen_x,COM.seen_y";
        let words = ["frames", "file = F007.JPG", "--show", show, "--as", "csv"];
        let said = world.run(&[&words[..], more].concat()).ended(0);
        let row = said.out.lines().nth(1).unwrap().to_owned();
        row.split(',').map(|cell| cell.parse().unwrap()).collect()
    };
    let ends = |more: &[&str]| -> Vec<f64> {
        let row = &list(world, more)[0];
        ["from_x_px", "from_y_px", "to_x_px", "to_y_px"]
            .map(|key| row[key].as_f64().unwrap())
            .to_vec()
    };
    let frame = world
        .run(&["frames", "file = F007.JPG", "--as", "json"])
        .ended(0)
        .json();
    let pixels = |key: &str| frame[0][key].as_f64().unwrap();
    let size = (pixels("width_px"), pixels("height_px"));
    let inner = (size.0 - 1.0, size.1 - 1.0);
    let upright = |at: &[f64], size, told| -> Vec<f64> {
        let both = [(at[0], at[1]), (at[2], at[3])].map(|at| shown_at(at, size, told));
        both.iter().flat_map(|(x, y)| [*x, *y]).collect()
    };
    let near = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 0.011);
    let stored = (radiant(&[]), ends(&[]));
    let database = world.path("catalogue.sqlite");
    for orientation in 1..=8_u8 {
        let db = rusqlite::Connection::open(&database).unwrap();
        db.execute("UPDATE written_frame SET orientation = ?", [orientation])
            .unwrap();
        drop(db);
        let told = Some(orientation);
        let wanted = upright(&stored.0, inner, told);
        assert!(near(&radiant(&["--oriented"]), &wanted), "{orientation}");
        assert!(near(&columns(&["--oriented"]), &wanted), "{orientation}");
        assert!(near(&columns(&[]), &stored.0), "{orientation}");
        let wanted = upright(&stored.1, size, told);
        assert!(near(&ends(&["--oriented"]), &wanted), "{orientation}");
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
