//! Frames on their way to the stacking step: query -> plan, checked against the disk -> lists -> manifest.
//!
//! ```text
//! ordered_frames  the frames of the query, by their starts
//! entry      what a plan is made of
//! plan       which of them, by which of their files; what each list's reference frame is
//! choose     the one file of a frame, and whether it is still what it was
//! reference  the frame to which the sky is turned back
//! listed     a path as the list writes it
//! columns    the columns of a list, its own two among them
//! write      plan -> rows
//! calibration  the darks, flats and bias frames that serve the lights
//! calibration_list  a list of their own for each kind
//! calibration_note  what of them a manifest and a tree's record tell
//! unreadable  files that could not be copied leave the plan
//! tree       plan and calibration -> the links of a folder tree
//! manifest   what was asked, of what state, and every file
//! again      what differs from a manifest
//! ```
//!
//! All of it reads one state of the catalogue, if the caller holds it still. Of each frame 40 bytes are held; rows stream.

mod again;
mod calibration;
mod calibration_list;
mod calibration_note;
mod choose;
mod columns;
mod entry;
mod listed;
mod manifest;
mod ordered_frames;
mod plan;
mod reference;
mod tree;
mod unreadable;
mod write;

pub use again::Differences;
pub use again::PastFiles;
pub use again::differences;
pub use calibration::Calibration;
pub use calibration::CalibrationSet;
pub use calibration::Lies;
pub use calibration::Serving;
pub use calibration::Whose;
pub use calibration::calibrate;
pub use calibration_list::CalibrationList;
pub use calibration_list::write_calibration;
pub use calibration_note::calibration_notes;
pub use columns::Shown;
pub use columns::shown;
pub use entry::Entry;
pub use entry::Why;
pub use manifest::write_manifest;
pub use plan::LeftOut;
pub use plan::Part;
pub use plan::Plan;
pub use plan::each_odd;
pub use plan::keep;
pub use plan::plan;
pub use reference::Reference;
pub use tree::dump_roots;
pub use tree::links;
pub use unreadable::Unreadable;
pub use unreadable::leave_out_unreadable;
pub use write::each_handed;
pub use write::write_list;

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

/// What is to be handed on, and how.
#[derive(Clone, Debug)]
pub struct HandOrder<'a> {
    /// The query as it was typed.
    pub query: &'a str,
    /// Which frames it means.
    pub compiled: &'a Compiled,
    /// The form of the lists.
    pub format: Format,
    /// The columns; the form's own where there are none.
    pub show: Option<&'a [Shown]>,
    /// The same as they were typed.
    pub show_words: Option<&'a str>,
    /// At most so many frames.
    pub limit: Option<u64>,
    /// One list, or one for each session.
    pub grouped: Grouped,
    /// Which of a frame's files.
    pub take: Take,
    /// How their paths are written.
    pub paths: &'a PathsFrom,
    /// The frame to which the sky is turned back, as the photographer names it; the one nearest the middle of the list where
    /// nobody does.
    pub reference: Option<&'a str>,
    /// The kinds of calibration frames that are looked for.
    pub calibration: &'a [Kind],
    /// What is looked at on the disk.
    pub check: Check,
    /// What becomes of frames that cannot be handed on.
    pub lacking: Lacking,
    /// What becomes of frames whose file is damaged.
    pub damaged: Damaged,
    /// The current instant.
    pub now: Utc,
    /// Raised when the photographer wants it to stop. Everything then stays as it was.
    pub stop: &'a AtomicBool,
}
