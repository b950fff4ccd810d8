//! The pictures of `framefall demo --look`: five of them, with a meteor and a satellite, are examined.

use framefall::usecase::looking::stars_over::stars_over;

use crate::access::Checker;
use crate::studio::Dump;
use crate::studio::Site;
use crate::studio::Star;
use crate::studio::large_dump_files;
use crate::tab::Browser;
use crate::world::World;

#[test]
fn the_pictures_of_the_demo_night_can_be_examined() {
    let over = |site: &Site, unix_ms: i64| {
        stars_over(unix_ms, (site.lat_deg, site.lon_deg, site.elev_m))
            .into_iter()
            .map(|star| Star {
                towards: star.north_east_up,
                light: star.light,
                tint: [1.0; 3],
            })
            .collect()
    };
    let world = World::new();
    let files = large_dump_files(Dump::GeminidsA, &over, &|shot| {
        (461..=465).contains(&shot.number)
    });
    for file in files.unwrap().iter().filter(|f| f.path.ends_with("DNG")) {
        world.write(&file.path, &file.bytes);
    }
    world
        .run(&["ingest", "--examine", "cards/geminids-body-a"])
        .ended(0);
    // The aim of the story.
    let shown = "file,pointing,point.alt,point.az,GEM.in_picture";
    let frames = world
        .run(&["frames", "kind = light", "--show", shown, "--as", "json"])
        .json();
    assert_eq!(frames.as_array().unwrap().len(), 5);
    for frame in frames.as_array().unwrap() {
        assert_eq!(frame["pointing"], "good", "{frame}");
        let off = |key: &str, of: f64| (frame[key].as_f64().unwrap() - of).abs();
        assert!(off("point_alt_deg", 30.0) < 0.05, "{frame}");
        assert!(off("point_az_deg", 195.0) < 0.05, "{frame}");
    }
    let trails = world
        .run(&["trails", "kind = light", "--as", "json"])
        .json();
    let of = |class: &str| {
        let all = trails.as_array().unwrap().iter();
        all.filter(|trail| trail["is"] == class).collect::<Vec<_>>()
    };
    let meteors = of("meteor");
    assert_eq!(meteors.len(), 1, "{trails}");
    assert_eq!(meteors[0]["file"], "N6A_0463.DNG");
    assert!(
        meteors[0]["path_shower"].as_str().unwrap().contains("GEM"),
        "{trails}"
    );
    assert!(of("moving-light").len() >= 3, "{trails}");
    reports_are_accessible(&world, meteors[0]["candidate"].as_str().unwrap());
}

/// The pages of the night, of its session and of its year, with a judged meteor and candidates, sky and lens.
fn reports_are_accessible(world: &World, meteor: &str) {
    let Some(browser) = Browser::start() else {
        return;
    };
    let checker = Checker::found();
    world
        .run(&["trails", "judge", meteor, "--is", "meteor"])
        .ended(0);
    for (name, words) in [
        ("night.html", &["report", "2023-12-13"][..]),
        ("session.html", &["report", "1"]),
        ("years.html", &["report", "--season", "2023"]),
    ] {
        world.run(&[words, &["--to", name]].concat()).ended(0);
        let address = format!("file://{}", world.path(name).display());
        for width in [390, 1280] {
            let mut tab = browser.open(&address, width, 900);
            tab.wait("document.readyState === 'complete' && document.querySelector('h1')");
            for scheme in ["light", "dark"] {
                tab.scheme(scheme);
                tab.screenshot(&format!("{name}-{width}-{scheme}.png"));
                checker.check(&mut tab, &format!("{name}, {width}, {scheme}"));
            }
        }
    }
}
