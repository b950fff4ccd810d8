//! The shower table at an instant as a sheet. No formula: `sky` computes the values.

use crate::report::peaks::peak_instant;
use crate::sky::darkness::DarkSky;
use crate::sky::look::Looker;
use crate::sky::shower::Shower;
use crate::sky::showers::nearest_peak;
use crate::sky::showers::showers;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::SHOWN_AS_KEPT;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Number;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::Unit;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::terms::site::Site;
use crate::terms::time::Utc;
use crate::usecase::listings::sheets::number;
use crate::usecase::listings::sheets::text;

/// The columns of the shower table; the last six need a site.
#[rustfmt::skip] // a row a column
const SHOWERS: &[Field] = &[
    sheet_column("shower", "shower", Text, 0),
    sheet_column("name", "name", Text, 0),
    sheet_column("activity", "activity", Text, 0),
    sheet_column("peak", "peak_utc", Text, 0),
    sheet_column("± h", "peak_error_h", Number(Unit::One), 1),
    sheet_column("ZHR", "zhr", Number(Unit::PerHour), SHOWN_AS_KEPT),
    sheet_column("mark", "mark", Text, 0),
    sheet_column("alt", "alt_deg", Number(Unit::Degrees), 1),
    sheet_column("az", "az_deg", Number(Unit::Degrees), 1),
    sheet_column("seen alt", "seen_alt_deg", Number(Unit::Degrees), 1),
    sheet_column("from Moon", "moon_sep_deg", Number(Unit::Degrees), 1),
    sheet_column("rate", "rate", Number(Unit::PerHour), 1),
    sheet_column("seen rate", "seen_rate", Number(Unit::PerHour), 1),
];

/// How many of [`SHOWERS`] need no site.
const SHOWERS_ANYWHERE: usize = 7;

/// Which showers to list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// Those active at the instant.
    Active,
    /// Every one of the table.
    All,
}

/// The shower table at an instant, with the radiants as seen from a site if one is given.
pub fn shower_sheet(at: Utc, site: Option<&Site>, which: Which) -> Result<Sheet, Failure> {
    let mut looker = Looker::new();
    let dark = DarkSky::of(site.and_then(|s| s.brightness));
    let sky = looker
        .frame_sky_over(at, site.map(|s| s.place), &dark)
        .ok_or_else(|| {
            Failure::words(format!(
                "{at} is outside the years for which the sky is computed"
            ))
            .hint("choose a year from 1950 to 2099")
        })?;
    let mut rows = Vec::new();
    for shower in showers() {
        let active = shower.is_active(sky.solar_lon_deg);
        if which == Which::Active && !active {
            continue;
        }
        let over = sky.radiants.iter().find(|r| r.shower == shower.code);
        let radiant = over
            .copied()
            .or_else(|| looker.radiant_sky(at, site?.place, shower.code));
        let peak = nearest_peak(shower, at);
        let mut row = vec![
            Cell::Text(shower.code.to_string()),
            Cell::Text(shower.name.clone()),
            Cell::Text(if active { "active" } else { "quiet" }.to_owned()),
            text(peak.map(peak_instant)),
            number(peak.map(|p| p.error_h)),
            number(shower.zhr),
            text(is_variable(shower).then_some("var")),
        ];
        if site.is_some() {
            row.extend([
                number(radiant.map(|r| r.alt_deg)),
                number(radiant.map(|r| r.az_deg)),
                number(radiant.map(|r| r.seen_alt_deg)),
                number(radiant.map(|r| r.moon_sep_deg)),
                number(radiant.map(|r| if active { r.rate } else { 0.0 })),
                number(radiant.map(|r| if active { r.seen_rate } else { 0.0 })),
            ]);
        }
        rows.push(row);
    }
    Ok(Sheet {
        columns: if site.is_some() {
            SHOWERS
        } else {
            &SHOWERS[..SHOWERS_ANYWHERE]
        },
        rows,
        when_empty: "no shower is active at that time",
    })
}

/// Whether a shower's ZHR varies from year to year, so that none is published.
fn is_variable(shower: &Shower) -> bool {
    shower.zhr.is_none()
}
