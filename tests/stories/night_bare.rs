//! Reports of nights with missing data: no active shower, a lens that writes no data.

use std::fs;

use crate::browser::check_page;
use crate::browser::words_of;
use crate::frames::LIGHT;
use crate::frames::Taken;
use crate::frames::raw;
use crate::frames::reading;
use crate::world::World;

/// A card of one night, and the words of the page about it.
fn told(site: [&str; 4], day: &str, night: &str, taken: Taken) -> String {
    let [name, lat, lon, zone] = site;
    let world = World::new();
    world.site_with(name, lat, lon, &["--elevation", "20", "--zone", zone]);
    for k in 0..12 {
        let file = raw(&reading(day, 82_800 + k * 20), taken);
        world.write(&format!("card/U_{k:04}.DNG"), &file);
    }
    world.run(&["ingest", "--site", name, "card"]);
    world.run(&["report", night, "--to", "page.html"]).ended(0);
    let html = fs::read_to_string(world.path("page.html")).unwrap();
    check_page(&html);
    words_of(&html)
}

#[test]
fn a_night_in_which_no_shower_is_active_says_so() {
    // In the first days of April the antihelion source alone is active (IMO Meteor Shower Calendar 2025, Table 5); it stands
    // some 9 degrees south of the equator then, and never rises five degrees from the pole.
    let ice = ["Ice Camp", "85N", "0E", "UTC"];
    let words = told(ice, "2024:04:05", "2024-04-05", LIGHT);
    let nothing =
        "No shower of the table is active, with its radiant above the horizon, in this night.";
    assert!(words.contains(nothing), "{words}");
    assert!(words.contains("12 frames in 1 session"), "{words}");
    assert!(
        !words.contains("The dome:") && !words.contains("Antihelion"),
        "{words}"
    );
    // In the same night farther south it rises.
    let lake = ["Lake", "45N", "0E", "UTC"];
    let words = told(lake, "2024:04:05", "2024-04-05", LIGHT);
    assert!(
        !words.contains(nothing) && words.contains("The dome:"),
        "{words}"
    );
}

#[test]
fn a_lens_without_a_focal_length_is_a_page_that_says_how_to_state_it() {
    let lake = ["Lake", "45N", "0E", "UTC"];
    let adapted = Taken { focal: 0, ..LIGHT };
    let words = told(lake, "2024:04:05", "2024-04-05", adapted);
    for said in [
        "focal length unknown",
        "unknown: the lens does not say. State it: framefall sessions mark 1 --focal …",
    ] {
        assert!(
            words.contains(said),
            "the page does not say: {said}\n{words}"
        );
    }
    // What hangs on the focal length is not made up.
    assert!(!words.contains("s at most"), "{words}");
    let known = told(lake, "2024:04:05", "2024-04-05", LIGHT);
    assert!(
        known.contains("s at most") && !known.contains("focal length unknown"),
        "{known}"
    );
}
