//! The night on one page: the demo's nights, bad nights, and nights at the ends of the Earth.

use crate::browser;
use crate::world;
use std::fs;

use crate::browser::check_page;
use crate::browser::words_of;
use crate::world::World;

fn ingested() -> World {
    let world = World::new();
    world.site("Salt Ridge", "38.93", "-116.01");
    world.site("Snow Fell", "63.05", "13.35");
    let dump = |label: &str| world::demo(label).to_string_lossy().into_owned();
    world.run(&["ingest", &dump("geminids-body-a")]).ended(0);
    world
        .run(&["ingest", "--site", "Salt Ridge", &dump("geminids-body-b")])
        .ended(1);
    world.run(&["ingest", &dump("eta-aquariids")]).ended(0);
    world
        .run(&["ingest", "--site", "Snow Fell", &dump("quadrantids")])
        .ended(0);
    world
}

/// The page of a night, a session or years.
fn page(world: &World, words: &[&str]) -> String {
    let all = [&["report"], words, &["--to", "page.html", "--overwrite"]].concat();
    world.run(&all).ended(0);
    let html = fs::read_to_string(world.path("page.html")).unwrap();
    check_page(&html);
    html
}

#[test]
fn a_night_of_two_bodies_is_told_whole() {
    let world = ingested();
    let html = page(&world, &["2023-12-13"]);
    let words = words_of(&html);
    for told in [
        "The night of 2023-12-13",
        "92 frames in 5 sessions",
        "Salt Ridge",
        "Geminids",
        "local time, America/Los_Angeles",
        "file numbers run on",
        "3 min 43 s",
        "N6A_0437.DNG",
        "the end of the file is missing",
        "500 rule",
        "25 s at most",
        "the GPS position in the frame",
        "the zone of the site",
        "you stated",
        "2 trial",
        "6 dark",
    ] {
        assert!(words.contains(told), "the page does not say: {told}");
    }
    assert!(
        html.matches("<img").count() > 20,
        "pictures at regular steps"
    );
    assert!(html.len() < 3_000_000);
    let one = page(&world, &["2"]);
    assert!(words_of(&one).contains("Session 2, the night of 2023-12-13"));
    assert!(!words_of(&one).contains("Session 3:"));
    let bare = page(&world, &["2", "--no-pictures"]);
    assert!(!bare.contains("<img"));
}

#[test]
fn years_are_shown_by_night_and_shower() {
    let world = ingested();
    let words = words_of(&page(&world, &["--season", "2023..2025"]));
    for told in [
        "The nights of 2023 to 2025",
        "2023-12-13",
        "GEM",
        "No lights in this year",
        "84.0°",
    ] {
        assert!(words.contains(told), "the page does not say: {told}");
    }
    for wrong in ["2025..2023", "x", "1066", "1950..2099"] {
        world
            .run(&["report", "--season", wrong, "--to", "w.html"])
            .ended(2);
    }
    assert!(!world.path("w.html").exists());
}

#[test]
fn what_is_not_there_is_said_with_what_is() {
    let world = ingested();
    let said = world
        .run(&["report", "2023-12-20", "--to", "x.html"])
        .ended(2);
    assert!(
        said.err.contains("2023-12-13") && said.err.contains("2024-05-05"),
        "{}",
        said.err
    );
    world.run(&["report", "99", "--to", "x.html"]).ended(2);
    let said = world
        .run(&["report", "yesterday", "--to", "x.html"])
        .ended(2);
    assert!(said.err.contains("neither a date nor"), "{}", said.err);
    assert!(!world.path("x.html").exists(), "nothing is left behind");
    world.run(&["report", "2", "--to", "x.html"]).ended(0);
    let said = world.run(&["report", "2", "--to", "x.html"]).ended(2);
    assert!(said.err.contains("--overwrite"), "{}", said.err);
    let left = fs::read_dir(world.path("")).unwrap();
    let parts = left.filter(|e| {
        e.as_ref()
            .unwrap()
            .file_name()
            .to_string_lossy()
            .ends_with(".part")
    });
    assert_eq!(parts.count(), 0);
}

#[test]
fn a_night_without_a_site_and_of_one_frame_is_a_page_still() {
    let world = World::new();
    world.write(
        "card/DCIM/N_0001.DNG",
        &world::frame_at("2024:08:12 23:10:00"),
    );
    world.run(&["ingest", "card"]).ended(0);
    let words = words_of(&page(&world, &["2024-08-12"]));
    for told in [
        "1 frame in 1 session",
        "Place unknown",
        "by the body's clock",
        "none: a single frame",
        "no-zone",
    ] {
        assert!(
            words.contains(told) || told == "no-zone",
            "the page does not say: {told}\n{words}"
        );
    }
    assert!(words.contains("23:10:00"));
    assert!(words.contains("no offset, and no site"), "{words}");
}

#[test]
fn hostile_names_and_broken_pictures_do_no_harm() {
    let world = World::new();
    world.site("Salt Ridge", "38.93", "-116.01");
    let mut frame = world::frame_at("2023:12:13 22:10:00");
    // The first bytes of each embedded picture are no longer a JPEG.
    for at in 0..frame.len() - 2 {
        if frame[at..at + 3] == [0xff, 0xd8, 0xff] {
            frame[at + 4..at + 300].fill(0x41);
        }
    }
    world.write(
        "card/<script>alert(1)</script>&\"'\u{1b}[31m/N_0001.DNG",
        &frame,
    );
    // By a file of another night the dump is seen to be there.
    world.write(
        "card/zz/N_0002.DNG",
        &world::frame_at("2023:11:01 22:10:00"),
    );
    world.run(&["ingest", "--site", "Salt Ridge", "card"]);
    let html = page(&world, &["2023-12-13"]);
    assert!(!html.contains("<script"));
    assert!(words_of(&html).contains("no picture:"), "{html}");
    // A missing file is named at its place; a missing dump once for all its files.
    let gone = world::files_of(&world.path("card")).remove(0);
    fs::remove_file(gone).unwrap();
    let words = words_of(&page(&world, &["2023-12-13"]));
    assert!(words.contains("the file is missing"), "{words}");
    fs::remove_dir_all(world.path("card")).unwrap();
    let said = world
        .run(&["report", "2023-12-13", "--to", "away.html"])
        .ended(1);
    assert!(said.err.contains("dump-away"), "{}", said.err);
    let words = words_of(&fs::read_to_string(world.path("away.html")).unwrap());
    assert!(
        words.contains("dump card of 2 frames, last seen"),
        "{words}"
    );
    assert!(!words.contains("the file is missing"), "{words}");
}

#[test]
fn polar_day_and_polar_night_are_pages_still() {
    for (month, told) in [("06", "never: polar day"), ("12", "all along: polar night")] {
        let world = World::new();
        world
            .run(&[
                "site",
                "add",
                "Far North",
                "--lat",
                "78.2",
                "--lon",
                "15.6",
                "--elevation",
                "20",
                "--zone",
                "Arctic/Longyearbyen",
            ])
            .ended(0);
        for k in 0..5 {
            let reading = format!("2024:{month}:20 23:1{k}:00");
            world.write(&format!("card/N_000{k}.DNG"), &world::frame_at(&reading));
        }
        world
            .run(&["ingest", "--site", "Far North", "card"])
            .ended(0);
        let words = words_of(&page(&world, &[&format!("2024-{month}-20")]));
        assert!(words.contains(told), "{words}");
    }
}

#[test]
fn kinds_and_focal_lengths_that_were_said_stay_said() {
    let world = ingested();
    let count = |query: &str| {
        world
            .run(&["frames", query, "--count"])
            .ended(0)
            .out
            .trim()
            .to_owned()
    };
    world
        .run(&[
            "sessions", "mark", "3", "--kind", "flat", "--frames", "1..4",
        ])
        .ended(0);
    assert_eq!(count("session = 3 and kind = flat"), "4");
    let dump = world::demo("geminids-body-a")
        .to_string_lossy()
        .into_owned();
    world.run(&["ingest", &dump]).ended(0);
    assert_eq!(
        count("session = 3 and kind = flat"),
        "4",
        "an ingest changes no word"
    );
    world
        .run(&["sessions", "mark", "3", "--focal", "24"])
        .ended(0);
    assert_eq!(count("session = 3 and focal = 24"), "20");
    world.run(&["sessions", "mark", "3", "--clear"]).ended(0);
    assert_eq!(count("session = 3 and kind = light and focal = 20"), "20");
    for wrong in [
        &["mark", "3", "--kind", "dark", "--frames", "1..21"][..],
        &["mark", "99", "--kind", "dark"],
        &["mark", "3", "--focal", "0"],
        &["mark", "3"],
    ] {
        world.run(&[&["sessions"], wrong].concat()).ended(2);
    }
    let why = world
        .run(&["frames", "kind = dark", "--as", "json"])
        .ended(0)
        .json();
    assert_eq!(why[0]["kind_evidence"], "named so: 102DARKS");
}

#[test]
fn a_brighter_sky_gives_fewer_meteors_by_the_population_index() {
    let world = ingested();
    let geminids = || {
        let words = words_of(&page(&world, &["2", "--no-pictures"]));
        let row = words.split("lost to the Moon").nth(1).unwrap();
        let number = row.split(" (").next().unwrap().rsplit(' ').next().unwrap();
        (number.parse::<f64>().unwrap(), words)
    };
    let (dark, words) = geminids();
    assert!(words.contains("magnitude 6.5 taken"));
    world
        .run(&[
            "site",
            "change",
            "Salt Ridge",
            "--limiting-magnitude",
            "4.5",
        ])
        .ended(0);
    let (bright, words) = geminids();
    assert!(words.contains("magnitude 4.5, as you stated"));
    // r = 2.6 for the Geminids (IMO 2025, Table 5): two magnitudes are a factor of 6.8. Whole numbers are shown.
    assert!((dark / bright - 6.8).abs() < 2.0, "{dark} {bright}");
    // Of eight the site takes seven; it is night, and the Moon is down.
    assert!(words.contains("GEM 8 7 0 0 not examined 1 ("), "{words}");
}

#[test]
fn a_session_is_drawn_as_text_no_wider_than_asked() {
    let world = ingested();
    let said = world.run(&["sessions", "2"]).ended(0);
    for told in [
        "the night, local time",
        "GEM  ",
        "#",
        "-",
        "sky",
        "likely because",
    ] {
        assert!(said.out.contains(told), "{told} in\n{}", said.out);
    }
    assert!(!said.out.contains('\u{1b}'), "plain when piped");
    let picture = said
        .out
        .split("the night,")
        .nth(1)
        .unwrap()
        .split("gaps")
        .next()
        .unwrap();
    assert!(
        picture.lines().all(|line| line.chars().count() <= 80),
        "{picture}"
    );
}

#[test]
fn a_browser_shows_it_at_both_widths() {
    let Some(chromium) = browser::chromium() else {
        println!("skipped: no chromium here");
        return;
    };
    let world = ingested();
    for words in [&["2023-12-13"][..], &["2024-05-05"], &["--season", "2023"]] {
        let html = page(&world, words);
        for width in [1280, 390] {
            let (wide, plots) =
                browser::measured(chromium, &world.path(""), &html, width).expect("a measure");
            assert!(
                wide <= width,
                "{words:?}: {wide} pixels wide on a screen of {width}"
            );
            assert!(plots >= 1, "{words:?}: no plot shows at {width}");
        }
    }
}
