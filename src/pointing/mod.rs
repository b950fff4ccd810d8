//! Where a camera pointed, from the images of stars in its picture. Knows no file, no clock, no site; opens no picture.
//!
//! ```text
//! stars        the bright sky: places, motions, magnitudes
//!   -> class   for one size of field: evenly spread stars, their pairs by angle, a map of the sky
//! law, lens    from the angle off the axis to the distance from the middle, and back
//!   -> camera  a lens and three directions: a direction in the sky <-> a pixel
//! spread       images in the order in which they are tried
//!   -> search  pairs of images against pairs of stars -> rough cameras
//!   -> refine  which star each image is; least squares (fit)
//!   -> odds    how much likelier the stars are than chance
//!   -> doubt   whether another lens explains more
//!   -> solve   Solution or Refusal (answer): the room's one door
//! gnomonic     the sky about a radiant, on which meteors are straight
//! trail_shower  which showers a trail between two pixels can belong to
//! horizon      the same camera against the horizon, once time and place are known
//! region       the part of the picture that it holds for; lone: bright images that no star explains
//! ```
//!
//! A solution is accepted by its odds alone, whatever time, place and focal length are said to be: these shorten the search.

pub mod answer;
mod attempt;
pub mod camera;
mod class;
mod doubt;
pub mod elapsed;
mod fit;
pub mod gnomonic;
pub mod horizon;
pub mod law;
pub mod lens;
pub mod lone;
mod matching;
mod odds;
mod refine;
pub mod region;
mod search;
pub mod solve;
mod spread;
pub mod stars;
pub mod trail_shower;
pub mod vector;
pub mod wcs;
