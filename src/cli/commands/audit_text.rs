//! What an audit's findings ask for, as text: a heading for each kind of finding, a line for each session or dump.

use std::io::Write;

use unicode_width::UnicodeWidthStr;

use crate::cli::print;
use crate::cli::print::written;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::finding::Severity;
use crate::terms::plural::plural_of;
use crate::terms::printable::printable;
use crate::usecase::audit_summary::AuditFilter;
use crate::usecase::audit_summary::Entry;
use crate::usecase::audit_summary::Kind;
use crate::usecase::audit_summary::Place;
use crate::usecase::audit_summary::Summary;
use crate::usecase::listings::sheets;

/// So many sessions or dumps of a kind are shown; of a kind that was asked for, all.
const ENTRIES_SHOWN: usize = 10;

/// Writes the summary.
pub fn write(summary: &Summary, filter: &AuditFilter, out: &mut dyn Write) -> Result<(), Failure> {
    let kinds = summary.kinds();
    if kinds.is_empty() {
        return writeln!(out, "{}", sheets::NOTHING_FOUND).map_err(written);
    }
    let is_told = |kind: &&Kind| kind.weight > Severity::Note || filter.names_kinds();
    for (at, kind) in kinds.iter().filter(is_told).enumerate() {
        let all = !filter.codes.is_empty();
        let lines = lines(kind, all, print::screen_width());
        let blank = if at > 0 { "\n" } else { "" };
        let headline = wrapped(&headline(kind), "", print::screen_width());
        let headline: Vec<String> = headline.iter().map(|line| print::headline(line)).collect();
        let text = [headline, lines].concat().join("\n");
        writeln!(out, "{blank}{text}").map_err(written)?;
    }
    let notes: Vec<&Kind> = kinds.iter().filter(|kind| !is_told(kind)).collect();
    let count: u64 = notes.iter().map(|kind| kind.findings()).sum();
    if count > 0 {
        let each: Vec<String> = notes
            .iter()
            .map(|kind| format!("{} {}", kind.code.code, kind.findings()))
            .collect();
        let blank = if notes.len() < kinds.len() { "\n" } else { "" };
        let text = format!("notes: {}", each.join(", "));
        let text = wrapped(&text, "", print::screen_width()).join("\n");
        writeln!(out, "{blank}{text}").map_err(written)?;
    }
    Ok(())
}

/// How many findings there are of each code, the heaviest first.
pub fn counts(summary: &Summary) -> Vec<String> {
    let kinds = summary.kinds();
    let each = kinds
        .iter()
        .map(|kind| format!("  {} {}", kind.findings(), headline(kind)));
    let all = format!("{} findings:", summary.findings());
    std::iter::once(all).chain(each).collect()
}

fn headline(kind: &Kind) -> String {
    let settled = if kind.weight < kind.code.severity {
        ", resolved"
    } else {
        ""
    };
    format!(
        "{}: {}: {}{settled}",
        kind.weight.word(),
        kind.code.code,
        kind.code.headline
    )
}

/// What to do about a kind, then where it was found; in columns.
fn lines(kind: &Kind, all: bool, width: Option<usize>) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(remedy) = kind.remedy {
        lines.extend(wrapped(remedy, "  ", width));
    }
    let shown = match kind.entries.len() {
        more if !all && more > ENTRIES_SHOWN => ENTRIES_SHOWN,
        few => few,
    };
    let (told, others) = kind.entries.split_at(shown);
    let units: Vec<&str> = told.iter().map(unit).collect();
    let places: Vec<String> = told.iter().map(place).collect();
    let of_count = told
        .iter()
        .map(|entry| entry.findings.to_string().len())
        .max();
    let of_unit = units.iter().map(|unit| unit.len()).max();
    let of_place = places.iter().map(|place| place.width()).max().unwrap_or(0);
    let (of_count, of_unit) = (of_count.unwrap_or(0), of_unit.unwrap_or(0));
    for ((entry, unit), place) in told.iter().zip(units).zip(places) {
        let line = format!("  {:>of_count$} {unit:of_unit$}  {place}", entry.findings);
        let Some(remedy) = &entry.remedy else {
            lines.push(line);
            continue;
        };
        let found = entry
            .found
            .as_deref()
            .map(|found| found.strip_prefix(&format!("{place}: ")).unwrap_or(found))
            .map_or_else(String::new, |found| format!("{found}; "));
        let (found, remedy) = (printable(&found), printable(remedy));
        let gap = " ".repeat(of_place - place.width() + 2);
        let whole = format!("{line}{gap}{found}{remedy}");
        if width.is_none_or(|width| whole.width() <= width) {
            lines.push(whole);
            continue;
        }
        // A command that does not fit has a line of its own, unbroken, so that it can be pasted.
        lines.push(line);
        let command = COMMANDS.iter().find_map(|start| remedy.rfind(start));
        let (words, command) = command.map_or((&*remedy, ""), |at| remedy.split_at(at));
        for words in [found.trim_end(), words.trim_end()] {
            if !words.is_empty() {
                lines.extend(wrapped(words, "    ", width));
            }
        }
        if !command.is_empty() {
            lines.push(format!("    {command}"));
        }
    }
    if let Some(other) = others.first() {
        let findings: u64 = others.iter().map(|entry| entry.findings).sum();
        let list = CommandLine::new("audit").option("--code", kind.code.code);
        let place = match other.place {
            Place::Session(_) => "session",
            Place::Dump(_) => "dump",
            Place::Catalogue => "finding",
        };
        let places = plural_of(others.len() as u64, place);
        lines.push(format!(
            "  and {findings} in {} more {places}: {list}",
            others.len()
        ));
    }
    lines
}

/// How a printed command begins.
const COMMANDS: [&str; 2] = ["framefall ", "eval \"$(printf "];

fn unit(entry: &Entry) -> &'static str {
    match (&entry.place, entry.found.is_some(), entry.findings) {
        (Place::Session(_), false, 1) => "frame",
        (Place::Session(_), false, _) => "frames",
        (Place::Dump(_), false, 1) => "file",
        (Place::Dump(_), false, _) => "files",
        (_, _, 1) => "finding",
        _ => "findings",
    }
}

fn place(entry: &Entry) -> String {
    match &entry.place {
        Place::Catalogue => "the catalogue".to_owned(),
        Place::Session(number) => format!("session {number}"),
        Place::Dump(label) => format!("dump {}", printable(label)),
    }
}

/// A text in lines of a screen's width, broken at blanks.
fn wrapped(text: &str, indent: &str, width: Option<usize>) -> Vec<String> {
    let Some(width) = width else {
        return vec![format!("{indent}{text}")];
    };
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if line.width() + 1 + word.width() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(format!("{indent}{word}")),
        }
    }
    lines
}
