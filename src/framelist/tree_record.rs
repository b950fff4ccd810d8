//! The record in the root of a link tree, as JSON: the query, and the source file of each link. It identifies a tree
//! made by framefall, and distinguishes its links from other files in it. Opens no file.

use std::io;
use std::io::Write;

use serde_json::Value;
use serde_json::json;

use crate::framelist::calibration_note::CalibrationNote;
use crate::framelist::calibration_note::notes_value;
use crate::terms::linktree::LinkAs;

/// The record's file name.
pub const RECORD_NAME: &str = "framefall-links.json";

/// The first value of a record.
pub const RECORD_SCHEMA: &str = "framefall.links/1";

/// The part of a record before its links.
#[derive(Clone, Debug, PartialEq)]
pub struct RecordHead {
    /// The program and its version.
    pub program: String,
    /// When the tree was made.
    pub written_utc: String,
    /// The query as it was typed.
    pub query: String,
    /// How links represent files.
    pub link_as: LinkAs,
    /// Which frames calibrate which lights.
    pub calibration: Vec<CalibrationNote>,
}

/// One link of a record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedLink {
    /// Its path below the tree's root, with `/` between names.
    pub below: String,
    /// The absolute path of its source file; bytes that are not UTF-8 as `\xNN`.
    pub source: String,
    /// The size of the source file.
    pub bytes: u64,
    /// The time stamp of the source file, nanoseconds since 1970.
    pub modified_ns: i64,
}

/// A record that was read back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record {
    /// How links represent files.
    pub link_as: LinkAs,
    /// The links.
    pub links: Vec<RecordedLink>,
}

/// Writes a record, a line per link.
pub fn write_record(
    head: &RecordHead,
    links: &[RecordedLink],
    out: &mut dyn Write,
) -> io::Result<()> {
    out.write_all(b"{\n")?;
    for (key, value) in [
        ("schema", json!(RECORD_SCHEMA)),
        ("program", json!(head.program)),
        ("written_utc", json!(head.written_utc)),
        ("query", json!(head.query)),
        ("link_as", json!(head.link_as.word())),
        ("calibration", notes_value(&head.calibration)),
    ] {
        writeln!(out, "\"{key}\":{value},")?;
    }
    out.write_all(b"\"links\":[")?;
    for (at, link) in links.iter().enumerate() {
        out.write_all(if at == 0 { b"\n" } else { b",\n" })?;
        let value = json!({
            "link": link.below,
            "source": link.source,
            "bytes": link.bytes,
            "modified_ns": link.modified_ns,
        });
        write!(out, "{value}")?;
    }
    out.write_all(b"\n]\n}\n")
}

/// Reads a record; `None` if framefall did not write it.
pub fn read_record(text: &str) -> Option<Record> {
    let record: Value = serde_json::from_str(text).ok()?;
    if record.get("schema")?.as_str()? != RECORD_SCHEMA {
        return None;
    }
    let links = record.get("links")?.as_array()?.iter().map(|link| {
        Some(RecordedLink {
            below: link.get("link")?.as_str()?.to_owned(),
            source: link.get("source")?.as_str()?.to_owned(),
            bytes: link.get("bytes")?.as_u64()?,
            modified_ns: link.get("modified_ns")?.as_i64()?,
        })
    });
    Some(Record {
        link_as: LinkAs::from_word(record.get("link_as")?.as_str()?)?,
        links: links.collect::<Option<_>>()?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_record_reads_back_as_it_was_written(
            links in prop::collection::vec(
                (any::<String>(), any::<String>(), any::<u64>(), any::<i64>()),
                0..8,
            ),
            query in any::<String>(),
        ) {
            let links: Vec<RecordedLink> = links
                .into_iter()
                .map(|(below, source, bytes, modified_ns)| RecordedLink { below, source, bytes, modified_ns })
                .collect();
            let head = RecordHead {
                program: "framefall".to_owned(),
                written_utc: String::new(),
                query,
                link_as: LinkAs::Hard,
                calibration: vec![CalibrationNote::default()],
            };
            let mut out = Vec::new();
            write_record(&head, &links, &mut out).unwrap();
            let text = String::from_utf8(out).unwrap();
            prop_assert_eq!(read_record(&text), Some(Record { link_as: LinkAs::Hard, links }));
        }

        #[test]
        fn any_other_text_is_no_record(text in any::<String>()) {
            prop_assert_eq!(read_record(&text), None);
        }
    }
}
