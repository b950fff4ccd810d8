//! A finding: one frame is odd, and the work continues. What was found, and how it was handled. Prints nothing.
//!
//! Headline, severity and cure of every code are in one table here, so that help, manual and screen agree.

use crate::terms::time::WallTime;
use crate::terms::words::words;

words! {
    /// The weight of a finding.
    #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
    pub enum Severity {
        /// Worth knowing; nothing is lost.
        Note = "note",
        /// Something is unknown that should be known.
        Warning = "warning",
        /// A picture may be lost.
        Damage = "damage",
    }
}

/// One row of the table of findings.
#[derive(Clone, Copy, Debug)]
pub struct FindingCode {
    /// Its name in the catalogue and in `audit`.
    pub code: &'static str,
    /// Its weight.
    pub severity: Severity,
    /// What it means, as a headline.
    pub headline: &'static str,
    /// What the photographer can do.
    pub cure: &'static str,
}

impl FindingCode {
    /// Whether the remedy is a statement about a session, its time or its place; else it is one about the files of a dump.
    pub fn is_of_session(&self) -> bool {
        let place = [
            "no-place",
            "no-zone",
            "gps-absurd",
            "gps-stale",
            "site-differs",
        ];
        let clock = self.code.starts_with("clock") || self.code == "gps-clock-apart";
        let stars = [
            "stars-below-horizon",
            "moon-elsewhere",
            "planet-elsewhere",
            "tripod-moved",
            "focus-drifted",
            "clouded-over",
            "dew-suspected",
            "frames-shaken",
            "light-on-ground",
        ]
        .contains(&self.code);
        stars || clock || place.contains(&self.code) || self.code == "offset-differs"
    }
}

/// Writes one row of the table.
const fn row(
    code: &'static str,
    severity: Severity,
    headline: &'static str,
    cure: &'static str,
) -> FindingCode {
    FindingCode {
        code,
        severity,
        headline,
        cure,
    }
}

/// The table of findings. A code is never reused for another meaning.
#[rustfmt::skip] // a row a code
pub const FINDINGS: &[FindingCode] = &[
    // The catalogue itself.
    row("catalogue-damaged", Severity::Damage,
        "the catalogue's own file is damaged, or was changed by another program",
        "restore it from a backup, or ingest the dumps into a new one, named with --catalogue; answers from this one may be wrong"),
    row("no-backup", Severity::Warning,
        "the catalogue was not backed up for ninety days",
        "framefall backup FILE, on another disk: your statements are nowhere else"),
    // The file as a whole.
    row("read-error", Severity::Damage,
        "the disk or card gave an error while the file was read",
        "check the file's permissions, or copy the card again with another reader; do not format it; then ingest again"),
    row("empty-file", Severity::Damage,
        "the file is empty",
        "copy it again from the card, if it is still there"),
    row("blank-file", Severity::Damage,
        "the file contains only zeros or one repeated byte",
        "copy it again from the card, if it is still there"),
    row("truncated", Severity::Damage,
        "the end of the file is missing",
        "copy it again before the card is formatted; its capture settings may be complete, its picture is not"),
    row("not-understood", Severity::Damage,
        "not a known file format",
        "open the file with the camera or another program; it may be damaged"),
    row("extension-differs", Severity::Note,
        "the extension does not match the contents",
        "nothing; the contents were used"),
    row("metadata-broken", Severity::Warning,
        "part of the metadata could not be read",
        "nothing; the readable part was kept"),
    // Single values.
    row("no-time", Severity::Warning,
        "no capture time in the file",
        "nothing; the frame is kept, undated"),
    row("time-blank", Severity::Warning,
        "the capture time is blank or all zeros",
        "set the body's clock before the next night"),
    row("time-absurd", Severity::Warning,
        "the capture time is not a valid date, or is before digital cameras existed",
        "set the body's clock before the next night"),
    row("time-fallback", Severity::Note,
        "the original time is missing and another time tag was used",
        "nothing; clock_source names the tag"),
    row("offset-absurd", Severity::Warning,
        "the UTC offset is not in use anywhere",
        "nothing; the offset was ignored"),
    row("value-absurd", Severity::Note,
        "a setting has a value that no camera can have",
        "nothing; the setting is unknown"),
    row("value-unknown", Severity::Note,
        "a setting is written as zero or 0/0, which means unknown",
        "nothing; the setting is unknown"),
    row("gps-absurd", Severity::Warning,
        "the GPS position is not on Earth",
        "state the site: framefall site assign"),
    row("gps-stale", Severity::Warning,
        "the GPS receiver had no fix; the position may be an old one",
        "check the position; to state another: framefall site assign"),
    row("gps-time-absurd", Severity::Note,
        "the GPS time stamp is not a valid time",
        "nothing; the GPS time was ignored"),
    // Time and place.
    row("no-zone", Severity::Warning,
        "the zone of the camera clock is unknown: no offset, and no site with a zone",
        "state the site (framefall site assign) or the body's zone (framefall clock zone)"),
    row("clock-twice", Severity::Warning,
        "the clock reading happened twice that night",
        "nothing if the order of the frames decided it; otherwise framefall clock zone with an offset, such as +02:00"),
    row("clock-never", Severity::Warning,
        "the clock reading never happened in the site's zone",
        "check the site's zone, and the body's clock"),
    row("clock-ran-on", Severity::Note,
        "the camera clock was not changed when summer time began or ended",
        "nothing; the frame was treated like those before it"),
    row("clock-daylight", Severity::Warning,
        "long exposures at high sensitivity are dated while the Sun is up",
        "framefall clock fix, as the finding suggests"),
    row("clock-sunrise", Severity::Warning,
        "a session at full night settings continues into the day",
        "framefall clock fix, as the finding suggests"),
    row("clock-steps", Severity::Warning,
        "file numbers rise while the clock steps back or jumps ahead",
        "framefall clock fix, as the finding suggests; or a fix on either side, the later one with --reset-before"),
    row("clock-overlap", Severity::Warning,
        "one body has two runs of frames at the same time",
        "framefall clock fix, as the finding suggests"),
    row("clock-against-stars", Severity::Warning,
        "the stars in pictures of one tripod turned by another time than the clock went on",
        "framefall clock fix on either side, the later one with --reset-before, as the finding suggests"),
    row("stars-below-horizon", Severity::Warning,
        "the stars in the picture were below the horizon at its time and place",
        "framefall clock fix or framefall site assign; the stars alone do not say which"),
    row("moon-elsewhere", Severity::Warning,
        "the Moon in the picture stands among the stars where it stood at another time",
        "framefall clock fix, or the zone or the site; the Moon tells the time to ten or twenty minutes"),
    row("planet-elsewhere", Severity::Warning,
        "Venus, Mars or Jupiter in the pictures stands among the stars where it stood at another time",
        "framefall clock fix, or the zone or the date; a planet tells the time to an hour or some hours, and a wrong date"),
    row("clock-default", Severity::Warning,
        "the clock shows 1 January, like one that was never set",
        "framefall clock fix with the true time of one frame"),
    row("clocks-disagree", Severity::Warning,
        "of two bodies at one site in one night, one is dated in daylight",
        "framefall clock fix, as the finding suggests"),
    row("gps-clock-apart", Severity::Warning,
        "the GPS time stamps and the camera clock differ",
        "framefall clock fix, if the stamps are fresh"),
    row("offset-differs", Severity::Note,
        "the offset that the body wrote differs from the site's zone",
        "nothing, if the body was left on home time"),
    row("no-place", Severity::Warning,
        "the place is unknown: no GPS position, and no stated site",
        "framefall site assign NAME --session NUMBER"),
    row("site-differs", Severity::Note,
        "the GPS position is not at the stated site",
        "nothing; the GPS position was used"),
    row("year-outside", Severity::Warning,
        "the time is outside the years for which the sky is computed",
        "check the body's clock"),
    // Pictures.
    row("tripod-moved", Severity::Note,
        "the camera was turned between two frames of a session",
        "nothing; to choose frames of one direction: point.alt and point.az in a query"),
    row("focus-drifted", Severity::Note,
        "star images grew wider during a session",
        "look at the pictures: focus, or dew on the lens; star_width in a query lists the widths"),
    row("clouded-over", Severity::Note,
        "a sky that was clear is so no longer",
        "nothing; to choose frames of a clear sky: clear > 80% in a query"),
    row("dew-suspected", Severity::Note,
        "stars grew wider and fewer: dew on the lens, or cloud under a bright Moon",
        "look at the pictures; sky_signs in a query lists the frames"),
    row("frames-shaken", Severity::Note,
        "stars are drawn out in some frames of a session",
        "nothing; to leave them out: not sky_signs like '*shaken*' in a query"),
    row("light-on-ground", Severity::Note,
        "a part of the picture below the sky is brighter than usual",
        "nothing; sky_signs in a query lists the frames"),
    // Derived rows.
    row("rows-stale", Severity::Warning,
        "derived rows are missing, or were computed with another shower table or other formulas",
        "framefall rebuild"),
    row("statements-differ", Severity::Warning,
        "what is in force differs from the log of your statements",
        "framefall rebuild --statements; if another program changed the catalogue, consider a backup"),
    // Copies.
    row("copy-differs", Severity::Warning,
        "same body, time and name as another frame, but different contents",
        "compare the two files; one may be damaged or edited"),
    row("changed", Severity::Warning,
        "the file's size or time has changed since it was last read",
        "ingest its dump again if you edited it; otherwise compare it with another copy"),
    row("missing", Severity::Warning,
        "the file is missing",
        "mount its disk, or ingest its new folder"),
    // Copying a card, and reading copies back.
    row("reads-differ", Severity::Damage,
        "two reads of the card gave different bytes",
        "copy the card again with another reader or cable; do not format it"),
    row("name-taken", Severity::Warning,
        "something else has the file's name at the target",
        "look at both; rename the one at the target or copy to another folder, and run the same command again"),
    row("readback-differs", Severity::Damage,
        "what was read back from the target is not what was written",
        "run the same command again; if it happens again, copy to another disk: this one, its cable or its port may be failing"),
    row("copy-failed", Severity::Damage,
        "the file could not be written to the target, or not be read back",
        "make room or check the disk, and run the same command again"),
    row("list-differs", Severity::Damage,
        "a list of hashes beside the dump has another hash for the file",
        "compare it with another copy; it has changed since the list was written"),
    // Frames to be exported.
    row("dump-away", Severity::Warning,
        "the dump is offline: its folder is missing, empty, or has none of its files",
        "plug in or mount its disk; if it has moved, ingest it at the new location, or use framefall dump move"),
    row("contents-differ", Severity::Damage,
        "size and time are the same, but the contents are not",
        "restore the file from another copy; its disk may be failing"),
    row("kind-lacking", Severity::Warning,
        "the frame has no file of the requested kind",
        "leave out --take, or leave out such frames with --allow-missing"),
    // The walk.
    row("trash-left", Severity::Note,
        "a folder of deleted files was not entered",
        "ingest it as a dump of its own if you want its pictures"),
    row("link-left", Severity::Note,
        "a symbolic link was not followed",
        "ingest the link's target as a dump of its own"),
    row("not-a-file", Severity::Note,
        "a device, pipe or socket was skipped",
        "nothing"),
    row("folder-unreadable", Severity::Damage,
        "a folder could not be listed",
        "check the folder's permissions, or copy the card again with another reader"),
];

/// Looks a code up in the table.
pub fn finding_code(code: &str) -> Option<&'static FindingCode> {
    FINDINGS.iter().find(|row| row.code == code)
}

/// One odd thing about one file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// A code of [`FINDINGS`].
    pub code: &'static str,
    /// What was found, and where: the offending text or number itself.
    pub saw: String,
    /// How it was handled.
    pub did: String,
}

impl Finding {
    /// A finding of this code. The code must be in the table; a test checks every use.
    pub fn new(code: &'static str, saw: impl Into<String>, did: impl Into<String>) -> Self {
        debug_assert!(finding_code(code).is_some(), "no such finding: {code}");
        Self {
            code,
            saw: saw.into(),
            did: did.into(),
        }
    }
}

/// There is no evidence of where a frame was taken.
pub fn no_place() -> Finding {
    Finding::new(
        "no-place",
        "no GPS position, no track, no stated site",
        "did not compute the sky over it",
    )
}

/// There is no evidence of the zone of a clock reading.
pub fn no_zone(reading: WallTime) -> Finding {
    Finding::new(
        "no-zone",
        format!("{reading} without an offset or a known site"),
        "kept the frame without UTC",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_unique_and_say_everything() {
        for (i, row) in FINDINGS.iter().enumerate() {
            assert!(
                !row.headline.is_empty() && !row.cure.is_empty(),
                "{}",
                row.code
            );
            assert!(FINDINGS[i + 1..].iter().all(|other| other.code != row.code));
        }
    }
}
