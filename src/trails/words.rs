//! A trail's evidence in words, the strongest first, and what makes it doubtful. Decides nothing.

use crate::terms::found_trail::TrailClass;
use crate::terms::found_trail::TrailEvidence;

/// What speaks for what a trail is taken for.
pub fn evidence_words(evidence: &TrailEvidence, class: TrailClass) -> Vec<String> {
    let mut words = vec![format!(
        "{:.0} times the noise at its peak, {:.0} along the line",
        evidence.peak_snr, evidence.line_snr
    )];
    if evidence.chain > 1.5 {
        words.push("goes on as a line in a neighbouring frame".to_owned());
    } else if evidence.linked > 1.5 {
        words.push(format!(
            "lines on its path in {:.0} of the frames around it",
            evidence.linked
        ));
    } else if evidence.goes_on.max(evidence.on_line) > GOES_ON {
        words.push(format!(
            "light on its line in a neighbouring frame ({:.1} times the noise)",
            evidence.goes_on.max(evidence.on_line)
        ));
    } else {
        words.push(format!(
            "nothing on its line in the neighbouring frames (strongest {:.1})",
            evidence.goes_on.max(evidence.on_line).max(0.0)
        ));
    }
    if evidence.stays > STAYS {
        words.push(format!(
            "light stays in place afterwards ({:.1})",
            evidence.stays
        ));
    }
    if evidence.chain > 2.5 {
        words.push(format!(
            "one of {:.0} lines of a moving light",
            evidence.chain
        ));
    }
    if evidence.dashes > 1.5 {
        words.push(format!("blinks: {:.0} dashes in a row", evidence.dashes));
    } else if class == TrailClass::MovingLight && evidence.peaks > 2.5 {
        words.push("blinks".to_owned());
    }
    if evidence.bend_px > 0.04 * evidence.length_px {
        words.push(format!("bent by {:.0} px", evidence.bend_px));
    }
    words
}

/// From so many times the noise on, light in a neighbour is told, and light that stays.
const GOES_ON: f32 = 5.0;
const STAYS: f32 = 5.0;

/// What makes a trail doubtful. `signs`: what is noticed of the frame's sky.
pub fn doubt_words(evidence: &TrailEvidence, signs: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut some = |yes: bool, doubt: &str| {
        if yes {
            words.push(doubt.to_owned());
        }
    };
    some(evidence.edge > 0.5, "leaves the picture");
    some(evidence.neighbours < 3.5, "near an end of the run");
    some(evidence.starry < 0.3, "no stars are seen there");
    some(evidence.twin > 0.5, "a like line beside it before or after");
    some(
        evidence.again > 0.2,
        "like lines at its place in other frames",
    );
    some(evidence.others > 30.0, "many lines in the frame");
    some(signs.contains("shaken"), "the frame is shaken");
    some(signs.contains("light"), "light on the ground");
    words
}
