//! What a frame is for, in a first form: its folder's and file's own words, and whether it behaves as a light.
//! What cannot be told stays unknown.

use crate::terms::basis::Kind;
use crate::terms::records::SessionFrame;

/// The words by which photographers name folders and files of each kind.
///
/// Source: common practice, no source.
const WORDS: &[(&str, Kind)] = &[
    ("dark", Kind::Dark),
    ("flat", Kind::Flat),
    ("bias", Kind::Bias),
    ("trial", Kind::Trial),
    ("test", Kind::Trial),
    ("focus", Kind::Trial),
    ("light", Kind::Light),
];

/// A light of the night sky is exposed at least this long.
///
/// Source: common practice, no source.
const SHORTEST_LIGHT_S: f64 = 1.0;

/// A frame behaves as a light only in a run of at least this many.
const SHORTEST_RUN: usize = 3;

/// The kind that a path names, the file's own name before its folders, the nearest folder before farther ones.
///
/// A word counts when it stands alone between digits and signs, with or without a plural ending: `102DARKS`,
/// `flat_003.dng`; not `Darkwood`.
pub fn kind_by_words(path: &str) -> Option<Kind> {
    path.rsplit('/').find_map(|name| {
        name.split(|c: char| !c.is_alphabetic()).find_map(|word| {
            let word = word.to_lowercase();
            WORDS
                .iter()
                .find(|(known, _)| {
                    word.strip_prefix(known).is_some_and(|ending| {
                        matches!(ending, "" | "s" | "es" | "frame" | "frames")
                    })
                })
                .map(|(_, kind)| *kind)
        })
    })
}

/// The exposure that most frames of a session have, the longer of two equally common ones.
pub fn usual_exposure(frames: &[&SessionFrame]) -> Option<f64> {
    let mut exposures: Vec<f64> = frames.iter().filter_map(|f| f.exposure_s).collect();
    exposures.sort_by(f64::total_cmp);
    exposures
        .chunk_by(|a, b| a.to_bits() == b.to_bits())
        .max_by_key(|run| run.len())
        .map(|run| run[0])
}

/// Settles a frame's kind: its own words first; else light, if it has the usual exposure of a run of long exposures.
pub fn settle_kind(
    by_words: Option<Kind>,
    exposure_s: Option<f64>,
    usual_s: Option<f64>,
    run: usize,
) -> Option<Kind> {
    by_words.or_else(|| {
        let (exposure, usual) = (exposure_s?, usual_s?);
        let alike = (exposure - usual).abs() <= 0.1 * usual;
        (alike && exposure >= SHORTEST_LIGHT_S && run >= SHORTEST_RUN).then_some(Kind::Light)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_folders_and_files() {
        assert_eq!(
            kind_by_words("DCIM/102DARKS/NCT_0001.DNG"),
            Some(Kind::Dark)
        );
        assert_eq!(kind_by_words("flats/flat_003.dng"), Some(Kind::Flat));
        assert_eq!(
            kind_by_words("darks/flat_003.dng"),
            Some(Kind::Flat),
            "the file's own word first"
        );
        assert_eq!(kind_by_words("Darkwood/IMG_1.CR2"), None);
        assert_eq!(kind_by_words("DCIM/100NCTRN/NCT_0001.DNG"), None);
        assert_eq!(kind_by_words("biases/x.dng"), Some(Kind::Bias));
    }

    #[test]
    fn a_light_has_the_usual_long_exposure_of_a_run() {
        let settle = |exposure, usual, run| settle_kind(None, Some(exposure), Some(usual), run);
        assert_eq!(settle(20.0, 20.0, 50), Some(Kind::Light));
        assert_eq!(settle(2.0, 20.0, 50), None);
        assert_eq!(settle(20.0, 20.0, 2), None);
        assert_eq!(
            settle(0.004, 0.004, 50),
            None,
            "a daylight burst is no light"
        );
        assert_eq!(
            settle_kind(Some(Kind::Dark), None, None, 1),
            Some(Kind::Dark)
        );
    }
}
