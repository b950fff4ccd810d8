//! From words to a predicate. Never sees a connection, never runs SQL.
//!
//! ```text
//! text --scan--> tokens --parse--> tree --check--> checked tree --sql--> predicate
//! ```
//!
//! # The language
//!
//! A query consists of conditions on the fields of a frame, joined with `and`, `or`, `not` and round brackets. `not`
//! binds tightest, then `and`, then `or`. Keywords, field names, words and shower codes may be in capital or small
//! letters. The empty query means every frame.
//!
//! | condition | true if |
//! | --- | --- |
//! | `FIELD = VALUE`, `!=`, `<`, `<=`, `>`, `>=` | the comparison holds |
//! | `FIELD in A..B` | the value is from A to B, both included |
//! | `FIELD in (A, B, C)` | the value is one of these |
//! | `FIELD like 'GLOB'` | the text matches, where `*` is any text and `?` any one character |
//! | `FIELD is known`, `FIELD is unknown` | the field has a value, or has none |
//!
//! ```
//! # use framefall::{query::{compile, predicate}, terms::shower::ShowerCode};
//! let showers = [ShowerCode::parse("GEM").unwrap(), ShowerCode::parse("MON").unwrap()];
//! let query = compile("GEM.alt > 30 and moon.alt < 0", &showers)?;
//! assert_eq!(predicate(&query.tree).sql, "r_GEM.stood >= ? AND sky.moon_alt < ?");
//! # Ok::<(), framefall::terms::failure::Failure>(())
//! ```
//!
//! **Unknown values.** An unknown value satisfies neither a condition nor its opposite. A frame without a place is
//! found by `moon.alt is unknown`, but neither by `moon.alt < 0` nor by `not moon.alt < 0`. A shower's fields are
//! unknown when the shower is not active.
//!
//! **Numbers** may have a unit, with or without a space before it: `30deg` (or `30°`), `250ms`, `1/200s`, `2.5h`,
//! `14mm`, `1.2km`, `24MB`, `16MiB`, `25°C`, `20/h`; `f/2.8` for an aperture, `25%` for the lit fraction of the Moon.
//! Without one, the field's own unit applies. `<`, `<=`, `>`, `>=` and ranges compare exactly. `=`, `!=` and lists
//! treat numbers as equal if they differ by less than [`EQUAL_WITHIN`] of themselves, so that `exposure = 1/3s` and
//! `aperture = 2.8` find values stored in single precision, or by half of the last digit that lists write, so that a
//! number copied from a list finds its frame. Whole numbers (`seq`, for example, but not `iso`) always compare exactly.
//!
//! **Moments** are ISO 8601 and mean the whole period that they name: `2023` a year, `2023-12` a month, `2023-12-13` a
//! day, `…T22:00Z` a minute, `…T22:00:07Z` a second, `…T22:00:07.25Z` a hundredth of a second. `=` means within the
//! period, `<` before its beginning, `>` after its end, `<=` up to its end, `>=` from its beginning. So exactly one of
//! `<`, `=`, `>` is true for every known value, and `night in 2021..2024` takes four whole years.
//! - `night` takes dates only. A night is named by its evening.
//! - `start`, `mid`, `end` are instants: a time of day needs `Z` or an offset (`+01:00`), because its zone would
//!   otherwise be a guess; a date alone means the day in UTC.
//! - `clock` is the camera clock and takes no zone.
//!
//! ```
//! # use framefall::query::compile;
//! let query = compile("night in 2021..2024 and start > 2023-12-13T23:00+01:00", &[])?;
//! assert_eq!(query.tree.to_string(), "night in 2021..2024 and start > 2023-12-13T22:00Z");
//! let slip = compile("start > 2023-12-13T22:00", &[]).unwrap_err();
//! assert_eq!(slip.message, "`2023-12-13T22:00` could be any zone's time");
//! # Ok::<(), framefall::terms::failure::Failure>(())
//! ```
//!
//! **Text** needs quotes unless it is one word (`GEM`, `cr2`, `30417`): `'Dry Lake'`, `"Dry Lake"`; a quote inside is
//! doubled. Capital and small letters from A to Z are equal, in `=`, `!=`, lists and `like`. Text and words have no
//! order: `camera > A` and `twilight >= civil` are refused (is night above day, or below?); name the values, or use
//! `sun.alt`.
//!
//! **Showers.** `GEM.alt` is a field of one shower's radiant, `radiant.alt` that of the frame's strongest shower. The
//! strongest is the one with the greatest rate at that place and time, so its radiant is up; if none is up, `shower`
//! and `radiant.alt` are unknown. `main_shower` is the one with the greatest ZHR, whether its radiant is up or not.
//! `shower = GEM` is true if GEM is active, strongest or not; if the place is unknown, if it is the main one. `shower
//! != GEM` is its exact opposite; `shower like` compares the strongest only.
//!
//! ```
//! # use framefall::{query::{compile, predicate}, terms::shower::ShowerCode};
//! let showers = [ShowerCode::parse("GEM").unwrap()];
//! let query = compile("shower = gem", &showers)?;
//! assert_eq!(
//!     predicate(&query.tree).sql,
//!     "sky.main_shower_id = ifnull((SELECT shower_id FROM derived_shower WHERE code = 'GEM'), 0) \
//!      OR r_GEM.frame_id IS NOT NULL",
//! );
//! # Ok::<(), framefall::terms::failure::Failure>(())
//! ```
//!
//! **Impossible conditions** are refused rather than answered with nothing: a field that does not exist (with the
//! nearest that does), a unit that does not fit, a word that the field does not have, an altitude of 95°, a range that
//! runs backwards. Every refusal points at its letters.
//!
//! ```
//! # use framefall::{query::compile, terms::failure::At};
//! let slip = compile("moon.alt < 0 and exposure > 20mm", &[]).unwrap_err();
//! assert_eq!(slip.message, "`mm` is not a unit of exposure");
//! assert_eq!(slip.hint.as_deref(), Some("write s, ms, min or h; a bare number is in s"));
//! assert!(matches!(slip.at, At::Query { span, .. } if span == (30..32)));
//! ```
//!
//! **Saved queries.** `@name` means the query saved under that name, in brackets: [`expand`] expands it before the text
//! is compiled.
//!
//! Limits: [`LONGEST`] bytes, [`DEEPEST`] brackets inside one another, [`MOST_VALUES`] values, [`MOST_SHOWERS`]
//! showers.

mod amount;
mod check;
mod checked;
mod cursor;
mod fields;
mod glob;
mod help;
mod limits;
mod mistake;
mod moment;
mod names;
mod number;
mod other_names;
mod parse;
mod remedy;
mod scan;
mod side_by_side;
mod sql;
mod tree;

pub use checked::Checked;
pub use checked::Period;
pub use checked::Test;
pub use checked::Value;
pub use help::help_text;
pub use names::LONGEST_NAME;
pub use names::ListUse;
pub use names::Listed;
pub use names::Sorting;
pub use names::can_be_a_name;
pub use names::expand;
pub use names::field_list;
pub use names::names_saved_queries;
pub use parse::DEEPEST;
pub use parse::MOST_VALUES;
pub use scan::Op;
pub use sql::EQUAL_WITHIN;
pub use sql::all_hold;
pub use sql::predicate;
pub use sql::predicate_on;

use crate::query::mistake::Mistake;
use crate::terms::failure::Failure;
use crate::terms::shower::ShowerCode;

/// The most bytes in a query.
pub const LONGEST: usize = 10_000;
/// The most showers in one query: SQLite joins at most 64 tables, and a frame's own are among them.
pub const MOST_SHOWERS: usize = 40;

/// A query, ready to be run.
#[derive(Clone, Debug, PartialEq)]
pub struct Compiled {
    /// Its meaning. Prints as a query that means the same.
    pub tree: Checked,
    /// The showers it names, in the order of their mention: a list shows their radiants.
    pub showers_named: Vec<ShowerCode>,
}

/// Compiles a query. `showers` are the codes in the shower table.
///
/// Refuses: anything that the language does not have, as a [`Failure`] of kind `Query` that points at the letters
/// concerned and names the remedy.
pub fn compile(text: &str, showers: &[ShowerCode]) -> Result<Compiled, Failure> {
    compile_words(text, showers).map_err(|mistake| mistake.into_failure(text))
}

fn compile_words(text: &str, showers: &[ShowerCode]) -> Result<Compiled, Mistake> {
    if text.len() > LONGEST {
        let from = (0..=LONGEST).rev().find(|&at| text.is_char_boundary(at));
        return Err(Mistake::new(
            format!("a query may be at most {LONGEST} bytes long"),
            from.unwrap_or(0)..text.len(),
        )
        .hint("split it into several queries"));
    }
    let tokens = scan::scan(text)?;
    let tree = match parse::parse(&tokens, text.len())? {
        Some(tree) => check::check(&tree, showers)?,
        None => Checked::Every,
    };
    let showers_named = tree.showers_named();
    if showers_named.len() > MOST_SHOWERS {
        return Err(Mistake::new(
            format!("a query may name at most {MOST_SHOWERS} showers"),
            0..text.len(),
        )
        .hint("split it into several queries, or use radiant.alt, the strongest shower's"));
    }
    Ok(Compiled {
        tree,
        showers_named,
    })
}
