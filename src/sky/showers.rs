//! The shower table and its reader: what is published of each shower, word for word. No formulas.
//!
//! `showers.csv` holds one shower a row, `radiant_drift.csv` one dated radiant a row, `activity.csv` the slopes of the
//! activity of those whose slopes are known; each row names its source:
//!
//! - IMO25: International Meteor Organization, 2025 Meteor Shower Calendar, ed. J. Rendtel, IMO INFO(3.1-24), 2024,
//!   DOI 10.13140/RG.2.2.21221.00486; Tables 5 and 6 and the text.
//! - MDC26: IAU Meteor Data Center, established meteor showers, file of 2026 May 31 (Jopek and Kaňuchová 2017,
//!   PSS 143, 3; Jenniskens et al. 2020, PSS 182, 104821; solutions of Jenniskens 2023).
//!
//! - Jenniskens 1994, A&A 287, 990: the form of the activity; its figures are from memory.
//!
//! Start and end are the solar longitudes of 0h UT on the first and 24h UT on the last printed day of 2025, the
//! dates of Table 6 those of 0h UT. Drifts are straight lines fitted to Table 6 through the printed radiant.
//!
//! Checked by: `tests/data/published/imo-2025-showers.toml`

use std::sync::LazyLock;

use crate::sky::published::Broad;
use crate::sky::published::DriftPoint;
use crate::sky::published::Peak;
use crate::sky::published::PeakIs;
use crate::sky::published::Slopes;
use crate::sky::shower::Shower;
use crate::sky::sun::DEG_A_DAY;
use crate::sky::sun::utc_of_longitude;
use crate::sky::track::Track;
use crate::terms::angle::Angle;
use crate::terms::night::PeakTime;
use crate::terms::shower::ShowerCode;
use crate::terms::time::Utc;

/// Edition of the shower table: the calendar's year, and our count of changes to it.
pub const EDITION: &str = "2025-2";

const TABLE: &str = include_str!("showers.csv");
const DRIFT: &str = include_str!("radiant_drift.csv");
const ACTIVITY: &str = include_str!("activity.csv");

/// Every shower of the table, in the order of the codes.
pub fn showers() -> &'static [Shower] {
    // The files are part of the program: a unit test reads every row.
    static SHOWERS: LazyLock<Vec<Shower>> = LazyLock::new(|| parse().unwrap_or_default());
    &SHOWERS
}

/// One shower by its code.
pub fn shower(code: ShowerCode) -> Option<&'static Shower> {
    let all = showers();
    let at = all.binary_search_by(|one| one.code.cmp(&code)).ok()?;
    all.get(at)
}

/// The showers active at a solar longitude, in the order of their codes. The longitude may be any number of degrees.
pub fn active(solar_lon_deg: f64) -> impl Iterator<Item = &'static Shower> {
    let folded = solar_lon_deg.rem_euclid(360.0);
    showers().iter().filter(move |one| one.is_active(folded))
}

/// When the Sun is at a shower's printed peak in a calendar year of UTC. `None` for the antihelion source, and outside
/// 1950 to 2099. It is computed to the second; [`nearest_peak`] gives the uncertainty of the maximum.
///
/// Checked by: `tests/data/reference/solar_longitude.csv`
pub fn peak_utc(shower: &Shower, year: i32) -> Option<Utc> {
    utc_of_longitude(Angle::from_deg(shower.peak?.solar_lon_deg), year)
}

/// The maximum of a shower nearest to an instant, in its own year or a neighbouring one. `None` if the source prints no
/// maximum, or only a reference date.
///
/// Good to: the rounding of the printed longitude: 12 hours if that is in whole degrees.
pub fn nearest_peak(shower: &Shower, near: Utc) -> Option<PeakTime> {
    let peak = shower.peak.filter(|peak| peak.is == PeakIs::Maximum)?;
    let year: i32 = near.to_string().get(..4)?.parse().ok()?;
    let at = [year - 1, year, year + 1]
        .into_iter()
        .filter_map(|year| peak_utc(shower, year))
        .min_by(|a, b| {
            let from = |at: &Utc| at.seconds_since(near).abs();
            from(a).total_cmp(&from(b))
        })?;
    Some(PeakTime {
        at,
        error_h: peak.rounding_deg / DEG_A_DAY * 24.0,
    })
}

/// When activity begins and ends in the season nearest to an instant. `None` outside the years from 1950 to 2099.
///
/// Good to: the limits of the table, which are printed for whole days.
pub fn activity(shower: &Shower, near: Utc) -> Option<(Utc, Utc)> {
    let year: i32 = near.to_string().get(..4)?.parse().ok()?;
    let at = |longitude_deg: f64, year: i32| utc_of_longitude(Angle::from_deg(longitude_deg), year);
    (year - 2..=year + 1)
        .filter_map(|year| {
            let from = at(shower.start_deg, year)?;
            let until = [year, year + 1]
                .into_iter()
                .filter_map(|year| at(shower.end_deg, year))
                .find(|until| *until > from)?;
            Some((from, until))
        })
        .min_by(|a, b| {
            let away = |(from, until): &(Utc, Utc)| {
                let (before, after) = (from.seconds_since(near), near.seconds_since(*until));
                before.max(after).max(0.0)
            };
            away(a).total_cmp(&away(b))
        })
}

fn parse() -> Option<Vec<Shower>> {
    let mut points = Vec::new();
    for row in csv::Reader::from_reader(DRIFT.as_bytes()).into_records() {
        let row = row.ok()?;
        let point = DriftPoint {
            solar_lon_deg: row.get(1)?.parse().ok()?,
            ra_deg: row.get(2)?.parse().ok()?,
            dec_deg: row.get(3)?.parse().ok()?,
        };
        points.push((ShowerCode::parse(row.get(0)?)?, point));
    }
    let mut slopes = Vec::new();
    for row in csv::Reader::from_reader(ACTIVITY.as_bytes()).into_records() {
        slopes.push(parse_slopes(&row.ok()?)?);
    }
    let mut showers = Vec::new();
    for row in csv::Reader::from_reader(TABLE.as_bytes()).into_records() {
        showers.push(parse_shower(&row.ok()?, &points, &slopes)?);
    }
    showers.sort_by_key(|one| one.code);
    Some(showers)
}

fn parse_slopes(row: &csv::StringRecord) -> Option<(ShowerCode, Slopes)> {
    let number = |column: usize| match row.get(column)? {
        "" => Some(None),
        text => text.parse::<f64>().ok().map(Some),
    };
    let core = number(3)?.zip(number(4)?);
    let broad = match (number(5)?, number(6)?, number(7)?) {
        (Some(share), Some(before), Some(after)) => Some(Broad {
            share,
            before,
            after,
        }),
        _ => None,
    };
    let slopes = Slopes {
        before: number(1)??,
        after: number(2)??,
        core,
        broad,
    };
    Some((ShowerCode::parse(row.get(0)?)?, slopes))
}

fn parse_shower(
    row: &csv::StringRecord,
    points: &[(ShowerCode, DriftPoint)],
    slopes: &[(ShowerCode, Slopes)],
) -> Option<Shower> {
    let number = |column: usize| row.get(column)?.parse::<f64>().ok();
    let code = ShowerCode::parse(row.get(0)?)?;
    let peak = if row.get(4)?.is_empty() {
        None
    } else {
        Some(Peak {
            solar_lon_deg: number(4)?,
            rounding_deg: rounding(row.get(4)?)?,
            is: match row.get(13)? {
                "maximum" => PeakIs::Maximum,
                "reference" => PeakIs::Reference,
                _ => return None,
            },
            ra_deg: number(6)?,
            dec_deg: number(7)?,
            drift_ra: number(8)?,
            drift_dec: number(9)?,
        })
    };
    let drift: Vec<DriftPoint> = points
        .iter()
        .filter(|(owner, _)| *owner == code)
        .map(|(_, point)| *point)
        .collect();
    Some(Shower {
        code,
        iau_number: match row.get(1)? {
            "" => None,
            text => Some(text.parse().ok()?),
        },
        name: row.get(2)?.to_owned(),
        start_deg: number(3)?,
        end_deg: number(5)?,
        track: Track::new(peak, &drift)?,
        peak,
        drift,
        vg_kms: number(10)?,
        r: number(11)?,
        zhr: match row.get(12)? {
            "var" => None,
            text => Some(text.parse().ok()?),
        },
        slopes: slopes
            .iter()
            .find(|(owner, _)| *owner == code)
            .map(|(_, slopes)| *slopes),
        source: row.get(14)?.to_owned(),
        note: row.get(15)?.to_owned(),
    })
}

/// Half of the last printed digit: 0.5 for `128`, 0.005 for `283.15`.
fn rounding(printed: &str) -> Option<f64> {
    let decimals = printed
        .split_once('.')
        .map_or(0, |(_, digits)| digits.len());
    Some(0.5 / 10_f64.powi(i32::try_from(decimals).ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_read_and_makes_sense() {
        let all = parse().unwrap();
        assert_eq!(all.len(), 38, "37 showers and the antihelion source");
        let mut points = 0;
        for one in &all {
            let code = one.code;
            assert!(
                !one.name.is_empty() && one.source.contains("IMO25"),
                "{code}"
            );
            let longitudes =
                (0.0..360.0).contains(&one.start_deg) && (0.0..360.0).contains(&one.end_deg);
            assert!(longitudes, "{code}");
            assert!((1.9..3.6).contains(&one.r), "{code}");
            assert!((8.0..72.0).contains(&one.vg_kms), "{code}");
            assert!(
                one.zhr.is_none_or(|zhr| (1.0..=200.0).contains(&zhr)),
                "{code}"
            );
            let Some(peak) = one.peak else {
                assert_eq!(code.as_str(), "ANT");
                assert_eq!(one.iau_number, None);
                points += one.drift.len();
                continue;
            };
            assert!(one.iau_number.is_some(), "{code}");
            assert!(one.is_active(peak.solar_lon_deg), "{code}");
            for limit in [one.start_deg, one.end_deg] {
                assert!((peak.solar_lon_deg - limit).abs() > 0.1, "{code}");
            }
            assert!((0.0..360.0).contains(&peak.ra_deg), "{code}");
            assert!((-90.0..=90.0).contains(&peak.dec_deg), "{code}");
            assert!(!one.drift.is_empty(), "{code}");
            points += one.drift.len();
        }
        assert!(all.windows(2).all(|pair| pair[0].code < pair[1].code));
        let rows = DRIFT.lines().skip(1);
        assert_eq!(
            points,
            rows.clone().count(),
            "every point belongs to a shower"
        );
        assert!(rows.clone().all(|row| row.contains("IMO25 Table 6")));
    }

    #[test]
    fn a_shower_is_found_by_its_code() {
        let geminids = shower(ShowerCode::parse("gem").unwrap()).unwrap();
        assert_eq!(geminids.name, "Geminids");
        assert_eq!(shower(ShowerCode::parse("XYZ").unwrap()), None);
    }

    #[test]
    fn activity_crosses_the_new_year_and_the_equinox() {
        let codes = |lon: f64| {
            active(lon)
                .map(|one| one.code.to_string())
                .collect::<Vec<_>>()
        };
        assert!(codes(283.15).contains(&"QUA".to_owned()));
        assert!(
            codes(0.0).contains(&"ANT".to_owned()),
            "all by itself in March"
        );
        assert!(
            !codes(220.0).contains(&"ANT".to_owned()),
            "the Taurids take over"
        );
        assert_eq!(codes(262.2 + 360.0), codes(262.2));
    }
}
