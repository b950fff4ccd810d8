//! Rates follow the sky that was there: the strongest shower is up, twilight and moonlight take meteors away, and the page
//! and the screen say how many.
#![allow(clippy::unwrap_used)] // a test stops at the first surprise

use crate::world::World;
use serde_json::Value;

/// The demo's dumps of the eta-Aquariids, from night into civil twilight, and of the Quadrantids, under a full Moon.
fn ingested() -> World {
    let world = World::new();
    for (name, lat, lon) in [
        ("Gibber Flat", "-30.78", "139.20"),
        ("Snow Fell", "63.05", "13.35"),
    ] {
        let place = ["--lat", lat, "--lon", lon, "--elevation", "85"];
        world
            .run(&[&["site", "add", name][..], &place].concat())
            .ended(0);
    }
    world.dump("eta-aquariids", "eta", |_| true);
    world.dump("quadrantids", "qua", |_| true);
    world.run(&["ingest", "eta", "--quiet"]).ended(0);
    world
        .run(&["ingest", "qua", "--site", "Snow Fell", "--quiet"])
        .ended(0);
    world
}

fn frames(world: &World, query: &str) -> Vec<Value> {
    let found = world.run(&["frames", query, "--as", "json"]).json();
    found.as_array().unwrap().clone()
}

fn number(of: &Value, key: &str) -> f64 {
    of[key]
        .as_f64()
        .unwrap_or_else(|| panic!("no {key} in {of}"))
}

#[test]
fn the_strongest_shower_gives_most_and_the_sky_takes_its_share() {
    let world = ingested();
    let mut seen = Vec::new();
    for frame in frames(&world, "kind = light and sun.alt is known") {
        let radiants = frame["radiants"].as_array().unwrap();
        let rates = || radiants.iter().map(|one| number(one, "rate"));
        let most = rates().fold(0.0, f64::max);
        let strongest = radiants.iter().find(|one| one["shower"] == frame["shower"]);
        assert!((number(strongest.unwrap(), "rate") - most).abs() < 1e-9);
        assert!(
            radiants
                .iter()
                .any(|one| one["shower"] == frame["main_shower"])
        );
        let sun = number(&frame, "sun_alt_deg");
        let left = number(strongest.unwrap(), "seen_rate") / most;
        if sun >= -6.0 {
            assert!(left <= 0.0, "{frame}");
        } else if sun > -18.0 || number(&frame, "moon_alt_deg") > 0.0 {
            assert!(left < 1.0, "{frame}");
        } else {
            assert!((left - 1.0).abs() < 1e-9, "{frame}");
        }
        seen.push((sun, left));
    }
    assert!(seen.len() > 60, "{}", seen.len());
    assert!(seen.iter().any(|(sun, _)| *sun >= -6.0) && seen.iter().any(|(sun, _)| *sun < -18.0));

    let count = |query: &str| -> usize {
        let found = world.run(&["frames", query, "--count"]);
        found.out.trim().parse().unwrap()
    };
    let bright = count("sun.alt >= -6 and ETA.rate > 30");
    assert!(bright > 0);
    assert_eq!(
        count("sun.alt >= -6 and ETA.seen_rate = 0"),
        count("sun.alt >= -6")
    );
    assert_eq!(count("sun.alt >= -6 and ETA.seen_rate > 0"), 0);
    assert_eq!(count("shower = ETA and main_shower = ETA"), 38);
    let csv = world
        .run(&["frames", "ETA.rate > 0", "--as", "csv", "--limit", "1"])
        .ended(0);
    let heading = csv.out.lines().next().unwrap().to_owned();
    let of_eta = [
        "alt_deg",
        "az_deg",
        "seen_alt_deg",
        "seen_az_deg",
        "moon_sep_deg",
        "rate",
        "seen_rate",
        "in_picture",
        "x_px",
        "y_px",
        "seen_x_px",
        "seen_y_px",
    ];
    let of_eta = of_eta.map(|key| format!(",ETA_{key}")).concat();
    assert!(
        heading.contains(",solar_lon_deg,shower,main_shower,looked,")
            && heading.ends_with(&format!(",seen_y_px{of_eta}")),
        "{heading}"
    );
    let shown = world.run(&[
        "frames",
        "ETA.seen_rate > 0",
        "--show",
        "start,ETA.seen_rate",
        "--by",
        "ETA.seen_rate desc",
    ]);
    assert!(shown.ended(0).out.contains("ETA.seen_rate"));
}

#[test]
fn what_is_stated_of_a_site_changes_the_rates_under_its_sky_and_no_other() {
    let world = ingested();
    let rates = |world: &World| {
        let all = frames(
            world,
            "ETA.seen_rate > 0 and sun.alt < -18 and moon.alt < 0",
        );
        let of = |frame: &Value, key: &str| {
            let radiants = frame["radiants"].as_array().unwrap();
            number(
                radiants.iter().find(|one| one["shower"] == "ETA").unwrap(),
                key,
            )
        };
        all.iter()
            .map(|frame| (of(frame, "rate"), of(frame, "seen_rate")))
            .collect::<Vec<_>>()
    };
    let moonlit = |world: &World| frames(world, "ETA.seen_rate > 0").len();
    let (before, some) = (rates(&world), moonlit(&world));
    world
        .run(&[
            "site",
            "change",
            "Gibber Flat",
            "--limiting-magnitude",
            "5.5",
        ])
        .ended(0);
    assert_eq!(moonlit(&world), some);
    for ((rate, seen), (rate_was, seen_was)) in rates(&world).iter().zip(before) {
        assert!((rate - rate_was).abs() < 1e-9);
        // r is 2.4 (IMO 2025, Table 5).
        assert!((seen_was / seen - 2.4).abs() < 0.01);
    }
}

#[test]
fn screen_and_page_say_what_the_sun_and_the_moon_took() {
    let world = ingested();
    let sessions = world.run(&["sessions", "--as", "json"]).json();
    for session in sessions.as_array().unwrap() {
        let number = session["session"].to_string();
        let said = world.run(&["sessions", &number]).ended(0).out;
        let table = said.split("meteors expected").nth(1).unwrap();
        for heading in ["lost to site", "to Sun", "to Moon", "to cloud"] {
            assert!(table.contains(heading), "{said}");
        }
        let code = session["shower"].as_str().unwrap();
        let row = table.lines().find(|line| line.starts_with(code)).unwrap();
        let cells: Vec<&str> = row.split_whitespace().collect();
        let lost = |at: usize| cells[at].parse::<f64>().unwrap_or(0.0);
        match code {
            "ETA" => assert!(lost(3) >= 2.0 && lost(4) < 1.0, "{row}"),
            "QUA" => assert!(lost(3) <= 0.0 && lost(4) >= 1.0, "{row}"),
            _ => panic!("{code}"),
        }
        let night = session["night"].as_str().unwrap();
        world
            .run(&[
                "report",
                night,
                "--to",
                "page.html",
                "--no-pictures",
                "--overwrite",
            ])
            .ended(0);
        let page = std::fs::read_to_string(world.path("page.html")).unwrap();
        for told in [
            "lost to the Moon",
            "faintest star over the lights",
            "Krisciunas",
            "peak",
        ] {
            assert!(page.contains(told), "{told}");
        }
        // Nobody knows a peak to the second; the Moon's window is not taken for its setting.
        assert!(!page.contains("up 12:00"));
        if code == "ETA" {
            assert!(page.contains("4 lights with the Sun above −6°"));
            assert!(
                page.contains("up from before noon, sets")
                    && page.contains("rises 04:20, up past noon")
            );
            assert!(page.contains("at the peak, which is known to 1 h"));
        } else {
            assert!(page.contains("rises 12:50, sets 11:14"));
            assert!(page.contains("after the peak"));
            assert!(page.contains("±\u{a0}7\u{a0}min") && page.contains("±\u{a0}12\u{a0}h"));
        }
    }
}

#[test]
fn the_shower_table_says_how_well_a_peak_is_known() {
    let world = ingested();
    let showers = world
        .run(&[
            "showers",
            "--on",
            "2025-12-02",
            "--site",
            "Gibber Flat",
            "--all",
            "--as",
            "json",
        ])
        .json();
    let of = |code: &str| {
        let all = showers.as_array().unwrap();
        all.iter()
            .find(|one| one["shower"] == code)
            .unwrap()
            .clone()
    };
    for (code, error_h) in [("GEM", 1.2), ("HYD", 12.2), ("LEO", 0.12)] {
        let one = of(code);
        assert!(
            (number(&one, "peak_error_h") - error_h).abs() < 0.05,
            "{one}"
        );
        let at = one["peak_utc"].as_str().unwrap();
        assert!(at.len() == 17 && at.ends_with('Z'), "no seconds: {at}");
        assert_eq!(one["mark"], Value::Null);
    }
    // Printed in brackets: a date for the radiant, and no maximum.
    assert_eq!(of("PUP")["peak_utc"], Value::Null);
    assert_eq!(of("ANT")["peak_utc"], Value::Null);
    assert_eq!(of("PHO")["mark"], "var");
    assert_eq!(of("PHO")["zhr"], Value::Null);
    assert!(number(&of("PUP"), "seen_rate") <= number(&of("PUP"), "rate"));
}
