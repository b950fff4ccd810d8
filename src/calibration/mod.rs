//! Which darks, flats and bias frames serve which lights, and how well. Knows no SQL, no disk.
//!
//! - `run`: frames of one session that were taken alike: lights to be served, calibration frames that serve
//! - `nearness`: how near two runs are, in degrees, days and settings, and the plain word for it
//! - `choose`: the nearest run, whole, and more of its like where it is short
//! - `words`: runs and differences in words

pub mod choose;
pub mod nearness;
pub mod run;
pub mod words;
