//! Which darks, flats and bias frames fit which lights, and how well. Knows no SQL, no disk.
//!
//! - `run`: frames of one session with the same settings: lights, and calibration frames
//! - `nearness`: how near two runs are, in degrees, days and settings, and the word for it
//! - `choose`: the nearest run, whole, and equally near ones if it is too short
//! - `words`: runs and differences in words

pub mod choose;
pub mod nearness;
pub mod run;
pub mod words;
