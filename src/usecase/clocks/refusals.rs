//! Statements about a body's clock that contradict each other, in words.

use crate::clock::fix::BodyClock;
use crate::terms::clock::ClockFix;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;

/// The statement that was just made, or none after one was removed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Latest {
    /// The fix of this number.
    Fix(i64),
    /// The zone of this number.
    Zone(i64),
    /// A statement was removed.
    Removal,
}

/// Refuses a clock whose statements contradict each other, and names both.
pub(crate) fn ensure_consistent(clock: &BodyClock, latest: Latest) -> Result<(), Failure> {
    let refuse = |message: String| Failure::words(message);
    let name = |fix: &ClockFix| {
        if latest == Latest::Fix(fix.id) {
            format!("this fix ({} at {})", fix.reading, fix.true_utc)
        } else {
            format!("fix-{} ({} at {})", fix.id, fix.reading, fix.true_utc)
        }
    };
    if let Some((a, b, gained_s, days)) = clock.impossible() {
        let way = if gained_s > 0.0 { "gained" } else { "lost" };
        let message = format!(
            "{} and {} contradict each other: the clock would have {way} {:.0} s in {days:.1} \
             days, which no clock does",
            name(a),
            name(b),
            gained_s.abs()
        );
        return Err(refuse(message).hint(
            "check both fixes; if the clock was reset between them, add --reset-before to the later one, or --from with \
             the day of the reset",
        ));
    }
    let Some((fix, zone, fast_ms)) = clock.contradiction() else {
        return Ok(());
    };
    let zone_is_new = latest == Latest::Zone(zone.id);
    let zone_name = if zone_is_new {
        "this zone".to_owned()
    } else {
        format!("zone-{}", zone.id)
    };
    let message = format!(
        "{} and {zone_name} ({}) contradict each other: a correct clock set to {} would have \
         shown {}, {} {}",
        name(fix),
        zone.zone,
        zone.zone,
        fix.reading
            .plus_ms(-fast_ms)
            .map_or_else(String::new, |shown| shown.to_string()),
        in_words(fast_ms.abs()),
        if fast_ms > 0 { "less" } else { "more" },
    );
    Err(refuse(message).hint(match latest {
        Latest::Zone(_) => format!(
            "limit the zone with --from and --until; or remove the fix, {}, and state it again with --reset-before if the \
             clock was reset for it",
            CommandLine::new("clock remove").argument(format!("fix-{}", fix.id))
        ),
        Latest::Fix(_) => format!(
            "{} if the clock was never set to {}; if it was reset, state the fix with --reset-before, or limit it with \
             --session, or --from and --until",
            CommandLine::new("clock remove").argument(format!("zone-{}", zone.id)),
            zone.zone
        ),
        Latest::Removal => format!("remove fix-{} or zone-{} first", fix.id, zone.id),
    }))
}

/// A difference of more than some minutes: `8 h 0 min`.
fn in_words(ms: i64) -> String {
    let minutes = (ms + 30_000) / 60_000;
    match (minutes / 1_440, minutes / 60 % 24, minutes % 60) {
        (0, 0, min) => format!("{min} min"),
        (0, h, min) => format!("{h} h {min} min"),
        (days, h, min) => format!("{days} d {h} h {min} min"),
    }
}
