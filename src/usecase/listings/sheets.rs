//! Sessions, sites and findings as sheets. No formula.

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::handle::Catalogue;
use crate::report::night::SessionPart;
use crate::report::words;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::SHOWN_AS_KEPT;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Instant;
use crate::terms::field_kind::FieldKind::Number;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::finding::FINDINGS;
use crate::terms::local::LocalClock;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::terms::site::SkyBrightness;
use crate::terms::time::Utc;
use crate::usecase::audit_summary::remedy_of;
use crate::usecase::audit_summary::weight_of;

#[rustfmt::skip] // a row a column
const SITES: &[Field] = &[
    sheet_column("site", "site", Text, 0),
    sheet_column("lat", "lat_deg", Number(Unit::Degrees), 5),
    sheet_column("lon", "lon_deg", Number(Unit::Degrees), 5),
    sheet_column("elev", "elev_m", Number(Unit::Metres), 0),
    sheet_column("zone", "zone", Text, 0),
    sheet_column("from", "origin", Text, 0),
    sheet_column("sky brightness", "sky_brightness_mag", Number(Unit::One), SHOWN_AS_KEPT),
    sheet_column("faintest star", "limiting_mag", Number(Unit::One), SHOWN_AS_KEPT),
];

/// The columns of a list of findings.
#[rustfmt::skip] // a row a column
pub const FOUND: &[Field] = &[
    sheet_column("weight", "weight", Text, 0).rank(2),
    sheet_column("code", "code", Text, 0).rank(0),
    sheet_column("dump", "dump", Text, 0).rank(5),
    sheet_column("folder", "folder", Text, 0).rank(6),
    sheet_column("file", "file", Text, 0).rank(0),
    sheet_column("session", "session", Whole(Unit::One), 0).rank(3),
    sheet_column("found", "found", Text, 0).rank(1),
    sheet_column("handled as", "handled_as", Text, 0),
    sheet_column("what to do", "what_to_do", Text, 0).rank(4),
];

#[rustfmt::skip] // a row a column
const CODES: &[Field] = &[
    sheet_column("code", "code", Text, 0),
    sheet_column("weight", "weight", Text, 0),
    sheet_column("means", "means", Text, 0),
    sheet_column("what to do", "what_to_do", Text, 0),
];

/// An optional value as a cell.
pub(crate) fn text(value: Option<impl Into<String>>) -> Cell {
    value.map_or(Cell::Unknown, |t| Cell::Text(t.into()))
}

pub(crate) fn number(value: Option<f64>) -> Cell {
    value.map_or(Cell::Unknown, Cell::Number)
}

/// An instant as a table shows it: by the clocks of a zone, to the second, or in UTC.
fn shown_at(at: Utc, zone: Option<&str>, clock: &mut LocalClock) -> String {
    let local = zone.and_then(|zone| clock.text(zone, at.unix_ms()));
    let seconds = local.as_deref().and_then(|text| text.get(..19));
    seconds.map_or_else(|| at.to_string(), |text| text.replace('T', " "))
}

#[rustfmt::skip] // a row a column
const GAPS: &[Field] = &[
    sheet_column("gap", "gap_s", Number(Unit::Seconds), 0),
    sheet_column("missing", "missing", Whole(Unit::One), 0),
    sheet_column("after", "file", Text, 0),
    sheet_column("start", "start", Instant, 0),
    sheet_column("likely because", "cause", Text, 0),
];

/// The gaps of a session: how long no frame was started, and the most likely cause.
///
/// Takes: the zone by which starts are shown; `None` for UTC.
pub fn session_gaps(session: &SessionPart, zone: Option<&str>) -> Sheet {
    let mut clock = LocalClock::default();
    let rows = session
        .gaps
        .iter()
        .map(|gap| {
            let before = session.frames.get(gap.after);
            let began = before.and_then(|f| {
                let utc = f.start_utc.map(|at| shown_at(at, zone, &mut clock));
                utc.or_else(|| f.clock_local.map(|at| at.to_string()))
            });
            vec![
                Cell::Number(gap.length_s),
                Cell::Whole(i64::from(gap.missing)),
                text(before.map(|f| f.file.clone())),
                text(began),
                Cell::Text(words::cause(&gap.cause)),
            ]
        })
        .collect();
    Sheet {
        columns: GAPS,
        rows,
        when_empty: "no gaps",
    }
}

#[rustfmt::skip] // a row a column
const CHANGES: &[Field] = &[
    sheet_column("from", "file", Text, 0),
    sheet_column("settings changed", "change", Text, 0),
];

/// The changes of a session's settings.
pub fn session_changes(session: &SessionPart) -> Sheet {
    Sheet {
        columns: CHANGES,
        rows: session
            .changes
            .iter()
            .map(|change| {
                let file = session.frames.get(change.at).map(|f| f.file.clone());
                vec![text(file), Cell::Text(change.words.clone())]
            })
            .collect(),
        when_empty: "no changes of settings",
    }
}

#[rustfmt::skip] // a row a column
const RADIANTS: &[Field] = &[
    sheet_column("shower", "shower", Text, 0),
    sheet_column("first alt", "first_alt_deg", Number(Unit::Degrees), 1),
    sheet_column("highest", "highest_alt_deg", Number(Unit::Degrees), 1),
    sheet_column("at", "highest_utc", Instant, 0),
    sheet_column("last alt", "last_alt_deg", Number(Unit::Degrees), 1),
    sheet_column("best rate", "best_rate", Number(Unit::PerHour), 1),
];

/// The radiants over a session that came above the horizon, the most meteors first.
///
/// Takes: the zone by which times are shown; `None` for UTC.
pub fn session_radiants(
    catalogue: &Catalogue,
    session_id: i64,
    zone: Option<&str>,
) -> Result<Sheet, Failure> {
    let mut clock = LocalClock::default();
    let rows = catalogue
        .radiants_of(session_id)?
        .into_iter()
        .map(|radiant| {
            vec![
                Cell::Text(radiant.shower.to_string()),
                Cell::Number(radiant.first_alt_deg),
                Cell::Number(radiant.highest_alt_deg),
                Cell::Text(match Utc::parse(&radiant.highest_utc) {
                    Some(at) => shown_at(at, zone, &mut clock),
                    None => radiant.highest_utc,
                }),
                Cell::Number(radiant.last_alt_deg),
                Cell::Number(radiant.best_rate),
            ]
        })
        .collect();
    Ok(Sheet {
        columns: RADIANTS,
        rows,
        when_empty: "no radiant above the horizon",
    })
}

#[rustfmt::skip] // a row a column
const EXPECTED: &[Field] = &[
    sheet_column("shower", "shower", Text, 0),
    sheet_column("under 6.5 mag", "under_zhr_sky", Text, 0),
    sheet_column("lost to site", "lost_to_site", Text, 0),
    sheet_column("to Sun", "lost_to_sun", Text, 0),
    sheet_column("to Moon", "lost_to_moon", Text, 0),
    sheet_column("to cloud", "lost_to_cloud", Text, 0),
    sheet_column("expected", "expected", Text, 0),
];

/// The meteors expected over a session's lights, and how many the sky cost.
pub fn session_expected(session: &SessionPart) -> Sheet {
    let rows = session
        .showers
        .iter()
        .map(|sums| {
            [
                sums.shower.to_string(),
                words::meteors(sums.under_zhr_sky),
                words::meteors(sums.lost.to_site),
                words::meteors(sums.lost.to_sun),
                words::meteors(sums.lost.to_moon),
                words::lost_to_cloud(sums.lost.to_cloud),
                words::expected(sums.expected),
            ]
            .map(Cell::Text)
            .to_vec()
        })
        .collect();
    Sheet {
        columns: EXPECTED,
        rows,
        when_empty: "no meteors expected",
    }
}

/// The site book.
pub fn sites(catalogue: &Catalogue) -> Result<Sheet, Failure> {
    let rows = catalogue
        .sites()?
        .into_iter()
        .map(|s| {
            let (sqm, limiting) = match s.brightness {
                Some(SkyBrightness::Sqm(sqm)) => (Some(sqm), None),
                Some(SkyBrightness::LimitingMagnitude(magnitude)) => (None, Some(magnitude)),
                None => (None, None),
            };
            vec![
                Cell::Text(s.name),
                Cell::Number(s.place.lat_deg()),
                Cell::Number(s.place.lon_deg()),
                Cell::Number(s.place.elev_m()),
                text(s.zone),
                Cell::Text(s.origin.word().to_owned()),
                number(sqm),
                number(limiting),
            ]
        })
        .collect();
    Ok(Sheet {
        columns: SITES,
        rows,
        when_empty: "no sites yet; add one with framefall site add NAME --lat … --lon … \
                     --elevation …",
    })
}

/// A finding as a row of [`FOUND`].
pub fn finding_row(row: &AuditRow) -> Vec<Cell> {
    vec![
        Cell::Text(weight_of(row).word().to_owned()),
        Cell::Text(row.code.clone()),
        Cell::Text(row.dump.clone()),
        Cell::Text(row.folder.clone()),
        Cell::Text(row.file.clone()),
        row.session.map_or(Cell::Unknown, Cell::Whole),
        Cell::Text(row.saw.clone()),
        Cell::Text(row.did.clone()),
        Cell::Text(remedy_of(row)),
    ]
}

/// Shown if there are no findings.
pub const NOTHING_FOUND: &str = "nothing to report";

/// The table of finding codes.
pub fn finding_codes() -> Sheet {
    Sheet {
        columns: CODES,
        rows: FINDINGS
            .iter()
            .map(|row| {
                [row.code, row.severity.word(), row.headline, row.cure]
                    .map(|t| Cell::Text(t.to_owned()))
                    .to_vec()
            })
            .collect(),
        when_empty: "",
    }
}
