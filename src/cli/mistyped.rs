//! What to write instead of a command line that cannot be read: a query without quotes, an option that has another name.

use std::ffi::OsString;

use clap::error::ContextKind;
use clap::error::ContextValue;
use clap::error::ErrorKind;

use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;

/// Options that have another name now, and what to say of them.
const RENAMED: &[(&str, &str)] = &[
    (
        "--sqm",
        "the option is --sky-brightness MAG, in mag/arcsec²",
    ),
    ("--unsaid", "the option is --clear"),
    (
        "--date",
        "framefall showers has --on, such as --on 2026-12-14; in a query, the field is night",
    ),
];

/// The commands that take a query, and how many words of a command line come before it.
const WITH_A_QUERY: &[(&[&str], usize)] =
    &[(&["frames"], 0), (&["export"], 0), (&["query", "save"], 1)];

/// Removes the advice to pass an unknown option as a value: no value here begins with a hyphen.
pub fn without_wrong_tip(error: &mut clap::Error) {
    if error.kind() == ErrorKind::UnknownArgument {
        error.remove(ContextKind::Suggested);
    }
}

/// What is wrong and what to write instead, where that is plain.
pub fn failure(error: &clap::Error, words: &[OsString]) -> Option<Failure> {
    let unknown = match (error.kind(), error.get(ContextKind::InvalidArg)) {
        (ErrorKind::UnknownArgument, Some(ContextValue::String(unknown))) => unknown.as_str(),
        // The second word was taken for a command below the first.
        (ErrorKind::ArgumentConflict, _) if error.get(ContextKind::InvalidSubcommand).is_some() => {
            ""
        }
        _ => return None,
    };
    let renamed = RENAMED.iter().find(|(name, _)| unknown == *name);
    if let Some((name, hint)) = renamed {
        let message = format!("there is no option {name}");
        return Some(Failure::words(message).hint(*hint));
    }
    let command = with_quotes(words)?;
    let message = "a query is one word, and this one is not in quotes";
    Some(Failure::words(message).hint(format!("write {command}")))
}

/// The command with its query in quotes, if the query was typed as several words.
fn with_quotes(words: &[OsString]) -> Option<CommandLine> {
    let words: Vec<&str> = words.iter().filter_map(|word| word.to_str()).collect();
    let begins = words
        .iter()
        .skip(1)
        .position(|word| !word.starts_with('-'))?
        + 1;
    let (command, names) = WITH_A_QUERY
        .iter()
        .find(|(command, _)| words[begins..].starts_with(command))?;
    let query = begins + command.len() + names;
    let rest = words.get(query..)?;
    let is_option = |word: &&str| word.starts_with("--") || *word == "-q";
    let length = rest.iter().position(is_option).unwrap_or(rest.len());
    if length < 2 {
        return None;
    }
    let joined = rest[..length].join(" ");
    let mut typed = words[begins..query].to_vec();
    typed.push(&joined);
    typed.extend(&rest[length..]);
    Some(CommandLine::typed(typed))
}
