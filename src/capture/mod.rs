//! From card to record: lists the files of a dump and reads the metadata that the camera wrote. Never writes to a dump,
//! never converts a time, never reads picture data beyond a few samples.
//!
//! ```text
//! walk        lists the files of a dump          class     decides by extension which to open
//! read        one file -> FileReading            source    positioned reads, counted and capped
//! container/  one file per container: finds the TIFF blocks in it and where its structure ends
//! ifd         walks a TIFF block                 block     keeps the wanted tags, as a small TIFF of our own
//! maker/      one file per maker: values that only its own note has
//! tags        passes it to the EXIF crate       record    tags -> CaptureRecord
//! picture     an embedded JPEG -> a small picture; the only file that reads picture data
//! claims      what a JPEG claims, and what decoding it would cost
//! track       track file -> points
//! one         one named file                        folder    opens folders and files, keeps access times
//! shortage    errors of this computer, not of the card
//! glance      the first and last picture of a folder   hash_lists  lists of hashes in or beside a dump
//! volume      the volume that a folder is on
//! disk        the file system that a folder is on          buffer    the memory that bytes of whole files pass through
//! presence    whether a file is unchanged; the hash of all its bytes
//! preview     the largest embedded picture, in shades of grey
//! health      the state of the file              identity  the fingerprint          pair  raw + JPEG of one press
//! ```
//!
//! Of one file at most 128 KiB are read and less than 2 MiB held, whatever it claims.

mod block;
pub mod buffer;
pub mod claims;
pub mod class;
mod container;
pub mod disk;
mod family;
pub mod folder;
mod gathered;
pub mod glance;
pub mod hash_lists;
mod health;
pub mod identity;
mod ifd;
mod maker;
mod numbers;
pub mod one;
pub mod pair;
pub mod picture;
mod place;
pub mod presence;
pub mod preview;
pub mod read;
mod record;
pub mod shortage;
mod source;
mod tags;
mod times;
pub mod track;
pub mod volume;
pub mod walk;
mod wanted;
mod words;
