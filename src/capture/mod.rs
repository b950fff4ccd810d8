//! From card to record: lists the files of a dump and reads what the camera wrote into them. Never writes to a dump,
//! never converts a time, never reads picture data beyond a few samples.
//!
//! ```text
//! walk        lists the files of a dump          class     tells by extension which are worth opening
//! read        one file -> FileReading            source    positioned reads, counted and capped
//! container/  one file per container: finds the TIFF blocks in it, and says what its structure promises
//! ifd         walks a TIFF block                 block     keeps the wanted tags, as a small TIFF of our own
//! maker/      one file per maker: what only its own note says
//! tags        gives that to the EXIF crate       record    tags -> CaptureRecord
//! picture     an embedded JPEG -> a small picture; the only file that looks at picture data
//! claims      what a JPEG claims, and what decoding it would cost
//! track       track file -> points
//! one         one file that is named                folder    folders and files opened, access times kept
//! shortage    errors that are this computer's
//! glance      the ends of one folder
//! volume      the volume a folder lies on
//! presence    whether a file is still what it was; the hash of all its bytes
//! health      the state of the file              identity  the fingerprint          pair  raw + JPEG of one press
//! ```
//!
//! Of one file at most 128 KiB are read and less than 2 MiB held, whatever it claims.

mod block;
pub mod claims;
pub mod class;
mod container;
mod family;
pub mod folder;
mod gathered;
pub mod glance;
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
