//! Frames for the stacking step: query -> plan, checked on the disk -> lists -> manifest.
//!
//! ```text
//! ordered_frames  the frames of the query, by their starts
//! entry      the parts of a plan
//! plan       which frames, with which of their files; each list's reference frame
//! choose     the file of a frame to export, and whether it is unchanged
//! reference  the reference frame, from which the turn of the sky is counted
//! listed     a path in the list's form
//! columns    the columns of a list, including its own
//! write      plan -> rows
//! calibration  the darks, flats and bias frames for the lights
//! calibration_list  a list of their own for each kind
//! calibration_note  their entries in a manifest and a tree's record
//! unreadable  removes files that could not be copied from the plan
//! tree       plan and calibration -> the links of a folder tree
//! manifest   the query, the state, and every file
//! again      differences from a manifest
//! ```
//!
//! All of it reads one state of the catalogue, if the caller has a snapshot. For each frame 40 bytes are held; rows are
//! streamed.

pub mod again;
pub mod calibration;
pub mod calibration_list;
pub mod calibration_note;
mod choose;
pub mod columns;
mod entry;
mod listed;
pub mod manifest;
mod ordered_frames;
pub mod plan;
mod reference;
pub mod tree;
pub mod unreadable;
pub mod write;

pub use columns::Shown;

use std::sync::atomic::AtomicBool;

use crate::catalogue::handoff::Grouped;
use crate::framelist::Format;
use crate::query::Compiled;
use crate::terms::basis::Kind;
use crate::terms::handoff::Check;
use crate::terms::handoff::Damaged;
use crate::terms::handoff::Lacking;
use crate::terms::handoff::PathsFrom;
use crate::terms::handoff::Take;
use crate::terms::time::Utc;

/// What to export, and how.
#[derive(Clone, Debug)]
pub struct HandOrder<'a> {
    /// The query as it was typed.
    pub query: &'a str,
    /// The compiled query.
    pub compiled: &'a Compiled,
    /// The format of the lists.
    pub format: Format,
    /// The columns; the format's own if there are none.
    pub show: Option<&'a [Shown]>,
    /// The same as they were typed.
    pub show_words: Option<&'a str>,
    /// The most frames.
    pub limit: Option<u64>,
    /// One list, or one for each session.
    pub grouped: Grouped,
    /// Which of a frame's files.
    pub take: Take,
    /// The form of their paths.
    pub paths: &'a PathsFrom,
    /// The reference frame as named by the photographer; otherwise the one nearest the middle of the list.
    pub reference: Option<&'a str>,
    /// The kinds of calibration frames to search for.
    pub calibration: &'a [Kind],
    /// What is checked on the disk.
    pub check: Check,
    /// How to treat frames that cannot be exported.
    pub lacking: Lacking,
    /// How to treat frames whose file is damaged.
    pub damaged: Damaged,
    /// The current instant.
    pub now: Utc,
    /// Set to stop the run. Everything is then left unchanged.
    pub stop: &'a AtomicBool,
}
