//! A night report as a page: the layout. No sums, no formula.

use crate::report::dome::dome;
use crate::report::html::Element;
use crate::report::html::classed;
use crate::report::html::document;
use crate::report::html::el;
use crate::report::html::style;
use crate::report::lane::shape;
use crate::report::meteors_page::meteors;
use crate::report::night::Darkness;
use crate::report::night::NightReport;
use crate::report::night::Part;
use crate::report::night::Warning;
use crate::report::night::open_hours;
use crate::report::peaks;
use crate::report::plot::CURVES;
use crate::report::plot::Size;
use crate::report::plot::night_plot;
use crate::report::session_page::session_section;
use crate::report::shapes::path;
use crate::report::tables::Holds::Figures;
use crate::report::tables::Holds::Words;
use crate::report::tables::area_sample;
use crate::report::tables::facts;
use crate::report::tables::key_line;
use crate::report::tables::line_sample;
use crate::report::tables::table;
use crate::report::words;
use crate::terms::basis::Kind;
use crate::terms::night::NightFrame;

/// The style of every page.
pub(super) const SHEET: &str = include_str!("sheet.css");

/// How many files a warning names.
const FILES_NAMED: usize = 8;

/// The whole page.
pub fn page(report: &NightReport) -> String {
    let mut main = el("main").child(head(report));
    if !report.warnings.is_empty() {
        main = main.child(warnings(&report.warnings));
    }
    for (k, part) in report.parts.iter().enumerate() {
        main = main.children(place(part, k)).children(meteors(part, k));
        for session in &part.sessions {
            main = main.child(session_section(part, session));
        }
    }
    document(
        &report.title,
        style(SHEET),
        el("body").child(main.child(foot(report))),
    )
}

fn head(report: &NightReport) -> Element {
    let frames: Vec<&NightFrame> = report.parts.iter().flat_map(Part::frames).collect();
    let mut cameras: Vec<&str> = frames.iter().filter_map(|f| f.camera.as_deref()).collect();
    cameras.sort_unstable();
    cameras.dedup();
    let sessions: usize = report.parts.iter().map(|p| p.sessions.len()).sum();
    let hours: f64 = report
        .parts
        .iter()
        .flat_map(|p| &p.sessions)
        .map(|s| open_hours(&s.frames))
        .sum();
    let bodies = match cameras.as_slice() {
        [] => "body unknown".to_owned(),
        cameras => cameras.join(" and "),
    };
    el("header")
        .child(el("h1").text(&*report.title))
        .child(classed("p", "quiet").text(format!(
            "{} in {}, {bodies}; shutter open for {} of lights.",
            words::count(frames.len(), "frame", "frames"),
            words::count(sessions, "session", "sessions"),
            words::duration(hours * 3600.0),
        )))
}

fn warnings(all: &[Warning]) -> Element {
    let one = |warning: &Warning| {
        let mut files = warning
            .files
            .iter()
            .take(FILES_NAMED)
            .cloned()
            .collect::<Vec<_>>();
        if warning.files.len() > FILES_NAMED {
            files.push(format!("and {} more", warning.files.len() - FILES_NAMED));
        }
        let mut line = el("p")
            .child(classed("span", "weight").text(warning.weight))
            .text(format!(" {}", warning.headline));
        if warning.cure != "nothing" {
            line = line.text(format!(". {}", sentence(&warning.cure)));
        }
        el("li")
            .attr("class", warning.weight)
            .child(line)
            .child(classed("div", "files").children(files.into_iter().map(|f| el("div").text(f))))
    };
    el("section")
        .child(el("h2").text("What needs a look"))
        .child(classed("ul", "warnings").children(all.iter().map(one)))
}

/// A cure as a sentence of its own; a command stays as it is typed.
fn sentence(text: &str) -> String {
    if text.starts_with("framefall ") {
        return format!("{text}.");
    }
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).chain(['.']).collect()
    })
}

/// A place: its facts, the night over it, the dome.
fn place(part: &Part, k: usize) -> Vec<Element> {
    let title = part
        .site
        .as_ref()
        .map_or("Place unknown".to_owned(), |site| site.name.clone());
    let mut found = vec![el("h2").text(title), facts(place_facts(part))];
    if part.sky.is_none() {
        found.push(classed("p", "note").text(no_sky(part)));
    }
    let plots: Vec<Element> = [Size::Wide, Size::Narrow]
        .into_iter()
        .filter_map(|size| night_plot(part, &format!("night{k}"), size))
        .collect();
    if !plots.is_empty() {
        found.push(
            el("figure")
                .children(plots)
                .child(key(part))
                .child(el("figcaption").text(caption(part))),
        );
    }
    if part.sky.is_some() {
        let outlined = part.sessions.iter().any(|s| !s.outlines.is_empty());
        if part.tracks().is_empty() {
            found.push(classed("p", "note").text("No shower of the table is active, with its radiant above the horizon, in this night."));
        }
        if (outlined || !part.tracks().is_empty())
            && let Some(dome) = dome(part, &format!("dome{k}"))
        {
            let mut note = "The dome: zenith in the middle, horizon around, as you see it lying on your back, head to the north. Pale: \
                            not dark. Thick: frames were taken."
                .to_owned();
            if outlined {
                note.push_str(" Outlined: the pictures of each session, by its number.");
            }
            found.push(
                classed("div", "side")
                    .child(el("figure").child(dome))
                    .child(
                        el("div")
                            .child(showers(part))
                            .child(classed("p", "note").text(note)),
                    ),
            );
        }
    }
    found
}

fn no_sky(part: &Part) -> String {
    match &part.site {
        None => "Neither GPS nor a stated site says where these frames were taken: radiants, Sun and Moon are unknown. \
                 State the site with framefall site assign NAME --session NUMBER, and make the report again."
            .to_owned(),
        Some(_) => "UTC is not known for every frame here, or lies outside the years the sky is computed for: radiants, \
                    Sun and Moon are left out."
            .to_owned(),
    }
}

fn place_facts(part: &Part) -> Vec<(&'static str, String)> {
    let mut pairs = Vec::new();
    if let Some(site) = &part.site {
        let (lat, lon) = (site.place.lat_deg(), site.place.lon_deg());
        pairs.push((
            "position",
            format!(
                "{:.4}° {}, {:.4}° {}, {:.0} m",
                lat.abs(),
                if lat < 0.0 { "south" } else { "north" },
                lon.abs(),
                if lon < 0.0 { "west" } else { "east" },
                site.place.elev_m()
            ),
        ));
    }
    pairs.push(("hours shown", part.hours.label()));
    let Some(sky) = &part.sky else {
        return pairs;
    };
    pairs.push((
        "Sun down",
        words::stretches(
            part,
            &sky.sun_down,
            "never: polar day",
            "all along: polar night",
        ),
    ));
    pairs.push((
        "Sun below −18°",
        words::stretches(part, &sky.sun_below[2], "never in this night", "all along"),
    ));
    let lit = sky
        .points
        .get(sky.points.len() / 2)
        .map_or(0.0, |p| p.moon_lit * 100.0);
    pairs.push((
        "Moon",
        format!(
            "{}% lit; {}",
            words::number(lit, 0),
            words::moon_up(part, &sky.moon_up)
        ),
    ));
    let dark_s: f64 = sky.dark.iter().map(|s| s.length_s()).sum();
    pairs.push((
        "dark, no Moon",
        match sky.dark.as_slice() {
            [] => "never in this night".to_owned(),
            dark => format!(
                "{} ({})",
                words::stretches(part, dark, "", "all along"),
                words::duration(dark_s)
            ),
        },
    ));
    pairs.push((
        "faintest star",
        match part.darkness {
            Darkness::Stated(m) => format!("magnitude {}, as you stated", words::number(m, 1)),
            Darkness::FromMeter(m) => {
                format!("magnitude {}, by your sky quality meter", words::number(m, 1))
            }
            Darkness::Taken => {
                "magnitude 6.5 taken; state yours with framefall site change NAME --limiting-magnitude MAG".to_owned()
            }
        },
    ));
    pairs
}

fn showers(part: &Part) -> Element {
    let rows = part.tracks().into_iter().map(|track| {
        vec![
            format!("{} {}", track.shower, track.name),
            format!(
                "{} at {}",
                words::degrees(track.culmination.alt_deg),
                part.hours.minute(track.culmination.at.unix_ms())
            ),
            track.zhr.map_or("var".to_owned(), |z| words::number(z, 0)),
            track.peak.map_or("not known".to_owned(), peaks::peak),
        ]
    });
    table(
        "Showers of the night",
        &[
            ("shower", Words),
            ("highest", Words),
            ("ZHR at peak", Figures),
            ("peak, UTC", Words),
        ],
        rows,
    )
}

fn caption(part: &Part) -> &'static str {
    if part.sky.is_some() {
        "Geometric altitude of each radiant through the night; thick while frames were taken. With a radiant at 30° half \
         of its meteors are left. Below, the frames of each session."
    } else {
        "The frames of each session."
    }
}

/// The legend of the night plot: only signs that are drawn.
fn key(part: &Part) -> Element {
    let mut lines = Vec::new();
    for (track, class) in part.tracks().into_iter().zip(CURVES) {
        lines.push(key_line(
            line_sample(format!("curve {class}")),
            format!("{} {}", track.shower, track.name),
        ));
    }
    if part.sky.is_some() {
        lines.push(key_line(
            line_sample("moon".to_owned()),
            "Moon; the bar: while it is up",
        ));
        lines.push(key_line(
            line_sample("half".to_owned()),
            "30°: half the rate",
        ));
        for (class, meaning) in [
            ("day", "day"),
            ("civil", "civil twilight"),
            ("nautical", "nautical"),
            ("astro", "astronomical"),
            ("night", "night, Sun below −18°"),
        ] {
            lines.push(key_line(area_sample(class, 0.0, 1.0), meaning));
        }
    }
    for kind in Kind::ALL.iter().map(|k| Some(*k)).chain([None]) {
        if part.frames().any(|f| f.kind == kind) {
            let (class, top, height) = shape(kind);
            lines.push(key_line(area_sample(class, top, height), words::kind(kind)));
        }
    }
    if part.sessions.iter().any(|s| !s.gaps.is_empty()) {
        lines.push(key_line(path("gap", "M3 4v5H25v-5"), "gap"));
    }
    if part.sessions.iter().any(|s| !s.changes.is_empty()) {
        lines.push(key_line(
            path("change", "M14 12l-4 -8h8z"),
            "settings changed",
        ));
    }
    classed("ul", "key").children(lines)
}

fn foot(report: &NightReport) -> Element {
    let note = |text: &str| classed("p", "note").text(text);
    el("footer")
        .child(el("h3").text("How the figures are meant"))
        .child(note(
            "Altitudes are geometric: of the drifted radiant as catalogued, without refraction and zenith attraction. \
             Trails in a picture point back to a place up to some degrees higher; framefall frames lists it as seen_alt.",
        ))
        .child(note(
            "Expected meteors are those a watcher with the whole sky in view would have seen while the shutter was open: \
             the sum over the lights of ZHR × sin h × r^(lm − 6.5) × hours, with the ZHR that the shower's activity \
             profile gives at that solar longitude, h the radiant's altitude with zenith attraction, r the population \
             index and lm the faintest star over that frame (International Meteor Organization, Handbook for Meteor \
             Observers). A shower marked var varies from year to year and counts as ZHR 1. A camera sees far fewer: its \
             field is a part of the sky, and its faintest meteor is brighter.",
        ))
        .child(note(
            "The faintest star is the site's, less what twilight and moonlight take away: moonlight by Krisciunas and \
             Schaefer 1991 for a camera that looks 45° high and 75° from the Moon, good to about 20 %; twilight by a rule \
             that is good to a magnitude. With the Sun above −6° no meteors are expected. Where pictures were \
             examined, what is left counts by the share of the sky that showed its usual stars. The losses are counted one after the \
             other: site, Sun, Moon, cloud.",
        ))
        .child(note(
            "The range: where activity is known to be sharp, from the sharp profile to the one that reaches ZHR 1 at the \
             limits of activity; a factor of two either way, because showers keep to no table; and the chance of small \
             numbers.",
        ))
        .child(note(
            "The 500 rule (500 divided by focal length and crop factor) is common practice without a source. Lengths of \
             star trails are for the celestial equator, where they are longest.",
        ))
        .child(classed("p", "quiet").text(&*report.maker))
}
