//! What of the manual and of the schemas is written by the program's own tables. `FRAMEFALL_WRITE=1 cargo test --test house`
//! writes it anew.

use std::fs;
use std::path::PathBuf;

use framefall::terms::field::FIELDS;
use framefall::terms::field::Field;
use framefall::terms::field_kind::FieldKind;
use framefall::terms::field_kind::Limits;
use framefall::terms::field_radiant::RADIANT_FIELDS;
use framefall::terms::finding::FINDINGS;
use framefall::terms::finding::FindingCode;
use serde_json::Value;
use serde_json::json;

/// Checks a file against its expected contents, or writes it.
fn hold(file: &str, should_be: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(file);
    if std::env::var_os("FRAMEFALL_WRITE").is_some() {
        fs::write(&path, should_be).unwrap();
    }
    assert!(
        fs::read_to_string(&path).unwrap() == should_be,
        "{file} does not follow the program's tables; FRAMEFALL_WRITE=1 cargo test --test house writes it"
    );
}

fn read(file: &str) -> String {
    fs::read_to_string(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(file)).unwrap()
}

fn row(name: &str, field: &Field) -> String {
    let code = |text: &str| match text {
        "" => String::new(),
        text => format!("`{text}`"),
    };
    format!(
        "| {} | {} | {} | {} | {} |\n",
        code(name),
        code(field.key),
        field.kind.words(),
        field.sentence,
        code(field.example)
    )
}

#[test]
fn the_manual_has_a_row_for_every_field() {
    const HEAD: &str = "| field | key in CSV and JSON | unit or kind | meaning | example |\n| --- | --- | --- | --- | --- |\n";
    let page = read("docs/query.md");
    let (before, table) = page.split_once(HEAD).unwrap();
    let (_, after) = table.split_once("\n\n").unwrap();
    let rows: String = FIELDS
        .iter()
        .map(|field| row(field.name, field))
        .chain(
            RADIANT_FIELDS
                .iter()
                .map(|field| row(&format!("GEM.{}", field.name), field)),
        )
        .collect();
    hold("docs/query.md", &format!("{before}{HEAD}{rows}\n{after}"));
}

#[test]
fn the_manual_has_a_row_for_every_finding() {
    const HEAD: &str = "| code | weight | meaning | what to do |\n| --- | --- | --- | --- |\n";
    let page = read("docs/findings.md");
    let (before, _) = page.split_once(HEAD).unwrap();
    let row = |row: &FindingCode| {
        let weight = row.severity.word();
        format!(
            "| `{}` | {weight} | {} | {} |\n",
            row.code, row.headline, row.cure
        )
    };
    let rows: Vec<String> = FINDINGS.iter().map(row).collect();
    hold(
        "docs/findings.md",
        &format!("{before}{HEAD}{}", rows.concat()),
    );
}

/// A field in JSON Schema. A description may go on where the table's sentence ends.
fn property(field: &Field, before: &Value) -> Value {
    let mut said = serde_json::Map::new();
    let plain = |name: &str| json!([name, "null"]);
    match field.kind {
        FieldKind::Words(words) => {
            let words = words.iter().copied().map(Value::from);
            said.insert("enum".into(), words.chain([Value::Null]).collect());
        }
        FieldKind::Number(_) => drop(said.insert("type".into(), plain("number"))),
        FieldKind::Whole(_) => drop(said.insert("type".into(), plain("integer"))),
        _ => drop(said.insert("type".into(), plain("string"))),
    }
    let pattern = match field.kind {
        FieldKind::Instant => Some(r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}\.\d{3}Z$"),
        FieldKind::Reading => Some(r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,9})?$"),
        FieldKind::Local => {
            Some(r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}\.\d{3}[+-]\d{2}:\d{2}(:\d{2})?$")
        }
        FieldKind::Date => Some(r"^\d{4}-\d{2}-\d{2}$"),
        _ => None,
    };
    if let Some(pattern) = pattern {
        said.insert("pattern".into(), pattern.into());
    }
    let Limits { low, high, .. } = field.limits;
    for (key, limit) in [("minimum", low), ("maximum", high)] {
        if limit.is_finite() {
            let whole = limit.fract() == 0.0;
            #[allow(clippy::cast_possible_truncation)] // whole and small
            let number = if whole {
                json!(limit as i64)
            } else {
                json!(limit)
            };
            said.insert(key.into(), number);
        }
    }
    let unit = match field.kind {
        FieldKind::Number(unit) | FieldKind::Whole(unit) => unit.words(),
        _ => "",
    };
    let comma = if unit.is_empty() { "" } else { "; " };
    let sentence = format!("{}{comma}{unit}", field.sentence);
    let longer = before["description"]
        .as_str()
        .filter(|told| told.starts_with(&sentence));
    said.insert("description".into(), longer.unwrap_or(&sentence).into());
    Value::Object(said)
}

/// What a frame in JSON holds besides its fields. Whatever else a schema names is taken out.
const NO_FIELDS: [&str; 6] = [
    "schema",
    "reference",
    "reference_turn_deg",
    "reference_turn_basis",
    "files",
    "radiants",
];

#[test]
fn the_schema_of_a_frame_has_every_field() {
    let file = "docs/schema/framefall.frame.1.json";
    let mut schema: Value = serde_json::from_str(&read(file)).unwrap();
    let keys: Vec<Value> = FIELDS.iter().map(|field| field.key.into()).collect();
    let list = schema["required"].as_array().unwrap();
    let others = list
        .iter()
        .filter(|key| NO_FIELDS.contains(&key.as_str().unwrap()));
    let (first, rest): (Vec<&Value>, Vec<&Value>) = others.partition(|key| *key == "schema");
    let required: Vec<Value> = first
        .into_iter()
        .chain(&keys)
        .chain(rest)
        .cloned()
        .collect();
    schema["required"] = required.into();
    let before = schema["properties"].as_object().unwrap().clone();
    let mut after = serde_json::Map::new();
    after.insert("schema".into(), before["schema"].clone());
    for field in FIELDS {
        let was = before.get(field.key).unwrap_or(&Value::Null);
        after.insert(field.key.into(), property(field, was));
        let bytes = format!("{}_hex", field.key);
        if let Some(bytes_of) = before.get(&bytes) {
            after.insert(bytes, bytes_of.clone());
        }
    }
    for (key, value) in before {
        if NO_FIELDS.contains(&key.trim_end_matches("_hex")) && !after.contains_key(&key) {
            after.insert(key, value);
        }
    }
    schema["properties"] = Value::Object(after);
    let mut text = Vec::new();
    let indent = serde_json::ser::PrettyFormatter::with_indent(b" ");
    let mut out = serde_json::Serializer::with_formatter(&mut text, indent);
    serde_core::Serialize::serialize(&schema, &mut out).unwrap();
    text.push(b'\n');
    hold(file, &String::from_utf8(text).unwrap());
}
