//! The project's rules, as tests: which module may use which, where outside crates belong, what must be documented where.

use crate::literals;
use crate::sources::code_lines;
use crate::sources::files_under;

/// The rooms, and which others each may know besides itself. Use cases see all; the command line sees the
/// use cases, the catalogue it opens, and the lists it prints.
const ROOMS: &[(&str, &[&str])] = &[
    ("terms", &[]),
    ("capture", &["terms"]),
    ("clock", &["terms"]),
    ("site", &["terms"]),
    ("session", &["terms"]),
    ("sky", &["terms"]),
    ("picture", &["terms"]),
    ("trails", &["terms"]),
    ("pointing", &["terms"]),
    ("catalogue", &["terms", "query"]),
    ("query", &["terms"]),
    ("framelist", &["terms"]),
    ("calibration", &["terms"]),
    ("linktree", &["terms"]),
    // Opens files of cards as the readers do, without changing access times.
    ("copy", &["terms", "capture"]),
    ("report", &["terms"]),
    // A tree lists its links in its record, and copies files of dumps as they are read.
    ("output", &["terms", "capture", "catalogue", "framelist"]),
    ("placing", &["terms", "clock", "site", "session"]),
    (
        "usecase",
        &[
            "terms",
            "capture",
            "clock",
            "site",
            "session",
            "sky",
            "picture",
            "trails",
            "pointing",
            "placing",
            "catalogue",
            "query",
            "framelist",
            "calibration",
            "linktree",
            "copy",
            "report",
            "output",
        ],
    ),
    ("web", &["terms", "usecase", "catalogue"]),
    (
        "cli",
        &[
            "terms",
            "usecase",
            "web",
            "catalogue",
            "framelist",
            "output",
            "query",
        ],
    ),
];

/// Outside things, and the only places that may name them.
const OUTSIDE: &[(&str, &[&str])] = &[
    ("rusqlite", &["src/catalogue/"]),
    ("exif::", &["src/capture/tags.rs"]),
    ("quick_xml", &["src/capture/track.rs"]),
    (
        "jiff",
        &["src/terms/time.rs", "src/terms/local.rs", "src/clock/"],
    ),
    (
        "serde_json",
        &["src/framelist/", "src/web/json.rs", "src/web/actions.rs"],
    ),
    ("axum", &["src/web/"]),
    ("tokio", &["src/web/"]),
    ("futures_util", &["src/web/"]),
    ("open::that", &["src/cli/commands/look.rs"]),
    ("itoa::", &["src/framelist/cell.rs"]),
    ("serde_core", &["src/framelist/manifest_read.rs"]),
    ("parquet::", &["src/framelist/dataset/"]),
    ("csv::", &["src/sky/"]),
    ("sofars", &["src/sky/"]),
    ("tzf_rs", &["src/site/zone_lookup.rs"]),
    (
        "blake3::",
        &["src/capture/", "src/copy/", "src/framelist/hashed.rs"],
    ),
    ("sha2::", &["src/copy/"]),
    ("jpeg_decoder", &["src/capture/picture.rs"]),
    (
        "zune_jpeg",
        &["src/capture/picture.rs", "src/capture/preview.rs"],
    ),
    (
        "jpeg_encoder",
        &["src/report/pictures.rs", "src/report/trail_picture.rs"],
    ),
    ("clap", &["src/cli/"]),
    ("indicatif", &["src/cli/"]),
    ("ctrlc", &["src/cli/"]),
    ("anstream", &["src/cli/"]),
    (
        "tempfile",
        &["src/cli/commands/demo.rs", "src/copy/", "src/output/"],
    ),
    ("walkdir", &["src/output/"]),
    ("println!", &["src/cli/print.rs"]),
    ("std::env", &["src/cli/"]),
    ("SystemTime::now", &["src/cli/"]),
    (
        "std::fs",
        &[
            "src/capture/",
            "src/catalogue/handle.rs",
            "src/catalogue/lock.rs",
            "src/catalogue/logs.rs",
            "src/catalogue/make.rs",
            "src/catalogue/open.rs",
            "src/catalogue/upgrade.rs",
            "src/catalogue/within.rs",
            "src/cli/",
            "src/copy/",
            "src/output/",
            // Names the type of an open file; opens none itself.
            "src/usecase/dataset/export.rs",
        ],
    ),
    (
        "std::thread",
        &[
            // These three only wait.
            "src/catalogue/lock.rs",
            "src/catalogue/logs.rs",
            "src/catalogue/upgrade.rs",
            "src/usecase/ingest/read_dumps.rs",
            "src/usecase/parallel.rs",
            // Waits; starts none.
            "src/capture/shortage.rs",
            "src/cli/",
            "src/copy/",
            "src/output/",
        ],
    ),
];

/// Long enough for one purpose, short enough to read at one sitting.
const LONGEST_FILE: usize = 400;

#[test]
fn rooms_open_no_doors_to_each_other() {
    let mut wrong = Vec::new();
    for (file, text) in files_under("src", ".rs") {
        let Some(room) = file
            .strip_prefix("src/")
            .and_then(|f| f.split_once('/'))
            .map(|(room, _)| room)
        else {
            continue;
        };
        let allowed = ROOMS
            .iter()
            .find(|(name, _)| *name == room)
            .unwrap_or_else(|| panic!("{file} lies in a room that the house does not have"))
            .1;
        for (number, line) in code_lines(&text) {
            let mut rest = line;
            while let Some(at) = rest.find("crate::") {
                rest = &rest[at + "crate::".len()..];
                let other: String = rest
                    .chars()
                    .take_while(|c| c.is_alphanumeric() || *c == '_')
                    .collect();
                if other != room && !allowed.contains(&other.as_str()) {
                    wrong.push(format!("{file}:{number} knows {other}"));
                }
            }
            if line.starts_with("use crate::") && line.contains('{') {
                wrong.push(format!(
                    "{file}:{number} names more than one thing in a line"
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn outside_things_stay_where_they_belong() {
    let mut wrong = Vec::new();
    for (file, text) in files_under("src", ".rs") {
        if file.ends_with("_tests.rs") {
            continue;
        }
        for (number, line) in code_lines(&text) {
            for (thing, places) in OUTSIDE {
                let named = line.match_indices(thing).any(|(at, _)| {
                    // A whole word: not the end of a longer name.
                    // And not a file of our own that has the same name.
                    !line[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_')
                        && !line[..at].ends_with("crate::framelist::")
                });
                if named && !places.iter().any(|place| file.starts_with(place)) {
                    wrong.push(format!("{file}:{number} names {thing}"));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Every command that opens the catalogue shows the messages of an upgrade.
#[test]
fn commands_open_the_catalogue_in_one_place() {
    let mut wrong = Vec::new();
    for (file, text) in files_under("src/cli", ".rs") {
        for (number, line) in code_lines(&text) {
            if line.contains("Catalogue::open") && file != "src/cli/setting.rs" {
                wrong.push(format!("{file}:{number}: setting.open tells of an upgrade"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// All text of a page goes through the one function that escapes it.
#[test]
fn only_one_file_writes_a_tag() {
    let mut wrong = Vec::new();
    for (file, text) in files_under("src/report", ".rs") {
        if file == "src/report/html.rs" {
            continue;
        }
        for (number, line) in code_lines(&text) {
            let in_quotes = line.split('"').skip(1).step_by(2);
            if in_quotes.into_iter().any(|text| text.contains('<')) || line.contains("'<'") {
                wrong.push(format!("{file}:{number} {line}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_file_says_what_it_is_for_and_keeps_short() {
    let mut wrong = Vec::new();
    for (file, text) in files_under("src", ".rs") {
        if !file.ends_with("_tests.rs") && !text.starts_with("//!") {
            wrong.push(format!("{file} does not open with its purpose"));
        }
        let lines = text.lines().count();
        if lines > LONGEST_FILE {
            wrong.push(format!("{file} has {lines} lines"));
        }
    }
    for (file, text) in files_under("tests", ".rs") {
        if text.lines().count() > LONGEST_FILE {
            wrong.push(format!("{file} has {} lines", text.lines().count()));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// A command with a value in it is quoted for the shell by the one type that builds commands.
#[test]
fn only_one_file_builds_a_printed_command() {
    const COMMANDS: &[&str] = &[
        "audit", "clock", "copy", "demo", "dump", "examine", "export", "frames", "ingest",
        "pointing", "query", "report", "sessions", "showers", "site",
    ];
    let has_value = |text: &str| text.replace("{{", "").contains('{');
    let mut wrong = Vec::new();
    for (file, text) in files_under("src", ".rs") {
        if file == "src/terms/command_line.rs" || file.ends_with("_tests.rs") {
            continue;
        }
        let code: String = code_lines(&text)
            .map(|(_, line)| line.to_owned() + "\n")
            .collect();
        for literal in literals::of(&code) {
            let built = literal.split("framefall ").skip(1).any(|after| {
                let is_command = COMMANDS.iter().any(|c| after.starts_with(c));
                after.starts_with('{') || (is_command && has_value(after))
            });
            let option = literal.split(" --").skip(1).any(|after| {
                let value = after.trim_start_matches(|c: char| c.is_ascii_lowercase() || c == '-');
                let value = value.trim_start_matches([' ', '=', '\'', '"', '\\']);
                value.starts_with('{') && !value.starts_with("{{")
            });
            if built || option {
                wrong.push(format!("{file}: {literal}"));
            }
        }
    }
    assert!(wrong.is_empty(), "use terms::command_line: {wrong:#?}");
}

#[test]
fn every_number_of_the_sky_names_its_source() {
    let mut wrong = Vec::new();
    for (file, text) in files_under("src/sky", ".rs") {
        let lines: Vec<&str> = text.lines().collect();
        for (number, line) in code_lines(&text) {
            let line = line.trim_start();
            let is_number = !line.contains("const fn ")
                && (line.starts_with("const ")
                    || line.starts_with("pub const ")
                    || line.starts_with("pub(super) const "))
                && line.contains("f64");
            if !is_number {
                continue;
            }
            let told = lines[..number - 1]
                .iter()
                .rev()
                .take_while(|above| {
                    above.trim_start().starts_with("///") || above.trim_start().starts_with("#[")
                })
                .any(|above| above.contains("Source:"));
            if !told {
                wrong.push(format!("{file}:{number} {line}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
