//! Reports how well calibration frames match, after an export.

use crate::cli::outcome::Outcome;
use crate::cli::print;
use crate::cli::print::Quiet;
use crate::cli::setting::Setting;
use crate::terms::basis::Kind;
use crate::terms::printable::printable;
use crate::usecase::export::calibration::ServingName;
use crate::usecase::handoff::calibration::Calibration;
use crate::usecase::handoff::calibration::CalibrationSet;
use crate::usecase::handoff::calibration::Lies;

/// How many usable matches are reported one by one, and how many others.
const TOLD: usize = 12;

/// Reports the lists that were written.
pub(super) fn written(names: &[ServingName], found: &Calibration, written: &str) {
    for name in names {
        let count = found.files_of(name.kind, name.whose).len();
        print::warn(&format!(
            "{count} {} {written} to {}",
            if count == 1 {
                name.kind.word()
            } else {
                plural(name.kind)
            },
            print::path(&name.file)
        ));
    }
}

/// Frames of a kind.
const fn plural(kind: Kind) -> &'static str {
    match kind {
        Kind::Dark => "darks",
        Kind::Flat => "flats",
        _ => "bias frames",
    }
}

/// Reports how well calibration frames match, and returns the outcome.
pub(super) fn tell(setting: &Setting, found: &Calibration) -> Outcome {
    if found.kinds.is_empty() {
        return Outcome::Done;
    }
    if found.lights == 0 {
        print::warn(
            "none of these frames is a light, so no calibration frames were searched for; to \
             state the kind of frames: framefall sessions mark",
        );
        return Outcome::NeedsAttention;
    }
    let (served, lacking): (Vec<_>, Vec<_>) = found.sets.iter().partition(|set| set.grade.serves());
    if setting.quiet == Quiet::No {
        tell_some(&served);
    }
    tell_some(&lacking);
    for ((dump, lies), frames) in &found.passed_over {
        let dump = printable(dump);
        print::warn(&match lies {
            Lies::Away => format!(
                "{frames} that match are in the dump {dump}, which is offline: plug in or mount \
                 its disk"
            ),
            Lies::There => format!(
                "{frames} that match are missing, changed or damaged in the dump {dump}: framefall audit --disk"
            ),
            Lies::OfAnotherKind => format!(
                "{frames} that match in the dump {dump} are of another kind of file than their \
                 lights: raw lights need raw files, JPEG lights need JPEG files"
            ),
        });
    }
    if found.all_served() {
        Outcome::Done
    } else {
        Outcome::NeedsAttention
    }
}

fn tell_some(sets: &[&CalibrationSet]) {
    for set in sets.iter().take(TOLD) {
        print::warn(&told(set));
    }
    if sets.len() > TOLD {
        print::warn(&format!(
            "and for {} more runs of lights; the manifest or the tree's record lists them all",
            sets.len() - TOLD
        ));
    }
}

/// `darks for session 2, 15 s, ISO 3200, 4 °C: 20, close; at the same temperature; within a day`.
fn told(set: &CalibrationSet) -> String {
    let what = plural(set.kind);
    let session = set.lights.settings.session.map_or_else(
        || "lights without a session".to_owned(),
        |n| format!("session {n}"),
    );
    format!(
        "{what} for {session}, {}: {}, {}; {}",
        set.settings,
        set.frames.len(),
        set.grade.word(),
        set.remarks.join("; ")
    )
}
