//! Every command of the README and of the manual runs as it is written, on the demo's nights.

use std::fs;
use std::path::Path;

use crate::readme::words;
use crate::world;
use crate::world::World;

/// Placeholders for the reader's own files, and the demo's files that replace them.
const OF_THE_READER: &[(&str, &str)] = &[
    ("/path/to/card-dump", "cards/geminids-body-b"),
    ("picture-of-a-true-clock.CR2", "cards/true-clock.DNG"),
    ("/photos/2023/geminids", "photos/geminids"),
    ("/mnt/second/geminids", "second/geminids"),
    ("walk.gpx", "cards/walk.gpx"),
    ("/media/backup/framefall.sqlite", "backup.sqlite"),
    ("/media/archive-2/2023/card-a", "archive/card-a"),
];

/// Parts of commands that end with exit code 1: frames that are not here, lights without darks, pictures too small for stars.
const ENDING_WITH_1: &[&str] = &[
    "statement take",
    "--with-darks",
    "framefall examine",
    "frames 'meteors > 0'",
];

/// The commands of a page's blocks, each with the page.
fn commands() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut pages = vec![root.join("README.md")];
    pages.extend(
        fs::read_dir(root.join("docs"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|end| end == "md")),
    );
    pages.sort();
    let mut all = Vec::new();
    for page in pages {
        let text = fs::read_to_string(&page).unwrap();
        let mut inside = false;
        for line in text.lines() {
            if line.starts_with("```") {
                inside = !inside;
            } else if line.contains("framefall look ") || line.contains("demo --look") {
                // Waits for a person; tests/page runs it.
            } else if inside && line.trim_start_matches("$ ").starts_with("framefall ") {
                let line = line.trim_start_matches("$ ").to_owned();
                all.push((page.display().to_string(), line));
            }
        }
    }
    all
}

/// The demo's nights at home: two cards in the catalogue, one of them moved away since, and the reader's own files.
fn home() -> World {
    let world = World::new();
    world.site_with("Salt Ridge", "38.93N", "116.01W", &["--elevation", "1905"]);
    // Without its damaged file, so that every command can be done.
    world.dump("geminids-body-b", "cards/geminids-body-b", |name| {
        name != "N2M_2219.DNG"
    });
    world.dump("geminids-body-a", "card-a", |_| true);
    world.dump("eta-aquariids", "cards/eta-aquariids", |_| true);
    let frame = world::demo("geminids-body-a").join("DCIM/100NCTRN/N6A_0414.DNG");
    fs::copy(frame, world.path("cards/true-clock.DNG")).unwrap();
    world.write(
        "cards/walk.gpx",
        br#"<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
            <trkpt lat="38.93" lon="-116.01"><time>2023-12-14T04:00:00Z</time></trkpt>
            <trkpt lat="38.94" lon="-116.02"><time>2023-12-14T12:00:00Z</time></trkpt></trkseg></trk></gpx>"#,
    );
    let header = "CTYPE1  = 'RA---TAN'\nCTYPE2  = 'DEC--TAN'\nCRVAL1  = 110.0\nCRVAL2  = 33.0\nCRPIX1  = 810.5\nCRPIX2  = 540.5\n\
        CD1_1   = -0.05\nCD2_2   = 0.05\nIMAGEW  = 1620\nIMAGEH  = 1080\n";
    world.write("solved.fits", header.as_bytes());
    world.write("solved.wcs", header.as_bytes());
    let ingest = |dump: &str| world.run(&["ingest", "--site", "Salt Ridge", dump]);
    ingest("card-a").ended(0);
    ingest("cards/geminids-body-b").ended(0);
    ingest("cards/eta-aquariids").ended(0);
    world
}

/// Each page begins at home, and what begins with a first site with an empty catalogue; commands follow each other.
#[test]
fn every_command_of_the_manual_runs() {
    let commands = commands();
    assert!(commands.len() > 30, "{}", commands.len());
    for commands in commands.chunk_by(|(page, _), (next, _)| page == next) {
        let home = home();
        for (page, line) in commands {
            if line.starts_with("framefall site add") {
                fs::remove_file(home.path("catalogue.sqlite")).unwrap();
            }
            if line.contains("archive-2") && home.path("card-a").exists() {
                fs::create_dir_all(home.path("archive")).unwrap();
                fs::rename(home.path("card-a"), home.path("archive/card-a")).unwrap();
            }
            if (line.contains("--as parquet") || line.contains(".parquet"))
                && !cfg!(feature = "parquet")
            {
                continue;
            }
            let line_here = OF_THE_READER
                .iter()
                .fold(line.clone(), |line, (theirs, ours)| {
                    line.replace(theirs, ours)
                });
            let words = words(&line_here);
            let words: Vec<&str> = words[1..].iter().map(String::as_str).collect();
            let said = home.run(&words);
            let needs_attention = ENDING_WITH_1.iter().any(|part| line.contains(part));
            let code = i32::from(needs_attention);
            assert_eq!(said.code, code, "{page}: {line}\n{}{}", said.out, said.err);
        }
    }
}
