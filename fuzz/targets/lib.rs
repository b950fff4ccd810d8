//! What every target does: makes the bytes a file of its container, and reads them. The only harm is a panic, a hang,
//! or bounds that do not hold.

use std::cell::RefCell;
use std::ffi::OsStr;

use framefall::capture::class::FileClass;
use framefall::capture::read::FileReader;

thread_local! {
    static READER: RefCell<FileReader> = RefCell::new(FileReader::new());
}

/// Reads the bytes under this name, with the container's magic put where it belongs.
///
/// Takes: the name; position and value of the magic number; the bytes.
pub fn read_as(name: &str, magic: &[(usize, &[u8])], bytes: &[u8]) {
    let mut file = bytes.to_vec();
    for (at, word) in magic {
        let end = at + word.len();
        if file.len() < end {
            file.resize(end, 0);
        }
        file[*at..end].copy_from_slice(word);
    }
    READER.with_borrow_mut(|reader| {
        let reading = reader.read_bytes(OsStr::new(name), file, FileClass::Picture);
        if let Some(reading) = reading {
            assert!(reading.bytes_read <= 128 * 1024);
            assert!(reader.held_memory() <= 1024 * 1024);
        }
    });
}
