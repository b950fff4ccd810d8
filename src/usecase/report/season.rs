//! Years -> the archive's page: nights out of the catalogue, the Moon of each evening, the peaks of the great showers.

use std::collections::BTreeSet;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::makers::MadeOf;
use crate::clock::night::night_by_reading;
use crate::report::season::Evening;
use crate::report::season::SeasonReport;
use crate::report::season::Year;
use crate::report::season::season_page as page;
use crate::sky::instant::FIRST_YEAR;
use crate::sky::instant::LAST_YEAR;
use crate::sky::look::Looker;
use crate::sky::showers;
use crate::sky::showers::peak_utc;
use crate::terms::failure::Failure;
use crate::terms::plural::and_list;
use crate::terms::shower::ShowerCode;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::usecase::derive::maker::signature;
use crate::usecase::listings::frames::compile;
use crate::usecase::listings::lenses::lens_uses;

/// From this ZHR on a shower's peak is marked in the calendar.
///
/// Source: our choice: the ten or so that people plan a year by.
const GREAT_ZHR: f64 = 15.0;

/// More years than this make no page that can be read.
const MOST_YEARS: usize = 60;

/// Reads what was said of years: `2023`, `2021..2024`.
pub fn years(said: &[String]) -> Result<Vec<i32>, Failure> {
    let mut found = Vec::new();
    for words in said {
        let (from, to) = words.split_once("..").unwrap_or((words, words));
        let year = |text: &str| {
            let year: i32 = text.trim().parse().ok()?;
            (FIRST_YEAR..=LAST_YEAR).contains(&year).then_some(year)
        };
        let (Some(from), Some(to)) = (year(from), year(to)) else {
            return Err(not_years(words));
        };
        if from > to {
            return Err(not_years(words));
        }
        found.extend(from..=to);
    }
    found.sort_unstable();
    found.dedup();
    if found.len() > MOST_YEARS {
        return Err(
            Failure::words(format!("{} years are too many for one page", found.len()))
                .hint(format!("choose at most {MOST_YEARS}")),
        );
    }
    Ok(found)
}

fn not_years(words: &str) -> Failure {
    Failure::words(format!("'{words}' is neither a year nor a range of years")).hint(format!(
        "write 2023, or 2021..2024; from {FIRST_YEAR} to {LAST_YEAR}"
    ))
}

/// The page of these years.
pub fn season_page(catalogue: &Catalogue, years: &[i32]) -> Result<String, Failure> {
    let mut looker = Looker::new();
    let mut makers = BTreeSet::new();
    let years = years
        .iter()
        .map(|year| {
            let (first, last) = (format!("{year}-01-01"), format!("{year}-12-31"));
            makers.extend(catalogue.makers_of(MadeOf::Nights(&first, &last))?);
            Ok(Year {
                year: *year,
                rows: catalogue.season(&first, &last)?,
                evenings: evenings(&mut looker, *year),
                peaks: peaks(*year),
            })
        })
        .collect::<Result<Vec<Year>, Failure>>()?;
    if years.iter().all(|year| year.rows.is_empty()) {
        let of: Vec<String> = years.iter().map(|year| year.year.to_string()).collect();
        let of = match of.as_slice() {
            [first, .., last] if of.len() > 3 => {
                format!("the {} years from {first} to {last}", of.len())
            }
            few => and_list(few),
        };
        return Err(Failure::words(format!("there are no lights of {of}"))
            .hint("framefall frames --per year says which years there are"));
    }
    let of_years: Vec<String> = years
        .iter()
        .map(|year| format!("night in {0}..{0}", year.year))
        .collect();
    Ok(page(&SeasonReport {
        years,
        lenses: lens_uses(catalogue, &compile(&of_years.join(" or "))?.tree)?,
        maker: signature(&makers),
    }))
}

/// Every date of a year, with the Moon of the midnight after it.
fn evenings(looker: &mut Looker, year: i32) -> Vec<Evening> {
    let mut found = Vec::new();
    for month in 1..=12_u8 {
        for day in 1..=31_u8 {
            let date = format!("{year:04}-{month:02}-{day:02}");
            let Some(midnight) =
                Utc::parse(&format!("{date}T12:00:00Z")).and_then(|noon| noon.plus_s(43_200.0))
            else {
                continue;
            };
            let moon_lit = looker.frame_sky(midnight, None).map(|sky| sky.moon_lit);
            found.push(Evening {
                date,
                month,
                day,
                moon_lit,
            });
        }
    }
    found
}

/// The evenings (by UTC) on which great showers peak. A peak before noon belongs to the evening before.
fn peaks(year: i32) -> Vec<(String, ShowerCode)> {
    showers::showers()
        .iter()
        .filter(|s| s.zhr.is_some_and(|zhr| zhr >= GREAT_ZHR))
        .filter_map(|s| {
            let at = peak_utc(s, year)?.to_string();
            let reading = WallTime::parse(at.get(..19)?)?;
            Some((night_by_reading(reading)?, s.code))
        })
        .collect()
}
