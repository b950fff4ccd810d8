//! Rows as CSV: RFC 4180, a heading of keys, an empty cell for an unknown value.
//!
//! If a spreadsheet would treat a text, or a part of it, as a formula, an apostrophe is put before it. Numbers,
//! moments, words of the vocabulary and offsets such as `+01:00` are ours and are not changed.

use std::io;
use std::io::Write;

use crate::framelist::cell;
use crate::framelist::keys::Column;
use crate::terms::field_kind::FieldKind;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;

/// A row as text.
#[derive(Default)]
struct Line {
    text: String,
    /// Where each cell ends, with the comma before it.
    ends: Vec<usize>,
    /// The row's number among those in its buffer.
    number: u64,
}

impl Line {
    /// A cell, with the comma before it.
    fn cell(&self, at: usize) -> Option<&str> {
        let from = at
            .checked_sub(1)
            .map_or(Some(0), |at| self.ends.get(at).copied())?;
        self.text.get(from..*self.ends.get(at)?)
    }
}

/// Writes rows as CSV.
pub(super) struct CsvWriter<W: Write> {
    columns: Vec<Column>,
    out: W,
    begun: bool,
    line: Line,
    /// The row before.
    before: Line,
    /// A text with its apostrophes.
    harmless: String,
}

impl<W: Write> CsvWriter<W> {
    pub fn new(columns: Vec<Column>, out: W) -> Self {
        Self {
            columns,
            out,
            begun: false,
            line: Line::default(),
            before: Line::default(),
            harmless: String::new(),
        }
    }

    /// Continues a list whose first rows were written by another writer.
    pub const fn go_on(&mut self) {
        self.begun = true;
    }

    fn begin(&mut self) -> io::Result<()> {
        if self.begun {
            return Ok(());
        }
        self.begun = true;
        for (at, column) in self.columns.iter().enumerate() {
            self.line.text.push_str(if at > 0 { "," } else { "" });
            push_quoted(&mut self.line.text, &column.key);
        }
        self.end_line()
    }

    pub fn row(&mut self, row: &FrameRow) -> io::Result<()> {
        self.begin()?;
        let Line {
            text: line,
            ends,
            number,
        } = &mut self.line;
        *number = row.since.number;
        // `since` compares this row with the previous one.
        let goes_on = self.before.number > 0 && *number == self.before.number + 1;
        let cells = row.cells.iter().chain(std::iter::repeat(&Cell::Unknown));
        for (at, (column, cell)) in self.columns.iter().zip(cells).enumerate() {
            if goes_on
                && row.since.same.get(at) == Some(&true)
                && let Some(same) = self.before.cell(at)
            {
                line.push_str(same);
                ends.push(line.len());
                continue;
            }
            line.push_str(if at > 0 { "," } else { "" });
            match cell {
                Cell::Unknown => {}
                Cell::Whole(number) => cell::write_shifted(*number, 0, line),
                Cell::Number(number) => {
                    cell::write_kept(*number, column.field(), line);
                }
                Cell::Text(text) if is_plain(text) => line.push_str(text),
                Cell::Text(text) if matches!(column.field().kind, FieldKind::Text) => {
                    self.harmless.clear();
                    push_harmless(&mut self.harmless, text);
                    push_quoted(line, &self.harmless);
                }
                Cell::Text(text) => push_quoted(line, text),
            }
            ends.push(line.len());
        }
        self.end_line()
    }

    fn end_line(&mut self) -> io::Result<()> {
        let line = &mut self.line.text;
        // An empty line is not a row.
        line.push_str(if line.is_empty() { "\"\"\r\n" } else { "\r\n" });
        let written = self.out.write_all(line.as_bytes());
        std::mem::swap(&mut self.line, &mut self.before);
        self.line.text.clear();
        self.line.ends.clear();
        written
    }

    /// The writer underneath, without ending the list.
    pub fn pause(mut self) -> io::Result<W> {
        self.out.flush()?;
        Ok(self.out)
    }

    pub fn finish(mut self) -> io::Result<W> {
        self.begin()?;
        self.pause()
    }
}

/// Whether a text is written unchanged: it needs no quotes, and no spreadsheet treats it, or a part of it, as a
/// formula. May answer `false` for some plain texts.
fn is_plain(text: &str) -> bool {
    const ANYWHERE: u8 = 1;
    const AT_FRONT: u8 = 2;
    const STANDS_OUT: [u8; 256] = {
        let mut table = [0; 256];
        let mut at = 0;
        while at < b";,\t\r\n|\"".len() {
            table[b";,\t\r\n|\""[at] as usize] = ANYWHERE | AT_FRONT;
            at += 1;
        }
        // The last is the first byte of the full-width signs; after a space any may come.
        let mut at = 0;
        while at < b" =+-@\xEF".len() {
            table[b" =+-@\xEF"[at] as usize] = AT_FRONT;
            at += 1;
        }
        table
    };
    let of = |byte: &u8| STANDS_OUT[usize::from(*byte)];
    let bytes = text.as_bytes();
    bytes.first().is_none_or(|first| of(first) & AT_FRONT == 0)
        && bytes.iter().fold(0, |all, byte| all | of(byte)) & ANYWHERE == 0
}

/// Writes a text, in quotes if RFC 4180 requires them.
fn push_quoted(line: &mut String, text: &str) {
    if !text.contains(['"', ',', '\r', '\n']) {
        line.push_str(text);
        return;
    }
    line.push('"');
    for (at, part) in text.split('"').enumerate() {
        line.push_str(if at > 0 { "\"\"" } else { "" });
        line.push_str(part);
    }
    line.push('"');
}

/// Signs that make a text a formula if a cell begins with them. Source: common practice, no standard; the full-width
/// signs count where the keyboard writes them.
const BEGIN_FORMULAS: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];
/// Signs after which a spreadsheet may begin another cell, whatever the standard says: where the decimal sign is a
/// comma, cells are separated by semicolons, and quotes in the middle of a cell protect nothing.
const BEGIN_CELLS: [char; 6] = [';', ',', '\t', '\r', '\n', '|'];

/// Writes a text with an apostrophe before each sign with which a spreadsheet could treat it, or a part of it, as a
/// formula.
fn push_harmless(field: &mut String, text: &str) {
    if is_offset(text) || !text.contains(BEGIN_FORMULAS) {
        field.push_str(text);
        return;
    }
    // Some skip spaces at the front of a cell.
    let blanks = text.len() - text.trim_start_matches(' ').len();
    field.push_str(&text[..blanks]);
    let mut begins = true;
    for sign in text[blanks..].chars() {
        if begins && BEGIN_FORMULAS.contains(&sign) && !(sign == '\n' && field.ends_with('\r')) {
            field.push('\'');
        }
        field.push(sign);
        // A quote at the beginning of a cell is not part of its text.
        begins = BEGIN_CELLS.contains(&sign) || (begins && sign == '"');
    }
}

/// `+01:00`
fn is_offset(text: &str) -> bool {
    let bytes = text.as_bytes();
    bytes.len() == 6
        && bytes[3] == b':'
        && [1, 2, 4, 5].iter().all(|&at| bytes[at].is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::column::ColumnSource;
    use crate::terms::field::FIELDS;
    use crate::terms::field::Field;
    use crate::terms::records::Since;

    fn row_of(fields: &[&'static Field], texts: &[String]) -> String {
        let columns = fields.iter().map(|f| Column::of(ColumnSource::Frame(f)));
        let mut writer = CsvWriter::new(columns.collect(), Vec::new());
        writer.go_on();
        let cells = texts.iter().map(|text| Cell::Text(text.clone())).collect();
        let row = FrameRow {
            cells,
            ..FrameRow::default()
        };
        writer.row(&row).unwrap();
        String::from_utf8(writer.finish().unwrap()).unwrap()
    }

    proptest::proptest! {
        /// Rows of one buffer, of which some are skipped and some have no information about their cells.
        #[test]
        fn cells_that_stay_what_they_were_are_written_as_any(
            rows in proptest::collection::vec(("[a,\"=]{0,2}", -1_i64..2, 0_u8..3, 0_u8..4), 1..40),
        ) {
            let columns = || ["camera", "session", "iso"].map(|key| {
                Column::of(ColumnSource::Frame(FIELDS.iter().find(|f| f.key == key).unwrap()))
            });
            let (mut told, mut untold) = (
                CsvWriter::new(columns().to_vec(), Vec::new()),
                CsvWriter::new(columns().to_vec(), Vec::new()),
            );
            let mut row = FrameRow::default();
            for (camera, session, iso, fate) in rows {
                let number = if fate == 0 { 0 } else { row.since.number + 1 };
                let cells = vec![
                    Cell::Text(camera),
                    if session < 0 { Cell::Unknown } else { Cell::Whole(session) },
                    Cell::Number(f64::from(iso)),
                ];
                let pairs = cells.iter().zip(&row.cells);
                let same = pairs.map(|(one, other)| number > 1 && one == other).collect();
                row = FrameRow { cells, since: Since { number, same }, ..FrameRow::default() };
                if fate != 1 {
                    told.row(&row).unwrap();
                    untold.row(&FrameRow { since: Since::default(), ..row.clone() }).unwrap();
                }
            }
            proptest::prop_assert_eq!(told.finish().unwrap(), untold.finish().unwrap());
        }

        /// Words need no protection: they are as another writer of the standard has them.
        #[test]
        fn words_stand_in_a_row_as_a_library_writes_them(
            texts in proptest::collection::vec("[a-z\",;\r\n =+@|-]{0,6}|\\PC{0,6}", 1..5),
        ) {
            let words = FIELDS.iter().find(|f| matches!(f.kind, FieldKind::Words(_))).unwrap();
            let mut library = csv::WriterBuilder::new()
                .terminator(csv::Terminator::CRLF)
                .from_writer(Vec::new());
            library.write_record(&texts).unwrap();
            let expect = String::from_utf8(library.into_inner().unwrap()).unwrap();
            proptest::prop_assert_eq!(row_of(&vec![words; texts.len()], &texts), expect);
        }

        /// Every text treated as plain is one that the careful path leaves unchanged.
        #[test]
        fn a_plain_text_needs_no_care(text in "[a-z\",;\t\r\n =+@|＝＋－＠-]{0,8}|\\PC{0,8}") {
            if is_plain(&text) {
                let (mut harmless, mut quoted) = (String::new(), String::new());
                push_harmless(&mut harmless, &text);
                push_quoted(&mut quoted, &harmless);
                proptest::prop_assert_eq!(quoted, text);
            }
        }
    }
}
