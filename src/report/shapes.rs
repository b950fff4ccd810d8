//! Shapes of drawings. No sums.

use crate::report::html::Element;
use crate::report::html::el;

/// A point of a drawing: to the right and downwards.
type At = (f64, f64);

fn shape(name: &'static str, class: impl Into<String>) -> Element {
    el(name).attr("class", class)
}

/// A path.
pub(super) fn path(class: impl Into<String>, way: impl Into<String>) -> Element {
    shape("path", class).attr("d", way)
}

/// A line.
pub(super) fn line(class: impl Into<String>, from: At, to: At) -> Element {
    let ends = [("x1", from.0), ("y1", from.1), ("x2", to.0), ("y2", to.1)];
    numbered(shape("line", class), ends)
}

/// A rectangle, by its upper left corner, width and height.
pub(super) fn rect(class: impl Into<String>, at: At, (width, height): (f64, f64)) -> Element {
    let sides = [
        ("x", at.0),
        ("y", at.1),
        ("width", width),
        ("height", height),
    ];
    numbered(shape("rect", class), sides)
}

/// A circle.
pub(super) fn circle(class: impl Into<String>, at: At, radius: f64) -> Element {
    let parts = [("cx", at.0), ("cy", at.1), ("r", radius)];
    numbered(shape("circle", class), parts)
}

fn numbered<const N: usize>(shape: Element, parts: [(&'static str, f64); N]) -> Element {
    let with = |shape: Element, (name, value)| shape.num(name, value);
    parts.into_iter().fold(shape, with)
}
