//! Tables, lists of facts and legends of a page. No sums.

use crate::report::html::Element;
use crate::report::html::classed;
use crate::report::html::el;
use crate::report::shapes::path;
use crate::report::shapes::rect;

/// Whether a column has words or figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Holds {
    Words,
    Figures,
}

/// A table with its caption for screen readers; wide ones scroll by themselves.
pub(super) fn table(
    about: &str,
    columns: &[(&str, Holds)],
    rows: impl IntoIterator<Item = Vec<String>>,
) -> Element {
    let cell = |name: &'static str, holds: Holds| match holds {
        Holds::Words => el(name),
        Holds::Figures => classed(name, "figure"),
    };
    let heading = el("tr").children(
        columns
            .iter()
            .map(|(heading, holds)| cell("th", *holds).attr("scope", "col").text(*heading)),
    );
    let rows = rows.into_iter().map(|row| {
        el("tr").children(
            row.into_iter()
                .zip(columns)
                .map(|(text, (_, holds))| cell("td", *holds).text(text)),
        )
    });
    // A table that scrolls must be reachable by the keyboard.
    classed("div", "table")
        .attr("role", "region")
        .attr("aria-label", about)
        .attr("tabindex", "0")
        .child(
            el("table")
                .child(el("thead").child(heading))
                .child(el("tbody").children(rows)),
        )
}

/// Labels with their values.
pub(super) fn facts(pairs: Vec<(&'static str, String)>) -> Element {
    el("dl").children(
        pairs
            .into_iter()
            .flat_map(|(name, value)| [el("dt").text(name), el("dd").text(value)]),
    )
}

/// One line of a legend: a sample of the drawing, and its meaning.
pub(super) fn key_line(sample: Element, meaning: impl Into<String>) -> Element {
    el("li")
        .child(
            el("svg")
                .attr("viewBox", "0 0 28 14")
                .attr("aria-hidden", "true")
                .child(sample),
        )
        .child(el("span").text(meaning))
}

/// A sample of a line.
pub(super) fn line_sample(class: String) -> Element {
    path(class, "M1 7H27")
}

/// A sample of an area.
pub(super) fn area_sample(class: &'static str, top: f64, height: f64) -> Element {
    rect(class, (2.0, 1.0 + top * 12.0), (24.0, height * 12.0))
}
