//! What examined pictures tell of a session's sky and camera: cloud that came in, dew, shaken frames, light on the ground. The numbers are
//! measured elsewhere; here they become words.

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::found_trail::SKY_SIGNS;
use crate::terms::found_trail::SessionSky;
use crate::terms::plural::counted;

/// Codes of findings, and the sign of a frame's sky that each is made of.
const NOTES: [(&str, &str); 4] = [
    ("clouded-over", SKY_SIGNS[0]),
    ("dew-suspected", SKY_SIGNS[1]),
    ("frames-shaken", SKY_SIGNS[3]),
    ("light-on-ground", SKY_SIGNS[4]),
];
/// Dew stays: it is told from so many frames in a row on.
const DEW_IN_A_ROW: usize = 3;
/// A frame is cloudy where no more of its sky is clear.
const CLOUDY: f64 = 0.5;
/// So many files are named.
const NAMED: usize = 3;

/// Something that is told of a session's sky.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SkyNote {
    /// The frame where it begins.
    pub frame_id: i64,
    /// The code of the finding.
    pub code: &'static str,
    /// What was seen.
    pub saw: String,
}

/// The notes of all sessions.
pub fn sky_findings(catalogue: &Catalogue) -> Result<Vec<AuditRow>, Failure> {
    let frames = catalogue.session_skies(None)?;
    frames
        .chunk_by(|a, b| a.session_id == b.session_id)
        .flat_map(sky_notes)
        .map(|note| {
            let did = "kept the pictures as they are".to_owned();
            catalogue.audit_row(note.frame_id, note.code, note.saw, did)
        })
        .collect()
}

/// The sky of one session in words: how clear it was, then what was noticed. Nothing where no frame was examined.
pub fn sky_words(catalogue: &Catalogue, session_id: i64) -> Result<Vec<String>, Failure> {
    let frames = catalogue.session_skies(Some(session_id))?;
    let mut words = Vec::new();
    if let Some(mean) = mean_clear(&frames) {
        let clear = || frames.iter().filter_map(|frame| frame.clear);
        words.push(format!(
            "{} of it clear on average, {} at the least ({} examined)",
            percent(mean),
            percent(clear().fold(1.0, f64::min)),
            counted(clear().count() as u64, "frame")
        ));
    }
    words.extend(sky_notes(&frames).into_iter().map(|note| note.saw));
    Ok(words)
}

/// The mean share of the sky that was clear. Nothing where no frame was examined.
pub fn mean_clear(frames: &[SessionSky]) -> Option<f64> {
    let clear: Vec<f64> = frames.iter().filter_map(|frame| frame.clear).collect();
    (!clear.is_empty()).then(|| clear.iter().sum::<f64>() / clear.len() as f64)
}

/// What is told of the frames of one session, in order of time.
fn sky_notes(frames: &[SessionSky]) -> Vec<SkyNote> {
    NOTES
        .into_iter()
        .filter_map(|(code, sign)| {
            let all: Vec<usize> = (0..frames.len())
                .filter(|at| frames[*at].has(sign))
                .collect();
            let first = match code {
                "dew-suspected" => *all
                    .windows(DEW_IN_A_ROW)
                    .find(|w| w[DEW_IN_A_ROW - 1] - w[0] == DEW_IN_A_ROW - 1)?
                    .first()?,
                _ => *all.first()?,
            };
            Some(SkyNote {
                frame_id: frames[first].frame_id,
                code,
                saw: saw(code, frames, first, &all),
            })
        })
        .collect()
}

fn saw(code: &str, frames: &[SessionSky], first: usize, all: &[usize]) -> String {
    let of = |count: usize| format!("{count} of {}", counted(frames.len() as u64, "frame"));
    let file = &frames[first].file;
    match code {
        "clouded-over" => {
            let clear = |at: usize| frames[at].clear.unwrap_or(0.0);
            let before = first.saturating_sub(1);
            let cloudy = frames
                .iter()
                .filter(|frame| frame.clear.is_some_and(|clear| clear <= CLOUDY))
                .count();
            format!(
                "cloud came in: {} of the sky is clear in {file}, {} in the frame before; cloudy in {}",
                percent(clear(first)),
                percent(clear(before)),
                of(cloudy)
            )
        }
        "dew-suspected" => format!(
            "dew suspected in {}, first in {file}: stars are wider and fewer or fainter; bright moonlight behind cloud looks alike",
            of(all.len())
        ),
        "frames-shaken" => format!(
            "stars are drawn out in {}: {}",
            of(all.len()),
            names(frames, all)
        ),
        _ => format!(
            "light on the ground or in the trees in {}: {}",
            of(all.len()),
            names(frames, all)
        ),
    }
}

fn names(frames: &[SessionSky], all: &[usize]) -> String {
    let mut names: Vec<String> = all
        .iter()
        .take(NAMED)
        .map(|at| frames[*at].file.clone())
        .collect();
    if all.len() > NAMED {
        names.push(format!("and {} more", all.len() - NAMED));
    }
    names.join(", ")
}

fn percent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Frames with what is noticed of each.
    fn frames(signs: &[&str]) -> Vec<SessionSky> {
        signs
            .iter()
            .zip(1..)
            .map(|(signs, number)| SessionSky {
                frame_id: number,
                session_id: 1,
                file: format!("N{number}.JPG"),
                clear: Some(if signs.contains("cloud") { 0.3 } else { 0.95 }),
                signs: (*signs).to_owned(),
            })
            .collect()
    }

    fn told(signs: &[&str]) -> Vec<(i64, &'static str)> {
        let notes = sky_notes(&frames(signs));
        notes.iter().map(|n| (n.frame_id, n.code)).collect()
    }

    #[test]
    fn a_session_has_one_note_for_each_thing_noticed() {
        assert_eq!(told(&["", "", ""]), []);
        let all = [
            "",
            "shaken",
            "light",
            "cloud light",
            "shaken light",
            "light",
            "light",
        ];
        assert_eq!(
            told(&all),
            [
                (4, "clouded-over"),
                (2, "frames-shaken"),
                (3, "light-on-ground")
            ]
        );
        let saw = |at: usize| sky_notes(&frames(&all))[at].saw.clone();
        assert_eq!(
            saw(0),
            "cloud came in: 30 % of the sky is clear in N4.JPG, 95 % in the frame before; cloudy in 1 of 7 frames"
        );
        assert_eq!(
            saw(1),
            "stars are drawn out in 2 of 7 frames: N2.JPG, N5.JPG"
        );
        assert_eq!(
            saw(2),
            "light on the ground or in the trees in 5 of 7 frames: N3.JPG, N4.JPG, N5.JPG, and 2 more"
        );
    }

    #[test]
    fn dew_is_told_where_it_stays() {
        assert_eq!(told(&["dew", "", "dew", "dew", ""]), []);
        assert_eq!(
            told(&["dew", "", "dew", "dew", "dew"]),
            [(3, "dew-suspected")]
        );
    }
}
