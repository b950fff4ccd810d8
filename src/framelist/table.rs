//! Rows as a table for the screen: a heading, a line of units, numbers to the right.
//!
//! The first rows are held back to measure the columns; after that rows are written as they come. A table fits the
//! terminal's width: long texts are cut, then the least needed columns left out. Without a width nothing is ever cut.

use std::io;
use std::io::Write;

use unicode_width::UnicodeWidthChar;
use unicode_width::UnicodeWidthStr;

use crate::framelist::cell;
use crate::framelist::keys::Column;
use crate::terms::field_kind::FieldKind;
use crate::terms::records::Cell;
use crate::terms::records::FrameRow;

/// Rows held back to measure the columns.
const MEASURED: usize = 500;
/// Spaces between two columns.
const GAP: usize = 2;
/// A text is not cut below this width: a code not at all, a sentence to what still says something.
fn shortest(column: &Column) -> usize {
    let text = match column.field().key {
        "code" => usize::MAX,
        "found" | "handled_as" | "what_to_do" => 30,
        "site" | "camera" => 8,
        _ => 12,
    };
    text.max(column.heading.width())
}

/// Writes rows as a table.
pub(super) struct TableWriter<W: Write> {
    columns: Vec<Column>,
    width: Option<usize>,
    out: W,
    held: Vec<Vec<String>>,
    layout: Option<Vec<Place>>,
}

/// A column that is shown, and its width.
struct Place {
    column: usize,
    width: usize,
}

impl<W: Write> TableWriter<W> {
    pub const fn new(columns: Vec<Column>, width: Option<usize>, out: W) -> Self {
        Self {
            columns,
            width,
            out,
            held: Vec::new(),
            layout: None,
        }
    }

    pub fn row(&mut self, row: &FrameRow) -> io::Result<()> {
        let cells = row.cells.iter().chain(std::iter::repeat(&Cell::Unknown));
        let texts: Vec<String> = self
            .columns
            .iter()
            .zip(cells)
            .map(|(column, cell)| cell::shown(cell, column.field()))
            .collect();
        if let Some(layout) = &self.layout {
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
        let layout = self.measure();
        let headings: Vec<String> = self.columns.iter().map(|c| c.heading.clone()).collect();
        let units: Vec<String> = self.columns.iter().map(|c| unit(c).to_owned()).collect();
        let mut text = self.line(&layout, &headings);
        if layout.iter().any(|place| !units[place.column].is_empty()) {
            text.push_str(&self.line(&layout, &units));
        }
        for texts in std::mem::take(&mut self.held) {
            text.push_str(&self.line(&layout, &texts));
        }
        self.layout = Some(layout);
        self.out.write_all(text.as_bytes())
    }

    fn measure(&self) -> Vec<Place> {
        let mut layout: Vec<Place> = self
            .columns
            .iter()
            .enumerate()
            .map(|(at, column)| {
                let held = self.held.iter().filter_map(|row| row.get(at));
                let widest = held.map(|text| text.width()).max().unwrap_or(0);
                Place {
                    column: at,
                    width: widest.max(column.heading.width()).max(unit(column).width()),
                }
            })
            .collect();
        if let Some(width) = self.width {
            self.fit(&mut layout, width);
        }
        layout
    }

    /// Cuts the longest texts, then leaves out columns, until the table is no wider than the screen.
    fn fit(&self, layout: &mut Vec<Place>, width: usize) {
        let total = |layout: &[Place]| {
            layout
                .iter()
                .map(|p| p.width + GAP)
                .sum::<usize>()
                .saturating_sub(GAP)
        };
        while total(layout) > width {
            let over = total(layout) - width;
            let longest = layout
                .iter_mut()
                .filter(|place| {
                    let column = &self.columns[place.column];
                    matches!(column.field().kind, FieldKind::Text) && place.width > shortest(column)
                })
                .max_by_key(|place| place.width);
            if let Some(place) = longest {
                let floor = shortest(&self.columns[place.column]);
                // One character at a time once two texts are equally long; otherwise one of them would lose everything.
                place.width -= over.min(place.width - floor).min(1);
            } else if layout.len() > 1 {
                let least = (0..layout.len())
                    .max_by_key(|&at| (self.columns[layout[at].column].rank(), at))
                    .unwrap_or(0);
                layout.remove(least);
            } else {
                for place in layout.iter_mut() {
                    place.width = width.max(1);
                }
                break;
            }
        }
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
                .filter(|(at, _)| !shown(*at))
                .map(|(_, column)| column.heading.clone())
                .collect()
        });
        Ok((self.out, left_out))
    }
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

/// A text no wider than `width`, with `…` for missing characters: at the front of a path, whose end matters more.
fn cut(text: String, width: usize, column: &Column) -> String {
    if text.width() <= width {
        return text;
    }
    let room = width.saturating_sub(1);
    if column.field().key == "path" {
        let kept = fitting(text.chars().rev(), room);
        let kept: String = kept.chars().rev().collect();
        return format!("…{kept}");
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
