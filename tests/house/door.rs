//! The door to dumps: which code may create, rename or link files, and that only one small room may do so in a dump.

use crate::sources::code_lines;
use crate::sources::files_under;

/// What creates a file, or gives one another name.
const CREATING: &[&str] = &[
    "File::create",
    "File::create_new",
    "OpenOptions",
    "File::options",
    "fs::write",
    "fs::copy",
    "fs::rename",
    "fs::hard_link",
    "fs::symlink",
    "unix::fs::symlink",
    "fs::create_dir",
    "tempfile::",
    "NamedTempFile",
    "persist",
    "OFlags::CREATE",
    "OFlags::WRONLY",
    "OFlags::RDWR",
    "renameat",
    "linkat",
    "mknod",
    "ficlone",
    "ioctl",
];

/// The files that may, each with its purpose: one room for files of dumps, and those that write outside every dump.
const ALLOWED: &[(&str, &str)] = &[
    (
        "src/copy/part.rs",
        "files of a dump that is copied: the door",
    ),
    ("src/copy/target.rs", "fills what the door opened"),
    (
        "src/output/",
        "lists, pages and trees of links, outside every dump",
    ),
    ("src/cli/commands/demo.rs", "a throw-away folder of its own"),
    (
        "src/catalogue/",
        "the catalogue's own file, which is refused in a dump",
    ),
];

/// Code outside tests within a file.
fn code(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let tests = text.find("#[cfg(test)]\nmod tests").unwrap_or(text.len());
    let lines = text[..tests].lines().count();
    code_lines(text).filter(move |(number, _)| *number <= lines)
}

fn creates(line: &str) -> bool {
    let line = line.replace("symlink_metadata", "");
    CREATING.iter().any(|word| line.contains(word))
}

#[test]
fn only_these_files_create_files() {
    let mut wrong = Vec::new();
    let mut used = vec![0; ALLOWED.len()];
    for (file, text) in files_under("src", ".rs") {
        if file.ends_with("_tests.rs") {
            continue;
        }
        let allowed = ALLOWED
            .iter()
            .position(|(place, _)| file.starts_with(place));
        for (number, line) in code(&text).filter(|(_, line)| creates(line)) {
            match allowed {
                Some(at) => used[at] += 1,
                None => wrong.push(format!("{file}:{number} {}", line.trim())),
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(used[0] > 0 && used[2] > 0, "{used:?}");
}

/// The room is small, and all its users go through the use case that refuses strange dumps.
#[test]
fn the_room_that_creates_files_of_dumps_is_small() {
    let mut lines = 0;
    for (file, text) in files_under("src", ".rs") {
        if file.starts_with("src/copy/") {
            lines += code(&text).count();
            continue;
        }
        for (number, line) in code(&text) {
            let names_engine =
                line.contains("copy::engine::copy_files") || line.contains("copy::prepare");
            assert!(
                !names_engine || file == "src/usecase/copy/run.rs",
                "{file}:{number} copies"
            );
        }
    }
    assert!(lines < 1_300, "{lines} lines");
    // And within the room, only the door creates and places files.
    for (file, text) in files_under("src/copy", ".rs") {
        let creating = code(&text).filter(|(_, line)| creates(line)).count();
        let may = matches!(file.as_str(), "src/copy/part.rs" | "src/copy/target.rs");
        assert!(creating == 0 || may, "{file} creates files");
    }
}

#[test]
fn a_line_that_creates_is_found() {
    assert!(creates("let file = File::create(path)?;"));
    assert!(!creates("let file = File::open(path)?;"));
    assert!(!creates("std::fs::symlink_metadata(path)"));
    assert!(creates("std::os::unix::fs::symlink(from, to)"));
}
