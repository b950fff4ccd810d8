//! The statements about clocks, as a sheet.

use crate::catalogue::handle::Catalogue;
use crate::clock::fix::BodyClock;
use crate::clock::rule::Rule;
use crate::clock::steps::Stretch;
use crate::clock::zone::Zone;
use crate::terms::clock::Before;
use crate::terms::clock::ClockFix;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Instant;
use crate::terms::field_kind::FieldKind::Number;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::usecase::clocks::limits::limit_words;
use crate::usecase::clocks::limits::stretch_words;
use crate::usecase::derive::body_clock::clock_of;

#[rustfmt::skip] // a row a column
const CLOCKS: &[Field] = &[
    sheet_column("camera", "camera", Text, 0),
    sheet_column("statement", "statement", Text, 0),
    sheet_column("the clock", "clock", Text, 0),
    sheet_column("at", "true_utc", Instant, 0),
    sheet_column("fast by", "fast_s", Number(Unit::Seconds), 1),
    sheet_column("drift a day", "drift_s", Number(Unit::Seconds), 2),
    sheet_column("frames", "frames", Whole(Unit::One), 0),
];

/// Every fix and zone of every body; `frames` counts those to whose readings they apply.
pub fn clocks(catalogue: &Catalogue) -> Result<Sheet, Failure> {
    let mut rows = Vec::new();
    for camera in catalogue.cameras()? {
        let id = camera.camera_id;
        let zones = catalogue.clock_zones(id)?;
        let clock = clock_of(catalogue, id)?;
        let count = |reach: Vec<Stretch>| -> Result<Cell, Failure> {
            let mut frames = 0;
            for (from, until) in reach {
                frames += catalogue.count_readings(id, from, until)?;
            }
            Ok(Cell::Whole(frames))
        };
        for zone in &zones {
            rows.push(vec![
                Cell::Text(camera.name.clone()),
                Cell::Text(format!("zone-{}", zone.id)),
                Cell::Text(format!(
                    "set to {}{}",
                    zone.zone,
                    stretch_words((zone.from, zone.until))
                )),
                Cell::Unknown,
                Cell::Unknown,
                Cell::Unknown,
                count(clock.reach_of_zone(zone.id))?,
            ]);
        }
        let drifts = clock.drifts();
        for fix in clock.fixes() {
            let drift = drifts.iter().find(|(id, _)| *id == fix.id).map(|(_, d)| *d);
            rows.push(vec![
                Cell::Text(camera.name.clone()),
                Cell::Text(format!("fix-{}", fix.id)),
                Cell::Text(shown(fix)),
                Cell::Text(fix.true_utc.to_string()),
                fast_s(catalogue, id, &clock, fix)?.map_or(Cell::Unknown, Cell::Number),
                drift.map_or(Cell::Unknown, Cell::Number),
                match fix.frames {
                    Some(set) => {
                        Cell::Whole(i64::try_from(clock.frames_of(set)).unwrap_or(i64::MAX))
                    }
                    None => count(clock.reach_of_fix(fix.id))?,
                },
            ]);
        }
    }
    Ok(Sheet {
        columns: CLOCKS,
        rows,
        when_empty: "there are no clock statements yet; see framefall clock fix --help",
    })
}

fn shown(fix: &ClockFix) -> String {
    let reset = match fix.before {
        Before::Reset => ", reset before",
        Before::RanOn => "",
    };
    let limits = limit_words(fix.limits());
    format!("read {}{reset}{limits}", fix.reading)
}

/// How fast the clock was at a fix: by the zone of the site of its nearest frame, unless the body wrote its zone itself
/// or it is stated.
fn fast_s(
    catalogue: &Catalogue,
    camera_id: i64,
    clock: &BodyClock,
    fix: &ClockFix,
) -> Result<Option<f64>, Failure> {
    let of_itself = fix.written_offset_s.is_some() || clock.zone_at(fix.reading).is_some();
    let site_zone = catalogue
        .site_zone_near(camera_id, fix.reading)?
        .and_then(|name| Zone::named(&name));
    let rule = match &site_zone {
        Some(zone) => Some(Rule::Zone(zone)),
        None if of_itself => Some(Rule::Offset(0)),
        None => None,
    };
    Ok(rule
        .and_then(|rule| clock.fast_ms(fix, rule))
        .map(|ms| ms as f64 / 1000.0))
}
