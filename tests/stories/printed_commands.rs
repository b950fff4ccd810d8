//! A printed command is read by a real shell as the very words that were meant, whatever text is in it; it holds nothing
//! that moves a cursor, and runs nothing else.

#![cfg(unix)]
use std::ffi::OsString;
use std::io::Write;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::ffi::OsStringExt;
use std::process::Command;
use std::process::Stdio;

use framefall::terms::command_line::CommandLine;
use framefall::terms::command_line::Shell;
use framefall::terms::printable::moves_the_cursor;
use proptest::prelude::*;

/// What a shell hands to the program for each of these lines, the program's name left out.
fn read_by(shell: &str, lines: &[String]) -> Option<Vec<Vec<OsString>>> {
    let folder = tempfile::tempdir().unwrap();
    let mut script = String::from(
        "framefall() { for word; do printf '%s\\0' \"$word\"; done; printf '\\0'; }\n",
    );
    for line in lines {
        script.push_str(line);
        script.push('\n');
    }
    let mut run = Command::new(shell)
        .arg("-s")
        .current_dir(folder.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .ok()?;
    let mut input = run.stdin.take().unwrap();
    let writer = std::thread::spawn(move || input.write_all(script.as_bytes()));
    let output = run.wait_with_output().unwrap();
    writer.join().unwrap().unwrap();
    assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{lines:#?}");
    let left = std::fs::read_dir(folder.path()).unwrap().count();
    assert_eq!(left, 0, "something ran: {lines:#?}");
    // No word here is empty but where it is meant to be, and none ends a command but the empty one after its last.
    let mut commands = Vec::new();
    let mut words = output.stdout.split(|byte| *byte == 0);
    for line in lines {
        let mut command = Vec::new();
        loop {
            let word = words
                .next()
                .unwrap_or_else(|| panic!("{shell} read nothing of {line}"));
            if word.is_empty() {
                break;
            }
            command.push(OsString::from_vec(word.to_vec()));
        }
        commands.push(command);
    }
    Some(commands)
}

/// Pieces of which shells, terminals and disks make something.
fn piece() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        Just(b"$(touch${IFS}PWN)".to_vec()),
        Just(b"`touch PWN`".to_vec()),
        Just(b"'; touch PWN; '".to_vec()),
        Just(b"\"; touch PWN; \"".to_vec()),
        Just(b"Dad's card".to_vec()),
        Just(b"\x1b[31m".to_vec()),
        Just(b"\n".to_vec()),
        Just(b"\r\n\t".to_vec()),
        Just(b"!!".to_vec()),
        Just(b"%s%n\\012\\c".to_vec()),
        Just(b"~/*?[a]{b,c}#".to_vec()),
        Just(b"-".to_vec()),
        Just(b"=".to_vec()),
        Just("\u{202e}é流 \u{a0}".as_bytes().to_vec()),
        Just(b"\xFF\xC3".to_vec()),
        prop::collection::vec(1_u8.., 1..6),
        "[ -~]{1,6}".prop_map(String::into_bytes),
        "\\PC{1,4}".prop_map(String::into_bytes),
    ]
}

fn text() -> impl Strategy<Value = OsString> {
    prop::collection::vec(piece(), 1..5).prop_map(|pieces| {
        let mut bytes = pieces.concat();
        bytes.retain(|byte| *byte != 0);
        bytes.push(b'x');
        // A line feed at the end is a separate case.
        if bytes.contains(&b'\n') {
            bytes.push(b'\n');
        }
        OsString::from_vec(bytes)
    })
}

fn command() -> impl Strategy<Value = CommandLine> {
    (
        prop::collection::vec(text(), 0..3),
        prop::option::of(text()),
        any::<bool>(),
    )
        .prop_map(|(arguments, value, flag)| {
            let mut line = CommandLine::new("dump move");
            for argument in arguments {
                line = line.argument(argument);
            }
            if let Some(value) = value {
                line = line.option("--read", value);
            }
            if flag { line.flag("--mostly") } else { line }
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn a_shell_reads_a_printed_command_as_the_words_that_were_meant(
        commands in prop::collection::vec(command(), 20),
    ) {
        let lines: Vec<String> = commands.iter().map(|c| c.for_shell(Shell::Posix)).collect();
        for line in &lines {
            prop_assert!(!line.chars().any(moves_the_cursor), "{:?}", line);
        }
        let meant: Vec<Vec<OsString>> = commands
            .iter()
            .map(|c| c.words().unwrap().split_off(1))
            .collect();
        let mut shells = 0;
        for shell in ["sh", "bash", "dash", "zsh", "ksh"] {
            if let Some(read) = read_by(shell, &lines) {
                shells += 1;
                for ((read, meant), line) in read.iter().zip(&meant).zip(&lines) {
                    prop_assert_eq!(read, meant, "{} of {}", shell, line);
                }
            }
        }
        prop_assert!(shells > 0, "there is no shell here");
    }
}

#[test]
fn no_text_of_windows_leaves_its_quotes() {
    let risky = "a\" & calc & \"$(calc)`calc`%PATH%\u{201c}; calc\n'";
    let line = CommandLine::new("ingest")
        .argument(risky)
        .for_shell(Shell::Windows);
    let inside = line
        .strip_prefix("framefall ingest \"")
        .and_then(|rest| rest.strip_suffix('"'))
        .unwrap();
    assert!(
        !inside.contains('"') && !inside.as_bytes().contains(&b'\n'),
        "{line}"
    );
    assert!(OsString::from(risky).as_bytes().contains(&b'"'));
}
