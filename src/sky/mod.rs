//! Pure arithmetic of the sky: same input, same output, on any computer, in any year. Never touches files, SQL or a clock.
//!
//! The way of one frame through the room:
//!
//! ```text
//! Utc -> instant      days of UT1 and of TT
//!     -> node         what no site changes, at two times six hours apart, and the blend between them
//!     -> observer     turned by the Earth's rotation to one site: direction among the stars -> east, north, up
//!     -> sun, moon    solar longitude, twilight; lit fraction
//!     -> showers      the published table: shower, published
//!                                              -> radiant, track   where each one's radiant stands now
//!                                              -> profile   how active each one is now
//!     -> darkness     the faintest star of the sky over the frame: site, twilight, moonlight
//!     -> seen, rate   what the picture shows of it, and how much comes from it
//!     -> look         FrameSky: the room's one door
//!     -> trail        star trails, turn of the sky from frame to frame
//!     -> window       a whole night at one place: darkness, Moon, the radiants' ways
//! ```
//!
//! Time scales, precession, nutation, aberration, light deflection, the Earth's and the Moon's places come from
//! sofars, whose routines derive from software provided by SOFA under licence; this is not SOFA software and is
//! not endorsed by SOFA. What is written here is the trade's: drift, seen radiant, rate, and the thrift between frames.

pub mod darkness;
pub mod direction;
pub mod instant;
pub mod look;
mod moon;
mod node;
pub mod observer;
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
