//! The meteors of a place on the page of its night: those judged with their pictures, charts about radiants, candidates. No sums.

use std::fmt::Write as _;

use crate::report::html::Element;
use crate::report::html::classed;
use crate::report::html::el;
use crate::report::marked;
use crate::report::night::CUT_SIDE;
use crate::report::night::Part;
use crate::report::seen::CutOut;
use crate::report::seen::JudgedMeteor;
use crate::report::seen::TrailFrame;
use crate::report::tables::Holds::Figures;
use crate::report::tables::Holds::Words;
use crate::report::tables::table;
use crate::report::trail_chart::caption;
use crate::report::trail_chart::trail_chart;
use crate::report::words;

/// The section of a place; nothing without judged meteors and candidates.
pub(super) fn meteors(part: &Part, k: usize) -> Vec<Element> {
    let all = &part.meteors;
    let mut found = Vec::new();
    if !all.judged.is_empty() {
        found.push(el("h3").text("Meteors"));
        found.push(classed("p", "note").text(
            "Trails that you judged to be meteors. The shower by path is what the great circle of the trail fits; a meteor of no shower \
             fits one by chance as well.",
        ));
        found.push(judged(part, &all.judged));
        let pictures = all.judged.iter().filter_map(|meteor| {
            let (cut, number) = (meteor.cut.as_ref()?, meteor.number);
            let shower = meteor.stated.as_ref().unwrap_or(&meteor.by_path);
            let lines = vec![format!("{number}: {shower}"), time(part, &meteor.frame)];
            Some(cut_out(
                cut,
                &format!("meteor {number}"),
                &meteor.frame,
                lines,
            ))
        });
        found.extend(cut_outs(pictures.collect()));
        let charts = all.charts.iter().enumerate().map(|(at, chart)| {
            let figure = el("figure");
            let figure = if chart.trails.is_empty() {
                figure
            } else {
                figure.child(trail_chart(chart, &format!("chart{k}-{at}")))
            };
            figure.child(el("figcaption").text(caption(chart)))
        });
        found.push(classed("div", "charts").children(charts));
    }
    if !all.candidates.is_empty() {
        found.push(el("h3").text("Candidates"));
        let mut note = "Lines of light that were found and that nobody has judged, the likeliest meteor first. Score: how likely it is one. \
                        Pictures are brightened."
            .to_owned();
        if all.more_candidates > 0 {
            let _ = write!(note, " {} more are not shown here.", all.more_candidates);
        }
        found.push(classed("p", "note").text(note));
        let pictures = all.candidates.iter().map(|one| {
            let mut lines = vec![
                format!("{}: score {:.2}", one.name, one.score),
                format!("{}, {}", time(part, &one.frame), one.frame.file),
                format!("as a meteor: {}", one.shower),
            ];
            lines.extend(one.evidence.iter().cloned());
            let name = format!("candidate {}", one.name);
            match &one.cut {
                Some(cut) => cut_out(cut, &name, &one.frame, lines),
                None => under(lines),
            }
        });
        found.extend(cut_outs(pictures.collect()));
    }
    found
}

fn judged(part: &Part, meteors: &[JudgedMeteor]) -> Element {
    let rows = meteors.iter().map(|meteor| {
        vec![
            meteor.number.to_string(),
            time(part, &meteor.frame),
            meteor.frame.session.to_string(),
            meteor.frame.file.clone(),
            meteor.stated.clone().unwrap_or_else(|| "–".to_owned()),
            meteor.by_path.clone(),
            meteor.miss_deg.map_or("–".to_owned(), |(miss, error)| {
                format!("{}° ± {}°", words::number(miss, 1), words::number(error, 1))
            }),
            meteor.length_deg.map_or("–".to_owned(), words::degrees),
        ]
    });
    table(
        "Judged meteors",
        &[
            ("trail", Figures),
            ("time", Words),
            ("session", Figures),
            ("file", Words),
            ("stated", Words),
            ("by path", Words),
            ("miss", Figures),
            ("length", Figures),
        ],
        rows,
    )
}

fn time(part: &Part, frame: &TrailFrame) -> String {
    let at = frame.start_ms;
    at.map_or("time unknown".to_owned(), |at| part.hours.second(at))
}

fn cut_out(cut: &CutOut, name: &str, frame: &TrailFrame, lines: Vec<String>) -> Element {
    let alt = format!("{name} in {}", frame.file);
    let mut item = el("li").child(marked::cut_out(cut, CUT_SIDE, &alt));
    for line in lines {
        item = item.child(classed("span", "under").text(line));
    }
    item
}

fn under(lines: Vec<String>) -> Element {
    el("li").children(
        lines
            .into_iter()
            .map(|line| classed("span", "under").text(line)),
    )
}

fn cut_outs(items: Vec<Element>) -> Option<Element> {
    (!items.is_empty()).then(|| classed("ul", "cuts").children(items))
}
