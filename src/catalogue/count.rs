//! Counts of frames by night, session, site and the like. Builds no SQL from a user's text.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use rusqlite::params_from_iter;

use crate::catalogue::failure::failed;
use crate::catalogue::fetch::Bound;
use crate::catalogue::joins::from_where;
use crate::catalogue::open::Catalogue;
use crate::catalogue::put::cell;
use crate::terms::failure::Failure;
use crate::terms::field::FieldKind;
use crate::terms::field::Table;
use crate::terms::field::Unit;
use crate::terms::predicate::SqlPredicate;
use crate::terms::records::Cell;

/// What frames are counted by.
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
    /// Every active shower: a frame counts for each, as it satisfies `shower = CODE` for each.
    Shower,
}

impl Catalogue {
    /// How many frames satisfy a condition, for each value of a key, by that key; those without one come last.
    pub fn count_per(
        &self,
        predicate: &SqlPredicate,
        per: Per,
    ) -> Result<Vec<(Cell, i64)>, Failure> {
        let (column, table, kind) = match per {
            Per::Session => ("time.session_id", Table::Time, FieldKind::Whole(Unit::One)),
            Per::Night | Per::Year => ("time.night_day", Table::Time, FieldKind::Date),
            Per::Site => ("time.site_id", Table::Time, FieldKind::Text),
            Per::Camera => ("frame.camera_id", Table::Frame, FieldKind::Text),
            Per::Shower => ("sky.active_id", Table::Sky, FieldKind::Text),
        };
        // Of all frames, those without a sky are counted by what is left: no walk through every frame for them.
        let all_skies = per == Per::Shower && predicate.sql.is_empty();
        let from = if all_skies {
            "FROM derived_sky AS sky".to_owned()
        } else {
            from_where(predicate, BTreeSet::from([table]), BTreeSet::new())
        };
        let by_number = format!("SELECT {column} AS key, count(*) AS frames {from} GROUP BY 1");
        // Names are looked up for each number once, not for each frame.
        let named = |name: &str, join: &str| {
            format!(
                "SELECT {name}, sum(frames) FROM ({by_number}) LEFT JOIN {join} = key GROUP BY 1"
            )
        };
        let sql = match per {
            Per::Site => named("site.name", "stated_site AS site ON site.site_id"),
            Per::Camera => named(
                "camera.name",
                "written_camera AS camera ON camera.camera_id",
            ),
            Per::Shower => named(
                "active.showers",
                "derived_active AS active ON active.active_id",
            ),
            Per::Session | Per::Night | Per::Year => by_number,
        };
        let read = || -> rusqlite::Result<Vec<(Cell, i64)>> {
            self.db
                .prepare(&format!("{sql} ORDER BY 1 NULLS LAST"))?
                .query_map(
                    params_from_iter(predicate.values_by_lead().map(Bound)),
                    |row| Ok((cell(row.get_ref(0)?, kind), row.get(1)?)),
                )?
                .collect()
        };
        let mut rows = read().map_err(|e| failed(&self.path, e))?;
        if all_skies {
            let with_sky: i64 = rows.iter().map(|(_, frames)| frames).sum();
            let all = i64::try_from(self.count(predicate)?).unwrap_or(i64::MAX);
            rows.push((Cell::Unknown, all - with_sky));
        }
        Ok(match per {
            Per::Year => folded(rows, |date| vec![date[..4].to_owned()]),
            Per::Shower => folded(rows, |showers| {
                showers.split(' ').map(str::to_owned).collect()
            }),
            _ => rows,
        })
    }
}

/// The counts under other keys that each key stands for.
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
