//! How lenses draw stars at each aperture, as curves and a table of the archive's page. The only sums are places on the page.

use std::fmt::Write as _;

use crate::report::html::Element;
use crate::report::html::classed;
use crate::report::html::el;
use crate::report::html::tenth;
use crate::report::plot;
use crate::report::plot::Size;
use crate::report::plot::label;
use crate::report::shapes;
use crate::report::tables::Holds::Figures;
use crate::report::tables::Holds::Words;
use crate::report::tables::table;
use crate::report::words;
use crate::terms::lens_use::LensUse;

/// Corners are clean where their stars are at most so many times as wide as those in the middle.
///
/// Source: our choice.
const CLEAN: f64 = 1.25;
/// An aperture with fewer measured frames says little of a lens.
///
/// Source: our choice.
const FEWEST: u64 = 5;
/// Lenses with a drawing of their own.
const DRAWN: usize = 12;

const HEIGHT: f64 = 184.0;
const LEFT: f64 = 40.0;
const RIGHT: f64 = 340.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 160.0;

/// The section; nothing where no stars were measured in middle and corners.
pub(super) fn lenses(uses: &[LensUse]) -> Vec<Element> {
    let measured: Vec<&LensUse> = uses.iter().filter(|one| one.measured > 0).collect();
    if measured.is_empty() {
        return Vec::new();
    }
    let mut by_lens: Vec<Vec<&LensUse>> = Vec::new();
    for one in &measured {
        match by_lens.last_mut() {
            Some(lens) if lens[0].lens == one.lens && lens[0].focal_mm == one.focal_mm => {
                lens.push(one);
            }
            _ => by_lens.push(vec![one]),
        }
    }
    let several = by_lens.iter().filter(|lens| points(lens).len() > 1);
    let drawings = several.take(DRAWN).enumerate().map(|(k, lens)| {
        el("figure")
            .child(drawing(lens, k))
            .child(el("figcaption").text(format!("{}. {}", name(lens[0]), verdict(lens))))
    });
    vec![
        el("h2").text("Lenses"),
        classed("p", "note").text(
            "Median width of star images at half maximum, in pixels of the full picture: solid in the middle, dashed in the corners. Wide \
             corners are coma and astigmatism, which a smaller aperture cleans up; focus and long exposures widen both.",
        ),
        classed("div", "charts").children(drawings),
        listed(&measured),
    ]
}

fn name(one: &LensUse) -> String {
    let lens = one.lens.as_deref().unwrap_or("lens unknown");
    match one.focal_mm {
        Some(mm) => format!("{lens} at {} mm", words::number(mm, 1)),
        None => lens.to_owned(),
    }
}

/// The apertures of a lens with enough frames: f-number, middle, corners.
fn points(lens: &[&LensUse]) -> Vec<(f64, f64, f64)> {
    lens.iter()
        .filter(|one| one.measured >= FEWEST)
        .filter_map(|one| Some((one.f_number?, one.star_width_px?, one.corner_width_px?)))
        .collect()
}

/// From which aperture on the corners are clean.
fn verdict(lens: &[&LensUse]) -> String {
    let all = points(lens);
    // Clean there and at every smaller aperture.
    let dirty = all
        .iter()
        .rposition(|(_, middle, corner)| corner / middle > CLEAN);
    match dirty {
        None => "Corners are clean at every aperture used.".to_owned(),
        Some(last) => match all.get(last + 1) {
            Some((clean, _, _)) => {
                format!("Corners are clean from f/{} on.", words::number(*clean, 1))
            }
            None => "Corners are clean at no aperture used.".to_owned(),
        },
    }
}

fn drawing(lens: &[&LensUse], k: usize) -> Element {
    let all = points(lens);
    let (first, last) = (all[0].0, all[all.len() - 1].0);
    let greatest = all.iter().map(|p| p.1.max(p.2)).fold(1.0, f64::max) * 1.1;
    // Apertures are steps of a ratio.
    let x = |f: f64| LEFT + 20.0 + (RIGHT - LEFT - 40.0) * (f / first).ln() / (last / first).ln();
    let y = |px: f64| BOTTOM - (BOTTOM - TOP) * px / greatest;
    let told: Vec<String> = all
        .iter()
        .map(|(f, middle, corner)| {
            format!(
                "f/{}: {} px in the middle, {} px in the corners.",
                words::number(*f, 1),
                words::number(*middle, 1),
                words::number(*corner, 1)
            )
        })
        .collect();
    let mut svg = plot::drawing(
        Size::Narrow,
        &format!("lens{k}"),
        HEIGHT,
        &format!("Width of stars by aperture: {}", name(lens[0])),
        &told.join(" "),
    )
    .attr("data-chart", "");
    let rule = |y: f64| shapes::line("grid", (LEFT, y), (RIGHT, y));
    let step = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0]
        .into_iter()
        .find(|step| greatest / step <= 6.0)
        .unwrap_or(greatest);
    let mut px = 0.0;
    while px <= greatest {
        svg = svg.child(rule(y(px))).child(label(
            "tick end",
            LEFT - 5.0,
            y(px) + 4.0,
            words::number(px, 1),
        ));
        px += step;
    }
    svg = svg.child(label("tick", 2.0, 10.0, "px"));
    let mut taken = f64::MIN;
    for (f, _, _) in &all {
        if x(*f) - taken < 26.0 {
            continue;
        }
        taken = x(*f);
        svg = svg.child(label(
            "tick mid",
            taken,
            BOTTOM + 16.0,
            format!("f/{}", words::number(*f, 1)),
        ));
    }
    let line = |class: &'static str, of: &dyn Fn(&(f64, f64, f64)) -> f64| {
        let mut path = String::new();
        for (k, point) in all.iter().enumerate() {
            let pen = if k == 0 { 'M' } else { 'L' };
            let _ = write!(path, "{pen}{} {}", tenth(x(point.0)), tenth(y(of(point))));
        }
        let dots = all
            .iter()
            .map(|point| shapes::circle("dot", (x(point.0), y(of(point))), 2.5));
        el("g").child(shapes::path(class, path)).children(dots)
    };
    svg.child(line("state", &|point| point.1))
        .child(line("state dashed", &|point| point.2))
}

fn listed(uses: &[&LensUse]) -> Element {
    let px = |value: Option<f64>| value.map_or("–".to_owned(), |px| words::number(px, 2));
    let rows = uses.iter().map(|one| {
        vec![
            name(one),
            one.f_number
                .map_or("–".to_owned(), |f| format!("f/{}", words::number(f, 1))),
            one.frames.to_string(),
            one.measured.to_string(),
            px(one.star_width_px),
            px(one.corner_width_px),
            px(one.corner_ratio()),
        ]
    });
    table(
        "Width of stars by lens and aperture",
        &[
            ("lens", Words),
            ("aperture", Figures),
            ("frames", Figures),
            ("measured", Figures),
            ("star width, px", Figures),
            ("corner width, px", Figures),
            ("corner ratio", Figures),
        ],
        rows,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn used(f: f64, middle: f64, corner: f64) -> LensUse {
        LensUse {
            lens: Some("Nocta 20 <1.8>".into()),
            focal_mm: Some(20.0),
            f_number: Some(f),
            frames: 9,
            measured: 9,
            star_width_px: Some(middle),
            corner_width_px: Some(corner),
        }
    }

    #[test]
    fn the_aperture_that_cleans_up_the_corners_is_named() {
        let uses = [
            used(1.8, 2.0, 5.0),
            used(2.8, 2.0, 2.4),
            used(4.0, 2.1, 2.2),
        ];
        let verdict_of = |uses: &[LensUse]| verdict(&uses.iter().collect::<Vec<_>>());
        assert_eq!(verdict_of(&uses), "Corners are clean from f/2.8 on.");
        assert_eq!(
            verdict_of(&uses[1..]),
            "Corners are clean at every aperture used."
        );
        assert_eq!(
            verdict_of(&uses[..1]),
            "Corners are clean at no aperture used."
        );
        let page: String = lenses(&uses).iter().map(Element::markup).collect();
        assert!(
            page.contains("Nocta 20 &lt;1.8&gt; at 20 mm")
                && page.contains("f/1.8: 2 px in the middle, 5 px"),
            "{page}"
        );
        assert!(
            lenses(&[LensUse {
                measured: 0,
                ..used(2.0, 1.0, 1.0)
            }])
            .is_empty()
        );
    }
}
