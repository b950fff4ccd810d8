//! The kind that a frame's file or folder names show. Also knows place names: a Dark Sky Park contains no darks.

use crate::terms::basis::Kind;

/// The words with which photographers name folders and files of each kind.
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

/// The endings that a word may have.
const ENDINGS: [&str; 5] = ["", "s", "es", "frame", "frames"];

/// Words that may follow one of those, even capitalised: descriptions of frames and their settings. Any other
/// capitalised word makes it part of a name: Dark Sky Park, Flat Tops, Test Valley.
///
/// Source: common practice, no source.
const MAY_FOLLOW: &[&str] = &[
    "and",
    "box",
    "cold",
    "exp",
    "exposure",
    "exposures",
    "field",
    "fields",
    "file",
    "files",
    "for",
    "frame",
    "frames",
    "gain",
    "image",
    "images",
    "iso",
    "lib",
    "library",
    "master",
    "min",
    "minutes",
    "no",
    "panel",
    "photo",
    "photos",
    "picture",
    "pictures",
    "raw",
    "raws",
    "sec",
    "second",
    "seconds",
    "secs",
    "sensor",
    "session",
    "sessions",
    "set",
    "shot",
    "shots",
    "shutter",
    "temp",
    "temperature",
    "warm",
];

/// Words that, before one of those, make it part of a name: Salt Flats, Northern Lights.
///
/// Source: common practice, no source.
const NAMES_BEFORE: &[&str] = &[
    "alkali", "city", "mud", "northern", "polar", "salt", "sand", "southern", "street", "tidal",
    "zodiacal",
];

/// The kind that a path shows, and the part of it that does: the file's own name before its folders, nearer folders
/// before farther ones.
///
/// A word counts if it is separated by digits or signs, with or without a plural ending (`102DARKS`, `flat_003.dng`;
/// not `Darkwood`), and is not part of a longer name (`Dark Sky Park`, `Salt Flats`).
pub fn named(path: &str) -> Option<(Kind, &str)> {
    path.rsplit('/').enumerate().find_map(|(above, name)| {
        let stem = if above == 0 {
            name.rsplit_once('.').map_or(name, |(stem, _)| stem)
        } else {
            name
        };
        let words: Vec<&str> = stem
            .split(|c: char| !c.is_alphabetic())
            .filter(|word| !word.is_empty())
            .collect();
        (0..words.len()).find_map(|at| {
            let (kind, ending) = kind_of(words[at])?;
            let before = at.checked_sub(1).map(|before| words[before]);
            let in_name = before.is_some_and(|word| is_one_of(word, NAMES_BEFORE))
                || (ending.is_empty() && words.get(at + 1).is_some_and(|next| goes_on(next)));
            (!in_name).then_some((kind, name))
        })
    })
}

/// The kind that a word means, and its ending.
fn kind_of(word: &str) -> Option<(Kind, &str)> {
    WORDS.iter().find_map(|(known, kind)| {
        let (begins, ending) = word.split_at_checked(known.len())?;
        let is_it = begins.eq_ignore_ascii_case(known)
            && ENDINGS
                .iter()
                .any(|usual| ending.eq_ignore_ascii_case(usual));
        is_it.then_some((*kind, ending))
    })
}

/// Whether the next word makes a name with this one: it is written like a name, a capital and small letters, or is a
/// word of the sky.
fn goes_on(word: &str) -> bool {
    let mut letters = word.chars();
    let as_a_name = letters.next().is_some_and(char::is_uppercase)
        && letters.clone().count() > 1
        && letters.all(char::is_lowercase);
    is_one_of(word, &["sky", "skies", "on", "of", "in"])
        || (as_a_name && kind_of(word).is_none() && !is_one_of(word, MAY_FOLLOW))
}

fn is_one_of(word: &str, list: &[&str]) -> bool {
    list.iter().any(|known| word.eq_ignore_ascii_case(known))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kind_by_words(path: &str) -> Option<Kind> {
        named(path).map(|(kind, _)| kind)
    }

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
    fn names_of_places_and_lights_of_the_sky_name_no_kind() {
        for folder in [
            "2023-12-13 Dark Sky Park",
            "DARK SKY PARK",
            "Dark_Skies_Week",
            "Flat Tops",
            "Bonneville Salt Flats",
            "Northern Lights 2024",
            "Test Valley",
            "Focus on Geminids",
        ] {
            let path = format!("{folder}/DCIM/100NCTRN/NCT_0001.DNG");
            assert_eq!(kind_by_words(&path), None, "{folder}");
            let file = format!("{folder} 0001.DNG");
            assert_eq!(kind_by_words(&file), None, "{file}");
            let inner = format!("{folder}/darks/NCT_0001.DNG");
            assert_eq!(kind_by_words(&inner), Some(Kind::Dark), "{folder}");
        }
    }

    #[test]
    fn what_is_said_of_frames_and_settings_goes_on_naming_a_kind() {
        for path in [
            "Geminids darks/NCT_0001.DNG",
            "Geminids dark/NCT_0001.DNG",
            "dark frames/NCT_0001.DNG",
            "dark 20s ISO3200/NCT_0001.DNG",
            "dark_iso_3200/NCT_0001.DNG",
            "dark warm/NCT_0001.DNG",
            "Dark Frames/NCT_0001.DNG",
            "Dark Session 2/NCT_0001.DNG",
            "dark_IMG_0001.CR2",
            "darkframes/NCT_0001.DNG",
            "dark library/NCT_0001.DNG",
            "Dark Sky Park/dark/NCT_0001.DNG",
        ] {
            assert_eq!(kind_by_words(path), Some(Kind::Dark), "{path}");
        }
        assert_eq!(kind_by_words("flat field/a.dng"), Some(Kind::Flat));
    }
}
