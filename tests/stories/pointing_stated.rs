//! Pointing handed on as a FITS header, and stated from one.
#![allow(clippy::unwrap_used)] // a test stops at the first surprise

use std::fs;
use std::path::Path;

use crate::world::World;
use framefall::pointing::stars::stars;
use framefall::pointing::vector::angle_rad;
use framefall::pointing::wcs::cards::headers;
use framefall::pointing::wcs::header::wcs_of;

/// A rendered preview or its truth (see tests/data/pointing/SOURCES.md).
fn data(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/pointing");
    fs::read(folder.join(name)).unwrap()
}

fn truth(name: &str) -> serde_json::Value {
    serde_json::from_slice(&data(name)).unwrap()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

fn values(world: &World, query: &str, show: &str) -> Vec<Vec<String>> {
    let said = world
        .run(&["frames", query, "--show", show, "--as", "csv"])
        .ended(0);
    let rows = said.out.lines().skip(1);
    rows.map(|row| row.split(',').map(str::to_owned).collect())
        .collect()
}

/// Three frames of one tripod at their true time and site, by the clock of the first: 37 and 611 seconds apart.
fn world() -> World {
    let world = World::new();
    for name in ["F015.JPG", "F016.JPG", "F017.JPG"] {
        world.write(&format!("card/{name}"), &data(name));
    }
    world.run(&["ingest", "card"]);
    let truth = truth("F015.truth.json");
    let site = |key: &str| truth["site"][key].as_f64().unwrap().to_string();
    world
        .run(&[
            "site",
            "add",
            "Hill",
            "--lat",
            &site("lat"),
            "--lon",
            &site("lon"),
            "--elevation",
            &site("h_m"),
        ])
        .ended(0);
    let session = values(&world, "file = F015.JPG", "session")[0][0].clone();
    world.run(&["site", "assign", "Hill", "--session", &session]);
    let of = values(&world, "file = F015.JPG", "serial,clock,exposure");
    let mid = truth["utc_mid"].as_str().unwrap();
    let mid = framefall::terms::time::Utc::parse(&format!("{mid}Z")).unwrap();
    let start = mid.plus_s(-number(&of[0][2]) / 2.0).unwrap().to_string();
    world
        .run(&[
            "clock", "fix", &of[0][0], "--read", &of[0][1], "--true", &start,
        ])
        .ended(0);
    world
}

#[test]
fn a_header_that_is_written_puts_the_stars_where_they_are() {
    let world = world();
    world.run(&["examine", "--all"]).ended(0);
    world
        .run(&["pointing", "export", "F015.JPG", "--wcs", "a.fits"])
        .ended(0);
    world
        .run(&["pointing", "export", "F015.JPG", "--wcs", "a.fits"])
        .ended(2);
    let bytes = fs::read(world.path("a.fits")).unwrap();
    assert_eq!(bytes.len() % 2_880, 0);
    let wcs = wcs_of(&headers(&bytes).unwrap()).unwrap();
    let truth = truth("F015.truth.json");
    let f_px = truth["F_px"].as_f64().unwrap();
    let mut off: Vec<f64> = Vec::new();
    for star in truth["stars"].as_array().unwrap() {
        let of = |at: usize| star[at].as_f64().unwrap();
        let known = stars()
            .iter()
            .find(|known| known.id == star[0].as_str().unwrap());
        let there = wcs.direction((of(1) + 1.0, of(2) + 1.0)).unwrap();
        off.push(angle_rad(there, known.unwrap().direction(21.3)) * f_px);
    }
    assert!(off.len() > 50, "{}", off.len());
    off.sort_by(f64::total_cmp);
    assert!(off[off.len() / 2] < 0.3, "{:?}", off[off.len() / 2]);
    assert!(
        off[off.len() * 95 / 100] < 1.0,
        "{:?}",
        off[off.len() * 95 / 100]
    );
}

#[test]
fn a_stated_pointing_goes_before_the_measured_one_and_holds_for_the_session() {
    let world = world();
    world.run(&["examine", "--all"]).ended(0);
    let shown = "file,pointing,point.alt,point.az,point.roll";
    let measured = values(&world, "pointing is known", shown);
    assert_eq!(measured.len(), 3);
    let session = values(&world, "file = F015.JPG", "session")[0][0].clone();
    world
        .run(&["pointing", "export", "F015.JPG", "--wcs", "a.fits"])
        .ended(0);

    // Which of the three frames it solves must be said.
    let state = ["pointing", "state", &session, "--wcs", "a.fits"];
    let said = world.run(&state).ended(2);
    assert!(said.err.contains("--frame"), "{}", said.err);
    let of_frame = [&state[..], &["--frame", "F015.JPG"]].concat();
    let said = world
        .run(&[&of_frame[..], &["--dry-run"]].concat())
        .ended(0);
    assert!(said.out.contains("equisolid"), "{}", said.out);
    world.run(&["frames", "pointing = stated"]).ended(1);
    let said = world.run(&of_frame).ended(0);
    assert_eq!(said.number("frames marked"), 3);
    let stated = values(&world, "pointing = stated", shown);
    assert_eq!(stated.len(), 3);
    for (one, other) in measured.iter().zip(&stated) {
        assert_eq!(one[0], other[0]);
        // On the tripod the sky has turned since: the camera looks the same way, at 85° of altitude.
        assert!(
            (number(&one[2]) - number(&other[2])).abs() < 0.05,
            "{one:?} {other:?}"
        );
        let flat = number(&one[2]).to_radians().cos();
        assert!(
            (number(&one[3]) - number(&other[3])).abs() * flat < 0.05,
            "{one:?} {other:?}"
        );
    }
    let said = world.run(&of_frame).ended(0);
    assert!(said.out.contains("No frame changed."), "{}", said.out);

    // It is a statement: another catalogue of the same dump takes it, and knows the same without examining.
    world.run(&["statement", "save", "log.jsonl"]).ended(0);
    world.run(&["--catalogue", "other.sqlite", "ingest", "card"]);
    world
        .run(&[
            "--catalogue",
            "other.sqlite",
            "statement",
            "take",
            "log.jsonl",
        ])
        .ended(0);
    let there = world
        .run(&[
            "--catalogue",
            "other.sqlite",
            "frames",
            "pointing = stated",
            "--show",
            shown,
            "--as",
            "csv",
        ])
        .ended(0);
    let here = world
        .run(&[
            "frames",
            "pointing = stated",
            "--show",
            shown,
            "--as",
            "csv",
        ])
        .ended(0);
    assert_eq!(here.out, there.out);

    // A tracked mount: every frame shows the same sky, so the camera turns over the horizon, by 2.5° in 611 seconds.
    world
        .run(&[&of_frame[..], &["--tracked"]].concat())
        .ended(0);
    let tracked = values(&world, "pointing = stated", shown);
    assert!(
        (number(&tracked[2][2]) - number(&stated[2][2])).abs() > 0.5,
        "{tracked:?}"
    );

    let said = world.run(&["pointing", "remove", &session]).ended(0);
    assert_eq!(said.number("frames marked"), 3);
    assert_eq!(values(&world, "pointing is known", shown), measured);
}

#[test]
fn a_file_that_is_no_solution_of_the_picture_is_refused() {
    let world = world();
    let card = |words: &str| {
        format!(
            "CTYPE1  = 'RA---TAN'\nCTYPE2  = 'DEC--TAN'\nCRVAL1  = 10.0\nCRVAL2  = 20.0\nCRPIX1  = 500.0\nCRPIX2  = 500.0\n{words}"
        )
    };
    let square = "CD1_1   = -0.05\nCD2_2   = 0.05\nIMAGEW  = 1000\nIMAGEH  = 1000\n";
    for (text, word) in [
        ("no header".to_owned(), "FITS"),
        (card(""), "CD1_1"),
        (card(square), "shape"),
        (card(square).replace("TAN", "AIT"), "AIT"),
    ] {
        world.write("wrong.fits", text.as_bytes());
        let said = world
            .run(&[
                "pointing",
                "state",
                "file = F015.JPG",
                "--wcs",
                "wrong.fits",
            ])
            .ended(2);
        assert!(said.err.contains(word), "{}", said.err);
        assert!(said.err.contains("wrong.fits"), "{}", said.err);
    }
    let said = world
        .run(&["pointing", "export", "F015.JPG", "--wcs", "a.fits"])
        .ended(2);
    assert!(said.err.contains("not known"), "{}", said.err);
    world
        .run(&["pointing", "state", "file = F015.JPG", "--wcs", "none.fits"])
        .ended(2);
}
