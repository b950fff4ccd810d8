//! What every `--dry-run` leaves as it was: each file of the folder, the catalogue and the cards among them.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;
use std::time::SystemTime;

use clap::Command;
use clap::CommandFactory;

use crate::world::World;
use crate::world::files_of;

/// The command lines, a row for each command that has the option or for a form of it. Each would change something.
const LINES: &[&[&str]] = &[
    &["clock", "fix", "6004127", "--fast", "1h"],
    &["clock", "zone", "6004127", "+03:00", "--from", "2024-01-01"],
    &["clock", "remove", "zone-2"],
    &["site", "change", "Here", "--lat", "46.6"],
    &["site", "remove", "Here"],
    &["site", "assign", "Here", "--session", "1"],
    &["site", "track", "walk.gpx"],
    &["dump", "remove", "a"],
    &["statement", "take", "log.jsonl"],
    &["statement", "undo"],
    &["frames", "mark", "session = 1", "--looked", "yes"],
    &[
        "trails",
        "add",
        "N2M_2208.DNG",
        "--from",
        "10,10",
        "--to",
        "90,50",
        "--is",
        "meteor",
    ],
    &["trails", "judge", "1", "--is", "satellite"],
    &["trails", "remove", "1"],
    &[
        "pointing",
        "state",
        "file = N2M_2208.DNG",
        "--wcs",
        "solved.txt",
    ],
    &["pointing", "remove", "file = N2M_2207.DNG"],
    &["export", "iso > 0", "--with-damaged", "--to", "l.csv"],
    &["export", "iso > 0", "--with-damaged", "--link-into", "tree"],
    #[cfg(feature = "parquet")]
    &["export", "iso > 0", "--as", "parquet", "--to", "set"],
    #[cfg(feature = "parquet")]
    &["export", "iso > 0", "--to", "one.parquet"],
    #[cfg(feature = "parquet")]
    &["export", "", "--as", "parquet", "--per-year", "--to", "set"],
];

const TRACK: &str = r#"<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="38.93" lon="-116.01"><ele>1905</ele><time>2023-12-14T04:00:00Z</time></trkpt>
<trkpt lat="38.94" lon="-116.02"><ele>1905</ele><time>2023-12-14T06:00:00Z</time></trkpt>
</trkseg></trk></gpx>"#;

/// A header by the FITS standard, for a picture of 3 by 2.
const HEADER: &str = "\
NAXIS   =                    2
NAXIS1  =                 6000
NAXIS2  =                 4000
CTYPE1  = 'RA---TAN'
CTYPE2  = 'DEC--TAN'
CRVAL1  =                113.0
CRVAL2  =                 32.0
CRPIX1  =               3000.5
CRPIX2  =               2000.5
CD1_1   =               -0.014
CD1_2   =                  0.0
CD2_1   =                  0.0
CD2_2   =               -0.014
END
";

/// The names of the commands that have the option, as they are typed.
fn with_the_option(command: &Command, above: &str, found: &mut BTreeSet<String>) {
    for below in command.get_subcommands() {
        let name = format!("{above} {}", below.get_name()).trim().to_owned();
        if below
            .get_arguments()
            .any(|argument| argument.get_long() == Some("dry-run"))
        {
            found.insert(name.clone());
        }
        with_the_option(below, &name, found);
    }
}

/// Every file with its contents and the time it was last written, and every folder.
fn state(world: &World) -> BTreeMap<PathBuf, Option<(Vec<u8>, SystemTime)>> {
    let files = files_of(&world.path(""));
    let folders: BTreeSet<PathBuf> = files
        .iter()
        .flat_map(|file| file.ancestors().skip(1).map(PathBuf::from))
        .filter(|folder| folder.starts_with(world.path("")))
        .collect();
    let of = |file: PathBuf| {
        let written = fs::metadata(&file).unwrap().modified().unwrap();
        let bytes = fs::read(&file).unwrap();
        (file, Some((bytes, written)))
    };
    let folders = folders.into_iter().map(|folder| (folder, None));
    files.into_iter().map(of).chain(folders).collect()
}

#[test]
fn no_dry_run_writes_anything() {
    let world = World::new();
    world.dump("geminids-body-a", "a", |_| true);
    world.dump("geminids-body-b", "b", |_| true);
    world.site("Here", "38.93N", "116.01W");
    world.run(&["ingest", "b", "--site", "Here"]);
    world.run(&["ingest", "a"]);
    world
        .run(&["clock", "zone", "6004127", "America/Los_Angeles"])
        .ended(0);
    world.run(&["statement", "save", "log.jsonl"]).ended(0);
    world.write("walk.gpx", TRACK.as_bytes());
    // Statements that this catalogue has no longer, so that taking the log would change it.
    world.run(&["clock", "remove", "zone-1"]).ended(0);
    world
        .run(&["clock", "zone", "6004127", "America/Denver"])
        .ended(0);
    world.write("solved.txt", HEADER.as_bytes());
    world
        .run(&[
            "pointing",
            "state",
            "file = N2M_2207.DNG",
            "--wcs",
            "solved.txt",
        ])
        .ended(0);
    world
        .run(&[
            "trails",
            "add",
            "N2M_2207.DNG",
            "--from",
            "10,10",
            "--to",
            "90,50",
            "--is",
            "meteor",
        ])
        .ended(0);
    let before = state(&world);
    for line in LINES {
        let said = world.run(&[*line, &["--dry-run"]].concat());
        assert!(said.code < 2, "{line:?}: {}{}", said.out, said.err);
        let words = format!("{}{}", said.out, said.err);
        assert!(words.contains("a dry run"), "{line:?}: {words}");
        let after = state(&world);
        let changed: Vec<&PathBuf> = before
            .keys()
            .chain(after.keys())
            .filter(|path| before.get(*path) != after.get(*path))
            .collect();
        assert!(changed.is_empty(), "{line:?}: {changed:?}");
    }
    let mut all = BTreeSet::new();
    with_the_option(&framefall::cli::args::Arguments::command(), "", &mut all);
    let tried = |name: &&String| {
        let words: Vec<&str> = name.split(' ').collect();
        LINES.iter().any(|line| line.starts_with(&words))
    };
    let untried: Vec<&String> = all.iter().filter(|name| !tried(name)).collect();
    assert!(untried.is_empty(), "{untried:?}");
    assert!(all.len() > 8, "{all:?}");
}
