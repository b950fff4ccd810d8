//! Rows as paths, byte for byte as on the disk. Never changes a name to make it fit.

use std::io;
use std::io::Write;
use std::path::Path;

use crate::terms::failure::Failure;
use crate::terms::records::FrameRow;

/// Whether a path would break its line: some readers of lists take a carriage return as the end of a line as well.
pub fn ends_line(path: &[u8]) -> bool {
    path.contains(&b'\n') || path.contains(&b'\r')
}

/// Why a path cannot be in a list of lines.
pub fn newline_in_path(path: &Path) -> Failure {
    let message = "the name of a file contains a line break, so it cannot be in a list of lines";
    Failure::output(message)
        .at_file(path)
        .hint("use --as paths0: paths ended by a NUL byte")
}

/// Writes the path of each frame's first file.
pub(super) struct PathWriter<W: Write> {
    end: u8,
    out: W,
    without_file: u64,
}

impl<W: Write> PathWriter<W> {
    /// `end` ends each path: a newline, or a NUL byte, which no path can contain.
    pub const fn new(end: u8, out: W) -> Self {
        Self {
            end,
            out,
            without_file: 0,
        }
    }

    /// Writes one path.
    ///
    /// Refuses: a path with a newline if newlines end paths.
    pub fn row(&mut self, row: &FrameRow) -> Result<(), Failure> {
        let path = row.path_bytes.as_slice();
        if path.is_empty() {
            self.without_file += 1;
            return Ok(());
        }
        if self.end == b'\n' && ends_line(path) {
            return Err(newline_in_path(Path::new(&*String::from_utf8_lossy(path))));
        }
        self.out
            .write_all(path)
            .and_then(|()| self.out.write_all(&[self.end]))
            .map_err(super::not_written)
    }

    /// The writer underneath, and how many frames had no file to name.
    pub fn finish(mut self) -> io::Result<(W, u64)> {
        self.out.flush()?;
        Ok((self.out, self.without_file))
    }
}
