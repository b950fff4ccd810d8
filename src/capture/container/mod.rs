//! The table of containers: how each is recognised by its first bytes, and its reader. Adding one takes a file and a
//! line.
//!
//! Every reader finds the TIFF blocks in its container and has them walked into the same [`Gathered`], with the main
//! image's size, the embedded JPEG files, and the first structure that points past the end of the file.

mod bmff;
mod cr3;
mod crw;
mod heif;
mod jpeg;
mod mrw;
mod orf;
mod png;
mod raf;
mod rw2;
mod tiff;
mod webp;
mod x3f;

use crate::capture::gathered::Gathered;
use crate::capture::source::Source;

/// One container: what recognises it by the first bytes of a file, and its reader.
pub type Container = (fn(&[u8]) -> bool, Reader);

/// Gathers the contents of a file and returns the name of its format.
///
/// Takes: the file; its extension in lower case, a hint between formats of one layout; where to put the result.
pub type Reader = fn(&mut Source, &str, &mut Gathered) -> &'static str;

/// Every container, in the order they are tried.
pub const CONTAINERS: &[Container] = &[
    jpeg::CONTAINER,
    tiff::CONTAINER,
    heif::CONTAINER,
    heif::AVIF,
    png::CONTAINER,
    webp::CONTAINER,
    cr3::CONTAINER,
    raf::CONTAINER,
    rw2::CONTAINER,
    orf::CONTAINER,
    crw::CONTAINER,
    mrw::CONTAINER,
    x3f::CONTAINER,
];

/// Recognises a container by the first bytes of a file. `None` if it is of no known kind.
pub fn recognise(head: &[u8]) -> Option<&'static Container> {
    CONTAINERS.iter().find(|(recognises, _)| recognises(head))
}
