//! Stars in a preview: background, detection, centroids, widths. Knows neither the sky nor a lens; reads no file.
//!
//! ```text
//! Grey            a decoded preview, at a working size of 1,000 to 2,100 pixels across
//!   -> frame      the picture within black bars
//!   -> background what is there without stars
//!   -> filter     matched to star images; its noise
//!   -> maxima     points above the noise; edges, trails and rows of points taken out
//!   -> centroid   place, light and width of each
//!   -> find       StarField: the room's one door
//!   -> glare      the largest burnt-out spot: the Moon, or a lamp
//! ```

pub mod background;
pub mod bars;
mod centroid;
mod filter;
pub mod find;
pub mod glare;
mod maxima;
