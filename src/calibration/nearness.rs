//! How near calibration frames are to their lights, and the word for it. Chooses nothing.
//!
//! The limits are common practice, no source: photographers renew a library of darks once or twice a year because hot
//! pixels come and go, and take flats in the same night because dust moves and a lens is never mounted exactly the same
//! way twice.

use crate::calibration::run::Run;
use crate::calibration::run::same_exposure;
use crate::terms::basis::Kind;
use crate::terms::calibration::ToldBy;
use crate::terms::exposure::LONGEST_BIAS_S;

/// How well a set of calibration frames fits its lights. Better is less.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// Everything matches closely.
    Close,
    /// It can be used; something differs more than it should, or is unknown.
    Usable,
    /// Perhaps better than nothing.
    Poor,
    /// There is no match.
    None,
}

impl Grade {
    /// All grades, in order.
    pub const ALL: &'static [Self] = &[Self::Close, Self::Usable, Self::Poor, Self::None];

    /// The word used in lists and manifests.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Close => "close",
            Self::Usable => "usable",
            Self::Poor => "poor",
            Self::None => "none",
        }
    }

    /// Whether it is good enough for the lights.
    pub const fn serves(self) -> bool {
        matches!(self, Self::Close | Self::Usable)
    }
}

/// How many frames a master is made of: with fewer, their own noise remains in every light.
///
/// Source: common practice, no source.
pub const MASTER: std::ops::RangeInclusive<usize> = 10..=30;
/// With fewer than this, a master adds more noise than it removes.
///
/// Source: common practice, no source.
const FEWEST: usize = 3;
/// Darks within this of the lights have the same temperature, as far as a body's whole degrees show.
///
/// Source: common practice, no source.
const CLOSE_C: f64 = 2.0;
/// Beyond this, darks leave warm pixels or overcorrect them.
///
/// Source: common practice, no source.
const USABLE_C: f64 = 5.0;

/// How near one run, or one frame of it, is to the lights.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearness {
    /// Exposure minus the lights', seconds. `None` if it does not matter.
    pub exposure_diff_s: Option<f64>,
    /// Temperature minus the lights' middle, °C. `None` if one of them is unknown.
    pub temperature_diff_c: Option<f64>,
    /// Days between the two, 0 if they overlap. `None` if unknown.
    pub days: Option<f64>,
    /// What identifies the body.
    pub body: ToldBy,
    /// Whether the apertures differ, or one is unknown.
    pub aperture_differs: bool,
    /// Whether the sensitivities differ, or one is unknown.
    pub iso_differs: bool,
    /// Whether lens and focal length are both known on both sides.
    pub lens: Lens,
    /// Whether a bias is longer than the shortest exposure.
    pub long_bias: bool,
}

/// How certain it is that the lens is the lights' own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lens {
    /// It is, or the lens does not matter.
    Same,
    /// Nothing contradicts it, but it is unknown.
    Unsure,
}

/// How near a run is to the lights; `None` if it does not fit at all: another body, size of the picture, exposure,
/// sensitivity, lens.
pub fn nearness(kind: Kind, lights: &Run, run: &Run) -> Option<Nearness> {
    let (light, other) = (&lights.settings, &run.settings);
    if light.camera_id.is_none()
        || light.camera_id != other.camera_id
        || clash(light.size_px, other.size_px)
    {
        return None;
    }
    let iso_differs = differs(light.iso, other.iso);
    if kind != Kind::Flat && iso_differs {
        return None;
    }
    let exposure_diff_s = match (kind, light.exposure_s, other.exposure_s) {
        (Kind::Dark, Some(a), Some(b)) if same_exposure(a, b) => Some(b - a),
        (Kind::Dark, ..) => return None,
        _ => None,
    };
    let mut lens = Lens::Same;
    if kind == Kind::Flat {
        let zoomed = match (light.focal_mm, other.focal_mm) {
            // A zoom ring does not return to exactly the same position, and its focal length is rounded.
            (Some(a), Some(b)) => (a - b).abs() > 0.02 * a.abs(),
            (a, b) => a.is_some() != b.is_some(),
        };
        if zoomed || clash(light.lens_id, other.lens_id) {
            return None;
        }
        if light.focal_mm.is_none() || light.lens_id.is_none() || other.lens_id.is_none() {
            lens = Lens::Unsure;
        }
    }
    Some(Nearness {
        exposure_diff_s,
        temperature_diff_c: run
            .middle_c()
            .zip(lights.middle_c())
            .map(|(run, lights)| run - lights),
        days: days(lights, run),
        body: light.body,
        aperture_differs: kind == Kind::Flat && differs(light.f_number, other.f_number),
        iso_differs,
        lens,
        long_bias: kind == Kind::Bias && other.exposure_s > Some(LONGEST_BIAS_S),
    })
}

fn clash<T: PartialEq + Copy>(one: Option<T>, other: Option<T>) -> bool {
    one.is_some() && other.is_some() && one != other
}

fn differs(one: Option<f64>, other: Option<f64>) -> bool {
    let both = one.zip(other);
    !both.is_some_and(|(a, b)| (a - b).abs() <= 0.01 * a.abs())
}

/// The days from the end of one to the beginning of the other, by true time, or by the camera clock if both are of one
/// body.
fn days(one: &Run, other: &Run) -> Option<f64> {
    let utc = |run: &Run| {
        run.starts
            .map(|(first, last)| (first.unix_ms() / 1000, last.unix_ms() / 1000))
    };
    let spans = utc(one).zip(utc(other)).or(one.clocks.zip(other.clocks))?;
    let ((a, b), (c, d)) = spans;
    Some(c.saturating_sub(b).max(a.saturating_sub(d)).max(0) as f64 / 86_400.0)
}

impl Nearness {
    /// The grade of frames this near, if there are enough of them.
    pub fn grade(&self, kind: Kind) -> Grade {
        let (close_d, usable_d) = match kind {
            Kind::Flat => (1.0, 30.0),
            Kind::Bias => (365.0, 1096.0),
            _ => (183.0, 731.0),
        };
        let age = within(self.days, close_d, usable_d);
        let warmth = match kind {
            Kind::Dark => within(self.temperature_diff_c.map(f64::abs), CLOSE_C, USABLE_C),
            _ => Grade::Close,
        };
        let close_unless = |differs, grade| if differs { grade } else { Grade::Close };
        age.max(warmth)
            .max(close_unless(self.aperture_differs, Grade::Poor))
            .max(close_unless(self.long_bias, Grade::Poor))
            .max(close_unless(self.lens == Lens::Unsure, Grade::Usable))
            // A flat of another sensitivity is just as even, only noisier.
            .max(close_unless(self.iso_differs, Grade::Usable))
            // Another body of the model has its own hot pixels and dust.
            .max(close_unless(self.body == ToldBy::Model, Grade::Usable))
    }

    /// The sort key, the nearest least: settings, then temperature by classes, then time, then the rest.
    pub(super) fn order(&self, kind: Kind) -> (u8, u32, u64, u64) {
        let settings = u8::from(self.aperture_differs) * 8
            + u8::from(self.long_bias) * 4
            + u8::from(self.lens == Lens::Unsure) * 2
            + u8::from(self.iso_differs);
        let warmth = match (kind, self.temperature_diff_c.map(f64::abs)) {
            (Kind::Dark, Some(diff)) if diff <= CLOSE_C => 0,
            (Kind::Dark, Some(diff)) if diff > USABLE_C => steps(diff, USABLE_C),
            // Unknown counts as usable: most such runs were taken in the same night.
            (Kind::Dark, _) => 1,
            _ => 0,
        };
        let time = self.days.map_or(u64::MAX, |days| fine(days * 86_400.0));
        let rest = self
            .temperature_diff_c
            .map_or(u64::MAX, |diff| fine(diff.abs() * 10.0));
        (settings, warmth, time, rest)
    }
}

fn within(value: Option<f64>, close: f64, usable: f64) -> Grade {
    match value {
        Some(value) if value <= close => Grade::Close,
        Some(value) if value > usable => Grade::Poor,
        _ => Grade::Usable,
    }
}

/// The grade that a count of frames allows.
pub(super) fn by_count(frames: usize) -> Grade {
    match frames {
        0 => Grade::None,
        n if n < FEWEST => Grade::Poor,
        n if n < *MASTER.start() => Grade::Usable,
        _ => Grade::Close,
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // `as` saturates
fn steps(diff: f64, step: f64) -> u32 {
    (diff / step).ceil() as u32
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // `as` saturates
fn fine(value: f64) -> u64 {
    value.round() as u64
}
