//! Counts of frames by night, session, site and the like. Builds no SQL from a user's text.

use std::collections::BTreeMap;

use rusqlite::params_from_iter;
use rusqlite::types::ValueRef;

use crate::catalogue::fetch::Bound;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::plan::Needs;
use crate::catalogue::plan::Walk;
use crate::catalogue::plan_sql::Statement;
use crate::catalogue::plan_sql::select;
use crate::catalogue::planner::plan;
use crate::catalogue::put::cell;
use crate::query::Checked;
use crate::terms::failure::Failure;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Table;
use crate::terms::records::Cell;

/// The number of the set of showers active over a frame. For a frame without a place it is the number of the main
/// shower, negated.
const ACTIVE_OR_MAIN: &str = "ifnull(sky.active_id, -sky.main_shower_id)";

/// The keys for counting frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// The session's number.
    Session,
    /// The evening's date.
    Night,
    /// The year of the evening's date.
    Year,
    /// The site's name.
    Site,
    /// The body.
    Camera,
    /// The kind of the frame.
    Kind,
    /// Every active shower: a frame counts for each, as it satisfies `shower = CODE` for each; one without a place for
    /// its main shower.
    Shower,
}

impl Catalogue {
    /// How many frames satisfy a condition, for each value of a key, ordered by the key; those without a value come
    /// last.
    pub fn count_per(&self, query: &Checked, per: Per) -> Result<Vec<(Cell, i64)>, Failure> {
        let (mut counts, left) = self.count_by_number(query, per)?;
        if left > 0 {
            *counts.entry(None).or_default() += left;
        }
        let unknown = counts.remove(&None);
        let mut rows = Vec::with_capacity(counts.len() + 1);
        for (number, frames) in counts {
            rows.push((self.named(per, number)?, frames));
        }
        rows.extend(unknown.map(|frames| (Cell::Unknown, frames)));
        Ok(match per {
            Per::Year => folded(rows, |date| vec![date[..4].to_owned()]),
            Per::Shower => folded(rows, |showers| {
                showers.split(' ').map(str::to_owned).collect()
            }),
            // Two bodies may have the same name.
            Per::Camera => folded(rows, |name| vec![name.to_owned()]),
            Per::Site => {
                rows.sort_by_cached_key(|(name, _)| match name {
                    Cell::Text(name) => (false, name.to_ascii_lowercase()),
                    _ => (true, String::new()),
                });
                rows
            }
            Per::Session | Per::Night | Per::Kind => rows,
        })
    }

    /// How many frames there are for each number of a key's row, and how many others. They are counted here, because
    /// SQLite would sort them first.
    fn count_by_number(
        &self,
        query: &Checked,
        per: Per,
    ) -> Result<(BTreeMap<Option<i64>, i64>, i64), Failure> {
        let (column, table) = match per {
            Per::Session => ("time.session_id", Table::Time),
            Per::Night | Per::Year => ("time.night_day", Table::Time),
            Per::Site => ("time.site_id", Table::Time),
            Per::Camera => ("frame.camera_id", Table::Frame),
            Per::Kind => ("time.kind_no", Table::Time),
            Per::Shower => (ACTIVE_OR_MAIN, Table::Sky),
        };
        // For all frames, those missing from an index or a table are counted by subtraction, without walking through
        // every frame.
        let short = match per {
            Per::Night | Per::Year => Some(
                "SELECT night_day, count(*) FROM derived_time WHERE night_day IS NOT NULL GROUP BY 1",
            ),
            Per::Session => Some(
                "SELECT session_id, count(*) FROM derived_time WHERE night_day IS NOT NULL GROUP BY night_day, session_id",
            ),
            Per::Site | Per::Camera | Per::Kind | Per::Shower => None,
        };
        let short = short.filter(|_| *query == Checked::Every);
        let Statement { sql, values } = if let Some(sql) = short {
            Statement {
                sql: sql.to_owned(),
                values: Vec::new(),
            }
        } else {
            let counted = plan(query, Needs::of(&[table]), Walk::Free);
            select(&format!("{column}, 1"), &counted)
        };
        let counts = self.step(|db| {
            let mut statement = db.prepare(&sql)?;
            let mut rows = statement.query(params_from_iter(values.iter().map(Bound)))?;
            let mut counts: BTreeMap<Option<i64>, i64> = BTreeMap::new();
            // Frames come in runs of one key.
            let mut run: (Option<i64>, i64) = (None, 0);
            while let Some(row) = rows.next()? {
                let (key, frames) = (row.get(0)?, row.get::<_, i64>(1)?);
                if key == run.0 {
                    run.1 += frames;
                } else {
                    *counts.entry(run.0).or_default() += run.1;
                    run = (key, frames);
                }
            }
            *counts.entry(run.0).or_default() += run.1;
            counts.retain(|_, frames| *frames > 0);
            Ok(counts)
        })?;
        let left = match short {
            Some(_) => {
                let all = i64::try_from(self.count(query)?).unwrap_or(i64::MAX);
                all - counts.values().sum::<i64>()
            }
            None => 0,
        };
        Ok((counts, left))
    }

    /// The value for a number of a key's row.
    fn named(&self, per: Per, number: Option<i64>) -> Result<Cell, Failure> {
        let Some(number) = number else {
            return Ok(Cell::Unknown);
        };
        let sql = match per {
            Per::Session => return Ok(Cell::Whole(number)),
            Per::Night | Per::Year => return Ok(cell(ValueRef::Integer(number), FieldKind::Date)),
            Per::Site => "SELECT name FROM stated_site WHERE site_id = ?",
            Per::Camera => "SELECT name FROM written_camera WHERE camera_id = ?",
            Per::Kind => "SELECT kind FROM word_kind WHERE kind_no = ?",
            Per::Shower if number < 0 => "SELECT code FROM derived_shower WHERE shower_id = -?",
            Per::Shower => "SELECT showers FROM derived_active WHERE active_id = ?",
        };
        let found = self.row_if_any(sql, [number], |row| {
            Ok(cell(row.get_ref(0)?, FieldKind::Text))
        })?;
        Ok(found.unwrap_or(Cell::Unknown))
    }
}

/// Adds up the counts under the keys that each key maps to.
fn folded(rows: Vec<(Cell, i64)>, keys: impl Fn(&str) -> Vec<String>) -> Vec<(Cell, i64)> {
    let mut known: BTreeMap<String, i64> = BTreeMap::new();
    let mut unknown = 0;
    for (key, frames) in rows {
        if let Cell::Text(text) = key {
            for key in keys(&text) {
                *known.entry(key).or_default() += frames;
            }
        } else {
            unknown += frames;
        }
    }
    let known = known
        .into_iter()
        .map(|(key, frames)| (Cell::Text(key), frames));
    let unknown = (unknown > 0).then_some((Cell::Unknown, unknown));
    known.chain(unknown).collect()
}
