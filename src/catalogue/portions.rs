//! Frames in the order of their starts, in portions that several connections find at once. Runs what
//! [`Catalogue::frames_in_order`] runs, on a part of the frames each.

use std::iter;
use std::rc::Rc;

use rusqlite::Row;
use rusqlite::ToSql;
use rusqlite::params_from_iter;
use rusqlite::types::Value;

use crate::catalogue::failure::failed;
use crate::catalogue::fetch::Bound;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::handoff::Further;
use crate::catalogue::handoff::OrderedFrame;
use crate::catalogue::plan::Driving;
use crate::catalogue::plan::Needs;
use crate::catalogue::plan::Stretch;
use crate::catalogue::plan::Walk;
use crate::catalogue::plan_sql::Statement;
use crate::catalogue::plan_sql::select;
use crate::catalogue::planner::plan;
use crate::query::Checked;
use crate::terms::failure::Failure;

/// Some frames of a condition: those that start in a stretch of time, or those without a start.
#[derive(Clone, Copy, Debug)]
pub struct Portion(Walk);

/// Into how many stretches the time from the first start to the last is parted: nights lie unevenly in it.
const PORTIONS: i64 = 256;

/// Where no more than one frame in so many satisfies a condition, they are few.
const FEW: i64 = 8;

/// How many numbers of frames are looked at to tell.
const LOOKED_AT: u32 = 512;

/// Numbers from a first to a last one, spread evenly but in no step: numbers of frames may follow one.
fn here_and_there(first: i64, last: i64) -> impl Iterator<Item = i64> {
    let span = last.saturating_sub(first) as f64;
    #[allow(clippy::cast_possible_truncation)] // within the span
    let at = move |share: f64| first.saturating_add((share * span).round() as i64);
    // Multiples of the golden ratio leave no gaps and heap up nowhere.
    (0..LOOKED_AT).map(move |n| at((f64::from(n) * GOLDEN_RATIO).fract()))
}

/// Less its whole part.
const GOLDEN_RATIO: f64 = 0.618_033_988_749_894_8;

impl Catalogue {
    /// The portions of a condition's frames that put together, in their order, are all of them in the order of
    /// [`Self::frames_in_order`]. `None` where something leads to the frames, or where they are few among all: a walk through
    /// the starts of all would take longer than to find and sort these.
    pub fn portions(&self, query: &Checked) -> Result<Option<Vec<Portion>>, Failure> {
        let all = plan(query, Needs::default(), Walk::Free);
        if !matches!(all.driving, Driving::Scan(_)) || !self.holds_for_many(query)? {
            return Ok(None);
        }
        let ends = self.ends("derived_time", "start_ms");
        let ends = ends.map_err(|e| failed(&self.path, e))?;
        let mut portions = Vec::new();
        if let Some((first, last)) = ends {
            let long = last.saturating_sub(first) / PORTIONS + 1;
            let mut from = first;
            while from <= last {
                let until = from.saturating_add(long);
                portions.push(Portion(Walk::Within(Stretch { from, until })));
                from = until;
            }
        }
        portions.push(Portion(Walk::Undated));
        Ok(Some(portions))
    }

    /// Whether one in [`FEW`] frames or more satisfies a condition, as far as frames here and there tell.
    fn holds_for_many(&self, query: &Checked) -> Result<bool, Failure> {
        let read = || -> rusqlite::Result<bool> {
            let Some((first, last)) = self.ends("written_frame", "frame_id")? else {
                return Ok(false);
            };
            let looked_at: Vec<Value> = here_and_there(first, last).map(Value::Integer).collect();
            let looked_at = Rc::new(looked_at);
            let count = |query: &Checked| {
                let listed = plan(query, Needs::default(), Walk::Listed);
                let Statement { sql, values } = select("count(*)", &listed);
                let bound: Vec<Bound<'_>> = values.iter().map(Bound).collect();
                let values = bound.iter().map(|value| value as &dyn ToSql);
                let values = iter::once(&looked_at as &dyn ToSql).chain(values);
                self.db
                    .query_row(&sql, params_from_iter(values), |row| row.get::<_, i64>(0))
            };
            Ok(count(query)? * FEW > count(&Checked::Every)?)
        };
        read().map_err(|e| failed(&self.path, e))
    }

    /// The least and the greatest number of a column. One by one, an index gives each without a walk from one to the other.
    fn ends(&self, table: &str, column: &str) -> rusqlite::Result<Option<(i64, i64)>> {
        let end =
            |which| format!("(SELECT {which}({column}) FROM {table} WHERE {column} IS NOT NULL)");
        let sql = format!("SELECT {}, {}", end("min"), end("max"));
        let both = |row: &Row<'_>| Ok((row.get::<_, Option<i64>>(0)?, row.get(1)?));
        let (first, last) = self.db.query_row(&sql, [], both)?;
        Ok(first.zip(last))
    }

    /// The frames of a portion, in their order.
    pub fn frames_of_portion(
        &self,
        query: &Checked,
        portion: Portion,
        further: Further,
    ) -> Result<Vec<OrderedFrame>, Failure> {
        let mut frames = Vec::new();
        self.walked(query, further, (portion.0, Vec::new()), &mut |frame| {
            frames.push(frame);
            Ok(true)
        })?;
        Ok(frames)
    }
}
