//! Values that only maker notes hold, against the table that a metadata library made of them.

use std::collections::BTreeMap;
use std::path::Path;

use framefall::terms::records::CaptureRecord;

/// Field by file, as the library has it.
pub struct MakerNotes {
    rows: BTreeMap<(String, String), f64>,
    /// How many rows were met.
    pub same: usize,
    /// What differs, in words.
    pub differences: Vec<String>,
}

/// Where we hold another value, or none: file, field, why.
const EXCEPTIONS: &[(&str, &str, &str)] = &[(
    "jpeg/pel__canon-eos-650d.jpg",
    "body_zone_s",
    "an editor has turned the note to big-endian order; the library looks for the array's length in its first two bytes",
)];

impl MakerNotes {
    pub fn read() -> Self {
        let table = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/frames/maker_notes.tsv");
        let text = std::fs::read_to_string(table).unwrap();
        let rows = text
            .lines()
            .skip(1)
            .map(|line| {
                let cells: Vec<&str> = line.split('\t').collect();
                let key = (cells[0].to_owned(), cells[1].to_owned());
                (key, cells[2].parse().unwrap())
            })
            .collect();
        Self {
            rows,
            same: 0,
            differences: Vec::new(),
        }
    }

    pub fn check(&mut self, path: &str, record: &CaptureRecord) {
        #[allow(clippy::cast_precision_loss)]
        let ours = [
            ("temperature_c", record.temperature_c),
            ("shutter_count", record.shutter_count.map(|n| n as f64)),
            ("body_zone_s", record.body_zone_s.map(f64::from)),
        ];
        for (field, mine) in ours {
            let theirs = self.rows.get(&(path.to_owned(), field.to_owned())).copied();
            if mine == theirs {
                self.same += usize::from(mine.is_some());
            } else if !EXCEPTIONS.iter().any(|(p, f, _)| *p == path && *f == field) {
                let line = format!("{path}  {field}: library {theirs:?}, here {mine:?}");
                self.differences.push(line);
            }
        }
    }
}
