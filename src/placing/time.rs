//! The time of one frame: its own data, the statements about its body's clock, and their order of preference.

use crate::clock::fix::BodyClock;
use crate::clock::fix::Correction;
use crate::clock::fix::Setting;
use crate::clock::fix::UNCHECKED_ERROR_S;
use crate::clock::fix::resolution_error_s;
use crate::clock::gps;
use crate::clock::order::Shown;
use crate::clock::resolve::Resolved;
use crate::clock::resolve::known;
use crate::clock::rule::Rule;
use crate::clock::zone::Zone;
use crate::clock::zone::offset_name;
use crate::site::assign::Assigned;
use crate::terms::basis::TimeBasis;
use crate::terms::clock::StampedSetting;
use crate::terms::finding::Finding;
use crate::terms::finding::no_zone;
use crate::terms::records::FrameFacts;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// What is known of a frame's time.
#[derive(Clone, Debug)]
pub struct FrameTime {
    /// When the shutter opened.
    pub start_utc: Option<Utc>,
    /// How that was reached.
    pub basis: TimeBasis,
    /// One-sigma error in seconds.
    pub error_s: Option<f64>,
    /// Findings about it.
    pub findings: Vec<Finding>,
}

/// A frame whose reading was interpreted by itself, before the order of the frames is considered.
#[derive(Debug)]
pub(super) struct ReadFrame<'f> {
    pub(super) facts: &'f FrameFacts,
    pub(super) stamped: Option<StampedSetting>,
    pub(super) assigned: Assigned,
    pub(super) time: FrameTime,
}

/// A frame's reading corrected by the clock fixes, and the rule for interpreting it.
#[derive(Clone, Copy, Debug)]
pub struct RightedReading<'z> {
    /// What a correct clock would have shown.
    pub reading: WallTime,
    /// How to interpret it; `None` if unknown.
    pub rule: Option<Rule<'z>>,
    basis: TimeBasis,
    sigma_s: Option<f64>,
}

/// Corrects a frame's reading.
///
/// Its interpretation comes from the first of these that exists: GPS time stamps of the body's evening, the offset
/// written beside the reading, the body's own zone setting, the zone stated for this body, the zone setting that a
/// clock fix implies, the site's zone.
pub fn righted<'z>(
    facts: &FrameFacts,
    stamped: Option<StampedSetting>,
    site_zone: Option<&'z Zone>,
    clock: &'z BodyClock,
) -> Option<RightedReading<'z>> {
    let written = facts.clock_local?;
    let (setting, basis) = if let Some(offset_s) = facts.utc_offset_s {
        (Setting::Written(offset_s), TimeBasis::Offset)
    } else if let Some(offset_s) = facts.body_zone_s {
        (Setting::Written(offset_s), TimeBasis::BodyZone)
    } else if let Some(zone) = clock.zone_at(written) {
        (Setting::Known(Rule::Zone(zone)), TimeBasis::StatedZone)
    } else {
        (Setting::Place(site_zone), TimeBasis::SiteZone)
    };
    let (setting, basis) = match stamped {
        Some(stamped) => by_stamps(stamped, written, setting, basis),
        None => (setting, basis),
    };
    let Correction {
        rule,
        error,
        setting_by_fix,
    } = clock.correction(facts.frame_id, written, setting);
    Some(RightedReading {
        reading: written.plus_ms(error.map_or(0, |e| -e.fast_ms))?,
        rule,
        basis: match rule {
            None => TimeBasis::None,
            Some(_) if setting_by_fix => TimeBasis::StatedZone,
            Some(_) => basis,
        },
        sigma_s: error.map(|e| e.sigma_s),
    })
}

/// The setting shown by GPS time stamps comes before any other; a single stamp, which may agree by chance, only before
/// that of the place.
fn by_stamps(
    stamped: StampedSetting,
    reading: WallTime,
    setting: Setting<'_>,
    basis: TimeBasis,
) -> (Setting<'_>, TimeBasis) {
    let rule = match setting {
        Setting::Written(offset_s) => Some(Rule::Offset(offset_s)),
        Setting::Known(rule) => Some(rule),
        Setting::Place(zone) => zone.map(Rule::Zone),
    };
    let by_place = matches!(setting, Setting::Place(_));
    match rule.filter(|rule| rule.may_be(reading, stamped.offset_s)) {
        Some(rule) if by_place => (Setting::Known(rule), basis),
        None if by_place || stamped.several => (
            Setting::Known(Rule::Offset(stamped.offset_s)),
            TimeBasis::BodyZone,
        ),
        _ => (setting, basis),
    }
}

/// Decides when a frame was taken.
///
/// Takes: the zone setting from GPS time stamps of its evening; `settled_s`, the offset from the order of the night's
/// frames, for a reading that happened twice or never in its zone. Gives: the corrected reading, interpreted by its
/// rule. A GPS time stamp that agrees confirms it; if the rule is unknown, the stamp itself is used.
pub fn time_of(
    facts: &FrameFacts,
    stamped: Option<StampedSetting>,
    site_zone: Option<&Zone>,
    clock: &BodyClock,
    settled_s: Option<i32>,
) -> FrameTime {
    let mut time = FrameTime {
        start_utc: None,
        basis: TimeBasis::None,
        error_s: None,
        findings: Vec::new(),
    };
    let Some(righted) = righted(facts, stamped, site_zone, clock) else {
        return time;
    };
    let reading = righted.reading;
    let stamp_s = || gps::offset_by_stamp(reading, facts.gps_utc?);
    let rule = righted.rule.or_else(|| stamp_s().map(Rule::Offset));
    let Some(rule) = rule else {
        time.findings.push(no_zone(reading));
        return time;
    };
    time.start_utc = match settled_s {
        Some(offset_s) => read_with_offset(rule, reading, offset_s, &mut time.findings),
        None => read(rule, reading, facts.gps_utc, &mut time.findings),
    };
    let Some(start) = time.start_utc else {
        return time;
    };
    time.basis = righted.basis;
    let mut sigma_s = righted.sigma_s.unwrap_or(UNCHECKED_ERROR_S);
    if facts.gps_utc.is_some_and(|stamp| gps::agrees(start, stamp)) {
        time.basis = TimeBasis::Gps;
        sigma_s = sigma_s.min(gps::GPS_ERROR_S);
    }
    let error_s = sigma_s.hypot(resolution_error_s(reading));
    time.error_s = Some((error_s * 1000.0).round() / 1000.0);
    time
}

/// Interprets a reading; a GPS stamp may decide between two instants.
fn read(
    rule: Rule<'_>,
    reading: WallTime,
    stamp: Option<Utc>,
    findings: &mut Vec<Finding>,
) -> Option<Utc> {
    let zone = zone_name(rule);
    match rule.resolve(reading) {
        Resolved::Once(at) => Some(at),
        Resolved::Twice { earlier, later } => {
            let borne_out = stamp.and_then(|stamp| {
                [earlier, later]
                    .into_iter()
                    .find(|at| gps::agrees(*at, stamp))
            });
            if borne_out.is_none() {
                findings.push(Finding::new(
                    "clock-twice",
                    format!("{reading} in {zone}, which was both {earlier} and {later}"),
                    "kept the frame without UTC",
                ));
            }
            borne_out
        }
        Resolved::Never => {
            findings.push(Finding::new(
                "clock-never",
                format!("{reading} in {zone}, an hour that was skipped"),
                "kept the frame without UTC",
            ));
            None
        }
    }
}

/// Interprets a reading by the offset from the order of the frames, and adds a finding.
fn read_with_offset(
    rule: Rule<'_>,
    reading: WallTime,
    offset_s: i32,
    findings: &mut Vec<Finding>,
) -> Option<Utc> {
    let Resolved::Once(at) = Rule::Offset(offset_s).resolve(reading) else {
        return None;
    };
    let (code, what) = match rule.resolve(reading) {
        Resolved::Twice { .. } => ("clock-twice", "an hour that happened twice"),
        Resolved::Never => ("clock-never", "an hour that was skipped"),
        Resolved::Once(by_zone) if by_zone == at => return Some(at),
        Resolved::Once(_) => ("clock-ran-on", "after a change of summer time"),
    };
    findings.push(Finding::new(
        code,
        format!("{reading} in {}, {what}", zone_name(rule)),
        format!(
            "used UTC{} by the order of the frames",
            offset_name(offset_s)
        ),
    ));
    Some(at)
}

fn zone_name(rule: Rule<'_>) -> String {
    match rule {
        Rule::Zone(zone) => zone.name().to_owned(),
        Rule::Offset(offset_s) => format!("UTC{}", offset_name(offset_s)),
    }
}

/// A corrected reading to be looked up in a zone.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The zone.
    pub(super) zone: String,
    /// The reading, and its possible offsets in the zone.
    pub(super) shown: Shown,
}

/// Looks up a corrected reading in its zone; `None` if an offset was written and no zone is needed.
pub(super) fn asked(righted: RightedReading<'_>) -> Option<Asked> {
    let Some(Rule::Zone(zone)) = righted.rule else {
        return None;
    };
    Some(Asked {
        zone: zone.name().to_owned(),
        shown: Shown {
            reading_ms: righted.reading.reading_ms(),
            known: known(righted.reading, zone),
        },
    })
}
