//! The manifest beside a list, as JSON: the query, the state of the catalogue, and every file. A line per file, written
//! as they come. Documented in `docs/manifest.md`, its schema in `docs/schema/framefall.manifest.1.json`.

use std::fmt::Write as _;
use std::io;
use std::io::Write;

use serde_json::Value;
use serde_json::json;

use crate::framelist::calibration_note::CalibrationNote;
use crate::framelist::calibration_note::notes_value;
use crate::framelist::hashed::ListDigest;
use crate::framelist::json::push_bytes_of;
use crate::framelist::json::push_text;
use crate::terms::fingerprint::Fingerprint;
use crate::terms::hex::hex;
use crate::terms::hex::push_hex;
use crate::terms::name_text::bytes_of;

/// The first value of a manifest.
pub const MANIFEST_SCHEMA: &str = "framefall.manifest/1";

/// A value of the catalogue's state: a number, a text, or nothing.
pub type StateValue = Value;

/// The part of a manifest before its files.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ManifestHead {
    /// The program and its version.
    pub program: String,
    /// When it was written.
    pub written_utc: String,
    /// The query as it was typed.
    pub query: String,
    /// The query with saved queries expanded.
    pub meaning: String,
    /// The options of the list.
    pub options: ManifestOptions,
    /// The state of the catalogue: names and numbers or texts, in order.
    pub catalogue: Vec<(&'static str, Value)>,
    /// The lists.
    pub lists: Vec<ManifestList>,
    /// Which frames calibrate which lights, if requested.
    pub calibration: Vec<CalibrationNote>,
}

/// The options of a list, in the words of the command line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ManifestOptions {
    /// The format.
    pub form: String,
    /// Which of a frame's files, if given.
    pub take: Option<String>,
    /// `absolute`, `relative` or `root`.
    pub paths: String,
    /// The root, if paths are relative to one.
    pub root: Option<String>,
    /// Whether each session has its own list.
    pub per_session: bool,
    /// The reference frame, if named.
    pub reference: Option<String>,
    /// The columns, if chosen.
    pub show: Option<String>,
    /// The most frames, if given.
    pub limit: Option<u64>,
    /// The kinds of calibration frames that were searched for.
    pub calibration: Vec<String>,
    /// What was checked on the disk.
    pub check: String,
    /// Whether frames could be left out.
    pub allow_missing: bool,
    /// Whether damaged frames are in the list.
    pub with_damaged: bool,
}

/// One list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ManifestList {
    /// Its file name; it is beside the manifest.
    pub file: String,
    /// `dark`, `flat` or `bias` if it lists calibration frames; nothing if it lists the query's frames.
    pub serves_as: Option<&'static str>,
    /// The session of its frames, if each session has its own list.
    pub session: Option<i64>,
    /// How many frames.
    pub frames: u64,
    /// Its bytes.
    pub digest: ListDigest,
    /// Its reference frame.
    pub reference: Option<ManifestReference>,
}

/// The reference frame of a list, from which the turn of the sky is counted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ManifestReference {
    /// Its path, in the list's form of paths.
    pub path: String,
    /// Its session and its position in it.
    pub place: Option<(i64, i64)>,
    /// The middle of its exposure.
    pub mid_utc: String,
}

/// One exported file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ManifestFile {
    /// The text of its absolute path.
    pub path: String,
    /// The label of its dump.
    pub dump: String,
    /// Its size.
    pub bytes: u64,
    /// The file system's time stamp, nanoseconds included.
    pub modified_utc: String,
    /// Its fingerprint as far as it is stored, if it has one.
    pub fingerprint: Option<Fingerprint>,
    /// The BLAKE3 hash of all its bytes, if known.
    pub blake3: Option<[u8; 32]>,
}

/// One frame that was left out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ManifestLeftOut {
    /// The absolute path of its file.
    pub path: String,
    /// The label of its dump.
    pub dump: String,
    /// The code of the finding.
    pub code: String,
    /// What was found.
    pub saw: String,
}

/// Lines of a manifest's files. They come list by list, in the order of the rows.
#[derive(Debug, Default)]
pub struct FileLines {
    text: String,
    rows: u64,
}

impl FileLines {
    /// Lines that follow this many others; made in the given empty buffer.
    pub fn behind(rows: u64, room: Vec<u8>) -> Self {
        Self {
            text: String::from_utf8(room).unwrap_or_default(),
            rows,
        }
    }

    /// Adds a file.
    pub fn file(&mut self, file: &ManifestFile) {
        let line = &mut self.text;
        line.push_str(before_row(&mut self.rows));
        line.push_str("{\"path\":");
        push_text(line, &file.path);
        push_bytes_of(line, "path", &file.path);
        line.push_str(",\"dump\":");
        push_text(line, &file.dump);
        let _ = write!(line, ",\"bytes\":{},\"modified_utc\":", file.bytes);
        push_text(line, &file.modified_utc);
        push_hash(
            line,
            ",\"fingerprint\":",
            file.fingerprint.as_ref().map(Fingerprint::bytes),
        );
        push_hash(
            line,
            ",\"blake3\":",
            file.blake3.as_ref().map(<[u8; 32]>::as_slice),
        );
        line.push('}');
    }

    /// The lines.
    pub fn into_bytes(self) -> Vec<u8> {
        self.text.into_bytes()
    }
}

/// The text before a row; counts the row.
const fn before_row(rows: &mut u64) -> &'static str {
    *rows += 1;
    if *rows == 1 { "\n" } else { ",\n" }
}

/// Writes a manifest.
pub struct ManifestWriter<W: Write> {
    out: W,
    left_out: u64,
}

impl<W: Write> ManifestWriter<W> {
    /// Begins a manifest: everything but its files.
    pub fn begin(mut out: W, head: &ManifestHead) -> io::Result<Self> {
        out.write_all(head_text(head).as_bytes())?;
        Ok(Self { out, left_out: 0 })
    }

    /// Adds files, by their [`FileLines`].
    pub fn files(&mut self, lines: &[u8]) -> io::Result<()> {
        self.out.write_all(lines)
    }

    /// Ends the files and begins the frames that were left out.
    pub fn end_files(&mut self) -> io::Result<()> {
        self.out.write_all(b"\n],\n\"left_out\":[")
    }

    /// Adds a frame that was left out.
    pub fn left_out(&mut self, left: &ManifestLeftOut) -> io::Result<()> {
        let mut line = before_row(&mut self.left_out).to_owned();
        for (key, text) in [
            ("{\"path\":", &left.path),
            (",\"dump\":", &left.dump),
            (",\"code\":", &left.code),
            (",\"saw\":", &left.saw),
        ] {
            line.push_str(key);
            push_text(&mut line, text);
        }
        push_bytes_of(&mut line, "path", &left.path);
        line.push('}');
        self.out.write_all(line.as_bytes())
    }

    /// Ends the manifest.
    pub fn finish(mut self) -> io::Result<()> {
        self.out.write_all(b"\n]\n}\n")?;
        self.out.flush()
    }
}

fn head_text(head: &ManifestHead) -> String {
    let options = &head.options;
    let lists: Vec<Value> = head.lists.iter().map(list_value).collect();
    let catalogue: serde_json::Map<String, Value> = head
        .catalogue
        .iter()
        .map(|(key, value)| ((*key).to_owned(), value.clone()))
        .collect();
    let parts = [
        ("schema", json!(MANIFEST_SCHEMA)),
        ("program", json!(head.program)),
        ("written_utc", json!(head.written_utc)),
        (
            "query",
            json!({"typed": head.query, "meaning": head.meaning}),
        ),
        (
            "options",
            json!({
                "as": options.form,
                "take": options.take,
                "paths": options.paths,
                "root": options.root,
                "per_session": options.per_session,
                "reference": options.reference,
                "show": options.show,
                "limit": options.limit,
                "calibration": options.calibration,
                "check": options.check,
                "allow_missing": options.allow_missing,
                "with_damaged": options.with_damaged,
            }),
        ),
        ("catalogue", Value::Object(catalogue)),
        ("lists", Value::Array(lists)),
        ("calibration", notes_value(&head.calibration)),
    ];
    let mut text = String::from("{\n");
    for (key, value) in parts {
        let _ = writeln!(text, "\"{key}\":{value},");
    }
    text.push_str("\"files\":[");
    text
}

fn list_value(list: &ManifestList) -> Value {
    let mut hash = String::new();
    push_hex(&mut hash, &list.digest.blake3);
    let reference = list.reference.as_ref().map(|frame| {
        let mut value = json!({
            "path": frame.path,
            "session": frame.place.map(|(session, _)| session),
            "seq": frame.place.map(|(_, seq)| seq),
            "mid_utc": frame.mid_utc,
        });
        if let Some(bytes) = bytes_of(&frame.path) {
            value["path_hex"] = json!(hex(&bytes));
        }
        value
    });
    json!({
        "file": list.file,
        "serves_as": list.serves_as,
        "session": list.session,
        "frames": list.frames,
        "bytes": list.digest.bytes,
        "blake3": hash,
        "reference": reference,
    })
}

fn push_hash(line: &mut String, key: &str, hash: Option<&[u8]>) {
    line.push_str(key);
    match hash {
        Some(hash) => {
            line.push('"');
            push_hex(line, hash);
            line.push('"');
        }
        None => line.push_str("null"),
    }
}
