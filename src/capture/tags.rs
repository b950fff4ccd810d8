//! The only file that uses the EXIF crate, which is fed a small TIFF block of our own and decodes its values.
//!
//! Numbers and text are returned as the camera wrote them; `record` decides what is possible.

use exif::{Context, Exif, In, Rational, Reader, SRational, Tag, Value};

use crate::capture::wanted::Lane;
use crate::capture::wanted::Wanted;
use crate::capture::words;

/// The value of one tag.
#[derive(Clone, Debug, PartialEq)]
pub enum TagValue<T> {
    /// The tag is missing.
    Absent,
    /// A value that means "unknown": 0/0, n/0, not a number. As written.
    Unknown(String),
    /// A value.
    Value(T),
}

/// The tags of one file.
pub struct Tags {
    exif: Option<Exif>,
    errors: Vec<String>,
}

impl Tags {
    /// Reads a block. What the crate could not follow is left out and kept as errors.
    pub fn read(block: Vec<u8>) -> Self {
        let mut errors = Vec::new();
        let read = Reader::new()
            .continue_on_error(true)
            .read_raw(block)
            .or_else(|error| {
                error.distill_partial_result(|all| {
                    errors.extend(all.iter().map(ToString::to_string));
                })
            });
        let exif = match read {
            Ok(exif) => Some(exif),
            Err(error) => {
                errors.push(error.to_string());
                None
            }
        };
        Self { exif, errors }
    }

    /// The crate's warnings.
    pub fn errors(&self) -> &[String] {
        &self.errors
    }

    fn value(&self, tag: Wanted) -> Option<&Value> {
        let context = match tag.lane {
            Lane::Primary => Context::Tiff,
            Lane::Exif => Context::Exif,
            Lane::Gps => Context::Gps,
        };
        let exif = self.exif.as_ref()?;
        exif.get_field(Tag(context, tag.id), In::PRIMARY)
            .map(|field| &field.value)
    }

    /// The bytes of a text, even if a writer gave it the type of plain bytes.
    pub fn raw_text(&self, tag: Wanted) -> Option<&[u8]> {
        match self.value(tag)? {
            Value::Ascii(parts) => parts.first().map(Vec::as_slice),
            Value::Byte(raw) | Value::Undefined(raw, _) => Some(raw),
            _ => None,
        }
    }

    /// A text without its padding; `None` if it is missing or blank.
    pub fn text(&self, tag: Wanted) -> Option<String> {
        self.raw_text(tag).and_then(words::clean)
    }

    /// The first number of a tag.
    pub fn number(&self, tag: Wanted) -> TagValue<f64> {
        self.number_at(tag, 0)
    }

    /// A number of a tag that holds several.
    pub fn number_at(&self, tag: Wanted, index: usize) -> TagValue<f64> {
        let Some(value) = self.value(tag) else {
            return TagValue::Absent;
        };
        let number = match value {
            Value::Byte(v) => v.get(index).map(|n| f64::from(*n)),
            Value::Short(v) => v.get(index).map(|n| f64::from(*n)),
            Value::Long(v) => v.get(index).map(|n| f64::from(*n)),
            Value::SByte(v) => v.get(index).map(|n| f64::from(*n)),
            Value::SShort(v) => v.get(index).map(|n| f64::from(*n)),
            Value::SLong(v) => v.get(index).map(|n| f64::from(*n)),
            Value::Float(v) => v.get(index).map(|n| f64::from(*n)),
            Value::Double(v) => v.get(index).copied(),
            Value::Rational(v) => match v.get(index) {
                Some(r) if r.denom == 0 => return TagValue::Unknown(format!("{}/0", r.num)),
                part => part.map(Rational::to_f64),
            },
            Value::SRational(v) => match v.get(index) {
                Some(r) if r.denom == 0 => return TagValue::Unknown(format!("{}/0", r.num)),
                part => part.map(SRational::to_f64),
            },
            Value::Ascii(_) => {
                return match self.text(tag).map(|text| text.parse()) {
                    Some(Ok(number)) if index == 0 => finite(number),
                    _ => TagValue::Absent,
                };
            }
            _ => None,
        };
        number.map_or(TagValue::Absent, finite)
    }
}

/// A number, or why it is none.
pub(super) fn finite(number: f64) -> TagValue<f64> {
    if number.is_finite() {
        TagValue::Value(number)
    } else {
        TagValue::Unknown(number.to_string())
    }
}
