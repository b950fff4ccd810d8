//! What a file's extension says before it is opened: read it, look into it, or pass it over. Believes it no further.

use std::ffi::OsStr;

/// What to do with a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FileClass {
    /// A still picture by its extension: read it, whatever it holds.
    Picture,
    /// The extension is unknown or missing: look at its first bytes, and pass it over if they are of no container.
    Sniff,
    /// Known not to be a frame: count it under this extension, do not open it.
    PassedOver(&'static str),
}

/// Extensions of still pictures, in small letters, and the formats their contents may have.
const PICTURES: &[(&str, &[&str])] = &[
    ("jpg", &["jpeg"]),
    ("jpeg", &["jpeg"]),
    ("jpe", &["jpeg"]),
    ("jfif", &["jpeg"]),
    ("tif", &["tiff"]),
    ("tiff", &["tiff"]),
    ("png", &["png"]),
    ("webp", &["webp"]),
    ("heic", &["heif"]),
    ("heif", &["heif"]),
    ("hif", &["heif"]),
    ("avif", &["avif"]),
    ("nef", &["nef"]),
    ("nrw", &["nrw", "nef"]),
    ("cr2", &["cr2"]),
    ("cr3", &["cr3"]),
    ("crw", &["crw"]),
    ("arw", &["arw"]),
    ("sr2", &["sr2", "arw"]),
    ("srf", &["sr2", "arw"]),
    ("dng", &["dng", "gpr"]),
    ("gpr", &["gpr", "dng"]),
    ("orf", &["orf"]),
    ("ori", &["orf"]),
    ("rw2", &["rw2"]),
    ("rwl", &["rw2"]),
    ("raf", &["raf"]),
    ("pef", &["pef"]),
    ("srw", &["srw"]),
    ("3fr", &["3fr"]),
    ("fff", &["fff", "3fr"]),
    ("iiq", &["iiq"]),
    ("kdc", &["kdc"]),
    ("dcr", &["dcr", "kdc"]),
    ("erf", &["erf"]),
    ("mef", &["mef"]),
    ("mos", &["mos", "iiq"]),
    ("mrw", &["mrw"]),
    ("x3f", &["x3f"]),
];

/// Extensions that are no frames: films, sound, sidecars, tracks, texts, what is made of frames. Words of the trade and
/// of standards only: whatever else a card holds is looked into and passed over by its first bytes.
const PASSED_OVER: &[&str] = &[
    // Films and sound.
    "mov", "mp4", "m4v", "avi", "mts", "m2ts", "mpg", "mpeg", "mkv", "3gp", "mxf", "wav", "mp3",
    "m4a", "aac", // Beside pictures and films. A THM is the thumbnail of another file.
    "thm", "xmp", "srt",
    // What the card's own file system rules put there. Source: CIPA DC-009 (DCF), DPOF.
    "ctg", "mrk", // Tracks, tables, texts.
    "gpx", "kml", "kmz", "nmea", "csv", "tsv", "txt", "md", "log", "ini", "json", "xml", "html",
    "htm", "pdf", "rtf", "yaml", "yml", "toml",
    // Pictures that no camera writes, and what is made of frames.
    "gif", "bmp", "svg", "ico", "fits", "fts", // Packed, and programs.
    "zip", "gz", "tar", "7z", "exe", "dll", "sh", "bat", "tmp", "part", "md5", "sha256",
];

/// The label of what macOS writes beside each file on a foreign disk: `._NAME`.
pub const APPLE_DOUBLE: &str = "._*";

/// Tells by a file's name what to do with it.
pub fn classify(name: &OsStr) -> FileClass {
    let bytes = name.as_encoded_bytes();
    if bytes.starts_with(b"._") {
        return FileClass::PassedOver(APPLE_DOUBLE);
    }
    if bytes.eq_ignore_ascii_case(b".DS_Store") {
        return FileClass::PassedOver("ds_store");
    }
    let mut small = [0; 8];
    let Some(extension) = extension_into(bytes, &mut small) else {
        return FileClass::Sniff;
    };
    if PICTURES.iter().any(|(e, _)| *e == extension) {
        return FileClass::Picture;
    }
    PASSED_OVER
        .iter()
        .find(|e| **e == extension)
        .map_or(FileClass::Sniff, |e| FileClass::PassedOver(e))
}

/// The extension in small letters; empty when there is none, or none of at most eight ASCII characters.
pub fn extension(name: &OsStr) -> String {
    let mut small = [0; 8];
    extension_into(name.as_encoded_bytes(), &mut small)
        .unwrap_or("")
        .to_owned()
}

/// Whether contents of this format are no surprise under this extension. Unknown extensions promise nothing.
pub fn agrees(extension: &str, format: &str) -> bool {
    PICTURES
        .iter()
        .find(|(e, _)| *e == extension)
        .is_none_or(|(_, formats)| formats.contains(&format))
}

fn extension_into<'a>(name: &[u8], small: &'a mut [u8; 8]) -> Option<&'a str> {
    let dot = name.iter().rposition(|b| *b == b'.')?;
    let extension = &name[dot + 1..];
    if extension.is_empty() || extension.len() > small.len() || !extension.is_ascii() {
        return None;
    }
    let small = &mut small[..extension.len()];
    small.copy_from_slice(extension);
    small.make_ascii_lowercase();
    std::str::from_utf8(small).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::field::FORMATS;

    #[test]
    fn every_format_of_an_extension_is_a_word_of_the_field() {
        for (extension, formats) in PICTURES {
            for format in *formats {
                assert!(FORMATS.contains(format), "{extension}: {format}");
            }
            assert!(!PASSED_OVER.contains(extension), "{extension}");
        }
    }

    #[test]
    fn names_are_classed_by_their_last_extension_in_either_case() {
        let class = |name: &str| classify(OsStr::new(name));
        assert_eq!(class("DSC_0001.NEF"), FileClass::Picture);
        assert_eq!(class("a.b.jpg"), FileClass::Picture);
        assert_eq!(class("CLIP.MP4"), FileClass::PassedOver("mp4"));
        assert_eq!(class("MVI_0001.THM"), FileClass::PassedOver("thm"));
        assert_eq!(class("._DSC_0001.NEF"), FileClass::PassedOver(APPLE_DOUBLE));
        assert_eq!(class(".DS_Store"), FileClass::PassedOver("ds_store"));
        assert_eq!(class("DSC_0001"), FileClass::Sniff);
        assert_eq!(class("DSC_0001.0001"), FileClass::Sniff);
        assert_eq!(class("dot."), FileClass::Sniff);
    }
}
