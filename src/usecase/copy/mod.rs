//! From a card to proved copies, and whether they last.
//!
//! - `plan`: which cards to which targets; what cannot work is refused before the first byte
//! - `targets`: folders that may be copied to
//! - `report`: what became of a card
//! - `run`: copies, keeps what is proved, tells what is wrong while the card is there
//! - `proof`: what is proved of a dump
//! - `check`: reads files back and compares them with what was kept
//! - `here`: the dumps that are at their places
//! - `lists`: lists of hashes beside dumps, written and compared; `hashes`: one for a dump that has none
//! - `age`: how long ago files were last proved

pub mod age;
pub mod check;
pub mod hashes;
pub mod here;
pub mod lists;
pub mod plan;
pub mod proof;
pub mod report;
pub mod run;
mod targets;
