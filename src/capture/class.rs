//! What to do with a file by its extension: read it, look into it, or skip it. The extension decides nothing more.

use std::ffi::OsStr;

/// What to do with a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FileClass {
    /// A still picture by its extension: read it, whatever it contains.
    Picture,
    /// The extension is unknown or missing: check its first bytes, and skip it if they are not of a known container.
    Sniff,
    /// Known not to be a frame: count it under this extension, do not open it.
    PassedOver(&'static str),
}

/// Extensions of still pictures, in lower case, and the formats their contents may have.
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

/// Extensions that are not frames: video, audio, sidecars, tracks, text, products of frames. Only words of the trade
/// and of standards; any other file on a card is opened and skipped by its first bytes.
const PASSED_OVER: &[&str] = &[
    // Video and audio.
    "mov", "mp4", "m4v", "avi", "mts", "m2ts", "mpg", "mpeg", "mkv", "3gp", "mxf", "wav", "mp3",
    "m4a", "aac", // Beside pictures and videos. A THM is the thumbnail of another file.
    "thm", "xmp", "srt",
    // Files required by the card's own file system rules. Source: CIPA DC-009 (DCF), DPOF.
    "ctg", "mrk", // Tracks, tables, text.
    "gpx", "kml", "kmz", "nmea", "csv", "tsv", "txt", "md", "log", "ini", "json", "xml", "html",
    "htm", "pdf", "rtf", "yaml", "yml", "toml",
    // Pictures that no camera writes, and products of frames.
    "gif", "bmp", "svg", "ico", "fits", "fts", // Archives and programs.
    "zip", "gz", "tar", "7z", "exe", "dll", "sh", "bat", "tmp", "part", "md5", "sha256",
];

/// The label of the files that macOS writes beside each file on a foreign disk: `._NAME`.
pub const APPLE_DOUBLE: &str = "._*";

/// Decides by a file's name what to do with it.
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

/// The extension in lower case; empty if there is none or it is not at most eight ASCII characters.
pub fn extension(name: &OsStr) -> String {
    let mut small = [0; 8];
    extension_into(name.as_encoded_bytes(), &mut small)
        .unwrap_or("")
        .to_owned()
}

/// Whether a format is expected under this extension. Unknown extensions promise nothing.
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
    use crate::terms::field_words::FORMATS;

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
