//! The files that an export writes. Writes none.

use std::path::PathBuf;

use crate::catalogue::handoff::Grouped;
use crate::usecase::export::calibration::ServingName;
use crate::usecase::export::request::ExportRequest;
use crate::usecase::handoff::calibration::Whose;
use crate::usecase::handoff::plan::Plan;

/// The files of an export's lists.
#[derive(Debug, Default)]
pub(super) struct Names {
    /// Of the lists, in the order of the plan's parts.
    pub lists: Vec<PathBuf>,
    /// Of the lists of calibration frames.
    pub serving: Vec<ServingName>,
}

impl Names {
    pub(super) fn of(request: &ExportRequest, plan: &Plan) -> Self {
        if !request.makes.lists() {
            return Self::default();
        }
        let serving = plan.parts.iter().flat_map(|part| {
            request.calibration.iter().map(|kind| ServingName {
                kind: *kind,
                whose: match request.grouped {
                    Grouped::Together => Whose::All,
                    Grouped::BySession => Whose::OfSession(part.session),
                },
                file: request.calibration_file(part, *kind),
            })
        });
        Self {
            lists: plan
                .parts
                .iter()
                .map(|part| request.list_file(part))
                .collect(),
            serving: serving.collect(),
        }
    }
}
