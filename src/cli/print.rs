//! The only printing: answers to standard output, everything else to standard error. Control characters from files are
//! escaped, never sent to the terminal.

use std::error::Error;
use std::fmt::Write as _;
use std::io;
use std::io::IsTerminal;
use std::io::Write;
use std::path::Path;

use anstyle::AnsiColor;
use anstyle::Style;
use unicode_width::UnicodeWidthStr;

use crate::catalogue::audit_row::AuditRow;
use crate::cli::screen::Screen;
use crate::framelist::Column;
use crate::framelist::Format;
use crate::framelist::SheetWriter;
use crate::framelist::is_closed_pipe;
use crate::framelist::write_sheet;
use crate::output::write_error::with_disk_hint;
use crate::terms::column::ColumnSource;
use crate::terms::failure::At;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::SHOWN_AS_KEPT;
use crate::terms::field_kind::FieldKind;
use crate::terms::finding::Finding;
use crate::terms::finding::finding_code;
use crate::terms::printable::printable;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;

/// Whether to suppress everything except answers and errors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quiet {
    /// Suppress it.
    Yes,
    /// Print it.
    No,
}

const HEADLINE: Style = Style::new().bold();
const WRONG: Style = AnsiColor::Red.on_default().bold();
const CURE: Style = AnsiColor::Cyan.on_default();

/// How much of a long query is shown on either side of the marked place.
const SHOWN_AROUND: usize = 50;

/// Sets whether colours may be used; called once, before anything is printed.
pub fn choose_colours(no_colour: bool) {
    if no_colour {
        anstream::ColorChoice::Never.write_global();
    }
}

/// Whether an answer was read to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heard {
    /// It was.
    Whole,
    /// The reader went away before, as `head` does.
    InPart,
}

/// Writes an answer to standard output, byte for byte. A reader that went away ends it quietly.
pub fn answer(write: impl FnOnce(&mut dyn Write) -> Result<(), Failure>) -> Result<Heard, Failure> {
    let mut out = io::BufWriter::with_capacity(1 << 16, io::stdout().lock());
    let written = write(&mut out).and_then(|()| out.flush().map_err(written));
    match written {
        Ok(()) => Ok(Heard::Whole),
        Err(failure) if is_closed_pipe(&failure) => {
            // The rest of the buffer has nowhere to go.
            let _ = out.into_parts();
            Ok(Heard::InPart)
        }
        Err(failure) => Err(with_disk_hint("answer", None, failure)),
    }
}

/// Writes a list to standard output: byte for byte into a pipe or a file; on a terminal control characters are escaped,
/// with a note.
pub fn list(write: impl FnOnce(&mut dyn Write) -> Result<(), Failure>) -> Result<Heard, Failure> {
    if !io::stdout().is_terminal() {
        return answer(write);
    }
    let mut escaped = false;
    let heard = answer(|out| {
        let mut screen = Screen::new(out);
        let done = write(&mut screen);
        let finished = screen.finish().map_err(written);
        escaped = screen.escaped;
        done.and(finished)
    })?;
    if escaped {
        warn("control characters are escaped on the screen; a pipe or a file gets them unchanged");
    }
    Ok(heard)
}

/// An error of writing an answer.
pub fn written(error: io::Error) -> Failure {
    Failure::output("the answer could not be written").because(error)
}

/// The width of the screen, if standard output is one.
pub fn screen_width() -> Option<usize> {
    if !io::stdout().is_terminal() {
        return None;
    }
    let columns = std::env::var("COLUMNS").ok().and_then(|said| width(&said));
    columns.or_else(|| terminal_size::terminal_size().map(|(width, _)| usize::from(width.0)))
}

/// The width given as a text; shells without a screen report 0, which means none.
fn width(said: &str) -> Option<usize> {
    said.parse().ok().filter(|columns| *columns > 0)
}

/// A line to standard error.
pub fn warn(line: &str) {
    // If standard error is closed too, the failure cannot be reported.
    let _ = writeln!(anstream::stderr(), "{line}");
}

/// A path as it is printed.
pub fn path(path: &Path) -> String {
    printable(&path.to_string_lossy()).into_owned()
}

/// A small table of labels and values.
pub fn pairs(out: &mut dyn Write, lines: &[(String, String)]) -> Result<(), Failure> {
    let width = lines
        .iter()
        .map(|(label, _)| label.width())
        .max()
        .unwrap_or(0);
    for (label, value) in lines {
        let gap = " ".repeat(width - label.width());
        writeln!(out, "{label}{gap}  {value}").map_err(written)?;
    }
    Ok(())
}

/// Labels and values, to be printed as a small table.
#[derive(Debug, Default)]
pub struct Lines(pub Vec<(String, String)>);

impl Lines {
    /// Adds a line.
    #[allow(clippy::needless_pass_by_value)] // callers hand over what they have just made
    pub fn put(&mut self, label: impl Into<String>, value: impl ToString) -> &mut Self {
        self.0.push((label.into(), value.to_string()));
        self
    }

    /// Adds a count, unless it is 0.
    pub fn some(&mut self, label: impl Into<String>, count: u64) -> &mut Self {
        if count > 0 {
            self.put(label, count);
        }
        self
    }

    /// Prints the lines to standard output.
    pub fn print(&self) -> Result<(), Failure> {
        answer(|out| pairs(out, &self.0)).map(|_| ())
    }
}

/// The known values of a sheet's first row beside their headings.
pub fn labelled(sheet: &Sheet) -> Vec<(String, String)> {
    let cells = sheet.rows.first().into_iter().flatten();
    sheet
        .columns
        .iter()
        .zip(cells)
        .filter_map(|(field, cell)| {
            let unit = match field.kind {
                FieldKind::Number(unit) | FieldKind::Whole(unit) => unit.sign(),
                _ => "",
            };
            let value = match cell {
                Cell::Unknown => return None,
                Cell::Text(text) => printable(text).into_owned(),
                Cell::Whole(whole) => format!("{whole}{unit}"),
                Cell::Number(number) if field.decimals_shown == SHOWN_AS_KEPT => {
                    format!("{number}{unit}")
                }
                Cell::Number(number) => {
                    format!("{number:.*}{unit}", usize::from(field.decimals_shown))
                }
            };
            Some((field.name.to_owned(), value))
        })
        .collect()
}

/// Prints a sheet in the requested form.
pub fn sheet(sheet: Sheet, form: Format) -> Result<Heard, Failure> {
    rows(columns_of(sheet.columns), sheet.when_empty, form, |put| {
        sheet.rows.into_iter().try_for_each(put)
    })
}

/// The columns of a sheet.
pub fn columns_of(columns: &'static [Field]) -> Vec<Column> {
    let sources = columns.iter().map(ColumnSource::Frame);
    sources.map(Column::of).collect()
}

/// Prints rows as they come, in the requested format.
///
/// Takes: the columns; the text for a table without rows; `write`, which passes each row on.
pub fn rows(
    columns: Vec<Column>,
    when_empty: &'static str,
    format: Format,
    write: impl FnOnce(&mut dyn FnMut(Vec<Cell>) -> Result<(), Failure>) -> Result<(), Failure>,
) -> Result<Heard, Failure> {
    let mut left_out = Vec::new();
    let heard = list(|out| {
        let mut sheet = SheetWriter::of(columns, when_empty, format, screen_width(), out);
        write(&mut |row| sheet.row(row))?;
        left_out = sheet.finish()?;
        Ok(())
    })?;
    too_narrow(&left_out);
    Ok(heard)
}

/// Prints a sheet as a table of its own width, whatever the screen's.
pub fn uncut_sheet(sheet: Sheet) -> Result<Heard, Failure> {
    list(|out| write_sheet(sheet, Format::Table, None, out).map(|_| ()))
}

/// Reports the columns for which the screen was too narrow.
pub fn too_narrow(left_out: &[String]) {
    if !left_out.is_empty() {
        warn(&format!(
            "the screen is too narrow for: {}; --as csv has every column",
            left_out.join(", ")
        ));
    }
}

/// A heading of an answer, emphasised if standard output shows colours.
pub fn headline(text: &str) -> String {
    if anstream::AutoStream::choice(&io::stdout()) == anstream::ColorChoice::Never {
        text.to_owned()
    } else {
        format!("{HEADLINE}{text}{HEADLINE:#}")
    }
}

/// Prints why a command cannot go on, and what to do.
pub fn failure(failure: &Failure) {
    warn(&failure_text(failure));
}

/// Why a command cannot go on, in words.
pub fn failure_text(failure: &Failure) -> String {
    let mut text = format!("{WRONG}framefall:{WRONG:#} {}", printable(&failure.message));
    match &failure.at {
        At::Nowhere => {}
        At::File(path) => {
            let _ = write!(text, "\n  {}", printable(&path.to_string_lossy()));
        }
        At::Query { text: query, span } => {
            let (shown, mark) = underlined(query, span.start, span.end);
            let _ = write!(text, "\n  {shown}\n  {WRONG}{mark}{WRONG:#}");
        }
    }
    let mut source = failure.source();
    while let Some(cause) = source {
        let _ = write!(text, "\n  because: {}", printable(&cause.to_string()));
        source = cause.source();
    }
    if let Some(hint) = &failure.hint {
        let _ = write!(text, "\n  {CURE}{}{CURE:#}", printable(hint));
    }
    text
}

/// The line of the query with the marked place, and a line of marks under it.
fn underlined(query: &str, start: usize, end: usize) -> (String, String) {
    let start = floor(query, start);
    let end = floor(query, end.max(start));
    let line_start = query[..start].rfind('\n').map_or(0, |i| i + 1);
    let line_end = query[start..].find('\n').map_or(query.len(), |i| start + i);
    let from = floor(query, line_start.max(start.saturating_sub(SHOWN_AROUND)));
    let until = floor(
        query,
        line_end.min(end.saturating_add(SHOWN_AROUND)).max(start),
    );
    let before = printable(&query[from..start]).into_owned();
    let (begins, goes_on) = shortened(&query[start..end.min(until).max(start)]);
    let meant = format!("{}{goes_on}", printable(begins));
    let after = match goes_on {
        "" => printable(&query[end.min(until).max(start)..until]).into_owned(),
        _ => String::new(),
    };
    let lead = if from > line_start { "… " } else { "" };
    let tail = if until < line_end { " …" } else { "" };
    let mark = format!(
        "{}{}",
        " ".repeat(lead.width() + before.width()),
        "^".repeat(meant.width().max(1))
    );
    (format!("{lead}{before}{meant}{after}{tail}"), mark)
}

/// The beginning of a marked place that is longer than a line, and the sign that it continues.
fn shortened(meant: &str) -> (&str, &'static str) {
    const LONGEST: usize = 40;
    match meant.char_indices().nth(LONGEST) {
        Some((cut, _)) => (&meant[..cut], "…"),
        None => (meant, ""),
    }
}

/// The nearest character border at or before a byte.
fn floor(text: &str, byte: usize) -> usize {
    let mut at = byte.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// One finding about one file: what was found. The remedy is printed once for all files, by [`cure_text`].
pub fn finding_text(path: &str, finding: &Finding) -> String {
    let severity = finding_code(finding.code).map_or("note", |row| row.severity.word());
    format!(
        "{HEADLINE}{severity}: {}{HEADLINE:#}  {}\n  {}",
        finding.code,
        printable(path),
        printable(&finding.saw)
    )
}

/// A clock in doubt: what was found, and how to correct it.
pub fn doubt_text(row: &AuditRow) -> String {
    let severity = finding_code(&row.code).map_or("note", |code| code.severity.word());
    format!(
        "{HEADLINE}{severity}: {}{HEADLINE:#}  {}\n  {}\n  {CURE}{}{CURE:#}",
        row.code,
        printable(&row.path),
        printable(&row.saw),
        printable(row.remedy.as_deref().unwrap_or_default())
    )
}

/// What to do about the findings of one code.
pub fn cure_text(code: &str, files: u64) -> Option<String> {
    let row = finding_code(code)?;
    (row.cure != "nothing").then(|| format!("{code} ({files}): {}", row.cure))
}

/// Prints what to do about the findings of one code.
pub fn cure(code: &str, files: u64) {
    if let Some(cure) = cure_text(code, files) {
        warn(&cure);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mark_stands_under_the_place_meant() {
        let (shown, mark) = underlined("流.alt > 30", 0, "流.alt".len());
        assert_eq!(shown, "流.alt > 30");
        assert_eq!(mark, "^^^^^^");
        let (_, mark) = underlined("GEM.alt >", 9, 9);
        assert_eq!(mark, "         ^");
        let long = format!("{} and x > 1", "iso > 1 and ".repeat(100));
        let at = long.len() - 5;
        let (shown, mark) = underlined(&long, at, at + 1);
        assert!(shown.width() < 120);
        assert_eq!(shown.chars().nth(mark.chars().count() - 1), Some('x'));
        let (shown, mark) = underlined(&long, 0, long.len());
        assert!(shown.width() < 120, "{shown}");
        assert!(mark.width() < 120, "{mark}");
        let (shown, _) = underlined("iso > 1\nand q = 1", 12, 13);
        assert_eq!(shown, "and q = 1");
    }

    #[test]
    fn a_screen_of_no_columns_is_one_of_unknown_width() {
        assert_eq!(width("80"), Some(80));
        for unknown in ["0", "", "-1", "wide"] {
            assert_eq!(width(unknown), None, "{unknown}");
        }
    }
}
