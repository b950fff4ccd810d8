//! framefall: the catalogue of a meteor-shower photographer.
//!
//! The path of one frame through the modules:
//!
//! ```text
//! NITE4217.ARW (+ its JPEG) in a card dump
//!    |  capture     the metadata that the camera wrote, word for word
//!    v
//! CaptureRecord     clock 2023-12-14 01:12:07.25, exposure 15 s, focal length 20 mm
//!    |  clock       + zone                    |  site    + site
//!    |  placing     a body's evening, as a whole
//!    v
//! PlacedFrame       start, mid, end in UTC and place, with the evidence
//!    |  sky         radiants, Sun, Moon for that instant and place
//!    v
//! FrameSky          GEM at 78.3°, the Moon at -11.0°
//!    |  catalogue   one SQLite file          |  session  grouped: body, site, night, framing
//!    v
//! catalogue.sqlite
//!    |  query       text -> tree -> checked tree -> predicate
//!    v
//! FrameRow
//!    |  framelist   table, CSV, JSON, paths
//!    v
//! frames.csv
//! ```
//!
//! `usecase` has the order of steps along this path; `cli` turns words into one call of it, and rows into words.
//! `web` serves the page to look; `output` writes files completely or not at all. Modules use `terms` and not each other.

pub mod calibration;
pub mod capture;
pub mod catalogue;
pub mod cli;
pub mod clock;
pub mod copy;
pub mod framelist;
pub mod linktree;
pub mod output;
pub mod picture;
pub mod placing;
pub mod pointing;
pub mod query;
pub mod report;
pub mod session;
pub mod site;
pub mod sky;
pub mod terms;
pub mod trails;
pub mod usecase;
pub mod web;
