//! How a reading is interpreted: by the offset written beside it or by a zone. Sees one reading.

use crate::clock::order::Known;
use crate::clock::resolve::Resolved;
use crate::clock::resolve::known;
use crate::clock::resolve::resolve_by_offset;
use crate::clock::resolve::resolve_by_zone;
use crate::clock::resolve::resolve_compatible;
use crate::clock::zone::Zone;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// How a correct clock is interpreted.
#[derive(Clone, Copy, Debug)]
pub enum Rule<'z> {
    /// It shows UTC plus this many seconds.
    Offset(i32),
    /// It shows a zone's time.
    Zone(&'z Zone),
}

impl Rule<'_> {
    /// The instant of a reading.
    pub fn resolve(self, reading: WallTime) -> Resolved {
        match self {
            Self::Offset(offset_s) => {
                resolve_by_offset(reading, offset_s).map_or(Resolved::Never, Resolved::Once)
            }
            Self::Zone(zone) => resolve_by_zone(reading, zone),
        }
    }

    /// Whether a correct clock can have been this many seconds east of UTC at a reading.
    pub fn may_be(self, reading: WallTime, east_s: i32) -> bool {
        match self {
            Self::Offset(offset_s) => offset_s == east_s,
            Self::Zone(zone) => match known(reading, zone) {
                Known::Sure(offset_s) => offset_s == east_s,
                Known::Either { before_s, after_s } => [before_s, after_s].contains(&east_s),
            },
        }
    }

    /// The instant of a reading that is nearest to `near`: for a reading whose true time is known anyway. A reading
    /// that the clocks skipped counts as if they had not been put forward yet.
    pub fn resolve_near(self, reading: WallTime, near: Utc) -> Option<Utc> {
        match (self.resolve(reading), self) {
            (Resolved::Once(at), _) => Some(at),
            (Resolved::Twice { earlier, later }, _) => {
                let away = |at: Utc| at.seconds_since(near).abs();
                Some(if away(later) < away(earlier) {
                    later
                } else {
                    earlier
                })
            }
            (Resolved::Never, Self::Zone(zone)) => resolve_compatible(reading, zone),
            (Resolved::Never, Self::Offset(_)) => None,
        }
    }
}
