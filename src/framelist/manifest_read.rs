//! Reads a manifest: its head whole, its files one by one without holding them. Assumes only that it is JSON: a key
//! that is missing or of another type is refused by its name.

use std::cell::RefCell;
use std::fmt;
use std::io::Read;
use std::path::Path;

use serde_core::de::DeserializeSeed;
use serde_core::de::Deserializer;
use serde_core::de::Error as _;
use serde_core::de::MapAccess;
use serde_core::de::SeqAccess;
use serde_core::de::Visitor;
use serde_json::Map;
use serde_json::Value;

use crate::framelist::hashed::ListDigest;
use crate::framelist::manifest::MANIFEST_SCHEMA;
use crate::framelist::manifest::ManifestFile;
use crate::framelist::manifest::ManifestOptions;
use crate::terms::failure::Failure;
use crate::terms::fingerprint::Fingerprint;
use crate::terms::hex::bytes_of_hex;

/// The parts of a manifest needed to make its lists again, and to report differences.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PastManifest {
    /// The query as it was typed.
    pub query: String,
    /// The query with saved queries expanded.
    pub meaning: String,
    /// The options of the list.
    pub options: ManifestOptions,
    /// The program that wrote it.
    pub program: String,
    /// The state of the catalogue at that time.
    pub catalogue: Map<String, Value>,
    /// The lists: file name and bytes.
    pub lists: Vec<(String, ListDigest)>,
}

/// Reads a manifest; passes each of its files to `each`.
///
/// Refuses: a file that is not JSON, another schema, a manifest with missing keys.
pub fn read_manifest(
    from: impl Read,
    path: &Path,
    each: &mut dyn FnMut(ManifestFile),
) -> Result<PastManifest, Failure> {
    let refuse = |why: String| {
        Failure::words("this is not the manifest of a list")
            .at_file(path)
            .hint("name the file that export wrote beside the list: FILE.manifest.json")
            .because(why)
    };
    let each = RefCell::new(each);
    let mut json = serde_json::Deserializer::from_reader(from);
    let head = json
        .deserialize_map(Whole { each: &each })
        .map_err(|e| refuse(e.to_string()))?;
    json.end().map_err(|e| refuse(e.to_string()))?;
    past(&head).map_err(|lacks| refuse(format!("it does not give {lacks}")))
}

fn past(head: &Map<String, Value>) -> Result<PastManifest, &'static str> {
    let text = |of: &Value, key: &str| of.get(key).and_then(Value::as_str).map(str::to_owned);
    let whole = Value::Object(head.clone());
    if text(&whole, "schema").as_deref() != Some(MANIFEST_SCHEMA) {
        return Err("the schema framefall.manifest/1");
    }
    let options = head.get("options").ok_or("its options")?;
    let query = head.get("query").ok_or("its query")?;
    let lists = head
        .get("lists")
        .and_then(Value::as_array)
        .ok_or("its lists")?;
    let is_true = |key: &str| options.get(key).and_then(Value::as_bool).unwrap_or(false);
    Ok(PastManifest {
        query: text(query, "typed").ok_or("its query")?,
        meaning: text(query, "meaning").ok_or("the meaning of its query")?,
        options: ManifestOptions {
            form: text(options, "as").ok_or("the format of its lists")?,
            take: text(options, "take"),
            paths: text(options, "paths").ok_or("the form of its paths")?,
            root: text(options, "root"),
            per_session: is_true("per_session"),
            reference: text(options, "reference"),
            show: text(options, "show"),
            limit: options.get("limit").and_then(Value::as_u64),
            calibration: options
                .get("calibration")
                .and_then(Value::as_array)
                .map(|kinds| {
                    let kinds = kinds.iter().filter_map(Value::as_str);
                    kinds.map(str::to_owned).collect()
                })
                .unwrap_or_default(),
            check: text(options, "check").ok_or("what was checked")?,
            allow_missing: is_true("allow_missing"),
            // Earlier versions did not have the option, and exported them.
            with_damaged: options.get("with_damaged").is_none() || is_true("with_damaged"),
        },
        program: text(&whole, "program").unwrap_or_default(),
        catalogue: head
            .get("catalogue")
            .and_then(Value::as_object)
            .cloned()
            .ok_or("the catalogue's state")?,
        lists: lists
            .iter()
            .map(|list| {
                let digest = ListDigest {
                    bytes: list.get("bytes").and_then(Value::as_u64)?,
                    blake3: hash(list.get("blake3")?)?,
                };
                Some((text(list, "file")?, digest))
            })
            .collect::<Option<_>>()
            .ok_or("its lists with their hashes")?,
    })
}

fn file(value: &Value) -> Option<ManifestFile> {
    let text = |key: &str| value.get(key).and_then(Value::as_str).map(str::to_owned);
    Some(ManifestFile {
        path: text("path")?,
        dump: text("dump")?,
        bytes: value.get("bytes").and_then(Value::as_u64)?,
        modified_utc: text("modified_utc")?,
        fingerprint: value
            .get("fingerprint")
            .and_then(Value::as_str)
            .and_then(Fingerprint::from_hex),
        blake3: value.get("blake3").and_then(hash),
    })
}

/// Sixty-four hexadecimal digits.
fn hash(value: &Value) -> Option<[u8; 32]> {
    bytes_of_hex(value.as_str()?.as_bytes())?.try_into().ok()
}

type Each<'e> = RefCell<&'e mut dyn FnMut(ManifestFile)>;

/// The manifest as an object, whose files are not held in memory.
struct Whole<'a, 'e> {
    each: &'a Each<'e>,
}

impl<'de> Visitor<'de> for Whole<'_, '_> {
    type Value = Map<String, Value>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a manifest")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
        let mut head = Map::new();
        while let Some(key) = map.next_key::<String>()? {
            match key.as_str() {
                "files" => map.next_value_seed(Files { each: self.each })?,
                "left_out" => {
                    map.next_value::<serde_core::de::IgnoredAny>()?;
                }
                _ => {
                    head.insert(key, map.next_value()?);
                }
            }
        }
        Ok(head)
    }
}

/// The files of a manifest, one by one.
struct Files<'a, 'e> {
    each: &'a Each<'e>,
}

impl<'de> DeserializeSeed<'de> for Files<'_, '_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Files<'_, '_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("the files of a manifest")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<(), A::Error> {
        while let Some(value) = seq.next_element::<Value>()? {
            let file = file(&value)
                .ok_or_else(|| A::Error::custom("a file without path, size or time"))?;
            let mut each = self.each.borrow_mut();
            (*each)(file);
        }
        Ok(())
    }
}
