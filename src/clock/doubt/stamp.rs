//! GPS time and clock differ.

use crate::clock::doubt::found::Doubt;
use crate::clock::doubt::found::Limit;
use crate::clock::doubt::found::fix_command;
use crate::clock::gps;
use crate::clock::gps::GPS_AGREES_S;
use crate::terms::clock::ClockedFrame;
use crate::terms::clock::ClockedSession;
use crate::terms::plural::counted;

/// Shown if a session's files name no body.
const NAMELESS: &str = "if the stamps are fresh, the clock is wrong. No clock fix can be stated, \
                        because the files name no body (neither make, model nor serial number)";

/// Checks a session's clock against its GPS time stamps.
///
/// A stamp can be old, never early. So the smallest lead of the clock over a stamp is the upper bound on how fast the
/// clock is, and the best estimate.
pub fn check(session: &ClockedSession) -> Option<Doubt> {
    let ahead_s = |frame: &ClockedFrame| Some(gps::ahead_s(frame.start_utc?, frame.gps_utc?));
    let stamped: Vec<(&ClockedFrame, f64)> = session
        .frames
        .iter()
        .filter_map(|frame| Some((frame, ahead_s(frame)?)))
        .collect();
    let (frame, least_s) = stamped.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
    if least_s.abs() <= GPS_AGREES_S {
        return None;
    }
    let way = if *least_s > 0.0 { "ahead of" } else { "behind" };
    let of_frames = counted(stamped.len() as u64, "frame");
    let command = session.camera.as_deref().and_then(|camera| {
        let stamp = frame.start_utc?.plus_s(-least_s)?;
        let limit = Limit::session(session.session_id);
        Some(fix_command(camera, frame.reading?, stamp, limit))
    });
    Some(Doubt {
        code: "gps-clock-apart",
        frame_id: frame.frame_id,
        saw: format!(
            "session {}: {of_frames} with a GPS time stamp: the camera clock is {} {way} GPS",
            session.session_id,
            about(least_s.abs())
        ),
        cure: match (frame.start_utc, frame.gps_utc) {
            _ if session.camera.is_none() => NAMELESS.to_owned(),
            (Some(by_clock), Some(stamp)) if gps::may_be_turns_early(by_clock, stamp) => format!(
                "the stamps, {stamp}, may be 1,024 weeks early or twice that, as with old \
                 receivers; state the true time of one frame: framefall clock fix --help"
            ),
            _ => format!(
                "if the stamps are fresh, the clock is wrong: {}",
                command.unwrap_or_default()
            ),
        },
    })
}

/// A difference of clocks in words: `about 8 h`, `14.6 years`.
fn about(seconds: f64) -> String {
    const YEAR_S: f64 = 365.25 * 86_400.0;
    match seconds {
        s if s < 180.0 => format!("{s:.0} s"),
        s if s < 1.9 * 3_600.0 => format!("about {:.0} min", s / 60.0),
        s if s < 3.0 * 86_400.0 => format!("about {:.0} h", s / 3_600.0),
        s if s < 2.0 * YEAR_S => format!("about {:.0} days", s / 86_400.0),
        s => format!("{:.1} years", s / YEAR_S),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::time::Utc;
    use crate::terms::time::WallTime;

    fn session(ahead: &[f64]) -> ClockedSession {
        let start = Utc::parse("2023-12-13T22:00:00Z").unwrap();
        ClockedSession {
            session_id: 4,
            camera: Some("A".into()),
            site: None,
            night: "2023-12-13".into(),
            frames: ahead
                .iter()
                .map(|ahead_s| ClockedFrame {
                    start_utc: Some(start),
                    reading: WallTime::parse("2023-12-13T23:00:00"),
                    gps_utc: start.plus_s(-ahead_s),
                    ..ClockedFrame::default()
                })
                .collect(),
        }
    }

    #[test]
    fn old_stamps_are_no_evidence_while_one_agrees() {
        assert_eq!(check(&session(&[1.0, 14.0, 240.0])), None);
        assert_eq!(check(&session(&[])), None);
        let fast = check(&session(&[47.0, 60.0, 55.0])).unwrap();
        assert!(fast.saw.contains("47 s ahead of"), "{}", fast.saw);
        assert!(
            fast.cure.contains("--true 2023-12-13T21:59:13.000Z"),
            "{}",
            fast.cure
        );
        let slow = check(&session(&[-30.0, 5.0])).unwrap();
        assert!(slow.saw.contains("30 s behind"), "{}", slow.saw);
    }

    #[test]
    fn no_command_is_suggested_for_a_body_without_a_name() {
        let mut nameless = session(&[47.0]);
        nameless.camera = None;
        let told = check(&nameless).unwrap();
        assert!(told.cure.contains("name no body"), "{}", told.cure);
        assert!(!told.cure.contains("framefall clock"), "{}", told.cure);
    }

    #[test]
    fn a_stamp_1_024_weeks_off_is_never_suggested() {
        let mut one = session(&[0.0]);
        // The clock was reset to 1 January 2016; the stamp is 1,024 weeks before 2023-12-14.
        one.frames[0].start_utc = Utc::parse("2016-01-01T00:10:00Z");
        one.frames[0].gps_utc = Utc::parse("2004-04-29T00:12:07Z");
        let told = check(&one).unwrap();
        assert!(told.cure.contains("1,024 weeks"), "{}", told.cure);
        assert!(!told.cure.contains("--true"), "{}", told.cure);
    }
}
