//! Commands without effect say so: an empty folder, a mistyped catalogue, a file name that promises another form.

use std::fs;

use crate::world::World;

fn night() -> World {
    let world = World::new();
    world.dump("geminids-body-a", "card", |name| name.starts_with("N6A_04"));
    world.run(&["ingest", "card"]).ended(0);
    world
}

#[test]
fn a_folder_without_pictures_needs_attention() {
    let world = night();
    fs::create_dir_all(world.path("empty")).unwrap();
    world.write("texts/notes.txt", b"cloudy");
    for folder in ["empty", "texts"] {
        let said = world.run(&["ingest", folder]).ended(1);
        let words = format!("there are no pictures in {folder}");
        assert!(said.err.contains(&words), "{}", said.err);
    }
    let said = world.run(&["ingest", "card", "empty"]).ended(1);
    assert!(said.err.contains("no pictures in empty"), "{}", said.err);
    let folder = "card/DCIM";
    let said = world.run(&["ingest", folder]).ended(0);
    assert!(!said.err.contains("no pictures"), "{}", said.err);
}

#[test]
fn every_ingest_names_its_catalogue() {
    let world = night();
    let again = world.run(&["ingest", "card"]).ended(0);
    let path = world.path("catalogue.sqlite");
    let path = path.to_str().unwrap();
    assert!(again.out.contains(path), "{}", again.out);
    assert!(!again.err.contains("made a new"), "{}", again.err);
    let said = world
        .run(&["--catalogue", "catalouge.sqlite", "ingest", "card"])
        .ended(0);
    assert!(
        said.err.contains("made a new catalogue: catalouge.sqlite"),
        "{}",
        said.err
    );
    assert!(said.out.contains("catalouge.sqlite"), "{}", said.out);
    let said = world
        .run(&[
            "--catalogue",
            "other.sqlite",
            "query",
            "save",
            "dark",
            "moon.alt < 0",
        ])
        .ended(0);
    assert!(
        said.err.contains("made a new catalogue: other.sqlite"),
        "{}",
        said.err
    );
}

#[test]
fn a_season_without_frames_is_no_page() {
    let world = night();
    let said = world
        .run(&["report", "--season", "1999", "2001..2002", "--to", "s.html"])
        .ended(2);
    assert!(
        said.err
            .contains("there are no lights of 1999, 2001 and 2002"),
        "{}",
        said.err
    );
    assert!(!world.path("s.html").exists());
    world
        .run(&["report", "--season", "2022..2023", "--to", "s.html"])
        .ended(0);
}

#[test]
fn names_that_promise_another_form_are_refused() {
    let world = night();
    for (words, why) in [
        (
            &["export", "kind = light", "--to", "l.xlsx"][..],
            "a list is not written as .xlsx",
        ),
        (
            &["export", "kind = light", "--to", "l.PDF"][..],
            "a list is not written as .pdf",
        ),
        (
            &["export", "kind = light", "--as", "csv", "--to", "l.html"][..],
            "not written as .html",
        ),
        (
            &["report", "2023-12-13", "--to", "r.pdf"][..],
            "a report is an HTML page, not .pdf",
        ),
        (
            &["report", "2023-12-13", "--to", "r.csv"][..],
            "a report is an HTML page, not .csv",
        ),
    ] {
        let said = world.run(words).ended(2);
        assert!(said.err.contains(why), "{}", said.err);
    }
    assert_eq!(
        fs::read_dir(world.path(".")).unwrap().count(),
        3,
        "card, catalogue, lock"
    );
}

#[test]
fn a_report_replaces_reports_alone() {
    let world = night();
    world
        .run(&["export", "iso > 0", "--to", "lights", "--with-damaged"])
        .ended(0);
    let list = fs::read(world.path("lights")).unwrap();
    let said = world
        .run(&["report", "2023-12-13", "--to", "lights", "--overwrite"])
        .ended(2);
    assert!(said.err.contains("not a report"), "{}", said.err);
    assert_eq!(fs::read(world.path("lights")).unwrap(), list);
    let report = ["report", "2023-12-13", "--to", "night.html"];
    world.run(&report).ended(0);
    world
        .run(&[&report[..], &["--overwrite"]].concat())
        .ended(0);
}

#[test]
fn an_empty_answer_says_what_to_do() {
    let world = World::new();
    world.dump("geminids-body-b", "card", |name| {
        name != "N2M_2219.DNG" && !name.starts_with("N6A")
    });
    world.run(&["ingest", "card"]).ended(0);
    let why = |query: &str, words: &str| {
        let said = world.run(&["frames", query]).ended(1);
        assert!(said.err.contains(words), "{query}: {}", said.err);
    };
    why(
        "GEM.alt > 30",
        "it is not known for any of them: state where they were taken, framefall site assign",
    );
    why("start > 2020", "framefall clock zone");
    why("start is known", "none of the 19 frames has start is known");
    why("serial = 0031", "19 frames have serial like '*0031*'");
    why("file = N2M_2207", "1 frame has file like '*N2M_2207*'");
    why("iso = 7", "it is 6400 for all of them");
}

#[test]
fn frames_are_counted_by_kind() {
    let world = night();
    let counts = world
        .run(&["frames", "--per", "kind", "--as", "json"])
        .ended(0)
        .json();
    let sum: i64 = counts
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row["frames"].as_i64().unwrap())
        .sum();
    let all = world.run(&["frames", "--count"]).ended(0).out;
    assert_eq!(all.trim(), sum.to_string());
    for row in counts.as_array().unwrap() {
        let kind = row["kind"].as_str().unwrap();
        let query = format!("kind = {kind}");
        let said = world.run(&["frames", &query, "--count"]).ended(0);
        assert_eq!(said.out.trim(), row["frames"].to_string(), "{kind}");
    }
}

#[test]
fn a_dry_export_says_what_it_would_write() {
    let world = night();
    let export = [
        "export",
        "iso > 0",
        "--with-damaged",
        "--link-into",
        "tree",
        "--to",
        "l.csv",
    ];
    let said = world.run(&[&export[..], &["--dry-run"]].concat()).ended(0);
    let count = world.run(&["frames", "--count"]).out.trim().to_owned();
    for words in [
        format!("{count} frames would be written to l.csv"),
        "links would be made in tree".to_owned(),
        "a dry run: nothing was written".to_owned(),
    ] {
        assert!(said.err.contains(&words), "no '{words}' in {}", said.err);
    }
    let names: Vec<String> = fs::read_dir(world.path("."))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    assert_eq!(names.len(), 3, "{names:?}");
    let written = world.run(&export).ended(0);
    assert!(
        written
            .err
            .contains(&format!("{count} frames written to l.csv")),
        "{}",
        written.err
    );
    // What an export refuses, its dry run refuses.
    let said = world.run(&[&export[..], &["--dry-run"]].concat()).ended(2);
    assert!(said.err.contains("--overwrite"), "{}", said.err);
}

#[test]
fn bodies_are_listed_with_what_they_took() {
    let world = World::new();
    world.site_with("Salt Ridge", "38.93N", "116.01W", &["--elevation", "1905"]);
    for (dump, card) in [("geminids-body-a", "a"), ("geminids-body-b", "b")] {
        world.dump(dump, card, |name| {
            name != "N2M_2219.DNG" && !(card == "b" && name.starts_with("N6A"))
        });
    }
    world
        .run(&["ingest", "--site", "Salt Ridge", "a", "b"])
        .ended(0);
    world
        .run(&["clock", "fix", "2B-00318", "--fast", "2s"])
        .ended(0);
    let bodies = world.run(&["body", "list", "--as", "json"]).ended(0).json();
    let bodies = bodies.as_array().unwrap();
    let two = bodies
        .iter()
        .find(|body| body["serial"] == "2B-00318")
        .unwrap();
    let one = |query: &str| {
        world
            .run(&["frames", query, "--count"])
            .out
            .trim()
            .parse::<i64>()
            .unwrap()
    };
    assert_eq!(two["frames"], one("serial = '2B-00318'"));
    assert_eq!(two["first_night"], "2023-12-13");
    assert_eq!(two["clock_fixes"], 1);
    let sum: i64 = bodies
        .iter()
        .map(|body| body["frames"].as_i64().unwrap())
        .sum();
    assert_eq!(sum, one("serial is known"));
    // The name serves other commands.
    let named = two["named"].as_str().unwrap();
    world
        .run(&["clock", "zone", named, "America/Los_Angeles", "--dry-run"])
        .ended(0);
}

#[test]
fn one_shower_is_shown_in_full() {
    let world = World::new();
    let said = world
        .run(&["showers", "gem", "--on", "2026-12-14T02:00Z"])
        .ended(0);
    for words in ["Geminids", "active", "2026-12", "IMO", "speed", "radiant"] {
        assert!(said.out.contains(words), "no '{words}' in\n{}", said.out);
    }
    // IMO Meteor Shower Calendar 2025, Table 5: activity December 4 to 20, peak at 262.2 degrees, radiant 112 +33, r 2.6.
    let gem = world
        .run(&["showers", "Geminids", "--on", "2025-12-14", "--as", "json"])
        .ended(0)
        .json();
    let gem = &gem[0];
    assert_eq!(gem["shower"], "GEM");
    assert_eq!(gem["iau_number"], 4);
    let begins = |shower: &serde_json::Value, key: &str, day: &str| {
        assert!(shower[key].as_str().unwrap().starts_with(day), "{shower}");
    };
    begins(gem, "start_utc", "2025-12-04T00:00Z");
    // The end of December 20.
    begins(gem, "end_utc", "2025-12-21T00:00Z");
    assert_eq!(gem["peak_deg"], 262.2);
    assert_eq!(gem["population_index"], 2.6);
    assert!(
        (gem["ra_deg"].as_f64().unwrap() - 112.0).abs() < 1.5,
        "{gem}"
    );
    assert!(
        (gem["dec_deg"].as_f64().unwrap() - 33.0).abs() < 1.0,
        "{gem}"
    );
    // A season across the turn of the year.
    let qua = world
        .run(&["showers", "QUA", "--on", "2026-01-01", "--as", "json"])
        .ended(0)
        .json();
    begins(&qua[0], "start_utc", "2025-12-28T");
    begins(&qua[0], "end_utc", "2026-01-13T0");
    let said = world.run(&["showers", "GME"]).ended(2);
    assert!(said.err.contains("did you mean GEM"), "{}", said.err);
}
