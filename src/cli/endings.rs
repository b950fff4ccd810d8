//! What the ending of a file's name promises: a list that is named like a spreadsheet would be opened as one. Writes nothing.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use crate::terms::failure::Failure;

/// Endings of lists.
const LISTS: &[&str] = &["csv", "json", "jsonl", "txt", "parquet"];

/// Endings that promise what neither a list nor a report is.
const OTHERS: &[&str] = &[
    "xlsx", "xls", "ods", "pdf", "doc", "docx", "odt", "xml", "yaml", "yml", "md", "zip", "png",
    "jpg", "jpeg", "tif", "tiff",
];

const PAGES: &[&str] = &["html", "htm"];

fn ending_of(to: &Path) -> String {
    let ending = to.extension().unwrap_or_default();
    ending.to_string_lossy().to_lowercase()
}

/// Refuses a list whose name promises another form.
pub fn refuse_as_list(to: &Path) -> Result<(), Failure> {
    let ending = ending_of(to);
    if !OTHERS.iter().chain(PAGES).any(|other| ending == *other) {
        return Ok(());
    }
    Err(Failure::words(format!("a list is not written as .{ending}"),
    )
    .at_file(to)
    .hint(
        "let the name end in .csv, which spreadsheets open, or in .json, .jsonl, .txt or .parquet",
    ))
}

/// Refuses a report whose name promises another form.
pub fn refuse_as_report(to: &Path) -> Result<(), Failure> {
    let ending = ending_of(to);
    if OTHERS.iter().chain(LISTS).any(|other| ending == *other) {
        return Err(
            Failure::words(format!("a report is an HTML page, not .{ending}"))
                .at_file(to)
                .hint("let the name end in .html; a browser prints the page as PDF"),
        );
    }
    Ok(())
}

/// Refuses to replace what is not a page with a report.
pub fn refuse_to_replace_others(to: &Path) -> Result<(), Failure> {
    if to.is_file() && !is_page(to) {
        return Err(Failure::output(
            "the file there is not a report, and a report replaces nothing else",
        )
        .at_file(to)
        .hint("choose another name"));
    }
    Ok(())
}

/// Whether a file begins as a page does; an empty one may become one.
fn is_page(file: &Path) -> bool {
    const BEGINS: &[u8] = b"<!doctype html";
    let mut head = Vec::new();
    let read =
        File::open(file).and_then(|file| file.take(BEGINS.len() as u64).read_to_end(&mut head));
    read.is_ok() && (head.is_empty() || head.eq_ignore_ascii_case(BEGINS))
}
