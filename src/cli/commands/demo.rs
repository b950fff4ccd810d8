//! `framefall demo`: the whole job on the demo data, in a throw-away catalogue. Each step is the command a
//! photographer would type, parsed and run like any other.

use std::fs;
use std::io::BufRead;
use std::path::Path;

use clap::Parser;

use crate::cli::args::Arguments;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::setting::Setting;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;

/// The demo's card dumps: paths below `demo-data`, and the files' bytes.
const DEMO: &[(&str, &[u8])] = include!(concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/files.rs"));

/// How many lines of the exported list are shown.
const LINES_SHOWN: usize = 4;

/// One step of the demo: its description, and the command as typed.
type Step = (&'static str, &'static [&'static str]);

/// The job, in the order a photographer does it.
const STEPS: &[Step] = &[
    (
        "Home from the nights: state where the tripod was. The time zone is found from the \
         coordinates.",
        &[
            "site",
            "add",
            "Salt Ridge",
            "--lat",
            "38.93",
            "--lon",
            "116.01W",
            "--elevation",
            "1905",
        ],
    ),
    (
        "",
        &[
            "site",
            "add",
            "Snow Fell",
            "--lat",
            "63°03'N",
            "--lon",
            "13°21'E",
            "--elevation",
            "640",
        ],
    ),
    (
        "Body A writes GPS positions and its offset from UTC, so its frames need no statement.",
        &["ingest", "cards/geminids-body-a", "cards/eta-aquariids"],
    ),
    (
        "Body B writes neither, so its dumps are ingested with their site. One of its files is \
         truncated.",
        &["ingest", "--site", "Salt Ridge", "cards/geminids-body-b"],
    ),
    (
        "Body B's clock was an hour fast that night. One command corrects its frames.",
        &[
            "clock",
            "fix",
            "2B-00318",
            "--read",
            "2023-12-13 22:30:21",
            "--true",
            "2023-12-14T05:30:21Z",
        ],
    ),
    (
        "Two years later, in Sweden, it had been reset: a new epoch, not drift.",
        &[
            "clock",
            "fix",
            "2B-00318",
            "--read",
            "2026-01-03 23:56:00",
            "--true",
            "2026-01-03T22:56:00Z",
            "--reset-before",
        ],
    ),
    ("", &["ingest", "--site", "Snow Fell", "cards/quadrantids"]),
    (
        "What was shot, by session. Ten frames are missing where body A's battery was changed.",
        &["sessions"],
    ),
    ("One session in full.", &["sessions", "2"]),
    (
        "Which lights had the Geminid radiant above 80 degrees, with the Moon down?",
        &[
            "frames",
            "GEM.alt > 80 and moon.alt < 0 and kind = light",
            "--limit",
            "8",
        ],
    ),
    (
        "Hand them to the stacking step, in the order they were taken. A list named .csv or .json \
         has all fields.",
        &[
            "export",
            "GEM.alt > 80 and moon.alt < 0 and kind = light",
            "--to",
            "geminids.txt",
        ],
    ),
    (
        "What needs attention before the cards are formatted?",
        &["audit"],
    ),
];

/// Runs one command with its parsed arguments.
pub type Dispatch = fn(Arguments) -> Result<Outcome, Failure>;

/// Runs the command.
pub fn run(setting: &Setting, dispatch: Dispatch) -> Result<Outcome, Failure> {
    let unwritable = |e: std::io::Error| {
        Failure::new(
            FailureKind::Output,
            "the demo data could not be written to the temporary folder",
        )
        .hint("set TMPDIR to a folder with 5 MB of free space")
        .because(e)
    };
    let folder = tempfile::Builder::new()
        .prefix("framefall-demo-")
        .tempdir()
        .map_err(unwritable)?;
    for (path, bytes) in DEMO {
        let path = folder.path().join(path);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(unwritable)?;
        }
        fs::write(&path, bytes).map_err(unwritable)?;
    }
    let home = std::env::current_dir().map_err(unwritable)?;
    std::env::set_current_dir(folder.path()).map_err(unwritable)?;
    let ended = play(setting, folder.path(), dispatch);
    // Windows cannot remove the current folder.
    std::env::set_current_dir(home).map_err(unwritable)?;
    ended?;
    folder.close().map_err(unwritable)?;
    Ok(Outcome::Done)
}

fn play(setting: &Setting, folder: &Path, dispatch: Dispatch) -> Result<(), Failure> {
    let catalogue = folder.join("demo.sqlite");
    if setting.quiet == Quiet::No {
        say(&format!(
            "The demo: three invented shower nights, two bodies, {} files, in a throw-away folder.\n\
             Your own catalogue is not touched.",
            DEMO.len()
        ))?;
    }
    for (about, words) in STEPS {
        if !about.is_empty() {
            say(&format!("\n{}", print::headline(&format!("# {about}"))))?;
        }
        say(&print::headline(&format!(
            "$ {}",
            CommandLine::typed(*words)
        )))?;
        let mut arguments = Arguments::try_parse_from(std::iter::once(&"framefall").chain(*words))
            .map_err(|e| {
                Failure::new(FailureKind::Bug, "the demo used an unknown command").because(e)
            })?;
        arguments.catalogue = Some(catalogue.clone());
        arguments.quiet = setting.quiet == Quiet::Yes;
        if dispatch(arguments)? == Outcome::Stopped {
            return Ok(());
        }
        if words.contains(&"export") {
            show_first_lines(&folder.join("geminids.txt"))?;
        }
    }
    say(
        "\nNow try your own: framefall ingest DUMP, with the folder to which you copied a card. \
         Cards and dumps are only read.\nKeep a card unformatted until a second verified copy \
         exists.",
    )
}

fn show_first_lines(list: &Path) -> Result<(), Failure> {
    let file = fs::File::open(list).map_err(written)?;
    let lines: Vec<String> = std::io::BufReader::new(file)
        .lines()
        .take(LINES_SHOWN)
        .collect::<Result<_, _>>()
        .map_err(written)?;
    say(&print::headline(&format!(
        "$ head -n {LINES_SHOWN} geminids.txt"
    )))?;
    say(&lines.join("\n"))
}

fn say(text: &str) -> Result<(), Failure> {
    print::answer(|out| writeln!(out, "{text}").map_err(written)).map(|_| ())
}
