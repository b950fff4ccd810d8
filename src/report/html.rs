//! Elements of a page and of its plots as a tree, and the only place that writes a `<`. All text from files is escaped
//! here, with control characters made visible. Knows nothing of nights.
//!
//! The output is HTML that is also well-formed XML: every element is closed, every attribute quoted.

use crate::terms::printable::printable;

/// Elements without content or an end tag in HTML.
const VOID: &[&str] = &["br", "col", "hr", "img", "meta"];

/// An element.
#[derive(Clone, Debug)]
pub struct Element {
    name: &'static str,
    attributes: Vec<(&'static str, String)>,
    children: Vec<Child>,
}

#[derive(Clone, Debug)]
enum Child {
    Element(Element),
    Text(String),
    Style(&'static str),
}

/// An element of that name.
pub fn el(name: &'static str) -> Element {
    Element {
        name,
        attributes: Vec::new(),
        children: Vec::new(),
    }
}

/// An element of that name and class.
pub fn classed(name: &'static str, class: &'static str) -> Element {
    el(name).attr("class", class)
}

/// A style sheet of ours: never text from a file.
pub fn style(sheet: &'static str) -> Element {
    let mut element = el("style");
    element.children.push(Child::Style(sheet));
    element
}

impl Element {
    /// Adds an attribute.
    #[must_use]
    pub fn attr(mut self, name: &'static str, value: impl Into<String>) -> Self {
        self.attributes.push((name, value.into()));
        self
    }

    /// Adds a number as an attribute, to a tenth: finer than a screen's pixel.
    #[must_use]
    pub fn num(self, name: &'static str, value: f64) -> Self {
        self.attr(name, tenth(value))
    }

    /// Its markup.
    pub fn markup(&self) -> String {
        let mut out = String::new();
        self.write(&mut out);
        out
    }

    /// Adds text.
    #[must_use]
    pub fn text(mut self, text: impl Into<String>) -> Self {
        self.children.push(Child::Text(text.into()));
        self
    }

    /// Adds an element.
    #[must_use]
    pub fn child(mut self, child: Self) -> Self {
        self.children.push(Child::Element(child));
        self
    }

    /// Adds elements.
    #[must_use]
    pub fn children(mut self, children: impl IntoIterator<Item = Self>) -> Self {
        self.children
            .extend(children.into_iter().map(Child::Element));
        self
    }

    fn write(&self, out: &mut String) {
        out.push('<');
        out.push_str(self.name);
        for (name, value) in &self.attributes {
            out.push(' ');
            out.push_str(name);
            out.push_str("=\"");
            escape(value, out);
            out.push('"');
        }
        if self.children.is_empty() && (VOID.contains(&self.name) || is_drawing(self.name)) {
            out.push_str("/>");
            return;
        }
        out.push('>');
        for child in &self.children {
            match child {
                Child::Element(element) => element.write(out),
                Child::Text(text) => escape(text, out),
                Child::Style(sheet) => out.push_str(sheet),
            }
        }
        out.push_str("</");
        out.push_str(self.name);
        out.push('>');
    }
}

/// Elements of SVG that may close themselves.
fn is_drawing(name: &str) -> bool {
    matches!(name, "path" | "rect" | "line" | "circle" | "polyline")
}

/// A number to a tenth, without a trailing point.
pub fn tenth(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let rounded = (value * 10.0).round() / 10.0;
    // Adding zero turns minus zero into zero.
    format!("{}", rounded + 0.0)
}

/// A whole page.
pub fn document(title: &str, head: Element, body: Element) -> String {
    let html = el("html")
        .attr("lang", "en")
        .child(
            el("head")
                .child(el("meta").attr("charset", "utf-8"))
                .child(
                    el("meta")
                        .attr("name", "viewport")
                        .attr("content", "width=device-width, initial-scale=1"),
                )
                .child(
                    el("meta")
                        .attr("name", "color-scheme")
                        .attr("content", "light dark"),
                )
                // The page loads nothing, and nothing in it may try.
                .child(
                    el("meta")
                        .attr("http-equiv", "Content-Security-Policy")
                        .attr(
                            "content",
                            "default-src 'none'; img-src data:; style-src 'unsafe-inline'",
                        ),
                )
                .child(el("title").text(title))
                .child(head),
        )
        .child(body);
    let mut out = String::from("<!DOCTYPE html>\n");
    html.write(&mut out);
    out.push('\n');
    out
}

fn escape(text: &str, out: &mut String) {
    for c in printable(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // Not characters of XML.
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_from_a_file_is_never_markup() {
        let mut out = String::new();
        el("p")
            .attr("title", "\"><script>alert('x')</script>")
            .text("<b>\u{1b}[31m&\n")
            .write(&mut out);
        assert_eq!(
            out,
            "<p title=\"&quot;&gt;&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;\">\
             &lt;b&gt;\\u{1b}[31m&amp;\\n</p>"
        );
    }

    #[test]
    fn every_element_is_closed() {
        let mut out = String::new();
        el("div")
            .child(el("br"))
            .child(el("td"))
            .child(el("path").num("x", -0.04))
            .write(&mut out);
        assert_eq!(out, "<div><br/><td></td><path x=\"0\"/></div>");
    }
}
