//! Nights with known clock errors, made from a seed: bodies, sites over the world and the year, runs of frames. For the
//! benchmark of wrong clocks and for the laws about suggested remedies.
//!
//! The contents of a world depend only on its class and its seed.

// Benchmarks and tests may panic; each uses a part of this.
#![allow(clippy::expect_used, dead_code)]

pub mod fill;
pub mod plan;
pub mod sky;

use framefall::terms::time::Utc;
use jiff::Timestamp;
use jiff::ToSpan;
use jiff::civil::DateTime;
use jiff::tz::Offset;
use jiff::tz::TimeZone;

/// The error of one run of the first body.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// None: every night is right.
    Right,
    /// The clock is fast by whole hours; slow where negative.
    Hours(i64),
    /// The clock shows another zone than the site's.
    Zone,
    /// The date is a day ahead or behind; the nights before and after are right.
    Day,
    /// The year is one ahead or behind; the nights before and after are right.
    Year,
    /// The date is so many days ahead or behind, which are not a calendar year there; the nights before and after are right.
    Days(i64),
}

/// Every class with an error.
pub const WRONG_CLASSES: &[Class] = &[
    Class::Hours(1),
    Class::Hours(-1),
    Class::Hours(2),
    Class::Hours(-3),
    Class::Hours(-8),
    Class::Hours(12),
    Class::Hours(-12),
    Class::Zone,
    Class::Day,
    Class::Year,
    Class::Days(365),
    Class::Days(366),
];

/// The position of a run in its night.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Span {
    /// From and to the Sun at -10°.
    Full,
    /// It begins late or ends early, or at other depths of the Sun.
    Varied,
}

/// One exposure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shot {
    /// The true instant.
    pub at: Utc,
    /// The clock reading.
    pub reading: DateTime,
    /// Exposure in seconds.
    pub exposure_s: f64,
    /// Sensitivity.
    pub iso: f64,
}

/// One body's work in one night.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// Its frames.
    pub shots: Vec<Shot>,
    /// Whether its clock was wrong.
    pub wrong: bool,
}

/// A body and its runs, in the order they were taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Its serial number.
    pub serial: String,
    /// Its runs.
    pub runs: Vec<Run>,
    /// How its files are spread over dumps.
    pub cards: Cards,
}

/// How a body's files are spread over dumps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cards {
    /// All in one folder, numbered consecutively.
    One,
    /// A dump per night, numbered consecutively.
    EachNumberedOn,
    /// A dump per night, each numbered from 1.
    EachFromOne,
}

/// Some nights of one photographer at one site.
#[derive(Clone, Debug, PartialEq)]
pub struct World {
    /// Its number.
    pub number: usize,
    /// Latitude and longitude in degrees.
    pub place: (f64, f64),
    /// The site's zone.
    pub zone: &'static str,
    /// The bodies; the first has the error of the class.
    pub bodies: Vec<Body>,
}

/// Random numbers. Source: splitmix64 (from memory).
#[derive(Clone, Debug)]
pub struct Rng(pub u64);

impl Rng {
    /// The next 64 bits.
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        x ^ (x >> 31)
    }

    /// A number between these two.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// True with this probability.
    pub fn chance(&mut self, of_one: f64) -> bool {
        self.between(0.0, 1.0) < of_one
    }

    /// One of these.
    pub fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[usize::try_from(self.next() % all.len() as u64).expect("a place in the list")]
    }
}

/// The offset of a zone at an instant, in seconds east.
pub fn offset_s(zone: &str, at: Utc) -> i32 {
    let stamp = Timestamp::from_millisecond(at.unix_ms()).expect("an instant");
    TimeZone::get(zone)
        .map(|zone| zone.to_offset(stamp).seconds())
        .expect("a zone")
}

/// The reading of a clock that is so far ahead of UTC.
pub fn shown(at: Utc, ahead_s: i64) -> DateTime {
    let stamp = Timestamp::from_second(at.unix_ms().div_euclid(1000)).expect("an instant");
    Offset::UTC.to_datetime(stamp) + ahead_s.seconds()
}

/// A reading with the error of the class.
pub fn wrong_reading(right: DateTime, error: Error) -> DateTime {
    match error {
        Error::Seconds(fast) => right + fast.seconds(),
        Error::Years(ahead) => right + ahead.years(),
    }
}

/// A clock's error.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Error {
    /// Fast by seconds.
    Seconds(i64),
    /// Ahead by calendar years.
    Years(i64),
}
