//! What an export would write, for a dry run. Writes nothing.

use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::usecase::export::calibration::ServingName;
use crate::usecase::export::names::Names;
use crate::usecase::export::request::ExportRequest;
use crate::usecase::handoff;
use crate::usecase::handoff::calibration::Calibration;
use crate::usecase::handoff::plan::Plan;

/// What an export would write.
#[derive(Debug)]
pub struct Preview {
    /// The frames.
    pub plan: Plan,
    /// What serves them.
    pub calibration: Calibration,
    /// The files of lists, in the order of the plan's parts.
    pub lists: Vec<PathBuf>,
    /// The files of lists of calibration frames.
    pub serving: Vec<ServingName>,
    /// The folder of the tree, and how many links it would have.
    pub tree: Option<(PathBuf, usize)>,
}

/// Names the files that would be written, and counts the links.
pub(super) fn preview(
    catalogue: &Catalogue,
    request: &ExportRequest,
    plan: Plan,
    calibration: Calibration,
) -> Result<Preview, Failure> {
    let tree = match request.makes.tree() {
        Some((at, _)) => {
            let links = handoff::tree::links(catalogue, &plan, &calibration)?.len();
            Some((at.clone(), links))
        }
        None => None,
    };
    let Names { lists, serving } = Names::of(request, &plan);
    Ok(Preview {
        plan,
        calibration,
        lists,
        serving,
        tree,
    })
}
