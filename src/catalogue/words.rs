//! Tables that are filled from the program's own lists: the words that rows refer to by number, so that a new word needs
//! only an entry in a list; and the offsets of the zones of the site book, so that SQL alone gives local time.

use rusqlite::Connection;
use rusqlite::params;

use crate::terms::basis::ClockTag;
use crate::terms::basis::Health;
use crate::terms::basis::Kind;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::field_words::FORMATS;
use crate::terms::local::offsets_of;

/// The tables `word_…`: the column of words, by which a table is named, and the words by number from 0.
const LISTS: [(&str, &[&str]); 6] = [
    ("format", FORMATS),
    ("health", Health::WORDS),
    ("clock_source", ClockTag::WORDS),
    ("time_basis", TimeBasis::WORDS),
    ("place_basis", PlaceBasis::WORDS),
    ("kind", Kind::WORDS),
];

/// Adds missing words to a catalogue: all of them to a new one, later those that the previous program did not know.
pub fn fill(db: &Connection) -> rusqlite::Result<()> {
    for (column, words) in LISTS {
        let count = format!("SELECT count(*) FROM word_{column}");
        let known: i64 = db.query_row(&count, [], |row| row.get(0))?;
        if usize::try_from(known).is_ok_and(|known| known >= words.len()) {
            continue;
        }
        let mut put = db.prepare(&format!(
            "INSERT OR IGNORE INTO word_{column} ({column}_no, {column}) VALUES (?, ?)"
        ))?;
        for (number, word) in (0_i64..).zip(words) {
            put.execute(params![number, word])?;
        }
    }
    let zones: Vec<String> = db
        .prepare("SELECT DISTINCT zone FROM stated_site WHERE zone IS NOT NULL")?
        .query_map([], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    zones.iter().try_for_each(|zone| fill_zone(db, zone))
}

/// Removes the offsets of zones that no site has.
pub(super) fn remove_unused_zones(db: &Connection) -> rusqlite::Result<()> {
    db.prepare_cached(
        "DELETE FROM zone_offset
         WHERE zone NOT IN (SELECT zone FROM stated_site WHERE zone IS NOT NULL)",
    )?
    .execute([])
    .map(|_| ())
}

/// Stores the offsets of a zone, unless the same ones are stored. They differ after an update of the time zone database.
pub(super) fn fill_zone(db: &Connection, zone: &str) -> rusqlite::Result<()> {
    let stored: Vec<(i64, i32)> = db
        .prepare_cached(
            "SELECT from_ms, offset_s FROM zone_offset WHERE zone = ? ORDER BY from_ms",
        )?
        .query_map([zone], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Result<_, _>>()?;
    let offsets = offsets_of(zone);
    if stored == offsets {
        return Ok(());
    }
    db.prepare_cached("DELETE FROM zone_offset WHERE zone = ?")?
        .execute([zone])?;
    // One statement, so that they are synced to the disk once.
    let rows: Vec<String> = offsets
        .iter()
        .map(|(from_ms, offset_s)| format!("[{from_ms},{offset_s}]"))
        .collect();
    db.prepare_cached(
        "INSERT INTO zone_offset (zone, from_ms, offset_s)
         SELECT ?1, json_extract(value, '$[0]'), json_extract(value, '$[1]') FROM json_each(?2)",
    )?
    .execute(params![zone, format!("[{}]", rows.join(","))])
    .map(|_| ())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::make::WHOLE;

    #[test]
    fn a_catalogue_by_a_program_that_knew_fewer_words_gains_the_rest_and_keeps_its_numbers() {
        let db = Connection::open_in_memory().unwrap();
        db.execute_batch(WHOLE).unwrap();
        fill(&db).unwrap();
        let stored = |column: &str| -> Vec<(i64, String)> {
            db.prepare(&format!("SELECT * FROM word_{column} ORDER BY 1"))
                .unwrap()
                .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
                .unwrap()
                .collect::<Result<_, _>>()
                .unwrap()
        };
        for (column, words) in LISTS {
            let whole = stored(column);
            assert_eq!(whole.len(), words.len());
            let last = whole.last().unwrap();
            db.execute(
                &format!("DELETE FROM word_{column} WHERE {column}_no = ?"),
                [last.0],
            )
            .unwrap();
            fill(&db).unwrap();
            assert_eq!(stored(column), whole);
        }
    }
}
