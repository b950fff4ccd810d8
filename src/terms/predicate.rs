//! A checked query as SQL: text with `?` marks, and the values. Never holds a user's text in the SQL.

use std::collections::BTreeSet;

use crate::terms::field_kind::Table;
use crate::terms::shower::ShowerCode;

/// A value bound to a `?` mark.
#[derive(Clone, Debug, PartialEq)]
pub enum SqlValue {
    /// Text.
    Text(String),
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
}

/// What a query asks of the catalogue.
///
/// `sql` is an expression over the aliases of [`Table`] and, for a shower, its alias from [`radiant_alias`];
/// whoever runs it joins the tables that `tables` and `showers` name.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SqlPredicate {
    /// The condition; empty when every frame is meant.
    pub sql: String,
    /// The values of its `?` marks, in order.
    pub values: Vec<SqlValue>,
    /// The tables it mentions, the frame's own left out or not.
    pub tables: BTreeSet<Table>,
    /// The showers whose radiants it mentions by code.
    pub showers: BTreeSet<ShowerCode>,
    /// Those of `tables` without whose row the condition holds of no frame.
    pub sure_tables: BTreeSet<Table>,
    /// Those of `showers` without whose radiant the condition holds of no frame.
    pub sure_showers: BTreeSet<ShowerCode>,
    /// Where the few frames that it can hold of are found.
    pub lead: Lead,
    /// Which days the frames can have started on that it holds of.
    pub days: Days,
}

/// Where the frames are found that a condition can hold of, when that is better told from its words than from the
/// sizes of tables.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Lead {
    /// Nothing tells.
    #[default]
    None,
    /// By an index of this table: a session, a night, a stretch of time.
    Table(Table),
    /// Under this shower's radiant.
    Radiant(ShowerCode),
    /// Among those that a SELECT finds.
    Among(Box<Among>),
}

/// Days from midnight UTC, as far as a condition tells them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Days {
    /// Any.
    #[default]
    Any,
    /// From the first to the last of these, since 1970-01-01.
    Between(i64, i64),
    /// Some stretch, but it cannot be told which: nights are by the body's own clock where a site has no zone.
    Nights,
}

/// A SELECT of frames, each once.
#[derive(Clone, Debug, PartialEq)]
pub struct Among {
    /// A SELECT with the one column `frame_id`.
    pub sql: String,
    /// The values of its `?` marks, in order.
    pub values: Vec<SqlValue>,
    /// The showers under one of whose radiants each of these frames lies, or one of which is its main one.
    pub showers: BTreeSet<ShowerCode>,
    /// Those of `showers` that may be the main one over one of these frames that has no place, and so no radiants.
    pub unplaced: BTreeSet<ShowerCode>,
    /// What is still to be asked of these frames; together with the SELECT it says the same as the whole condition.
    pub rest: SqlPredicate,
}

impl SqlPredicate {
    /// What a WHERE clause still asks of the frames that the lead finds.
    pub fn rest(&self) -> &Self {
        match &self.lead {
            Lead::Among(among) => &among.rest,
            _ => self,
        }
    }

    /// The values of all marks in the order in which they stand: the lead's, then the rest's.
    pub fn values_by_lead(&self) -> impl Iterator<Item = &SqlValue> {
        let lead = match &self.lead {
            Lead::Among(among) => among.values.as_slice(),
            _ => &[],
        };
        lead.iter().chain(&self.rest().values)
    }
}

/// The SQL alias under which one shower's radiant row is joined: `r_GEM`.
///
/// A code is three ASCII letters by construction, so no user text reaches the SQL.
pub fn radiant_alias(shower: ShowerCode) -> String {
    format!("r_{shower}")
}

/// The SQL alias of the strongest shower's radiant row.
pub const STRONGEST_ALIAS: &str = "r_strongest";

/// SQL for the number under which the catalogue keeps a shower; no row's where it keeps none of it.
///
/// As for [`radiant_alias`], no user text reaches the SQL.
pub fn shower_number(shower: ShowerCode) -> String {
    format!("ifnull((SELECT shower_id FROM derived_shower WHERE code = '{shower}'), 0)")
}
