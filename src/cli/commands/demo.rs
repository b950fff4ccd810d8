//! `framefall demo`: the whole job on the demo data, in a throw-away catalogue. Each step is the command a
//! photographer would type, parsed and run like any other.

use std::fs;
use std::io::BufRead;
use std::path::Path;

use clap::Parser;

use crate::cli::args::Arguments;
use crate::cli::args_look::DemoArgs;
use crate::cli::commands::demo_look;
use crate::cli::commands::demo_look::Step;
use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::print::written;
use crate::cli::setting::Setting;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;

/// The demo's card dumps: paths below `demo-data`, and the files' bytes.
const DEMO: &[(&str, &[u8])] = include!(concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/files.rs"));

/// How many lines of the exported list are shown.
const LINES_SHOWN: usize = 4;

/// What to do after the demo.
const LAST_WORDS: &str = "\nframefall demo --look shows the page to look through a night. Now try your own: framefall ingest DUMP, with the\n\
    folder to which you copied a card. Cards and dumps are only read. Keep a card unformatted until a second\nverified copy exists.";

/// The job, in the order a photographer does it.
const STEPS: &[Step] = &[
    (
        "Home from the nights: state where the tripod was. The time zone is found from the \
         coordinates.",
        r#"site add "Salt Ridge" --lat 38.93 --lon 116.01W --elevation 1905"#,
    ),
    (
        "",
        r#"site add "Snow Fell" --lat 63°03'N --lon 13°21'E --elevation 640"#,
    ),
    (
        "Body A writes GPS positions and its offset from UTC, so its frames need no statement.",
        "ingest cards/geminids-body-a cards/eta-aquariids",
    ),
    (
        "Body B writes neither, so its dumps are ingested with their site. One of its files is \
         truncated.",
        r#"ingest --site "Salt Ridge" cards/geminids-body-b"#,
    ),
    (
        "Body B's clock was an hour fast that night. One command corrects its frames.",
        r#"clock fix 2B-00318 --read "2023-12-13 22:30:21" --true 2023-12-14T05:30:21Z"#,
    ),
    (
        "Two years later, in Sweden, it had been reset: a new epoch, not drift.",
        r#"clock fix 2B-00318 --read "2026-01-03 23:56:00" --true 2026-01-03T22:56:00Z --reset-before"#,
    ),
    ("", r#"ingest --site "Snow Fell" cards/quadrantids"#),
    (
        "What was shot, by session. Ten frames are missing where body A's battery was changed.",
        "sessions",
    ),
    ("One session in full.", "sessions 2"),
    (
        "Which lights had the Geminid radiant above 80 degrees, with the Moon down?",
        r#"frames "GEM.alt > 80 and moon.alt < 0 and kind = light" --limit 8"#,
    ),
    (
        "Hand them to the stacking step, in the order they were taken. A list named .csv or .json \
         has all fields.",
        r#"export "GEM.alt > 80 and moon.alt < 0 and kind = light" --to geminids.txt"#,
    ),
    (
        "What needs attention before the cards are formatted?",
        "audit",
    ),
];

/// Runs one command with its parsed arguments.
pub type Dispatch = fn(Arguments) -> Result<Outcome, Failure>;

/// Runs the command.
pub fn run(setting: &Setting, args: &DemoArgs, dispatch: Dispatch) -> Result<Outcome, Failure> {
    let space = if args.look { "80 MB" } else { "5 MB" };
    let unwritable = |e: std::io::Error| {
        Failure::output("the demo data could not be written to the temporary folder")
            .hint(format!("set TMPDIR to a folder with {space} of free space"))
            .because(e)
    };
    let folder = tempfile::Builder::new()
        .prefix("framefall-demo-")
        .tempdir()
        .map_err(unwritable)?;
    let write = |path: &str, bytes: &[u8]| {
        let path = folder.path().join(path);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(unwritable)?;
        }
        fs::write(&path, bytes).map_err(unwritable)
    };
    let intro = if args.look {
        demo_look::INTRO.to_owned()
    } else {
        format!(
            "The demo: three invented shower nights, two bodies, {} files, in a throw-away folder.\n\
             Your own catalogue is not touched.",
            DEMO.len()
        )
    };
    if setting.quiet == Quiet::No {
        say(&intro)?;
    }
    if args.look {
        demo_look::each_file(&write)?;
    } else {
        for (path, bytes) in DEMO {
            write(path, bytes)?;
        }
    }
    let home = std::env::current_dir().map_err(unwritable)?;
    std::env::set_current_dir(folder.path()).map_err(unwritable)?;
    let ended = if args.look {
        let page = if args.no_open {
            "look 2023-12-13 --no-open"
        } else {
            "look 2023-12-13"
        };
        let mut steps = demo_look::STEPS.to_vec();
        steps.push((demo_look::PAGE_WORDS, page));
        play(setting, folder.path(), &steps, dispatch)
    } else {
        play(setting, folder.path(), STEPS, dispatch).and_then(|()| say(LAST_WORDS))
    };
    // Windows cannot remove the current folder.
    std::env::set_current_dir(home).map_err(unwritable)?;
    ended?;
    folder.close().map_err(unwritable)?;
    Ok(Outcome::Done)
}

fn play(
    setting: &Setting,
    folder: &Path,
    steps: &[Step],
    dispatch: Dispatch,
) -> Result<(), Failure> {
    let catalogue = folder.join("demo.sqlite");
    for (about, command) in steps {
        if !about.is_empty() {
            say(&format!("\n{}", print::headline(&format!("# {about}"))))?;
        }
        let words = words_of(command);
        let typed = CommandLine::typed(&words);
        say(&print::headline(&format!("$ {typed}")))?;
        let mut arguments = Arguments::try_parse_from(std::iter::once("framefall").chain(words))
            .map_err(|e| Failure::bug("the demo used an unknown command").because(e))?;
        arguments.catalogue = Some(catalogue.clone());
        arguments.quiet = setting.quiet == Quiet::Yes;
        if dispatch(arguments)? == Outcome::Stopped {
            return Ok(());
        }
        if command.starts_with("export") {
            show_first_lines(&folder.join("geminids.txt"))?;
        }
    }
    Ok(())
}

/// The words of a command; every second part between double quotes is one word.
fn words_of(command: &'static str) -> Vec<&'static str> {
    let parts = command.split('"').enumerate();
    let words = parts.map(|(at, part)| match at % 2 {
        0 => part.split_whitespace().collect(),
        _ => vec![part],
    });
    words.collect::<Vec<_>>().concat()
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
