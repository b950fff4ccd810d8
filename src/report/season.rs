//! Years of nights as a page: a calendar of each year and a table. The catalogue computes the sums; nothing about the
//! sky is computed here.

use std::collections::BTreeMap;

use crate::report::html::Element;
use crate::report::html::classed;
use crate::report::html::document;
use crate::report::html::el;
use crate::report::html::style;
use crate::report::lenses::lenses;
use crate::report::page::SHEET;
use crate::report::plot;
use crate::report::plot::CURVES;
use crate::report::plot::Size;
use crate::report::plot::label;
use crate::report::shapes::rect;
use crate::report::tables::Holds::Figures;
use crate::report::tables::Holds::Words;
use crate::report::tables::key_line;
use crate::report::tables::table;
use crate::report::words;
use crate::terms::lens_use::LensUse;
use crate::terms::night::SeasonRow;
use crate::terms::shower::ShowerCode;

/// Years of an archive as shown in a report.
#[derive(Clone, Debug)]
pub struct SeasonReport {
    /// The years, in order.
    pub years: Vec<Year>,
    /// How its lenses draw stars.
    pub lenses: Vec<LensUse>,
    /// The program and the edition of the shower table.
    pub maker: String,
}

/// One year.
#[derive(Clone, Debug)]
pub struct Year {
    /// Which.
    pub year: i32,
    /// Its nights, by date and shower.
    pub rows: Vec<SeasonRow>,
    /// Every evening of the year, with the lit fraction of the Moon that night.
    pub evenings: Vec<Evening>,
    /// The maxima of the major showers: the evening, and the shower.
    pub peaks: Vec<(String, ShowerCode)>,
}

/// An evening of the calendar.
#[derive(Clone, Debug, PartialEq)]
pub struct Evening {
    /// Its date.
    pub date: String,
    /// Its month, 1 to 12.
    pub month: u8,
    /// Its day, 1 to 31.
    pub day: u8,
    /// Lit fraction of the Moon in the following midnight (UTC).
    pub moon_lit: Option<f64>,
}

const MONTHS: [&str; 12] = [
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
];

/// Hours at which a night's square fills its cell.
///
/// Source: our choice: a winter night.
const FULL_CELL_H: f64 = 8.0;

/// The whole page.
pub fn season_page(report: &SeasonReport) -> String {
    let years: Vec<String> = report.years.iter().map(|y| y.year.to_string()).collect();
    let title = match years.as_slice() {
        [first, .., last] => format!("The nights of {first} to {last}"),
        one => format!("The nights of {}", one.join("")),
    };
    let rows = || report.years.iter().flat_map(|y| &y.rows);
    let colours = colours(rows());
    let mut main = el("main").child(
        el("header")
            .child(el("h1").text(&*title))
            .child(classed("p", "quiet").text(told(rows()))),
    );
    for year in &report.years {
        main = main.child(el("h2").text(year.year.to_string()));
        if year.rows.is_empty() {
            main = main.child(classed("p", "note").text("No lights in this year."));
        }
        let plots = [Size::Wide, Size::Narrow].map(|size| calendar(year, &colours, size));
        main = main.child(
            el("figure")
                .children(plots)
                .child(key(&colours))
                .child(el("figcaption").text(
                    "One cell a night. The square grows with the hours the shutter was open for lights, and fills its cell at \
                     eight; the brighter the cell, the more of the Moon was lit; the names stand where great showers peak.",
                )),
        );
        if !year.rows.is_empty() {
            main = main.child(nights(year));
        }
    }
    main = main.children(lenses(&report.lenses));
    document(
        &title,
        style(SHEET),
        el("body")
            .child(main.child(el("footer").child(classed("p", "quiet").text(&*report.maker)))),
    )
}

fn told<'r>(rows: impl Iterator<Item = &'r SeasonRow>) -> String {
    let (mut lights, mut hours) = (0, 0.0);
    let mut nights: Vec<&str> = Vec::new();
    for row in rows {
        lights += row.lights;
        hours += row.open_h;
        nights.push(&row.night);
    }
    nights.sort_unstable();
    nights.dedup();
    format!(
        "{} with {} lights; shutter open for {}.",
        words::count(nights.len(), "night", "nights"),
        lights,
        words::duration(hours * 3600.0)
    )
}

/// The class of each shower: those with the most hours have a colour of their own, all others share the last.
fn colours<'r>(rows: impl Iterator<Item = &'r SeasonRow>) -> Vec<(ShowerCode, &'static str)> {
    let mut hours: BTreeMap<ShowerCode, f64> = BTreeMap::new();
    for row in rows {
        if let Some(shower) = row.shower {
            *hours.entry(shower).or_default() += row.open_h;
        }
    }
    let mut codes: Vec<(ShowerCode, f64)> = hours.into_iter().collect();
    codes.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    codes
        .into_iter()
        .map(|(code, _)| code)
        .zip(CURVES.into_iter().take(CURVES.len() - 1))
        .collect()
}

fn class_of(shower: Option<ShowerCode>, colours: &[(ShowerCode, &'static str)]) -> &'static str {
    colours
        .iter()
        .find(|(code, _)| Some(*code) == shower)
        .map_or("c4", |(_, class)| class)
}

fn calendar(year: &Year, colours: &[(ShowerCode, &'static str)], size: Size) -> Element {
    // Months as rows on wide screens, as columns on narrow ones.
    let (cell, left, top) = match size {
        Size::Wide => ((28.0, 26.0), 44.0, 22.0),
        Size::Narrow => ((27.5, 17.0), 26.0, 22.0),
    };
    let at = |month: u8, day: u8| {
        let (month, day) = (f64::from(month) - 1.0, f64::from(day) - 1.0);
        match size {
            Size::Wide => (left + day * cell.0, top + month * cell.1),
            Size::Narrow => (left + month * cell.0, top + day * cell.1),
        }
    };
    let height = top + cell.1 * if size == Size::Wide { 12.0 } else { 31.0 } + 6.0;
    let mut svg = plot::drawing(
        size,
        &format!("year{}", year.year),
        height,
        &format!("The nights of {}", year.year),
        &told(year.rows.iter()),
    );
    for (month, name) in (1_u8..).zip(MONTHS) {
        let (x, y) = at(month, 1);
        svg = svg.child(match size {
            Size::Wide => label("tick end", left - 8.0, y + cell.1 / 2.0 + 4.0, name),
            Size::Narrow => label("tick mid", x + cell.0 / 2.0, top - 8.0, name),
        });
    }
    for day in [1_u8, 5, 10, 15, 20, 25, 31] {
        let (x, y) = at(1, day);
        svg = svg.child(match size {
            Size::Wide => label("tick mid", x + cell.0 / 2.0, top - 8.0, day.to_string()),
            Size::Narrow => label(
                "tick end",
                left - 6.0,
                y + cell.1 / 2.0 + 4.0,
                day.to_string(),
            ),
        });
    }
    for evening in &year.evenings {
        let (x, y) = at(evening.month, evening.day);
        let lit = evening.moon_lit.unwrap_or(0.0);
        svg = svg.child(cell_rect("cell", x, y, cell)).child(
            cell_rect("moonlit", x, y, cell).attr("fill-opacity", format!("{:.2}", lit * 0.55)),
        );
    }
    for (date, hours, shower) in strongest_of_nights(year) {
        let Some(evening) = year.evenings.iter().find(|e| e.date == date) else {
            continue;
        };
        let (x, y) = at(evening.month, evening.day);
        let share = (hours / FULL_CELL_H).clamp(0.02, 1.0).sqrt();
        let (w, h) = ((cell.0 - 3.0) * share, (cell.1 - 3.0) * share);
        svg = svg.child(rect(
            format!("shot f-{}", class_of(shower, colours)),
            (x + (cell.0 - w) / 2.0, y + (cell.1 - h) / 2.0),
            (w, h),
        ));
    }
    for (date, shower) in &year.peaks {
        if let Some(evening) = year.evenings.iter().find(|e| e.date == *date) {
            let (x, y) = at(evening.month, evening.day);
            svg = svg.child(label(
                "peak mid",
                x + cell.0 / 2.0,
                y + cell.1 / 2.0 + 3.5,
                shower.to_string(),
            ));
        }
    }
    svg
}

fn cell_rect(class: &'static str, x: f64, y: f64, cell: (f64, f64)) -> Element {
    rect(class, (x + 0.5, y + 0.5), (cell.0 - 1.0, cell.1 - 1.0))
}

/// Each night with its hours and the shower with most of them.
fn strongest_of_nights(year: &Year) -> Vec<(&str, f64, Option<ShowerCode>)> {
    let mut nights: BTreeMap<&str, (f64, f64, Option<ShowerCode>)> = BTreeMap::new();
    for row in &year.rows {
        let night = nights.entry(&row.night).or_insert((0.0, -1.0, None));
        night.0 += row.open_h;
        if row.open_h > night.1 {
            (night.1, night.2) = (row.open_h, row.shower);
        }
    }
    nights
        .into_iter()
        .map(|(date, (hours, _, shower))| (date, hours, shower))
        .collect()
}

fn key(colours: &[(ShowerCode, &'static str)]) -> Element {
    let sample = |class: &str| rect(format!("shot f-{class}"), (8.0, 1.0), (12.0, 12.0));
    let mut lines: Vec<Element> = colours
        .iter()
        .map(|(code, class)| key_line(sample(class), format!("strongest: {code}")))
        .collect();
    lines.push(key_line(
        sample("c4"),
        "another shower, none up, or not known",
    ));
    lines.push(key_line(
        cell_rect("moonlit", 6.0, 0.0, (16.0, 14.0)).attr("fill-opacity", "0.55"),
        "full Moon",
    ));
    classed("ul", "key").children(lines)
}

fn nights(year: &Year) -> Element {
    let rows = year.rows.iter().map(|row| {
        let percent = |share: f64| format!("{}%", words::number(share * 100.0, 0));
        vec![
            row.night.clone(),
            row.shower
                .map_or("none up, or not known".to_owned(), |s| s.to_string()),
            row.sites.clone(),
            row.lights.to_string(),
            words::duration(row.open_h * 3600.0),
            row.best_alt_deg
                .map_or("unknown".to_owned(), words::degrees),
            row.moon_lit.map_or("unknown".to_owned(), percent),
            row.moon_up.map_or("unknown".to_owned(), percent),
        ]
    });
    table(
        &format!("Nights of {}", year.year),
        &[
            ("night", Words),
            ("shower", Words),
            ("site", Words),
            ("lights", Figures),
            ("open shutter", Figures),
            ("best altitude", Figures),
            ("Moon lit", Figures),
            ("Moon up", Figures),
        ],
        rows,
    )
}
