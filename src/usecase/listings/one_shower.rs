//! One shower of the table in full, as a sheet of one row. No formula: the sky room answers.

use crate::report::peaks::peak_instant;
use crate::sky::look::Looker;
use crate::sky::radiant::radiant;
use crate::sky::shower::Shower;
use crate::sky::showers::activity;
use crate::sky::showers::nearest_peak;
use crate::sky::showers::showers;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::SHOWN_AS_KEPT;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Number;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::night::PeakTime;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::terms::site::Site;
use crate::terms::time::Utc;
use crate::usecase::listings::sheets::number;
use crate::usecase::listings::sheets::text;

/// The columns; the last four only as seen from a site.
#[rustfmt::skip] // a row a column
const SHOWER: &[Field] = &[
    sheet_column("shower", "shower", Text, 0),
    sheet_column("IAU number", "iau_number", Whole(Unit::One), 0),
    sheet_column("name", "name", Text, 0),
    sheet_column("activity", "activity", Text, 0),
    sheet_column("from", "start_utc", Text, 0),
    sheet_column("until", "end_utc", Text, 0),
    sheet_column("from solar longitude", "start_deg", Number(Unit::Degrees), 2),
    sheet_column("until solar longitude", "end_deg", Number(Unit::Degrees), 2),
    sheet_column("peak", "peak_utc", Text, 0),
    sheet_column("peak known to ± h", "peak_error_h", Number(Unit::One), 1),
    sheet_column("peak solar longitude", "peak_deg", Number(Unit::Degrees), 2),
    sheet_column("ZHR", "zhr", Number(Unit::PerHour), SHOWN_AS_KEPT),
    sheet_column("population index", "population_index", Number(Unit::One), 1),
    sheet_column("radiant right ascension", "ra_deg", Number(Unit::Degrees), 1),
    sheet_column("radiant declination", "dec_deg", Number(Unit::Degrees), 1),
    sheet_column("geocentric speed, km/s", "vg_kms", Number(Unit::One), 1),
    sheet_column("source", "source", Text, 0),
    sheet_column("note", "note", Text, 0),
    sheet_column("alt", "alt_deg", Number(Unit::Degrees), 1),
    sheet_column("az", "az_deg", Number(Unit::Degrees), 1),
    sheet_column("seen alt", "seen_alt_deg", Number(Unit::Degrees), 1),
    sheet_column("from Moon", "moon_sep_deg", Number(Unit::Degrees), 1),
];

/// Limits of activity are printed for whole days.
const LIMIT_ERROR_H: f64 = 12.0;

/// How many of [`SHOWER`] need no site.
const ANYWHERE: usize = 18;

/// One shower at an instant: its activity and peak of the season nearest to it, its radiant then, its source.
///
/// Refuses: a name that no shower has, an instant outside the years the sky is computed for.
pub fn one_shower(named: &str, at: Utc, site: Option<&Site>) -> Result<Sheet, Failure> {
    let shower = shower_named(named)?;
    let mut looker = Looker::new();
    let sky = looker.frame_sky(at, site.map(|s| s.place)).ok_or_else(|| {
        Failure::words(format!("{at} is outside the years the sky is computed for"))
            .hint("choose a year from 1950 to 2099")
    })?;
    let there = radiant(shower, sky.solar_lon_deg);
    let active = shower.is_active(sky.solar_lon_deg);
    let season = activity(shower, at);
    let hour = |at: Utc| {
        peak_instant(PeakTime {
            at,
            error_h: LIMIT_ERROR_H,
        })
    };
    let peak = nearest_peak(shower, at);
    let known = |words: &str| (!words.is_empty()).then(|| words.to_owned());
    let mut row = vec![
        Cell::Text(shower.code.to_string()),
        shower
            .iau_number
            .map_or(Cell::Unknown, |number| Cell::Whole(i64::from(number))),
        Cell::Text(shower.name.clone()),
        Cell::Text(if active { "active" } else { "quiet" }.to_owned()),
        text(season.map(|(from, _)| hour(from))),
        text(season.map(|(_, until)| hour(until))),
        Cell::Number(shower.start_deg),
        Cell::Number(shower.end_deg),
        text(peak.map(peak_instant)),
        number(peak.map(|p| p.error_h)),
        number(shower.peak.map(|p| p.solar_lon_deg)),
        number(shower.zhr),
        Cell::Number(shower.r),
        Cell::Number(there.ra.deg()),
        Cell::Number(there.dec.deg()),
        Cell::Number(shower.vg_kms),
        text(known(&shower.source)),
        text(known(&shower.note)),
    ];
    if let Some(site) = site {
        let over = looker.radiant_sky(at, site.place, shower.code);
        row.extend([
            number(over.map(|r| r.alt_deg)),
            number(over.map(|r| r.az_deg)),
            number(over.map(|r| r.seen_alt_deg)),
            number(over.map(|r| r.moon_sep_deg)),
        ]);
    }
    Ok(Sheet {
        columns: &SHOWER[..row.len().max(ANYWHERE)],
        rows: vec![row],
        when_empty: "",
    })
}

/// The shower of that code, or of that name.
fn shower_named(named: &str) -> Result<&'static Shower, Failure> {
    let wanted = named.trim().to_lowercase();
    let has = |one: &&Shower| {
        one.code.as_str().to_lowercase() == wanted || one.name.to_lowercase() == wanted
    };
    if let Some(shower) = showers().iter().find(has) {
        return Ok(shower);
    }
    let likeness = |one: &Shower| {
        // Two letters exchanged, one wrong, one too many.
        if strsim::osa_distance(&one.code.as_str().to_lowercase(), &wanted) <= 1 {
            return 1.0;
        }
        [one.code.as_str(), &one.name]
            .iter()
            .map(|text| strsim::jaro_winkler(&text.to_lowercase(), &wanted))
            .fold(0.0, f64::max)
    };
    let near = showers()
        .iter()
        .filter(|one| likeness(one) > 0.75)
        .max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
    Err(
        Failure::words(format!("no shower in the table is called '{named}'")).hint(
            near.map_or_else(
                || "framefall showers --all lists them".to_owned(),
                |one| format!("did you mean {}, the {}?", one.code, one.name),
            ),
        ),
    )
}
