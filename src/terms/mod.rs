//! The shared vocabulary of all rooms.
//!
//! A term belongs here if two rooms need it. Plain values only: no reading, no writing, no formulas of the sky, no SQL
//! text other than the column names of the field table.

pub mod angle;
pub mod basis;
pub mod calibration;
pub mod clock;
pub mod column;
pub mod command_line;
pub mod content;
pub mod day;
pub mod digits;
pub mod duration;
pub mod exposure;
pub mod failure;
pub mod field;
pub mod field_kind;
pub mod field_radiant;
pub mod field_sql;
pub mod field_words;
pub mod finding;
pub mod fingerprint;
pub mod found_trail;
pub mod frame_marks;
pub mod frame_set;
pub mod handoff;
pub mod hex;
pub mod kept;
pub mod lens_use;
pub mod linktree;
pub mod local;
pub mod maker;
#[cfg(unix)]
pub mod mountinfo;
pub mod name_span;
pub mod name_text;
pub mod night;
pub mod picture;
pub mod plural;
pub mod pointing;
pub mod predicate;
pub mod printable;
pub mod records;
pub mod sheet;
pub mod shower;
pub mod site;
pub mod star_image;
pub mod stated_pointing;
pub mod statement;
pub mod time;
pub mod track;
pub mod trail;
pub mod turn;
pub mod volume;
pub(crate) mod words;
