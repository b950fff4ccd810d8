//! What happens on the way of an export, for whoever watches.

use crate::terms::failure::Failure;
use crate::usecase::handoff::LeftOut;
use crate::usecase::handoff::Plan;

/// Something that happens on the way.
#[derive(Debug)]
pub enum ExportEvent<'e> {
    /// So many frames are looked at, of so many.
    Planned(u64, u64),
    /// The plan is made; frames may be left out of it.
    Plan(&'e Plan),
    /// So many links are made, of so many.
    Linked(u64, u64),
    /// All links are made that could be.
    LinksMade,
    /// Files of these frames could not be copied, and they left the plan.
    Unreadable(&'e [LeftOut]),
}

/// Who watches.
pub type Watch<'w> = &'w mut dyn FnMut(ExportEvent<'_>) -> Result<(), Failure>;
