//! Statements as JSON: their content as stored in a catalogue, and complete, one per line, as catalogues exchange them.
//! Documented in docs/statements.md.

use serde_json::Value;
use serde_json::json;

use crate::framelist::json_object::Keys;
use crate::framelist::statement_content::act;
use crate::framelist::statement_content::content;
use crate::terms::frame_marks::unpack;
use crate::terms::hex::bytes_of_hex;
use crate::terms::hex::hex;
use crate::terms::statement::Act;
use crate::terms::statement::FramePart;
use crate::terms::statement::Statement;
use crate::terms::statement::StatementId;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// The schema of a line.
pub const STATEMENT_SCHEMA: &str = "framefall.statement/1";

/// The content of a statement.
pub fn statement_content(act: &Act) -> String {
    content(act).to_string()
}

/// A statement from its type and its content.
///
/// Refuses: anything that is not a statement, with the key that is wrong.
pub fn statement_from(word: &str, content: &str) -> Result<Act, String> {
    let value: Value = serde_json::from_str(content).map_err(|e| e.to_string())?;
    act(word, &value)
}

/// A complete statement as a line.
pub fn statement_line(statement: &Statement) -> String {
    let local = |at: Option<i64>| {
        at.and_then(|s| WallTime::from_seconds(s, ""))
            .map(|at| at.to_string())
    };
    let frames: Vec<Value> = statement
        .frames
        .iter()
        .map(|part| {
            json!({
                "dump": part.dump,
                "frames": part.frames,
                "first_local": local(part.first_s),
                "last_local": local(part.last_s),
                "marks": hex(&part.marks),
            })
        })
        .collect();
    json!({
        "schema": STATEMENT_SCHEMA,
        "identity": hex(&statement.id),
        "stated_utc": statement.stated.map(|at| at.to_string()),
        "what": statement.act.word(),
        "content": content(&statement.act),
        "takes_back": statement.takes_back.map(|id| hex(&id)),
        "frames": frames,
    })
    .to_string()
}

/// A complete statement from its line.
///
/// Refuses: anything that is not a statement, with the key that is wrong.
pub fn read_statement(line: &str) -> Result<Statement, String> {
    let value: Value = serde_json::from_str(line).map_err(|e| e.to_string())?;
    let of = Keys::of(&value, "the line")?;
    let schema = of.text("schema")?;
    if schema != STATEMENT_SCHEMA {
        return Err(format!(
            "its schema is '{schema}', not '{STATEMENT_SCHEMA}'"
        ));
    }
    let Some(parts) = of.get("frames").as_array() else {
        return Err(of.wrong("frames"));
    };
    Ok(Statement {
        id: id(of.text("identity")?).ok_or_else(|| of.wrong("identity"))?,
        stated: of.known("stated_utc", |v| v.as_str().and_then(Utc::parse))?,
        act: act(of.text("what")?, of.get("content"))?,
        takes_back: of.known("takes_back", |v| v.as_str().and_then(id))?,
        frames: parts.iter().map(part).collect::<Result<_, _>>()?,
    })
}

fn part(value: &Value) -> Result<FramePart, String> {
    let of = Keys::of(value, "frames")?;
    let second = |v: &Value| Some(WallTime::parse(v.as_str()?)?.seconds());
    let part = FramePart {
        dump: of.text("dump")?.to_owned(),
        frames: of
            .get("frames")
            .as_u64()
            .ok_or_else(|| of.wrong("frames"))?,
        first_s: of.known("first_local", second)?,
        last_s: of.known("last_local", second)?,
        marks: bytes_of_hex(of.text("marks")?.as_bytes()).ok_or_else(|| of.wrong("marks"))?,
    };
    let marks = unpack(part.first_s, &part.marks).ok_or_else(|| of.wrong("marks"))?;
    if marks.len() as u64 != part.frames {
        return Err(format!(
            "it is about {} frames but has the marks of {}",
            part.frames,
            marks.len()
        ));
    }
    Ok(part)
}

fn id(digits: &str) -> Option<StatementId> {
    bytes_of_hex(digits.as_bytes())?.try_into().ok()
}
