//! The offset that a body wrote contradicts the zone of its site.

use crate::clock::doubt::found::Doubt;
use crate::clock::resolve::offset_at;
use crate::clock::zone::Zone;
use crate::clock::zone::offset_name;
use crate::terms::clock::ClockedSession;

/// Checks a session's written offsets against its site's zone.
///
/// A body left on home time contradicts the zone and is still right, so this is only a note.
pub fn check(session: &ClockedSession) -> Option<Doubt> {
    let (site, zone_name) = session.site.as_ref()?;
    let zone = Zone::named(zone_name.as_deref()?)?;
    let mut differing = session.frames.iter().filter_map(|frame| {
        let written_s = frame.written_offset_s?;
        let by_zone_s = offset_at(frame.start_utc?, &zone)?;
        (written_s != by_zone_s).then_some((frame, written_s, by_zone_s))
    });
    let (frame, written_s, by_zone_s) = differing.next()?;
    let count = 1 + differing.count();
    Some(Doubt {
        code: "offset-differs",
        frame_id: frame.frame_id,
        saw: format!(
            "session {}: {count} of {} frames have the offset UTC{}, but {} was at UTC{} ({})",
            session.session_id,
            session.frames.len(),
            offset_name(written_s),
            site,
            offset_name(by_zone_s),
            zone.name()
        ),
        cure: format!(
            "nothing if the clock showed UTC{}; if it showed the site's time, it is {} off: framefall clock fix",
            offset_name(written_s),
            hours(written_s - by_zone_s)
        ),
    })
}

fn hours(seconds: i32) -> String {
    let minutes = seconds.abs() / 60;
    match (minutes / 60, minutes % 60) {
        (h, 0) => format!("{h} h"),
        (h, min) => format!("{h} h {min} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::clock::ClockedFrame;
    use crate::terms::time::Utc;

    #[test]
    fn summer_time_left_on_contradicts_the_zone() {
        let session = |written_s: i32| ClockedSession {
            session_id: 4,
            camera: Some("A".into()),
            site: Some(("Lago".into(), Some("Europe/Rome".into()))),
            night: "2023-12-13".into(),
            frames: vec![ClockedFrame {
                start_utc: Utc::parse("2023-12-13T22:00:00Z"),
                written_offset_s: Some(written_s),
                ..ClockedFrame::default()
            }],
        };
        let told = check(&session(7200)).unwrap();
        assert!(
            told.saw.contains("UTC+02:00") && told.saw.contains("UTC+01:00"),
            "{}",
            told.saw
        );
        assert!(told.cure.contains("1 h off"), "{}", told.cure);
        assert_eq!(check(&session(3600)), None);
    }
}
