//! Two bodies at one site in one night whose sessions cannot both be at night.

use crate::clock::doubt::Doubt;
use crate::clock::doubt::fix_command;
use crate::clock::doubt::night::at_night_settings;
use crate::clock::doubt::shift::hours_in_words;
use crate::clock::doubt::shift::overlapping_hours;
use crate::terms::clock::ClockedFrame;
use crate::terms::clock::ClockedSession;
use crate::terms::time::Utc;

/// The highest Sun over frames that are at night, in degrees.
///
/// Source: end of nautical twilight, the almanacs' definition (from memory).
const NIGHT_SUN_DEG: f64 = -12.0;

/// A frame with the Sun higher than this is at no night, in degrees.
///
/// Source: the almanacs' definition of sunrise (from memory).
const DAY_SUN_DEG: f64 = -0.8333;

/// What a session at night settings comes to, kept while the other bodies of the night are read.
#[derive(Clone, Debug)]
pub struct NightPart {
    session_id: i64,
    camera: String,
    site: String,
    span: (Utc, Utc),
    highest_sun_deg: f64,
    frames: Vec<ClockedFrame>,
}

/// The part of a session that the check needs; `None` for one without a site or without frames at night settings.
pub fn night_part(session: &ClockedSession) -> Option<NightPart> {
    let frames: Vec<ClockedFrame> = session
        .frames
        .iter()
        .filter(|f| at_night_settings(f) && f.start_utc.is_some() && f.sun_alt_deg.is_some())
        .cloned()
        .collect();
    let starts = || frames.iter().filter_map(|f| f.start_utc);
    Some(NightPart {
        session_id: session.session_id,
        camera: session.camera.clone(),
        site: session.site.as_ref()?.0.clone(),
        span: (starts().min()?, starts().max()?),
        highest_sun_deg: frames
            .iter()
            .filter_map(|f| f.sun_alt_deg)
            .fold(-90.0, f64::max),
        frames,
    })
}

/// Checks the sessions of one night against each other.
pub fn check(parts: &[NightPart]) -> Vec<Doubt> {
    let mut doubts = Vec::new();
    for wrong in parts.iter().filter(|p| p.highest_sun_deg > DAY_SUN_DEG) {
        let witness = parts.iter().find(|p| {
            p.site == wrong.site && p.camera != wrong.camera && p.highest_sun_deg < NIGHT_SUN_DEG
        });
        let (Some(witness), Some(first)) = (witness, wrong.frames.first()) else {
            continue;
        };
        let frames: Vec<&ClockedFrame> = wrong.frames.iter().collect();
        let cure = match overlapping_hours(&frames, witness.span.0, witness.span.1) {
            Some(hours) => {
                let command = first
                    .reading
                    .zip(
                        first
                            .start_utc
                            .and_then(|at| at.plus_s(hours as f64 * 3600.0)),
                    )
                    .map(|(reading, at)| fix_command(&wrong.camera, reading, at));
                format!(
                    "{} the two run together: {}",
                    hours_in_words(hours),
                    command.unwrap_or_default()
                )
            }
            None => "no step of whole hours or a day lays one upon the other; compare the frames"
                .to_owned(),
        };
        doubts.push(Doubt {
            code: "clocks-disagree",
            frame_id: first.frame_id,
            saw: format!(
                "at {} that night, session {} of {} lies in the dark from {} to {}, session {} of {} in daylight from {} to {}",
                wrong.site,
                witness.session_id,
                witness.camera,
                witness.span.0,
                witness.span.1,
                wrong.session_id,
                wrong.camera,
                wrong.span.0,
                wrong.span.1
            ),
            cure,
        });
    }
    doubts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::time::WallTime;

    fn session(id: i64, camera: &str, start: &str, sun: f64) -> ClockedSession {
        ClockedSession {
            session_id: id,
            camera: camera.into(),
            site: Some(("Salt Ridge".into(), None)),
            night: "2023-12-13".into(),
            frames: (0..10_i64)
                .map(|i| ClockedFrame {
                    frame_id: id * 100 + i,
                    reading: WallTime::parse("2023-12-13T22:00:00"),
                    start_utc: Utc::parse(start).and_then(|at| at.plus_s(i as f64 * 60.0)),
                    exposure_s: Some(20.0),
                    iso: Some(3200.0),
                    sun_alt_deg: Some(sun),
                    ..ClockedFrame::default()
                })
                .collect(),
        }
    }

    #[test]
    fn the_body_in_daylight_is_the_wrong_one() {
        let parts: Vec<NightPart> = [
            session(1, "A", "2023-12-14T05:00:00Z", -40.0),
            session(2, "B", "2023-12-14T17:00:00Z", 10.0),
        ]
        .iter()
        .filter_map(night_part)
        .collect();
        let doubts = check(&parts);
        assert_eq!(doubts.len(), 1);
        assert_eq!(
            (doubts[0].code, doubts[0].frame_id),
            ("clocks-disagree", 200)
        );
        assert!(
            doubts[0].cure.contains("12 hours earlier"),
            "{}",
            doubts[0].cure
        );
        assert!(doubts[0].cure.contains("clock fix B"), "{}", doubts[0].cure);
        assert!(check(&parts[..1]).is_empty() && check(&parts[1..]).is_empty());
    }
}
