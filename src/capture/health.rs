//! The state of a file, and the finding that explains it. The worst of several applies: unreadable before truncated,
//! truncated before no-metadata, that before sound.

use crate::capture::gathered::Gathered;
use crate::capture::source::Fault;
use crate::capture::source::PAGE;
use crate::terms::basis::Health;
use crate::terms::finding::Finding;
use crate::terms::records::CaptureRecord;

/// Judges a file that was read, and adds the findings that explain why it is not sound.
pub fn judge(
    fault: Option<&Fault>,
    gathered: &Gathered,
    record: &CaptureRecord,
    findings: &mut Vec<Finding>,
) -> Health {
    if let Some(saw) = &gathered.truncated {
        findings.push(Finding::new(
            "truncated",
            saw.clone(),
            "kept what could be read",
        ));
    }
    if let Some(fault) = fault {
        findings.push(read_error(fault));
        return Health::Unreadable;
    }
    if gathered.truncated.is_some() {
        Health::Truncated
    } else if record.clock_local.is_none() {
        // `times` has added the finding.
        Health::NoMetadata
    } else {
        Health::Sound
    }
}

/// The finding for an error of the disk: its block and the system's message.
pub fn read_error(fault: &Fault) -> Finding {
    Finding::new(
        "read-error",
        format!(
            "{} at byte {} (block {} of 4 KiB)",
            fault.error,
            fault.offset,
            fault.offset / PAGE
        ),
        "kept what was read before the error; a later ingest tries again",
    )
}
