//! File names as readable text and as the bytes on the disk. Loses nothing.

use std::ffi::OsStr;
use std::ffi::OsString;
use std::path::Path;
use std::path::PathBuf;

use crate::terms::name_text::text_of;

/// A name as stored in the catalogue: text, and the bytes if they differ from the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptName {
    /// Readable text, made by [`crate::terms::name_text`].
    pub text: String,
    /// The name byte for byte, only if the text differs from it.
    pub bytes: Option<Vec<u8>>,
}

/// Turns a name from the disk into text.
pub fn kept_name(name: &OsStr) -> KeptName {
    let bytes = name.as_encoded_bytes();
    match text_of(bytes) {
        None => KeptName {
            text: name.to_string_lossy().into_owned(),
            bytes: None,
        },
        Some(text) => KeptName {
            text,
            bytes: Some(bytes.to_vec()),
        },
    }
}

/// The same for a relative folder, with `/` between its names.
pub fn kept_folder(folder: &Path) -> KeptName {
    let mut joined = OsString::new();
    for part in folder.components() {
        if !joined.is_empty() {
            joined.push("/");
        }
        joined.push(part.as_os_str());
    }
    kept_name(&joined)
}

/// The path below a root whose text is kept.
pub fn below_of(text: &str) -> PathBuf {
    PathBuf::from(os_name(
        text.to_owned(),
        crate::terms::name_text::bytes_of(text),
    ))
}

/// The bytes of a stored name.
pub fn bytes_of(text: &str, bytes: Option<&[u8]>) -> Vec<u8> {
    bytes.map_or_else(|| text.as_bytes().to_vec(), <[u8]>::to_vec)
}

/// A stored name as on the disk.
#[cfg(unix)]
pub fn os_name(text: String, bytes: Option<Vec<u8>>) -> OsString {
    use std::os::unix::ffi::OsStringExt;
    bytes.map_or_else(|| text.into(), OsString::from_vec)
}

/// A stored name as on the disk.
#[cfg(not(unix))]
pub fn os_name(text: String, _bytes: Option<Vec<u8>>) -> OsString {
    text.into()
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::ffi::OsStrExt;

    #[test]
    fn a_name_that_is_not_utf8_stays_readable_and_whole() {
        let kept = kept_name(OsStr::from_bytes(b"n\xFFight\xC3.dng"));
        assert_eq!(kept.text, "n\\xFFight\\xC3.dng");
        assert_eq!(
            bytes_of(&kept.text, kept.bytes.as_deref()),
            b"n\xFFight\xC3.dng"
        );
        assert_eq!(
            kept_folder(Path::new("DCIM/100NITES")).text,
            "DCIM/100NITES"
        );
    }
}

pub(super) type Kept = (String, Option<Vec<u8>>);

/// Joins the stored names of a path's parts.
pub(super) fn on_disk(root: Kept, folder: Kept, file: Kept) -> PathBuf {
    let mut path = PathBuf::from(if root.0.is_empty() {
        "/".into()
    } else {
        os_name(root.0, root.1)
    });
    for part in [folder, file] {
        if !part.0.is_empty() {
            path.push(os_name(part.0, part.1));
        }
    }
    path
}
