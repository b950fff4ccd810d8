//! One session on the page of its night. No sums, no formula.

use crate::report::html::Element;
use crate::report::html::classed;
use crate::report::html::el;
use crate::report::lane;
use crate::report::marked;
use crate::report::marked::Fitted;
use crate::report::night::LARGE_SIDE;
use crate::report::night::PICTURE_SIDE;
use crate::report::night::Part;
use crate::report::night::SessionPart;
use crate::report::night::counted;
use crate::report::night::kinds;
use crate::report::night::open_hours;
use crate::report::plot::Size;
use crate::report::seen::Shown;
use crate::report::session_showers::expected;
use crate::report::session_showers::faintest;
use crate::report::session_showers::showers;
use crate::report::strip::strip;
use crate::report::tables::Holds::Figures;
use crate::report::tables::Holds::Words;
use crate::report::tables::facts;
use crate::report::tables::table;
use crate::report::words;
use crate::terms::command_line::CommandLine;
use crate::terms::exposure::exposure_text;
use crate::terms::turn::TurnBasis;

/// How many changes of settings are listed.
const CHANGES_LISTED: usize = 12;

/// The whole section.
pub(super) fn session_section(part: &Part, session: &SessionPart) -> Element {
    let id = format!("s{}", session.number);
    let mut section = el("section")
        .attr("id", id.clone())
        .child(el("h3").text(words::lane_name(session, false)));
    let plots: Vec<Element> = [Size::Wide, Size::Narrow]
        .into_iter()
        .filter_map(|size| strip(part, session, &id, size))
        .collect();
    if !plots.is_empty() {
        section = section.child(el("figure").children(plots));
    }
    section = section.child(facts(session_facts(part, session)));
    if !session.gaps.is_empty() {
        section = section.child(gaps(part, session));
    }
    if !session.changes.is_empty() {
        section = section.child(changes(part, session));
    }
    if session.showers.is_empty() {
        section = section.child(classed("p", "note").text(no_showers(part, session)));
    } else {
        section = section
            .child(showers(part, session))
            .child(expected(part, session));
    }
    section.children(picture_list(part, session))
}

fn no_showers(part: &Part, session: &SessionPart) -> &'static str {
    let lights = session
        .frames
        .iter()
        .any(|f| f.kind == Some(crate::terms::basis::Kind::Light));
    match (&part.sky, lights) {
        (None, _) => "What the showers did over this session is not known without place and UTC.",
        (Some(_), false) => "No lights here, so no meteors are expected of it.",
        (Some(_), true) => {
            "No radiant of an active shower stood above the horizon during this session."
        }
    }
}

fn session_facts(part: &Part, session: &SessionPart) -> Vec<(&'static str, String)> {
    let frames = &session.frames;
    let mut pairs = Vec::new();
    if let Some((from, to)) = lane::span_ms(session) {
        pairs.push((
            "time",
            format!(
                "{} to {} ({}), {}",
                part.hours.second(from),
                part.hours.second(to),
                words::duration((to - from) as f64 / 1000.0),
                part.hours.label()
            ),
        ));
    }
    if let Some(lens) = frames.iter().find_map(|f| f.lens.clone()) {
        pairs.push(("lens", lens));
    }
    if frames.iter().all(|f| f.focal_mm.is_none()) {
        pairs.push((
            "focal length",
            format!(
                "unknown: the lens does not say. State it: {}",
                CommandLine::new("sessions mark")
                    .argument(session.number.to_string())
                    .blank_option("--focal")
            ),
        ));
    }
    let of_kinds: Vec<String> = kinds(frames)
        .into_iter()
        .map(|(kind, n)| format!("{n} {}", words::kind(kind)))
        .collect();
    pairs.push(("frames", of_kinds.join(", ")));
    pairs.push(("settings", settings(session)));
    pairs.push((
        "shutter open for lights",
        words::duration(open_hours(frames) * 3600.0),
    ));
    pairs.push((
        "cadence",
        match (session.cadence_s, session.rhythm) {
            (None, _) => "none: a single frame".to_owned(),
            (Some(s), None) => format!("{} s from start to start", words::number(s, 2)),
            (Some(s), Some(rhythm)) => {
                format!("{} s from start to start; {rhythm}", words::number(s, 2))
            }
        },
    ));
    let warm: Vec<f64> = frames.iter().filter_map(|f| f.temperature_c).collect();
    if let (Some(first), Some(last)) = (warm.first(), warm.last()) {
        pairs.push((
            "body temperature",
            format!(
                "{} °C to {} °C",
                words::number(*first, 0),
                words::number(*last, 0)
            ),
        ));
    }
    pairs.extend(
        session
            .faintest
            .map(|stars| ("faintest star over the lights", faintest(stars))),
    );
    pairs.extend(trail_facts(part, session));
    pairs.push(("time reached by", time_reached(session)));
    let places: Vec<String> = counted(frames, |f| &f.place_basis)
        .into_iter()
        .map(|(word, n)| of_all(words::place_basis(word), n, frames.len()))
        .collect();
    pairs.push(("place reached by", places.join("; ")));
    pairs
}

fn time_reached(session: &SessionPart) -> String {
    let frames = &session.frames;
    let bases: Vec<String> = counted(frames, |f| &f.time_basis)
        .into_iter()
        .map(|(word, n)| of_all(words::time_basis(word), n, frames.len()))
        .collect();
    let worst = frames
        .iter()
        .filter_map(|f| f.time_error_s)
        .fold(None, |worst: Option<f64>, e| {
            Some(worst.map_or(e, |w| w.max(e)))
        });
    let good = worst.map_or(String::new(), |e| {
        format!("; reading good to {} s", words::number(e, 2))
    });
    format!("{}{good}", bases.join("; "))
}

fn of_all(what: &str, n: usize, all: usize) -> String {
    if n == all {
        what.to_owned()
    } else {
        format!("{what} ({n} of {all})")
    }
}

fn settings(session: &SessionPart) -> String {
    let Some(first) = session.frames.first() else {
        return "unknown".to_owned();
    };
    let mut said = Vec::new();
    said.extend(first.exposure_s.map(exposure_text));
    said.extend(first.f_number.map(|f| format!("f/{}", words::number(f, 1))));
    said.extend(first.iso.map(|i| format!("ISO {}", words::number(i, 0))));
    if said.is_empty() {
        return "unknown".to_owned();
    }
    if !session.changes.is_empty() {
        said.push("at first".to_owned());
    }
    said.join(", ")
}

fn trail_facts(part: &Part, session: &SessionPart) -> Vec<(&'static str, String)> {
    let Some(trails) = session.trails else {
        return Vec::new();
    };
    let mut pairs = vec![(
        "500 rule",
        format!(
            "{} s at most{}",
            words::number(trails.rule_500_s, 2),
            trails.crop.map_or(
                ", taken for a full-frame sensor: the 35 mm equivalent is not known".to_owned(),
                |c| format!(", crop factor {}", words::number(c, 2))
            )
        ),
    )];
    if let Some(centre) = trails.centre_px {
        let corner = trails.corner_px.map_or(String::new(), |px| {
            format!(", {} px in the corner", words::number(px, 1))
        });
        pairs.push((
            "star trails",
            format!(
                "{} px in the middle{corner}, at the celestial equator",
                words::number(centre, 1)
            ),
        ));
    }
    if let (Some((first, last)), Some(reference)) = (trails.turn, trails.reference) {
        let frame = session.frames.get(reference);
        pairs.push((
            "sky rotation",
            format!(
                "{} to {} about the pole, {}, against the reference frame {} ({})",
                words::degrees(first.deg),
                words::degrees(last.deg),
                match (first.basis, last.basis) {
                    (TurnBasis::Clock, TurnBasis::Clock) => "by the time between frames",
                    (TurnBasis::Mount, _) | (_, TurnBasis::Mount) =>
                        "by the stars of the pictures: the mount followed them",
                    (TurnBasis::Stars, TurnBasis::Stars) => "by the stars of the pictures",
                    _ => "by the stars of the pictures and the time between frames",
                },
                frame.map_or("", |f| f.file.as_str()),
                frame
                    .and_then(lane::start_ms)
                    .map_or(String::new(), |at| part.hours.second(at)),
            ),
        ));
    }
    pairs
}

fn gaps(part: &Part, session: &SessionPart) -> Element {
    let rows = session.gaps.iter().map(|gap| {
        let before = session.frames.get(gap.after);
        vec![
            before
                .and_then(lane::end_ms)
                .map_or("unknown".to_owned(), |at| part.hours.second(at)),
            words::duration(gap.length_s),
            gap.missing.to_string(),
            before.map_or(String::new(), |f| f.file.clone()),
            words::cause(&gap.cause),
        ]
    });
    table(
        "Gaps of the session",
        &[
            ("gap from", Words),
            ("length", Figures),
            ("missing", Figures),
            ("after", Words),
            ("likely because", Words),
        ],
        rows,
    )
}

fn changes(part: &Part, session: &SessionPart) -> Element {
    let mut rows: Vec<Vec<String>> = session
        .changes
        .iter()
        .take(CHANGES_LISTED)
        .map(|change| {
            let frame = session.frames.get(change.at);
            vec![
                frame
                    .and_then(lane::start_ms)
                    .map_or("unknown".to_owned(), |at| part.hours.second(at)),
                frame.map_or(String::new(), |f| f.file.clone()),
                change.words.clone(),
            ]
        })
        .collect();
    if session.changes.len() > CHANGES_LISTED {
        rows.push(vec![
            String::new(),
            String::new(),
            format!("and {} more", session.changes.len() - CHANGES_LISTED),
        ]);
    }
    table(
        "Changes of settings",
        &[
            ("from", Words),
            ("file", Words),
            ("settings changed", Words),
        ],
        rows,
    )
}

fn picture_list(part: &Part, session: &SessionPart) -> Vec<Element> {
    let one = |shown: &Shown, side: u16, fitted: Fitted, inset: f64| {
        let frame = session.frames.get(shown.at)?;
        let time =
            lane::start_ms(frame).map_or("time unknown".to_owned(), |at| part.hours.second(at));
        let radiant = frame
            .shower
            .and_then(|code| frame.radiants.iter().find(|r| r.shower == code))
            .map(|r| format!("{} {}", r.shower, words::degrees(r.alt_deg)));
        let under = match &radiant {
            Some(radiant) => format!("{time}, {radiant}"),
            None => time.clone(),
        };
        let mut alt = format!("{} at {under}", frame.file);
        for radiant in &shown.radiants {
            alt = format!("{alt}; {}", marked::told(radiant));
        }
        let image = marked::picture(&alt, (&shown.picture, side), fitted, |shape| {
            marked::radiant_signs(&shown.radiants, shape, inset)
        });
        Some((image, under, &*frame.file))
    };
    let mut found = Vec::new();
    let large = session.large.as_ref();
    if let Some((image, under, file)) =
        large.and_then(|shown| one(shown, LARGE_SIDE, Fitted::Own, 0.05))
    {
        found.push(
            classed("figure", "large").child(image).child(
                el("figcaption")
                    .text(format!("{file}, {under}. Ring: where trails of the shower point back to; arrow: it is outside the picture, that way.")),
            ),
        );
    }
    if !session.pictures.is_empty() {
        let items = session
            .pictures
            .iter()
            .filter_map(|shown| one(shown, PICTURE_SIDE, Fitted::Box, 0.1))
            .map(|(image, under, file)| {
                el("li")
                    .child(image)
                    .child(classed("span", "under").text(under))
                    .child(classed("span", "under").text(file))
            });
        found.push(classed("ul", "pictures").children(items));
    }
    found
}
