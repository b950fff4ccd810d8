//! Progress events of an export.

use crate::terms::failure::Failure;
use crate::usecase::handoff::plan::LeftOut;
use crate::usecase::handoff::plan::Plan;

/// A progress event.
#[derive(Debug)]
pub enum ExportEvent<'e> {
    /// Frames planned, and frames in all.
    Planned(u64, u64),
    /// The plan is made; frames may be left out of it.
    Plan(&'e Plan),
    /// Links made, and links in all.
    Linked(u64, u64),
    /// All links are made that could be.
    LinksMade,
    /// Files of these frames could not be copied, and they were removed from the plan.
    Unreadable(&'e [LeftOut]),
}

/// The receiver of events.
pub type Watch<'w> = &'w mut dyn FnMut(ExportEvent<'_>) -> Result<(), Failure>;
