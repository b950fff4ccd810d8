//! Pure arithmetic of the sky: same input, same output, on any computer, in any year. Never uses files, SQL or a clock.
//!
//! The path of one frame through this module:
//!
//! ```text
//! Utc -> instant      days of UT1 and of TT
//!     -> node         what no site changes, at two times six hours apart, and interpolated between them
//!     -> observer     rotated by the Earth's rotation to one site: direction among the stars -> east, north, up
//!     -> sun, moon    solar longitude, twilight; lit fraction
//!     -> planets      Venus, Mars and Jupiter
//!     -> showers      the published table: shower, published
//!                                              -> radiant, track   where each radiant is now
//!                                              -> profile   how active each shower is now
//!     -> darkness     the limiting magnitude over the frame: site, twilight, moonlight
//!     -> seen, rate   where trails point back to, and how many meteors to expect
//!     -> look         FrameSky: the entry to this module
//!     -> trail        star trails, rotation of the sky from frame to frame
//!     -> window       a whole night at one place: darkness, Moon, the radiants' paths
//! ```
//!
//! Time scales, precession, nutation, aberration, light deflection, the Earth's and the Moon's positions come from
//! sofars, whose routines derive from software provided by SOFA under licence; this is not SOFA software and is not
//! endorsed by SOFA. What is written here is specific to meteors: drift, seen radiant, rate, and reuse between frames.

pub mod darkness;
pub mod direction;
pub mod horizon;
pub mod instant;
pub mod look;
mod moon;
mod node;
pub mod observer;
pub mod planets;
pub mod profile;
pub mod published;
pub mod radiant;
pub mod rate;
pub mod seen;
pub mod shower;
pub mod showers;
pub mod sun;
mod track;
pub mod trail;
pub mod window;
