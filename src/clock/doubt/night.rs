//! Long exposures at high sensitivity that are dated while the Sun is up, or on into the day.

use crate::clock::doubt::Doubt;
use crate::clock::doubt::fix_command;
use crate::clock::doubt::shift::fits;
use crate::clock::doubt::shift::fitting_hours;
use crate::clock::doubt::shift::hours_in_words;
use crate::terms::clock::ClockedFrame;
use crate::terms::clock::ClockedSession;
use crate::terms::time::Utc;

/// Settings of the full night: seconds times ISO, from here on. A daylight picture at the smallest aperture needs a
/// thousandth of it.
///
/// Source: common practice, no source: 20 s at ISO 800, 5 s at ISO 3200.
const NIGHT_EXPOSURE_ISO: f64 = 16_000.0;

/// And an exposure of at least so many seconds.
///
/// Source: common practice, no source.
const NIGHT_EXPOSURE_S: f64 = 4.0;

/// The Sun's centre is above this when its edge is on the horizon or higher, in degrees.
///
/// Source: the almanacs' definition of sunrise (from memory).
const SUN_UP_DEG: f64 = -0.8333;

/// With the Sun higher than this a picture at night settings is white, in degrees.
///
/// Source: common practice, no source: the bright half of civil twilight.
const WHITE_SKY_DEG: f64 = -3.0;

/// With the Sun lower than this it is night for such settings, in degrees.
///
/// Source: end of nautical twilight, the almanacs' definition (from memory).
const DARK_SKY_DEG: f64 = -12.0;

/// Whether a frame was taken of the sky at the settings of the full night.
pub fn at_night_settings(frame: &ClockedFrame) -> bool {
    let (Some(exposure_s), Some(iso)) = (frame.exposure_s, frame.iso) else {
        return false;
    };
    !frame.no_sky && exposure_s >= NIGHT_EXPOSURE_S && exposure_s * iso >= NIGHT_EXPOSURE_ISO
}

/// Checks a session against the Sun.
pub fn check(
    session: &ClockedSession,
    sun_alt_deg: &mut dyn FnMut(Utc) -> Option<f64>,
) -> Option<Doubt> {
    let frames: Vec<&ClockedFrame> = session
        .frames
        .iter()
        .filter(|f| at_night_settings(f))
        .collect();
    let above = |bound: f64| {
        frames
            .iter()
            .filter(|f| f.sun_alt_deg.is_some_and(|alt| alt > bound))
            .count()
    };
    let dark = frames
        .iter()
        .any(|f| f.sun_alt_deg.is_some_and(|alt| alt < DARK_SKY_DEG));
    let (code, bound) = if dark && above(WHITE_SKY_DEG) > 0 {
        ("clock-sunrise", WHITE_SKY_DEG)
    } else if above(SUN_UP_DEG) > 0 {
        ("clock-daylight", SUN_UP_DEG)
    } else {
        return None;
    };
    let bright = frames
        .iter()
        .filter(|f| f.sun_alt_deg.is_some_and(|alt| alt > bound))
        .max_by(|a, b| {
            let alt = |f: &ClockedFrame| f.sun_alt_deg.unwrap_or(-90.0);
            alt(a).total_cmp(&alt(b))
        })?;
    let saw = format!(
        "session {}: {} of {} frames at night settings ({} s, ISO {}) are dated with the Sun up to {:.1}° high, \
         {} by the body's clock",
        session.session_id,
        above(bound),
        frames.len(),
        bright.exposure_s?,
        bright.iso?,
        bright.sun_alt_deg?,
        bright
            .reading
            .map_or_else(|| "unknown".to_owned(), |r| r.to_string()),
    );
    let first = frames.first()?;
    let cure = match fitting_hours(&frames, sun_alt_deg) {
        Some(hours) => {
            let command = first
                .reading
                .zip(
                    first
                        .start_utc
                        .and_then(|at| at.plus_s(hours as f64 * 3600.0)),
                )
                .map(|(reading, at)| fix_command(&session.camera, reading, at));
            // Evening for morning may be either way: the night before fits as well as the night after.
            let or = if fits(&frames, -hours, sun_alt_deg) {
                format!(" (and {} too)", hours_in_words(-hours))
            } else {
                String::new()
            };
            format!(
                "{} it fits the night{or}: {}",
                hours_in_words(hours),
                command.unwrap_or_default()
            )
        }
        None => {
            "no step of whole hours or a day makes it fit the night; look at the frames".to_owned()
        }
    };
    Some(Doubt {
        code,
        frame_id: bright.frame_id,
        saw,
        cure,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::time::WallTime;

    fn session(suns: &[f64]) -> ClockedSession {
        ClockedSession {
            session_id: 3,
            camera: "2B".into(),
            site: None,
            night: "2023-12-13".into(),
            frames: suns
                .iter()
                .zip(0_i64..)
                .map(|(sun, i)| ClockedFrame {
                    frame_id: i,
                    reading: WallTime::parse("2023-12-13T10:00:00")
                        .and_then(|r| r.plus_ms(i * 22_000)),
                    start_utc: Utc::parse("2023-12-13T10:00:00Z")
                        .and_then(|at| at.plus_s(i as f64 * 22.0)),
                    exposure_s: Some(20.0),
                    iso: Some(3200.0),
                    sun_alt_deg: Some(*sun),
                    ..ClockedFrame::default()
                })
                .collect(),
        }
    }

    #[test]
    fn daylight_and_sunrise_are_told_apart_and_darks_are_let_be() {
        let mut night = |at: Utc| {
            let hours = at.unix_ms().rem_euclid(86_400_000) / 3_600_000;
            Some(if (20..24).contains(&hours) {
                -40.0
            } else {
                20.0
            })
        };
        let day = check(&session(&[20.0, 20.1]), &mut night).unwrap();
        assert_eq!(day.code, "clock-daylight");
        assert!(
            day.saw.contains("2 of 2") && day.saw.contains("20.1°"),
            "{}",
            day.saw
        );
        assert!(
            day.cure
                .contains("12 hours later it fits the night (and 12 hours earlier too): framefall")
                && day.cure.contains(
                    "clock fix 2B --read '2023-12-13 10:00:00' --true 2023-12-13T22:00:00.000Z"
                ),
            "{}",
            day.cure
        );
        let dawn = check(&session(&[-20.0, -12.5, -2.0]), &mut |_| None).unwrap();
        assert_eq!(dawn.code, "clock-sunrise");
        assert!(dawn.cure.contains("no step"));
        assert_eq!(check(&session(&[-40.0, -12.0, -6.0]), &mut night), None);
        let mut darks = session(&[20.0]);
        darks.frames[0].no_sky = true;
        assert_eq!(check(&darks, &mut night), None);
        let mut short = session(&[20.0]);
        short.frames[0].exposure_s = Some(0.01);
        assert_eq!(check(&short, &mut night), None);
    }
}
