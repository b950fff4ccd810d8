//! A checked query as SQL: text with `?` placeholders, and the values. A user's text is never in the SQL.

use std::collections::BTreeSet;

use crate::terms::field_kind::Table;
use crate::terms::shower::ShowerCode;

/// A value bound to a `?` placeholder.
#[derive(Clone, Debug, PartialEq)]
pub enum SqlValue {
    /// Text.
    Text(String),
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
}

/// A condition on frames.
///
/// `sql` is an expression over the aliases of [`Table`] and, for a shower, its alias from [`radiant_alias`]; the caller
/// joins the tables that `tables` and `showers` name.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SqlPredicate {
    /// The condition; empty for every frame.
    pub sql: String,
    /// The values of its `?` placeholders, in order.
    pub values: Vec<SqlValue>,
    /// The tables it mentions; the frame's own may be left out.
    pub tables: BTreeSet<Table>,
    /// The showers whose radiants it mentions by code.
    pub showers: BTreeSet<ShowerCode>,
}

/// The SQL alias under which one shower's radiant row is joined: `r_GEM`.
///
/// A code is three ASCII letters by construction, so no user text reaches the SQL.
pub fn radiant_alias(shower: ShowerCode) -> String {
    format!("r_{shower}")
}

/// The SQL alias of the strongest shower's radiant row.
pub const STRONGEST_ALIAS: &str = "r_strongest";

/// SQL for the catalogue's number of a shower; that of no row if the catalogue does not have it.
///
/// As for [`radiant_alias`], no user text reaches the SQL.
pub fn shower_number(shower: ShowerCode) -> String {
    format!("ifnull((SELECT shower_id FROM derived_shower WHERE code = '{shower}'), 0)")
}
