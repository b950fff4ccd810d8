//! Reads the tables of `tests/data/reference`, and keeps the worst difference.

use std::fs;

use framefall::sky::direction::Direction;
use framefall::terms::angle::Angle;
use framefall::terms::shower::ShowerCode;
use framefall::terms::site::Place;

/// One row of a table, by the names of its columns.
pub struct Row {
    header: csv::StringRecord,
    /// The row as written, for messages.
    pub cells: csv::StringRecord,
}

impl Row {
    pub fn text(&self, column: &str) -> &str {
        let at = self.header.iter().position(|name| name == column);
        &self.cells[at.unwrap_or_else(|| panic!("no column {column}"))]
    }

    pub fn number(&self, column: &str) -> f64 {
        self.text(column)
            .parse()
            .unwrap_or_else(|_| panic!("{column}: {:?}", self.cells))
    }

    pub fn deg(&self, column: &str) -> Angle {
        Angle::from_deg(self.number(column))
    }

    pub fn direction(&self, alt: &str, az: &str) -> Direction {
        Direction::from_alt_az(self.deg(alt), self.deg(az))
    }

    pub fn place(&self) -> Place {
        let lat = self.number("lat_deg");
        Place::new(lat, self.number("lon_east_deg"), self.number("height_m")).unwrap()
    }

    pub fn shower(&self) -> ShowerCode {
        ShowerCode::parse(self.text("code")).unwrap()
    }
}

/// Reads a table and its `.toml`, whose count of rows must fit.
pub fn table(name: &str) -> Vec<Row> {
    let folder = format!("{}/tests/data/reference", env!("CARGO_MANIFEST_DIR"));
    let origin = fs::read_to_string(format!("{folder}/{name}.toml")).unwrap();
    let origin: toml::Table = origin.parse().unwrap();
    let origin = origin["origin"].as_table().unwrap();
    for key in ["what", "library", "environment", "settings", "licence"] {
        assert!(
            origin[key].as_str().is_some_and(|text| !text.is_empty()),
            "{name}: {key}"
        );
    }
    let mut reader = csv::Reader::from_path(format!("{folder}/{name}.csv")).unwrap();
    let header = reader.headers().unwrap().clone();
    let rows: Vec<Row> = reader
        .records()
        .map(|cells| Row {
            header: header.clone(),
            cells: cells.unwrap(),
        })
        .collect();
    assert_eq!(
        origin["rows"].as_integer(),
        i64::try_from(rows.len()).ok(),
        "{name}"
    );
    rows
}

/// The greatest difference of many, with the limit it must stay under.
pub struct Worst {
    what: &'static str,
    limit: f64,
    found: f64,
    count: usize,
}

impl Worst {
    pub fn of(what: &'static str, limit: f64) -> Self {
        Self {
            what,
            limit,
            found: 0.0,
            count: 0,
        }
    }

    pub fn see(&mut self, difference: f64, row: &Row) {
        assert!(
            difference.abs() <= self.limit,
            "{}: {difference} over {} in row {:?}",
            self.what,
            self.limit,
            row.cells
        );
        self.found = self.found.max(difference.abs());
        self.count += 1;
    }

    pub fn tell(&self, rows: usize) {
        println!(
            "{}: {} rows, worst {:.7} of {}",
            self.what, self.count, self.found, self.limit
        );
        assert_eq!(self.count, rows, "{}: rows checked", self.what);
    }
}
