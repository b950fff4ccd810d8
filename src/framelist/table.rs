//! Rows as a table for the screen: a heading, a line of units, numbers to the right.
//!
//! The first rows are held back to measure the columns; after that rows are written as they come. A table fits the
//! terminal's width: the least needed columns are left out, long texts are cut. Without a width nothing is ever cut.

use std::io;
use std::io::Write;

use unicode_width::UnicodeWidthChar;
use unicode_width::UnicodeWidthStr;

use crate::framelist::cell;
use crate::framelist::keys::Column;
use crate::framelist::table_times::Times;
use crate::terms::field_kind::FieldKind;
use crate::terms::printable::printable;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;

/// Rows held back to measure the columns.
const MEASURED: usize = 500;
/// Spaces between two columns.
const GAP: usize = 2;
/// Columns of this rank or lower are kept before texts are cut hard.
const NEEDED: u8 = 3;

/// How far texts are cut.
#[derive(Clone, Copy)]
enum Cut {
    /// As long as they are easy to tell apart.
    Easy,
    /// As far as they must.
    Hard,
}

/// Writes rows as a table.
pub(super) struct TableWriter<W: Write> {
    columns: Vec<Column>,
    width: Option<usize>,
    out: W,
    held: Vec<Vec<String>>,
    layout: Option<Vec<Place>>,
    times: Times,
}

/// A column that is shown, and its width.
struct Place {
    column: usize,
    width: usize,
}

impl<W: Write> TableWriter<W> {
    pub fn new(columns: Vec<Column>, width: Option<usize>, out: W) -> Self {
        Self {
            times: Times::of(&columns),
            columns,
            width,
            out,
            held: Vec::new(),
            layout: None,
        }
    }

    pub fn row(&mut self, row: &FrameRow) -> io::Result<()> {
        let cells = row.cells.iter().chain(std::iter::repeat(&Cell::Unknown));
        let mut texts: Vec<String> = self
            .columns
            .iter()
            .zip(cells)
            .map(|(column, cell)| cell::shown(cell, column.field()))
            .collect();
        if let Some(layout) = &self.layout {
            self.times.show(&self.columns, &mut texts);
            let line = self.line(layout, &texts);
            return self.out.write_all(line.as_bytes());
        }
        self.held.push(texts);
        if self.held.len() == MEASURED {
            self.release()?;
        }
        Ok(())
    }

    /// Measures the rows held back and writes them under the heading.
    fn release(&mut self) -> io::Result<()> {
        self.times.take_zone(&self.held);
        self.show_times();
        let layout = self.measure();
        let headings: Vec<String> = self.columns.iter().map(|c| c.heading.clone()).collect();
        let units: Vec<String> = self.columns.iter().map(|c| unit(c).to_owned()).collect();
        let mut text = self.times.note(&self.columns);
        if let Some(width) = self.width.filter(|_| !text.is_empty()) {
            text = shortened(&text, width);
        }
        text += &self.line(&layout, &headings);
        if layout.iter().any(|place| !units[place.column].is_empty()) {
            text.push_str(&self.line(&layout, &units));
        }
        for texts in std::mem::take(&mut self.held) {
            text.push_str(&self.line(&layout, &texts));
        }
        self.layout = Some(layout);
        self.out.write_all(text.as_bytes())
    }

    fn show_times(&mut self) {
        for texts in &mut self.held {
            self.times.show(&self.columns, texts);
        }
    }

    fn measure(&mut self) -> Vec<Place> {
        let mut layout: Vec<Place> = self
            .columns
            .iter()
            .enumerate()
            .filter(|(_, column)| !column.is_zone_aside())
            .map(|(at, _)| Place {
                column: at,
                width: self.widest(at),
            })
            .collect();
        if let Some(width) = self.width {
            if total(&layout) > width && self.times.shorten(&self.columns) {
                self.show_times();
                for place in &mut layout {
                    place.width = self.widest(place.column);
                }
            }
            self.fit(&mut layout, width);
        }
        layout
    }

    /// The width of a column's widest text, its heading and its unit among them.
    fn widest(&self, at: usize) -> usize {
        let column = &self.columns[at];
        let held = self.held.iter().filter_map(|row| row.get(at));
        let texts = held
            .map(String::as_str)
            .chain([column.heading.as_str(), unit(column)]);
        texts.map(UnicodeWidthStr::width).max().unwrap_or(0)
    }

    /// Leaves out columns and cuts the longest texts until the table is no wider than the screen: first columns that are not
    /// needed, then those of the highest rank.
    fn fit(&self, layout: &mut Vec<Place>, width: usize) {
        for (cut, needed) in [(Cut::Easy, Some(NEEDED)), (Cut::Hard, None)] {
            let least = |layout: &[Place]| -> usize {
                let cut = layout.iter().map(|place| self.shortest(place, cut) + GAP);
                cut.sum::<usize>().saturating_sub(GAP)
            };
            while least(layout) > width && layout.len() > 1 {
                let ranks = layout.iter().enumerate();
                let ranks = ranks.map(|(at, place)| (self.columns[place.column].rank(), at));
                match ranks.max().filter(|(rank, _)| Some(*rank) > needed) {
                    Some((_, at)) => drop(layout.remove(at)),
                    None => break,
                }
            }
            // One character at a time once two texts are equally long; otherwise one of them would lose everything.
            while total(layout) > width {
                let longer = |place: &&mut Place| place.width > self.shortest(place, cut);
                match layout
                    .iter_mut()
                    .filter(longer)
                    .max_by_key(|place| place.width)
                {
                    Some(place) => place.width -= 1,
                    None => break,
                }
            }
        }
        if let [only] = layout.as_mut_slice() {
            only.width = only.width.min(width.max(1));
        }
    }

    /// The width that a column is not cut below.
    fn shortest(&self, place: &Place, cut: Cut) -> usize {
        let column = &self.columns[place.column];
        let text = match (column.field().key, column.field().kind, cut) {
            ("found" | "handled_as" | "what_to_do", ..) => 30,
            ("site" | "camera", _, Cut::Hard) => 8,
            (key, FieldKind::Text, _) if key != "code" => 12,
            _ => usize::MAX,
        };
        text.max(column.heading.width()).min(place.width)
    }

    fn line(&self, layout: &[Place], texts: &[String]) -> String {
        let mut line = String::new();
        for (at, place) in layout.iter().enumerate() {
            let column = &self.columns[place.column];
            let mut text = texts
                .get(place.column)
                .map_or("", String::as_str)
                .to_owned();
            if self.width.is_some() {
                text = cut(text, place.width, column);
            }
            let padding = " ".repeat(place.width.saturating_sub(text.width()));
            if at > 0 {
                line.push_str("  ");
            }
            if is_number(column) {
                line.push_str(&padding);
                line.push_str(&text);
            } else {
                line.push_str(&text);
                line.push_str(&padding);
            }
        }
        line.truncate(line.trim_end().len());
        line.push('\n');
        line
    }

    /// The writer underneath, and the headings of the columns that were left out.
    pub fn finish(mut self) -> io::Result<(W, Vec<String>)> {
        if !self.held.is_empty() {
            self.release()?;
        }
        self.out.flush()?;
        let left_out = self.layout.map_or_else(Vec::new, |layout| {
            let shown = |at: usize| layout.iter().any(|place| place.column == at);
            let columns = self.columns.iter().enumerate();
            columns
                .filter(|(at, column)| !shown(*at) && !column.is_zone_aside())
                .map(|(_, column)| column.heading.clone())
                .collect()
        });
        Ok((self.out, left_out))
    }
}

/// How wide the columns are, with the gaps between them.
fn total(layout: &[Place]) -> usize {
    let widths = layout.iter().map(|place| place.width + GAP);
    widths.sum::<usize>().saturating_sub(GAP)
}

const fn is_number(column: &Column) -> bool {
    matches!(
        column.field().kind,
        FieldKind::Number(_) | FieldKind::Whole(_)
    )
}

const fn unit(column: &Column) -> &'static str {
    match column.field().kind {
        FieldKind::Number(unit) | FieldKind::Whole(unit) => unit.sign(),
        _ => "",
    }
}

/// A line above the heading, no wider than the screen.
fn shortened(line: &str, width: usize) -> String {
    let line = printable(line.trim_end());
    if line.width() <= width {
        return format!("{line}\n");
    }
    format!("{}…\n", fitting(line.chars(), width.saturating_sub(1)))
}

/// A text no wider than `width`, with `…` for missing characters: at the front of a path, whose end matters more.
fn cut(text: String, width: usize, column: &Column) -> String {
    if text.width() <= width {
        return text;
    }
    let room = width.saturating_sub(1);
    if matches!(column.field().key, "path" | "root") {
        let kept = fitting(text.chars().rev(), room);
        let kept: String = kept.chars().rev().collect();
        return format!("…{kept}");
    }
    if column.field().key == "camera" {
        // A serial number's end tells two bodies of a model apart.
        let end = fitting(text.chars().rev(), room / 2);
        let end: String = end.chars().rev().collect();
        return format!("{}…{end}", fitting(text.chars(), room - room / 2));
    }
    format!("{}…", fitting(text.chars(), room))
}

/// The first characters that fit into `room`.
fn fitting(signs: impl Iterator<Item = char>, room: usize) -> String {
    let mut kept = String::new();
    let mut used = 0;
    for sign in signs {
        used += sign.width().unwrap_or(0);
        if used > room {
            break;
        }
        kept.push(sign);
    }
    kept
}
