//! The list of sessions: its columns, chosen by name, and its rows. No formula.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::night::NightScope;
use crate::catalogue::sessions::SessionRow;
use crate::framelist::Column;
use crate::report::night::Expected;
use crate::report::night::ShowerSums;
use crate::terms::column::ColumnSource;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::SHOWN_AS_KEPT;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Instant;
use crate::terms::field_kind::FieldKind::Local;
use crate::terms::field_kind::FieldKind::Number;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::local::LocalClock;
use crate::terms::records::Cell;
use crate::terms::time::Utc;
use crate::usecase::copy::age::ProvedDumps;
use crate::usecase::examine::sky_notes::mean_clear;
use crate::usecase::listings::sheets::number;
use crate::usecase::listings::sheets::text;
use crate::usecase::report::night::night_report;
use crate::usecase::report::shown::Pictures;

#[rustfmt::skip] // a row a column
const SESSIONS: &[Field] = &[
    sheet_column("session", "session", Whole(Unit::One), 0).rank(0),
    sheet_column("night", "night", Text, 0).rank(0),
    sheet_column("site", "site", Text, 0).rank(1),
    sheet_column("camera", "camera", Text, 0).rank(1),
    sheet_column("focal", "focal_mm", Number(Unit::Millimetres), SHOWN_AS_KEPT).rank(5),
    sheet_column("frames", "frames", Whole(Unit::One), 0).rank(0),
    sheet_column("missing", "missing", Whole(Unit::One), 0).rank(4),
    sheet_column("cadence", "cadence_s", Number(Unit::Seconds), SHOWN_AS_KEPT).rank(6),
    sheet_column("shower", "shower", Text, 0).rank(1),
    sheet_column("start", "start_utc", Instant, 0).rank(0),
    sheet_column("end", "end_utc", Instant, 0).rank(0),
    sheet_column("local", "start_local", Local, 0).rank(0),
    sheet_column("local_end", "end_local", Local, 0).rank(0),
    sheet_column("zone", "zone", Text, 0).rank(4),
    sheet_column("clock", "clock_local", Text, 0),
    sheet_column("last proved", "last_proved", Text, 0).rank(5),
    sheet_column("all read back since", "proved_utc", Instant, 0),
];

/// Columns that are worked out from every light of a session: of one session, or where they are asked for by name.
#[rustfmt::skip] // a row a column
const METEORS: &[Field] = &[
    sheet_column("clear", "clear", Number(Unit::One), 3),
    sheet_column("meteors expected", "meteors_expected", Number(Unit::One), 1),
    sheet_column("meteors at least", "meteors_at_least", Number(Unit::One), 1),
    sheet_column("meteors at most", "meteors_at_most", Number(Unit::One), 1),
    sheet_column("meteors lost to cloud", "meteors_lost_to_cloud", Number(Unit::One), 1),
];

/// What a list of sessions says where there are none.
pub const NO_SESSIONS: &str = "no sessions yet; run framefall ingest DUMP first";

/// Whose time a table shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Times {
    /// The site's.
    Local,
    /// UTC.
    Utc,
}

/// Every column of a list of sessions, as CSV and JSON have it.
pub fn every_column() -> Vec<Column> {
    let sources = SESSIONS.iter().map(ColumnSource::Frame);
    sources.map(Column::of).collect()
}

/// Every column of one session: those of the list, how clear its sky was, and the meteors expected over its lights.
pub fn every_column_of_one() -> Vec<Column> {
    let sources = SESSIONS.iter().chain(METEORS).map(ColumnSource::Frame);
    sources.map(Column::of).collect()
}

/// The columns of a table for people: start and end in the site's time, or in UTC.
pub fn table_columns(times: Times) -> Vec<Column> {
    let shown = |column: Column| match (column.field().key, times) {
        ("zone", _)
        | ("start_utc" | "end_utc", Times::Local)
        | ("start_local" | "end_local", Times::Utc) => None,
        ("start_local", Times::Local) => Some(column.headed("start")),
        ("end_local", Times::Local) => Some(column.headed("end")),
        ("clock_local", _) => Some(column.headed("camera clock")),
        _ => Some(column),
    };
    every_column().into_iter().filter_map(shown).collect()
}

/// The columns of a list such as `session,local,frames`, by their names or their keys.
///
/// Refuses: a name that no column has.
pub fn chosen_columns(list: &str) -> Result<Vec<Column>, Failure> {
    let named = |name: &str| {
        let name = name.trim();
        let mut columns = every_column_of_one().into_iter();
        columns
            .find(|column| column.heading == name || column.key == name)
            .ok_or_else(|| {
                let columns = every_column_of_one().into_iter();
                let names: Vec<String> = columns.map(|c| c.heading).collect();
                let message = format!("sessions have no column '{name}'");
                let hint = format!("there are: {}", names.join(", "));
                Failure::words(message).hint(hint)
            })
    };
    list.split(',').map(named).collect()
}

/// The cells of these columns, for every session or the one of that number. What is proved of it is that of the dumps that hold
/// its frames.
pub fn rows(
    catalogue: &Catalogue,
    only: Option<i64>,
    columns: &[Column],
    now: Utc,
) -> Result<Vec<Vec<Cell>>, Failure> {
    let mut clock = LocalClock::default();
    let mut proved = ProvedDumps::new(catalogue, now)?;
    let sessions = catalogue.sessions()?.into_iter();
    sessions
        .filter(|s| only.is_none_or(|id| id == s.session_id))
        .map(|session| {
            let [proved_utc, last_proved] = proved.cells_of_session(session.session_id)?;
            let is_of_meteors = |c: &Column| METEORS.iter().any(|of| of.key == c.field().key);
            let meteors = columns.iter().any(is_of_meteors);
            let meteors = meteors.then(|| meteors_of(catalogue, session.session_id));
            let meteors = meteors.transpose()?.unwrap_or_default();
            let cells = columns.iter().map(|c| match c.field().key {
                "last_proved" => last_proved.clone(),
                "proved_utc" => proved_utc.clone(),
                "clear" => number(meteors.clear),
                "meteors_expected" => number(meteors.expected.map(|e| e.meteors)),
                "meteors_at_least" => number(meteors.expected.map(|e| e.low)),
                "meteors_at_most" => number(meteors.expected.map(|e| e.high)),
                "meteors_lost_to_cloud" => number(meteors.lost_to_cloud),
                key => cell(&session, key, &mut clock),
            });
            Ok(cells.collect())
        })
        .collect()
}

/// How clear the sky of a session was, and the meteors of all showers together that are expected over its lights.
#[derive(Clone, Copy, Debug, Default)]
struct MeteorsOfSession {
    /// Mean share of the sky that was clear, over the frames that were examined.
    clear: Option<f64>,
    /// Nothing where no radiant was above the horizon, or place or time are not known.
    expected: Option<Expected>,
    /// Nothing where no light was examined.
    lost_to_cloud: Option<f64>,
}

fn meteors_of(catalogue: &Catalogue, session_id: i64) -> Result<MeteorsOfSession, Failure> {
    let report = night_report(catalogue, &NightScope::Session(session_id), Pictures::None)?;
    let sessions = report.parts.iter().flat_map(|part| &part.sessions);
    let showers: Vec<&ShowerSums> = sessions.flat_map(|session| &session.showers).collect();
    let sum = |of: &dyn Fn(&ShowerSums) -> f64| showers.iter().map(|sums| of(sums)).sum();
    Ok(MeteorsOfSession {
        clear: mean_clear(&catalogue.session_skies(Some(session_id))?),
        expected: (!showers.is_empty()).then(|| Expected {
            meteors: sum(&|sums| sums.expected.meteors),
            low: sum(&|sums| sums.expected.low),
            high: sum(&|sums| sums.expected.high),
        }),
        lost_to_cloud: showers
            .iter()
            .filter_map(|sums| sums.lost.to_cloud)
            .reduce(|a, b| a + b),
    })
}

/// A session's start and end in the local time of its site, and the zone: `2023-12-13 20:46:10 to 21:05:54, Europe/Rome`; the
/// day of the end, if it differs.
pub fn local_span(session: &SessionRow) -> Option<String> {
    let mut clock = LocalClock::default();
    let zone = session.zone.as_deref()?;
    let mut local = |utc: &Option<String>| {
        let text = clock.text(zone, Utc::parse(utc.as_deref()?)?.unix_ms())?;
        Some(text.get(..19)?.replace('T', " "))
    };
    let (start, end) = (local(&session.start_utc)?, local(&session.end_utc)?);
    let end = match end.split_once(' ') {
        Some((day, time)) if start.starts_with(day) => time,
        _ => &end,
    };
    Some(format!("{start} to {end}, {zone}"))
}

fn cell(session: &SessionRow, key: &str, clock: &mut LocalClock) -> Cell {
    let mut local = |utc: &Option<String>| {
        let at = utc.as_deref().and_then(Utc::parse)?;
        clock.text(session.zone.as_deref()?, at.unix_ms())
    };
    match key {
        "session" => Cell::Whole(session.session_id),
        "night" => Cell::Text(session.night.clone()),
        "site" => text(session.site.clone()),
        "camera" => text(session.camera.clone()),
        "focal_mm" => number(session.focal_mm),
        "frames" => Cell::Whole(session.frames),
        "missing" => Cell::Whole(session.missing),
        "cadence_s" => number(session.cadence_s),
        "shower" => text(session.shower.clone()),
        "start_utc" => text(session.start_utc.clone()),
        "end_utc" => text(session.end_utc.clone()),
        "start_local" => text(local(&session.start_utc)),
        "end_local" => text(local(&session.end_utc)),
        "zone" => text(session.zone.clone()),
        "clock_local" => text(session.clock_local.clone()),
        _ => Cell::Unknown,
    }
}
