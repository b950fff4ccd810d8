//! Pointing as headers of FITS files have it: read from other programs' solutions, written for them. Opens no file, knows no frame.
//!
//! ```text
//! cards     the bytes of a header <-> keywords and values
//!   -> header     what they say of pixels and sky
//!   -> projection pixel -> direction among the stars
//!   -> fitted     the camera that draws the same
//! written   a camera -> cards
//! ```
//!
//! Source: FITS Standard 4.0, IAU FITS Working Group 2018, chapters 4 and 8; E. W. Greisen and M. R. Calabretta 2002, A&A 395,
//! 1061; M. R. Calabretta and E. W. Greisen 2002, A&A 395, 1077; D. L. Shupe et al. 2005, ASP Conf. Ser. 347, 491 (SIP); all from
//! memory. Checked by: `tests/reference/wcs.rs` against astropy.

pub mod cards;
pub mod fitted;
pub mod header;
mod projection;
pub mod written;
