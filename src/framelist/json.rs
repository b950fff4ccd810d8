//! Rows as JSON: one array of objects, or one object per line. Every key in every object, `null` if unknown.
//!
//! Objects are written as they come, none held in memory.

use std::io;
use std::io::Write;

use crate::framelist::cell;
use crate::framelist::keys::Column;
use crate::framelist::keys::SCHEMA;
use crate::terms::field::Field;
use crate::terms::field_radiant::RADIANT_FIELDS;
use crate::terms::hex::push_hex;
use crate::terms::name_text::bytes_of;
use crate::terms::records::Cell;
use crate::terms::records::FrameFile;
use crate::terms::records::FrameRow;
use crate::terms::records::RadiantSky;

/// Keys of columns with names from a disk.
const NAMES: &[&str] = &["path", "file", "folder", "root", "reference"];

/// One array, or a line for each object.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    Array,
    Lines,
}

/// The keys of an object.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Objects {
    /// Everything about a frame: the name of its schema, every key, its files and radiants.
    WholeFrames,
    /// The columns alone.
    ChosenKeys,
}

/// Writes rows as JSON.
pub(super) struct JsonWriter<W: Write> {
    objects: Objects,
    columns: Vec<(String, &'static Field)>,
    shape: Shape,
    out: W,
    rows: u64,
    line: String,
}

impl<W: Write> JsonWriter<W> {
    pub fn new(columns: &[Column], shape: Shape, objects: Objects, out: W) -> Self {
        let columns = columns.iter();
        Self {
            objects,
            columns: columns.map(|c| (in_quotes(&c.key), c.field())).collect(),
            shape,
            out,
            rows: 0,
            line: String::new(),
        }
    }

    pub fn row(&mut self, row: &FrameRow) -> io::Result<()> {
        self.line.clear();
        self.line.push_str(match (self.shape, self.rows) {
            (Shape::Array, 0) => "[\n",
            (Shape::Array, _) => ",\n",
            (Shape::Lines, _) => "",
        });
        self.rows += 1;
        let line = &mut self.line;
        line.push('{');
        let whole = self.objects == Objects::WholeFrames;
        if whole {
            line.push_str("\"schema\":\"");
            line.push_str(SCHEMA);
            line.push('"');
        }
        let cells = row.cells.iter().chain(std::iter::repeat(&Cell::Unknown));
        for (at, ((key, field), cell)) in self.columns.iter().zip(cells).enumerate() {
            if at > 0 || whole {
                line.push(',');
            }
            line.push_str(key);
            line.push(':');
            push_cell(line, cell, field);
            push_bytes_of_cell(line, cell, field);
        }
        if whole {
            line.push_str(",\"files\":[");
            for (at, file) in row.files.iter().enumerate() {
                line.push_str(if at > 0 { "," } else { "" });
                push_file(line, file);
            }
            line.push_str("],\"radiants\":[");
            for (at, radiant) in row.radiants.iter().enumerate() {
                line.push_str(if at > 0 { "," } else { "" });
                push_radiant(line, radiant);
            }
            line.push(']');
        }
        line.push('}');
        if self.shape == Shape::Lines {
            line.push('\n');
        }
        self.out.write_all(line.as_bytes())
    }

    /// Continues a list of which another writer wrote this many rows.
    pub const fn go_on(&mut self, rows: u64) {
        self.rows = rows;
    }

    /// The writer underneath, without ending the list.
    pub fn pause(mut self) -> io::Result<W> {
        self.out.flush()?;
        Ok(self.out)
    }

    pub fn finish(mut self) -> io::Result<W> {
        match (self.shape, self.rows) {
            (Shape::Array, 0) => self.out.write_all(b"[]\n")?,
            (Shape::Array, _) => self.out.write_all(b"\n]\n")?,
            (Shape::Lines, _) => {}
        }
        self.out.flush()?;
        Ok(self.out)
    }
}

fn push_cell(line: &mut String, cell: &Cell, field: &Field) {
    match cell {
        Cell::Unknown => line.push_str("null"),
        Cell::Whole(number) => cell::write_shifted(*number, 0, line),
        Cell::Number(number) => push_number(line, *number, field),
        Cell::Text(text) => push_text(line, text),
    }
}

/// A text as JSON writes it.
fn in_quotes(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

/// Writes a text. Most need no escape, which is checked only once.
pub(super) fn push_text(line: &mut String, text: &str) {
    if text.bytes().any(|b| b < b' ' || matches!(b, b'"' | b'\\')) {
        line.push_str(&in_quotes(text));
    } else {
        line.push('"');
        line.push_str(text);
        line.push('"');
    }
}

fn push_number(line: &mut String, number: f64, field: &Field) {
    if !cell::write_kept(number, field, line) {
        line.push_str("null");
    }
}

fn push_file(line: &mut String, file: &FrameFile) {
    line.push_str("{\"path\":");
    push_text(line, &file.path);
    push_bytes_of(line, "path", &file.path);
    line.push_str(",\"format\":");
    push_text(line, &file.format);
    line.push_str(",\"bytes\":");
    cell::write_shifted(file.bytes, 0, line);
    line.push_str(",\"health\":");
    push_text(line, &file.health);
    line.push_str(",\"further_copy\":");
    line.push_str(if file.further_copy { "true" } else { "false" });
    line.push('}');
}

fn push_radiant(line: &mut String, radiant: &RadiantSky) {
    line.push_str("{\"shower\":\"");
    line.push_str(radiant.shower.as_str());
    line.push('"');
    for field in RADIANT_FIELDS {
        line.push_str(",\"");
        line.push_str(field.key);
        line.push_str("\":");
        match radiant.cell(field.key) {
            Cell::Number(number) => push_number(line, number, field),
            Cell::Text(word) => push_text(line, &word),
            _ => line.push_str("null"),
        }
    }
    line.push('}');
}

/// Writes `,"KEY_hex":"…"`, a name's bytes, if its text is not the name itself.
pub(super) fn push_bytes_of(line: &mut String, key: &str, text: &str) {
    if let Some(bytes) = bytes_of(text) {
        line.push_str(",\"");
        line.push_str(key);
        line.push_str("_hex\":\"");
        push_hex(line, &bytes);
        line.push('"');
    }
}

/// The same for a column of names.
fn push_bytes_of_cell(line: &mut String, cell: &Cell, field: &Field) {
    if let Cell::Text(text) = cell
        && NAMES.contains(&field.key)
    {
        push_bytes_of(line, field.key, text);
    }
}
