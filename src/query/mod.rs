//! From words to a predicate. Never sees a connection, never runs SQL.
//!
//! ```text
//! text --scan--> tokens --parse--> tree --check--> checked tree --sql--> predicate
//! ```
//!
//! # The language
//!
//! A query is conditions over the fields of a frame, joined with `and`, `or`, `not` and round brackets. `not` binds
//! tightest, then `and`, then `or`. Keywords, field names, words and shower codes are read in either case of letters.
//! The empty query means every frame.
//!
//! | condition | holds where |
//! | --- | --- |
//! | `FIELD = VALUE`, `!=`, `<`, `<=`, `>`, `>=` | the comparison holds |
//! | `FIELD in A..B` | the value lies from A to B, both included |
//! | `FIELD in (A, B, C)` | it is one of these |
//! | `FIELD like 'GLOB'` | the text fits, `*` being any text and `?` any one character |
//! | `FIELD is known`, `FIELD is unknown` | there is a value, or none |
//!
//! ```
//! # use framefall::{query::{compile, predicate}, terms::shower::ShowerCode};
//! let showers = [ShowerCode::parse("GEM").unwrap(), ShowerCode::parse("MON").unwrap()];
//! let query = compile("GEM.alt > 30 and moon.alt < 0", &showers)?;
//! assert_eq!(predicate(&query.tree).sql, "r_GEM.stood >= ? AND sky.moon_alt < ?");
//! # Ok::<(), framefall::terms::failure::Failure>(())
//! ```
//!
//! **Unknown values.** A value that is not known satisfies neither a condition nor its opposite: a frame without a
//! place is found neither by `moon.alt < 0` nor by `not moon.alt < 0`, but by `moon.alt is unknown`. A shower's fields
//! are unknown where the shower is not active.
//!
//! **Numbers** may carry a unit, directly or after a blank: `30deg` (or `30°`), `250ms`, `1/200s`, `2.5h`, `14mm`,
//! `1.2km`, `24MB`, `16MiB`, `25°C`, `20/h`; `f/2.8` for an aperture, `25%` for the lit part of the Moon. Without one
//! they are in the field's own unit. `<`, `<=`, `>`, `>=` and ranges compare exactly; `=`, `!=` and lists let numbers
//! be equal that differ by less than [`EQUAL_WITHIN`] of themselves, so that `exposure = 1/3s` and `aperture = 2.8`
//! find what was stored in single precision, or by half of the last digit that lists write: what stands in a list finds
//! its frame. Whole numbers (`iso` is none, `seq` is) compare exactly always.
//!
//! **Moments** are ISO 8601 and stand for the whole stretch they name: `2023` for a year, `2023-12` for a month,
//! `2023-12-13` for a day, `…T22:00Z` for a minute, `…T22:00:07Z` for a second, `…T22:00:07.25Z` for a hundredth.
//! `=` is within the stretch, `<` before its beginning, `>` after its end, `<=` up to its end, `>=` from its beginning:
//! so exactly one of `<`, `=`, `>` holds for every known value, and `night in 2021..2024` takes four whole years.
//! - `night` takes dates only. A night is named by its evening.
//! - `start`, `mid`, `end` are instants: a time of day needs `Z` or an offset (`+01:00`), since it would otherwise be a
//!   guess whose; a bare date means the day in UTC.
//! - `clock` is what the body's clock wrote, and takes no zone.
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
//! **Text** is bare where it is one word (`GEM`, `cr2`, `30417`), else in quotes: `'Dry Lake'`, `"Dry Lake"`, a quote
//! inside doubled. Capital and small letters from A to Z are one, in `=`, `!=`, lists and `like`. Text and words
//! have no order: `camera > A` and `twilight >= civil` are refused (is night above day, or below?); name the values, or
//! ask for `sun.alt`.
//!
//! **Showers.** `GEM.alt` is a field of one shower's radiant, `radiant.alt` of the frame's strongest shower.
//! The strongest is the one with the greatest rate there and then: its radiant is up; where none is, `shower` and
//! `radiant.alt` are unknown. `main_shower` is the one with the greatest ZHR, its radiant up or not. `shower = GEM` holds
//! where GEM is active, strongest or not; where the place is not known, if it is the main one. `shower != GEM` is its
//! exact opposite; `shower like` asks for the strongest only.
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
//! **What cannot be** is refused rather than answered with nothing: a field that does not exist (with the nearest that
//! does), a unit that does not fit, a word that is none of the field's, an altitude of 95°, a range that runs backwards.
//! Every refusal points at its letters.
//!
//! ```
//! # use framefall::{query::compile, terms::failure::At};
//! let slip = compile("moon.alt < 0 and exposure > 20mm", &[]).unwrap_err();
//! assert_eq!(slip.message, "`mm` is not a unit of exposure");
//! assert_eq!(slip.hint.as_deref(), Some("write s, ms, min or h; a bare number is in s"));
//! assert!(matches!(slip.at, At::Query { span, .. } if span == (30..32)));
//! ```
//!
//! **Saved queries.** `@name` stands for a query that was saved under that name, as if it were written out in brackets:
//! [`expand`] writes it out before the text is compiled.
//!
//! Bounds: [`LONGEST`] bytes, [`DEEPEST`] brackets inside one another, [`MOST_VALUES`] values, [`MOST_SHOWERS`] showers.

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
mod parse;
mod remedy;
mod scan;
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

/// Bytes that a query may be long.
pub const LONGEST: usize = 10_000;
/// Showers that one query may name: SQLite joins at most 64 tables, and a frame's own are among them.
pub const MOST_SHOWERS: usize = 40;

/// A query, ready to be run.
#[derive(Clone, Debug, PartialEq)]
pub struct Compiled {
    /// What it means. Prints as a query that means the same.
    pub tree: Checked,
    /// The showers it names, in the order of their mention: a list shows their radiants.
    pub showers_named: Vec<ShowerCode>,
}

/// Compiles a query. `showers` are the codes that the shower table knows.
///
/// Refuses: whatever the language does not hold, as a [`Failure`] of kind `Query` that points at the letters meant and
/// says what to write instead.
pub fn compile(text: &str, showers: &[ShowerCode]) -> Result<Compiled, Failure> {
    compile_words(text, showers).map_err(|mistake| mistake.into_failure(text))
}

fn compile_words(text: &str, showers: &[ShowerCode]) -> Result<Compiled, Mistake> {
    if text.len() > LONGEST {
        let from = (0..=LONGEST).rev().find(|&at| text.is_char_boundary(at));
        return Err(Mistake::new(
            format!("a query is at most {LONGEST} bytes long"),
            from.unwrap_or(0)..text.len(),
        )
        .hint("ask it in several queries"));
    }
    let tokens = scan::scan(text)?;
    let tree = match parse::parse(&tokens, text.len())? {
        Some(tree) => check::check(&tree, showers)?,
        None => Checked::Every,
    };
    let showers_named = tree.showers_named();
    if showers_named.len() > MOST_SHOWERS {
        return Err(Mistake::new(
            format!("a query names at most {MOST_SHOWERS} showers"),
            0..text.len(),
        )
        .hint("ask it in several queries, or ask for radiant.alt, the strongest shower's"));
    }
    Ok(Compiled {
        tree,
        showers_named,
    })
}
