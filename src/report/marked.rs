//! A picture on the page with signs over it: radiants or the direction to them, the ends of a trail. Signs keep their size on every
//! screen. Reads no picture.

use crate::report::html::Element;
use crate::report::html::classed;
use crate::report::html::el;
use crate::report::html::tenth;
use crate::report::pictures;
use crate::report::seen::CutOut;
use crate::report::seen::MarkPlace;
use crate::report::seen::PictureOr;
use crate::report::seen::RadiantMark;

/// The shape of the box that small pictures are fitted into, width to height.
const BOX: f64 = 1.5;

/// Signs closer together than this cover one another: to the right and down, in heights of the picture.
const APART: (f64, f64) = (0.14, 0.045);
/// An upright picture is at most so high on the page, in rem.
const HIGHEST_REM: f64 = 44.0;

/// How a picture is fitted into the page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Fitted {
    /// Into a box of 3 to 2, with nothing beside it.
    Box,
    /// In its own shape.
    Own,
}

/// A picture with signs, or why there is none.
pub(super) fn picture(
    alt: &str,
    (picture, side): (&PictureOr, u16),
    fitted: Fitted,
    signs: impl Fn(f64) -> Vec<Sign>,
) -> Element {
    let shown = picture.as_ref().map_err(Clone::clone).and_then(|p| {
        let address = pictures::address(p, side).ok_or_else(|| "too large".to_owned())?;
        Ok((address, p.width() as f64 / p.height() as f64))
    });
    match shown {
        Err(why) => classed("span", "none").text(format!("no picture: {why}")),
        Ok((address, shape)) => classed("span", "framed")
            .attr(
                "style",
                format!("max-width:{}rem", tenth(HIGHEST_REM * shape)),
            )
            .child(el("img").attr("alt", alt).attr("src", address))
            .children(
                signs(shape)
                    .into_iter()
                    .map(|sign| sign.drawn(shape, fitted)),
            ),
    }
}

/// A sign over a picture.
pub(super) struct Sign {
    /// Where, as shares of the picture.
    at: (f64, f64),
    path: Element,
    name: Option<String>,
}

impl Sign {
    fn drawn(self, shape: f64, fitted: Fitted) -> Element {
        let percent = |at: f64, of: f64| 50.0 + (at - 0.5) * of * 100.0;
        let (of_width, of_height) = match fitted {
            Fitted::Own => (1.0, 1.0),
            Fitted::Box => ((shape / BOX).min(1.0), (BOX / shape).min(1.0)),
        };
        let (left, top) = (percent(self.at.0, of_width), percent(self.at.1, of_height));
        let class = if self.at.0 > 0.5 { "mark left" } else { "mark" };
        let sign = classed("span", class)
            .attr("aria-hidden", "true")
            .attr(
                "style",
                format!("left:{}%;top:{}%", tenth(left), tenth(top)),
            )
            .child(
                el("svg")
                    .attr("viewBox", "-10 -10 20 20")
                    .attr("aria-hidden", "true")
                    .child(self.path),
            );
        match self.name {
            Some(name) => sign.child(el("b").text(name)),
            None => sign,
        }
    }
}

/// Radiants in a picture: a ring where trails point back to, an arrow at the edge where that is outside. `inset`: how far from the
/// edge arrows are, as a share of the picture's height. A sign that would cover another one is moved towards the middle.
pub(super) fn radiant_signs(radiants: &[RadiantMark], shape: f64, inset: f64) -> Vec<Sign> {
    let mut signs: Vec<Sign> = Vec::new();
    for radiant in radiants {
        let (at, path) = match radiant.place {
            MarkPlace::Within(x, y) => ((x, y), el("circle").attr("r", "7")),
            MarkPlace::Towards(x, y) => {
                let (half_width, half_height) = (shape / 2.0 - inset, 0.5 - inset);
                let reach = (half_width / x.abs().max(1e-6)).min(half_height / y.abs().max(1e-6));
                let mut at = (0.5 + x * reach / shape, 0.5 + y * reach);
                let step = if at.1 > 0.5 { -APART.1 } else { APART.1 };
                while signs.iter().any(|sign| {
                    (sign.at.0 - at.0).abs() * shape < APART.0 && (sign.at.1 - at.1).abs() < APART.1
                }) {
                    at.1 += step;
                }
                (at, arrow("M-8 0H7M1 -6L8 0L1 6", x, y))
            }
        };
        signs.push(Sign {
            at,
            path,
            name: Some(radiant.shower.to_string()),
        });
    }
    signs
}

/// A path drawn to the right, turned into a direction.
fn arrow(path: &'static str, x: f64, y: f64) -> Element {
    let turn = y.atan2(x).to_degrees();
    el("path")
        .attr("d", path)
        .attr("transform", format!("rotate({})", tenth(turn)))
}

/// A trail cut out, with a short line beyond each of its ends.
pub(super) fn cut_out(cut: &CutOut, side: u16, alt: &str) -> Element {
    picture(alt, (&cut.picture, side), Fitted::Own, |shape| {
        let [from, to] = cut.ends;
        let (x, y) = ((to.0 - from.0) * shape, to.1 - from.1);
        let beyond = |at, x, y| Sign {
            at,
            path: arrow("M5 0H14", x, y),
            name: None,
        };
        vec![beyond(from, -x, -y), beyond(to, x, y)]
    })
}

/// Where a radiant is, in words.
pub(super) fn told(radiant: &RadiantMark) -> String {
    let place = match radiant.place {
        MarkPlace::Within(..) => "in the picture".to_owned(),
        MarkPlace::Towards(x, y) => {
            let (right, down) = (x.abs() > 0.38, y.abs() > 0.38);
            let side = if x > 0.0 { "right" } else { "left" };
            let height = if y > 0.0 { "lower" } else { "upper" };
            match (right, down) {
                (true, true) => format!("outside it, to the {height} {side}"),
                (true, false) => format!("outside it, to the {side}"),
                _ if y > 0.0 => "outside it, below".to_owned(),
                _ => "outside it, above".to_owned(),
            }
        }
    };
    format!("radiant of {} {place}", radiant.shower)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::shower::ShowerCode;

    #[test]
    fn an_arrow_is_at_the_edge_and_told_in_words() {
        let towards = |x: f64, y: f64| RadiantMark {
            shower: ShowerCode::parse("GEM").unwrap(),
            place: MarkPlace::Towards(x, y),
        };
        for (x, y, at, words) in [
            (1.0, 0.0, (0.96, 0.5), "to the right"),
            (0.0, -1.0, (0.5, 0.06), "above"),
            (-0.6, 0.8, (0.28, 0.94), "to the lower left"),
        ] {
            let sign = &radiant_signs(&[towards(x, y)], 1.5, 0.06)[0];
            assert!(
                (sign.at.0 - at.0).abs() < 1e-9 && (sign.at.1 - at.1).abs() < 1e-9,
                "{:?}",
                sign.at
            );
            assert!(told(&towards(x, y)).ends_with(words));
        }
    }

    #[test]
    fn arrows_to_one_side_do_not_cover_one_another() {
        let towards = |code: &str, x: f64, y: f64| RadiantMark {
            shower: ShowerCode::parse(code).unwrap(),
            place: MarkPlace::Towards(x, y),
        };
        let marks = [
            towards("GEM", 0.1, -0.99),
            towards("ANT", 0.11, -0.99),
            towards("COM", 0.12, -0.99),
        ];
        let signs = radiant_signs(&marks, 0.75, 0.05);
        assert!(signs[1].at.1 - signs[0].at.1 > 0.04 && signs[2].at.1 - signs[1].at.1 > 0.04);
    }

    #[test]
    fn a_sign_follows_a_picture_that_does_not_fill_its_box() {
        let sign = || Sign {
            at: (0.0, 1.0),
            path: el("circle"),
            name: None,
        };
        // Upright: 2 to 3 in a box of 3 to 2 takes four ninths of its width.
        let upright = sign().drawn(2.0 / 3.0, Fitted::Box).markup();
        assert!(upright.contains("left:27.8%;top:100%"), "{upright}");
        let flat = sign().drawn(3.0, Fitted::Box).markup();
        assert!(flat.contains("left:0%;top:75%"), "{flat}");
    }
}
