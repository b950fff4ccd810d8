//! Trails are found in a run of pictures: a meteor, a satellite over several frames; what is judged stays judged.
#![allow(clippy::unwrap_used)] // a test stops at the first surprise

use crate::browser::check_page;
use crate::browser::words_of;
use crate::frames::LIGHT;
use crate::frames::Taken;
use crate::trail_run::Shown;
use crate::trail_run::picture;
use crate::trail_run::taken;
use crate::trail_run::write_run;
use crate::world::World;
use serde_json::Value;

const FRAMES: u32 = 9;
/// The frame with the meteor, and its ends.
const METEOR: (u32, [f64; 4]) = (4, [150.0, 90.0, 270.0, 150.0]);

/// A run of frames, and one of another exposure.
fn world() -> World {
    let world = World::new();
    write_run(&world, FRAMES, |number| Shown {
        line: (number == METEOR.0).then_some(METEOR.1),
        ..Shown::default()
    });
    let other = Taken {
        exposure: (5, 1),
        ..LIGHT
    };
    let file = taken(&picture(20, Shown::default()), 3_600 + 17 * FRAMES, other);
    world.write("card/NITE0020.JPG", &file);
    world.run(&["ingest", "card"]);
    world
}

fn listed(world: &World, words: &[&str]) -> Vec<Value> {
    let mut all = vec!["trails", "iso > 0"];
    all.extend(words);
    all.extend(["--as", "jsonl"]);
    let said = world.run(&all).ended(0);
    said.out
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn meteors(world: &World) -> String {
    let query = [
        "frames",
        "meteors > 0",
        "--show",
        "file,meteors,trails",
        "--as",
        "csv",
    ];
    world
        .run(&query)
        .out
        .lines()
        .skip(1)
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn a_meteor_and_a_satellite_are_told_apart_and_what_is_judged_stays() {
    let world = world();
    let said = world.run(&["examine", "--all"]).ended(0);
    assert_eq!(said.number("frames examined"), 10);
    assert_eq!(said.number("taken for meteors"), 1);
    assert_eq!(said.number("frames without a neighbour to compare with"), 1);

    let all = listed(&world, &[]);
    let best = &all[0];
    assert_eq!(best["is"], "meteor", "{best}");
    assert_eq!(best["file"], "NITE0004.JPG");
    let ends: Vec<f64> = ["from_x_px", "from_y_px", "to_x_px", "to_y_px"]
        .map(|key| best[key].as_f64().unwrap())
        .to_vec();
    let [x1, y1, x2, y2] = METEOR.1;
    let apart = |x: f64, y: f64| {
        let to = |k: usize| (ends[k] - x).hypot(ends[k + 1] - y);
        to(0).min(to(2))
    };
    assert!(apart(x1, y1) < 12.0 && apart(x2, y2) < 12.0, "{ends:?}");
    let satellite: Vec<_> = all
        .iter()
        .filter(|one| one["is"] == "moving-light")
        .collect();
    assert!(satellite.len() >= 6, "{all:?}");
    assert!(
        satellite
            .iter()
            .all(|one| one["light"] == satellite[0]["light"]),
        "{all:?}"
    );
    assert_eq!(listed(&world, &["--class", "meteor"]).len(), 1);
    assert_eq!(meteors(&world), "NITE0004.JPG,1,2");

    // Brightest in the middle, dark at the ends.
    let curve: Vec<f64> = best["light_curve"]
        .as_str()
        .unwrap()
        .split(' ')
        .map(|part| part.parse().unwrap())
        .collect();
    assert_eq!(curve.len(), 16);
    assert!(
        curve[7] > 3.0 * curve[0] && curve[8] > 3.0 * curve[15],
        "{curve:?}"
    );
    let lights = |at: &Value| at["evidence"].as_str().unwrap().to_owned();
    assert!(lights(satellite[0]).contains("lines of a moving light"));

    let number = best["candidate"].as_str().unwrap();
    let said = world
        .run(&["trails", "picture", number, "--to", "why.jpg"])
        .ended(0);
    assert!(said.out.contains("nothing on its line"), "{}", said.out);
    let printed = best["light_curve"].as_str().unwrap();
    assert!(said.out.contains(printed), "{}", said.out);
    let why = std::fs::read(world.path("why.jpg")).unwrap();
    assert!(why.starts_with(&[0xFF, 0xD8]) && why.len() > 10_000);

    // The report shows it as a candidate, and how clear the sky was.
    world.run(&["report", "1", "--to", "r.html"]).ended(0);
    let html = std::fs::read_to_string(world.path("r.html")).unwrap();
    check_page(&html);
    let words = words_of(&html);
    assert!(
        words.contains("Candidates") && !words.contains("Meteors"),
        "{words}"
    );
    assert!(html.contains(&format!("alt=\"candidate {number} in NITE0004.JPG\"")));
    assert!(words.contains("nothing on its line"), "{words}");

    // What nobody has stated can be judged; then the statement stands.
    let judge = ["trails", "judge", number, "--is", "aircraft"];
    assert_eq!(world.run(&judge).ended(0).number("trails changed"), 1);
    assert_eq!(meteors(&world), "");
    let after = listed(&world, &[]);
    assert_eq!(after.len(), all.len());
    assert_eq!(
        (&after[0]["trail"], &after[0]["is"]),
        (&Value::from(1), &Value::from("aircraft"))
    );
    // A later search finds it again, at the same place.
    world.run(&["examine", "--all", "--again"]).ended(0);
    assert_eq!(meteors(&world), "");
    assert_eq!(listed(&world, &[]).len(), all.len());
    world.run(&["trails", "remove", "1"]).ended(0);
    assert_eq!(meteors(&world), "NITE0004.JPG,1,2");
}

#[test]
fn a_number_of_no_candidate_is_refused() {
    let world = world();
    for (number, words) in [
        ("c7", "there is no candidate c7"),
        ("x7", "'x7' is not the number of a trail"),
    ] {
        let said = world
            .run(&["trails", "judge", number, "--is", "meteor"])
            .ended(2);
        assert!(said.err.contains(words), "{}", said.err);
    }
}

/// Sixteen frames of a sky full of stars: one is shaken, one has a lamp on the ground, cloud comes in at last.
#[test]
fn the_sky_of_a_session_is_told_in_words_and_cloud_takes_meteors() {
    let world = World::new();
    write_run(&world, 16, |number| Shown {
        many_stars: true,
        shaken: number == 4,
        lit: number == 7,
        cloudy: number >= 12,
        ..Shown::default()
    });
    world.site("Salt Ridge", "48.0", "15.0");
    world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    let shown = || world.run(&["sessions", "1"]).ended(0).out;
    let row = |said: &str| {
        let table = said.split("meteors expected").nth(1).unwrap_or_default();
        let mut rows = table.lines().filter(|line| line.starts_with("GEM"));
        rows.next().unwrap_or_default().to_owned()
    };
    assert!(row(&shown()).contains("not examined"), "{}", shown());
    let unseen = world.run(&["sessions", "1", "--as", "json"]).json();
    assert!(
        unseen[0]["meteors_expected"].is_number() && unseen[0]["meteors_lost_to_cloud"].is_null()
    );
    world.run(&["examine", "--all"]).ended(0);

    let notes = world.run(&["audit", "--all", "--as", "json"]).json();
    let note = |code: &str| {
        let all = notes.as_array().unwrap().iter();
        let mine: Vec<_> = all.filter(|row| row["code"] == code).collect();
        assert_eq!(mine.len(), 1, "{code}: {notes}");
        assert_eq!(mine[0]["weight"], "note");
        (
            mine[0]["file"].as_str().unwrap().to_owned(),
            mine[0]["found"].as_str().unwrap().to_owned(),
        )
    };
    let (file, found) = note("clouded-over");
    assert_eq!(file, "NITE0012.JPG");
    assert!(found.contains("cloudy in 4 of 16 frames"), "{found}");
    let (_, found) = note("frames-shaken");
    assert_eq!(found, "stars are drawn out in 1 of 16 frames: NITE0004.JPG");
    let (file, _) = note("light-on-ground");
    assert_eq!(file, "NITE0007.JPG");

    // A script reads the same: how much of the sky was clear, what is expected, what cloud took.
    let of = |words: &[&str]| world.run(words).ended(0).json()[0].clone();
    let told = of(&["sessions", "1", "--as", "json"]);
    let number = |key: &str| {
        told[key]
            .as_f64()
            .unwrap_or_else(|| panic!("{key}: {told}"))
    };
    let (expected, lost) = (number("meteors_expected"), number("meteors_lost_to_cloud"));
    assert!(
        (expected / (expected + lost) - number("clear")).abs() < 0.05,
        "{told}"
    );
    assert!(number("meteors_at_least") < expected && expected < number("meteors_at_most"));
    let named = of(&[
        "sessions",
        "--show",
        "session,meteors expected",
        "--as",
        "json",
    ]);
    assert_eq!(named["meteors_expected"], told["meteors_expected"]);
    assert!(of(&["sessions", "--as", "json"]).get("clear").is_none());

    let said = shown();
    assert!(said.contains("of it clear on average"), "{said}");
    assert!(said.contains("cloud came in"), "{said}");
    // What cloud took: a quarter of the frames have lost more than half of their sky.
    let clear: Vec<f64> = world
        .run(&["frames", "clear >= 0", "--show", "clear", "--as", "csv"])
        .out
        .lines()
        .skip(1)
        .map(|line| line.parse().unwrap())
        .collect();
    let clear = clear.iter().sum::<f64>() / clear.len() as f64;
    assert!((0.75..0.95).contains(&clear), "{clear}");
    assert!(!row(&said).contains("not examined"), "{said}");
    let cells: Vec<f64> = row(&said)
        .split_whitespace()
        .skip(1)
        .take(6)
        .map(|cell| cell.trim_start_matches('\u{2212}').parse().unwrap_or(0.0))
        .collect();
    // Under 6.5 mag, lost to site, Sun, Moon and cloud, expected.
    let (lost, left) = (cells[4], cells[5]);
    assert!(
        (left / (left + lost) - clear).abs() < 0.15,
        "{cells:?} {clear}"
    );
}
