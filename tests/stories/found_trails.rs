//! Trails are found in a run of pictures: a meteor, a satellite over several frames; what is judged stays judged.
#![allow(clippy::unwrap_used)] // a test stops at the first surprise
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // levels of a picture

use crate::frames::LIGHT;
use crate::frames::Taken;
use crate::frames::raw;
use crate::frames::reading;
use crate::world::World;
use serde_json::Value;

const SIZE: (usize, usize) = (660, 440);
const FRAMES: u32 = 9;
/// The frame with the meteor, and its ends.
const METEOR: (u32, [f64; 4]) = (4, [150.0, 90.0, 270.0, 150.0]);

/// A picture of even noise, a few stars that move on a little, a satellite, and what is given.
fn picture(number: u32, line: Option<[f64; 4]>) -> Vec<u8> {
    let mut state = 17_u32.wrapping_mul(number + 1);
    let mut levels: Vec<f64> = (0..SIZE.0 * SIZE.1)
        .map(|_| {
            let mut sum = 0.0;
            for _ in 0..4 {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                sum += f64::from(state >> 24) / 255.0 - 0.5;
            }
            30.0 + 3.0 * sum
        })
        .collect();
    let mut spot = |x: f64, y: f64, peak: f64| {
        for row in (y as usize).saturating_sub(4)..(y as usize + 5).min(SIZE.1) {
            for column in (x as usize).saturating_sub(4)..(x as usize + 5).min(SIZE.0) {
                let apart = (column as f64 - x).powi(2) + (row as f64 - y).powi(2);
                levels[row * SIZE.0 + column] += peak * (-apart / 1.1).exp();
            }
        }
    };
    let moved = 0.4 * f64::from(number);
    // Fewer than a pointing is looked for with.
    for k in 0..8 {
        let x = 150.0 + 40.0 * f64::from(k % 4);
        let y = if k < 4 {
            70.0 + 16.0 * f64::from(k)
        } else {
            300.0
        };
        spot(x + moved, y, 120.0);
    }
    let mut drawn = |[x1, y1, x2, y2]: [f64; 4], peak: f64, taper: bool| {
        let steps = (x2 - x1).hypot(y2 - y1) as u32 * 2;
        for step in 0..=steps {
            let share = f64::from(step) / f64::from(steps);
            let light = if taper {
                1.0 - (2.0 * share - 1.0).powi(2)
            } else {
                1.0
            };
            spot(
                x1 + share * (x2 - x1),
                y1 + share * (y2 - y1),
                peak * light / 2.0,
            );
        }
    };
    let begin = 60.0 + 48.0 * f64::from(number);
    let height = |x: f64| 260.0 + 0.1 * (x - 60.0);
    let end = begin + 42.0;
    drawn([begin, height(begin), end, height(end)], 22.0, false);
    if let Some(line) = line {
        drawn(line, 60.0, true);
    }
    let rgb: Vec<u8> = levels
        .iter()
        .flat_map(|level| [level.clamp(0.0, 255.0) as u8; 3])
        .collect();
    let mut jpeg = Vec::new();
    jpeg_encoder::Encoder::new(&mut jpeg, 95)
        .encode(
            &rgb,
            SIZE.0 as u16,
            SIZE.1 as u16,
            jpeg_encoder::ColorType::Rgb,
        )
        .unwrap();
    jpeg
}

/// The picture with a header as a camera writes it.
fn taken(jpeg: &[u8], seconds: u32, with: Taken) -> Vec<u8> {
    let header = raw(&reading("2023:12:14", seconds), with);
    let mut file = vec![0xFF, 0xD8, 0xFF, 0xE1];
    file.extend(u16::try_from(header.len() + 8).unwrap().to_be_bytes());
    file.extend(b"Exif\0\0");
    file.extend(header);
    file.extend(&jpeg[2..]);
    file
}

/// A run of frames, and one of another exposure.
fn world() -> World {
    let world = World::new();
    for number in 0..FRAMES {
        let line = (number == METEOR.0).then_some(METEOR.1);
        let file = taken(&picture(number, line), 3_600 + 17 * number, LIGHT);
        world.write(&format!("card/NITE{number:04}.JPG"), &file);
    }
    let other = Taken {
        exposure: (5, 1),
        ..LIGHT
    };
    let file = taken(&picture(20, None), 3_600 + 17 * FRAMES, other);
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

    let number = best["candidate"].as_str().unwrap();
    let said = world
        .run(&["trails", "picture", number, "--to", "why.jpg"])
        .ended(0);
    assert!(said.out.contains("nothing on its line"), "{}", said.out);
    let why = std::fs::read(world.path("why.jpg")).unwrap();
    assert!(why.starts_with(&[0xFF, 0xD8]) && why.len() > 10_000);

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
