//! Frames of one session with the same settings. Judges nothing.

use std::cmp::Ordering;

use crate::terms::basis::Kind;
use crate::terms::calibration::FrameSettings;
use crate::terms::time::Utc;

/// Two exposures are one setting if they differ by at most this fraction: 1/60 s is written in one file as 1/60, in
/// another as 0.0167, a bulb exposure of 120 s as 120.4. The nearest two settings of a shutter are a quarter apart.
///
/// Source: common practice, no source.
pub const SAME_EXPOSURE: f64 = 0.01;

/// Frames of one run differ at most this much in temperature. Over it a sensor's dark current grows by less than half.
///
/// Source: ours; dark current doubles every 6 to 8 °C (from memory).
pub const WIDEST_BAND_C: f64 = 5.0;

/// Frames of one body and session with the same settings, within a few degrees of each other.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Run {
    /// The settings that matter for the kind; the others are `None`. The frame's number is 0.
    pub settings: FrameSettings,
    /// The lowest and highest temperature, if the body writes it.
    pub temperature_c: Option<(f64, f64)>,
    /// The first and the last start, if every frame has one.
    pub starts: Option<(Utc, Utc)>,
    /// The same by the camera clock, in seconds.
    pub clocks: Option<(i64, i64)>,
    /// The frames, in the order of their starts.
    pub frames: Vec<FrameSettings>,
}

impl Run {
    /// The middle of its temperatures.
    pub fn middle_c(&self) -> Option<f64> {
        self.temperature_c
            .map(|(low, high)| f64::midpoint(low, high))
    }
}

/// Whether two exposures are the same setting.
pub fn same_exposure(one: f64, other: f64) -> bool {
    (one - other).abs() <= SAME_EXPOSURE * one.abs().max(other.abs())
}

/// The runs of lights for which frames of a kind are wanted.
///
/// For darks, lights differ by exposure, sensitivity and temperature; for flats by lens, focal length, aperture and
/// sensitivity; for bias by sensitivity alone; for all by body, size of the picture and session.
pub fn wanted_for(kind: Kind, lights: &[FrameSettings]) -> Vec<Run> {
    let told = |frame: &FrameSettings| {
        let mut told = matching_settings(kind, frame);
        if kind != Kind::Dark {
            told.exposure_s = None;
        }
        told
    };
    grouped(kind, lights, &told)
}

/// The runs of calibration frames of a kind.
pub fn runs_of(kind: Kind, frames: &[FrameSettings]) -> Vec<Run> {
    grouped(kind, frames, &|frame| matching_settings(kind, frame))
}

/// The settings that matter for a kind. A flat's exposure depends on its light source, and is left out.
fn matching_settings(kind: Kind, frame: &FrameSettings) -> FrameSettings {
    let optics = kind == Kind::Flat;
    FrameSettings {
        camera_id: frame.camera_id,
        body: frame.body,
        session: frame.session,
        size_px: frame.size_px,
        iso: frame.iso,
        exposure_s: frame.exposure_s.filter(|_| !optics),
        focal_mm: frame.focal_mm.filter(|_| optics),
        f_number: frame.f_number.filter(|_| optics),
        lens_id: frame.lens_id.filter(|_| optics),
        ..FrameSettings::default()
    }
}

fn grouped(
    kind: Kind,
    frames: &[FrameSettings],
    told: &dyn Fn(&FrameSettings) -> FrameSettings,
) -> Vec<Run> {
    let mut sorted: Vec<(FrameSettings, &FrameSettings)> =
        frames.iter().map(|frame| (told(frame), frame)).collect();
    sorted.sort_by(|(a, x), (b, y)| by_settings(a, b).then_with(|| by_time(x, y)));
    let mut runs = Vec::new();
    let mut rest = sorted.as_slice();
    while let Some((first, _)) = rest.first() {
        let length = rest
            .iter()
            .position(|(one, _)| !alike(first, one))
            // NaN is not even equal to itself.
            .map_or(rest.len(), |at| at.max(1));
        let (group, after) = rest.split_at(length);
        let members: Vec<&FrameSettings> = group.iter().map(|(_, frame)| *frame).collect();
        // Only darks are matched by temperature.
        let bands = if kind == Kind::Dark {
            banded(members)
        } else {
            vec![members]
        };
        runs.extend(bands.into_iter().map(|band| run(first, &band)));
        rest = after;
    }
    runs.sort_by(|a, b| match (a.frames.first(), b.frames.first()) {
        (Some(x), Some(y)) => by_time(x, y).then_with(|| by_settings(&a.settings, &b.settings)),
        _ => Ordering::Equal,
    });
    runs
}

fn alike(first: &FrameSettings, other: &FrameSettings) -> bool {
    let exposures = match (first.exposure_s, other.exposure_s) {
        (Some(a), Some(b)) => same_exposure(a, b),
        (a, b) => a.is_none() && b.is_none(),
    };
    let but_exposure = FrameSettings {
        exposure_s: first.exposure_s,
        ..other.clone()
    };
    exposures && *first == but_exposure
}

/// Divides frames into equal bands of temperature, none wider than [`WIDEST_BAND_C`]; frames without one form their own
/// band.
fn banded(frames: Vec<&FrameSettings>) -> Vec<Vec<&FrameSettings>> {
    let (known, unknown): (Vec<_>, Vec<_>) = frames
        .into_iter()
        .partition(|frame| frame.temperature_c.is_some_and(f64::is_finite));
    let temperatures = || known.iter().filter_map(|frame| frame.temperature_c);
    let low = temperatures().fold(f64::INFINITY, f64::min);
    let width = temperatures().fold(f64::NEG_INFINITY, f64::max) - low;
    // No body is warmer than the whole scale; a broken value must not make a million bands.
    let count = (width / WIDEST_BAND_C).ceil().clamp(1.0, 64.0);
    let mut bands: Vec<Vec<&FrameSettings>> = Vec::new();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 1 to 64
    bands.resize_with(count as usize, Vec::new);
    for frame in known {
        let share = frame
            .temperature_c
            .map_or(0.0, |t| (t - low) / width.max(f64::MIN_POSITIVE));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to 64
        let at = (share * count).floor() as usize;
        let last = bands.len() - 1;
        bands[at.min(last)].push(frame);
    }
    bands.push(unknown);
    bands.retain(|band| !band.is_empty());
    bands
}

fn run(settings: &FrameSettings, members: &[&FrameSettings]) -> Run {
    let mut frames: Vec<FrameSettings> = members.iter().map(|frame| (*frame).clone()).collect();
    frames.sort_by(by_time);
    let known = frames.iter().filter_map(|frame| frame.temperature_c);
    let temperature_c = known.fold(None, |range: Option<(f64, f64)>, t| {
        Some(range.map_or((t, t), |(low, high)| (low.min(t), high.max(t))))
    });
    let starts: Option<Vec<Utc>> = frames.iter().map(|frame| frame.start_utc).collect();
    let clocks: Option<Vec<i64>> = frames.iter().map(|frame| frame.clock_s).collect();
    Run {
        settings: settings.clone(),
        temperature_c,
        starts: starts.and_then(|s| Some((*s.iter().min()?, *s.iter().max()?))),
        clocks: clocks.and_then(|c| Some((*c.iter().min()?, *c.iter().max()?))),
        frames,
    }
}

fn by_time(a: &FrameSettings, b: &FrameSettings) -> Ordering {
    let key = |f: &FrameSettings| (f.start_utc.is_none(), f.start_utc, f.clock_s, f.frame_id);
    key(a).cmp(&key(b))
}

fn by_settings(a: &FrameSettings, b: &FrameSettings) -> Ordering {
    let whole = |f: &FrameSettings| (f.camera_id, f.session, f.size_px, f.lens_id);
    let number = |x: Option<f64>, y: Option<f64>| match (x, y) {
        (Some(x), Some(y)) => x.total_cmp(&y),
        (x, y) => x.is_some().cmp(&y.is_some()),
    };
    whole(a)
        .cmp(&whole(b))
        .then_with(|| number(a.iso, b.iso))
        .then_with(|| number(a.focal_mm, b.focal_mm))
        .then_with(|| number(a.f_number, b.f_number))
        .then_with(|| number(a.exposure_s, b.exposure_s))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(frame_id: i64, exposure_s: f64, temperature_c: Option<f64>) -> FrameSettings {
        FrameSettings {
            frame_id,
            camera_id: Some(1),
            session: Some(4),
            start_utc: Utc::from_unix_ms(frame_id * 20_000),
            exposure_s: Some(exposure_s),
            iso: Some(3200.0),
            temperature_c,
            ..FrameSettings::default()
        }
    }

    fn counts(runs: &[Run]) -> Vec<usize> {
        runs.iter().map(|run| run.frames.len()).collect()
    }

    #[test]
    fn exposures_apart_by_rounding_are_one_setting_and_neighbours_on_the_dial_are_two() {
        for (a, b, same) in [
            (1.0 / 60.0, 0.0167, true),
            (15.0, 15.0, true),
            (120.0, 120.4, true),
            (15.0, 20.0, false),
            (1.0 / 60.0, 1.0 / 80.0, false),
            (0.3, 1.0 / 3.0, false),
        ] {
            assert_eq!(same_exposure(a, b), same, "{a} {b}");
        }
    }

    #[test]
    fn lights_of_a_cooling_night_are_cut_by_temperature_for_darks_alone() {
        let lights: Vec<FrameSettings> = (0..100_i32)
            .map(|i| frame(i.into(), 15.0, Some(20.0 - f64::from(i) * 0.12)))
            .chain((100..103).map(|i| frame(i, 15.0, None)))
            .collect();
        let runs = wanted_for(Kind::Dark, &lights);
        assert_eq!(
            runs.len(),
            4,
            "11.9 degrees in three, and the unknown: {:?}",
            counts(&runs)
        );
        for run in &runs[..3] {
            let (low, high) = run.temperature_c.unwrap();
            assert!(high - low <= WIDEST_BAND_C && run.frames.len() >= 30);
        }
        assert_eq!(counts(&wanted_for(Kind::Bias, &lights)), [103]);
        assert_eq!(counts(&wanted_for(Kind::Flat, &lights)), [103]);
    }

    #[test]
    fn no_frame_is_lost_whatever_its_values() {
        let odd = [f64::NAN, f64::INFINITY, -1e300, 1e300, 0.0, -0.0];
        let frames: Vec<FrameSettings> = odd
            .iter()
            .flat_map(|a| odd.iter().map(move |b| frame(0, *a, Some(*b))))
            .enumerate()
            .map(|(i, f)| FrameSettings {
                frame_id: i64::try_from(i).unwrap(),
                ..f
            })
            .collect();
        for kind in [Kind::Dark, Kind::Flat, Kind::Bias] {
            let mut ids: Vec<i64> = runs_of(kind, &frames)
                .iter()
                .flat_map(|run| run.frames.iter().map(|f| f.frame_id))
                .collect();
            ids.sort_unstable();
            assert_eq!(ids, (0..36).collect::<Vec<i64>>());
        }
    }
}
