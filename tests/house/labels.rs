//! One thing has one label: a key of CSV and JSON has the same heading in every table, and that of its field in queries; a
//! heading has one key. The headings are also those of reports and of the manual, which are made from the same columns.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::sources::files_under;
use framefall::terms::field::FIELDS;
use framefall::terms::field_radiant::RADIANT_FIELDS;

/// A key that has another heading somewhere, and why.
const OTHER_HEADINGS: &[(&str, &str, &str)] = &[
    (
        "file",
        "after",
        "a pause is named by the files before and after it",
    ),
    ("file", "from", "a setting holds from a file on"),
    ("start_utc", "from", "activity of a shower, from and until"),
    ("end_utc", "until", "activity of a shower, from and until"),
    (
        "peak_error_h",
        "peak known to ± h",
        "a line by itself has its unit in words",
    ),
    ("end_deg", "end", "the end of a trail, seen from a radiant"),
    ("true_utc", "at", "the instant of a fix"),
    (
        "highest_utc",
        "at",
        "the instant of the greatest altitude beside it",
    ),
    ("origin", "from", "where a site is from"),
    ("moon_sep_deg", "from Moon", "in queries GEM.moon"),
    (
        "seen_rate",
        "seen rate",
        "in queries seen_rate: a name without a space",
    ),
    (
        "seen_alt_deg",
        "seen alt",
        "in queries seen_alt: a name without a space",
    ),
    (
        "point_alt_deg",
        "alt",
        "a table of pointings alone; in queries point.alt",
    ),
    (
        "point_az_deg",
        "az",
        "a table of pointings alone; in queries point.az",
    ),
    (
        "point_roll_deg",
        "roll",
        "a table of pointings alone; in queries point.roll",
    ),
    (
        "start",
        "start",
        "the setting or reading from which on something holds",
    ),
];

/// The columns of the tables in the sources: key and heading, each with its file.
fn columns() -> Vec<(String, String, String)> {
    let mut found = Vec::new();
    for (file, text) in files_under("src", ".rs") {
        for call in text.split("sheet_column(").skip(1) {
            let mut literals = call.split('"');
            if let (Some(before), Some(heading), Some(_), Some(key)) = (
                literals.next(),
                literals.next(),
                literals.next(),
                literals.next(),
            ) && before.trim().is_empty()
            {
                found.push((key.to_owned(), heading.to_owned(), file.clone()));
            }
        }
    }
    found
}

#[test]
fn a_key_has_one_heading_and_a_heading_one_key() {
    let columns = columns();
    assert!(columns.len() > 100, "{}", columns.len());
    let fields: BTreeMap<&str, &str> = RADIANT_FIELDS
        .iter()
        .chain(FIELDS)
        .filter(|field| !field.name.is_empty())
        .map(|field| (field.key, field.name))
        .collect();
    let mut used = BTreeSet::new();
    let is_other = |key: &str, heading: &str, used: &mut BTreeSet<usize>| {
        let at = OTHER_HEADINGS
            .iter()
            .position(|(of, other, _)| *of == key && *other == heading);
        used.extend(at);
        at.is_some()
    };
    let (mut headings, mut keys) = (BTreeMap::new(), BTreeMap::new());
    let mut wrong = Vec::new();
    for (key, heading, file) in &columns {
        if is_other(key, heading, &mut used) {
            continue;
        }
        if let Some(name) = fields.get(key.as_str())
            && name != heading
        {
            wrong.push(format!("{file}: {key} is '{heading}', in queries '{name}'"));
        }
        let first = headings.entry(key).or_insert(heading);
        if *first != heading {
            wrong.push(format!("{file}: {key} is '{heading}' and '{first}'"));
        }
        let first = keys.entry(heading).or_insert(key);
        if *first != key {
            wrong.push(format!("{file}: '{heading}' is {key} and {first}"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    let unused: Vec<_> = (0..OTHER_HEADINGS.len())
        .filter(|at| !used.contains(at))
        .map(|at| OTHER_HEADINGS[at])
        .collect();
    assert!(unused.is_empty(), "{unused:?}");
}
