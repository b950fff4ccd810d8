//! The table of containers: how each is told by its first bytes, and who reads it. Adding one is a file and a line.
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

/// One container.
#[derive(Clone, Copy, Debug)]
pub struct Container {
    /// Tells it by the first bytes of a file.
    pub recognises: fn(&[u8]) -> bool,
    /// Reads it.
    pub read: Reader,
}

/// Gathers what a file of the container holds, and returns the word for the format.
///
/// Takes: the file; its extension in small letters, a hint between formats of one layout; where to put what is found.
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

/// Tells a container by the first bytes of a file. `None` when it is of no kind known here.
pub fn recognise(head: &[u8]) -> Option<&'static Container> {
    CONTAINERS.iter().find(|c| (c.recognises)(head))
}
