//! The altitude curves of a night without its frames, as the map of the page to look. No sums.

use crate::report::axis::TimeAxis;
use crate::report::night::NightReport;
use crate::report::night::Part;
use crate::report::plot::Area;
use crate::report::plot::Size;
use crate::report::plot::curves;
use crate::report::plot::drawing;
use crate::report::plot::hours;
use crate::report::plot::moon;
use crate::report::plot::shown_ms;
use crate::report::words;

/// The map of one place.
#[derive(Clone, Debug, PartialEq)]
pub struct LookMap {
    /// The site's name.
    pub site: Option<String>,
    /// The sessions there.
    pub sessions: Vec<i64>,
    /// The drawings, for a wide and for a narrow screen.
    pub drawings: Vec<MapDrawing>,
    /// The axis: from and to, in milliseconds from 1970 UTC (by the camera clock if UTC is unknown).
    pub span_ms: (i64, i64),
    /// Local time less UTC from points of the axis on, in milliseconds.
    pub offsets_ms: Vec<(i64, i64)>,
    /// What the hours are.
    pub hours: String,
}

/// A drawing of a map.
#[derive(Clone, Debug, PartialEq)]
pub struct MapDrawing {
    /// As SVG.
    pub svg: String,
    /// Where the axis begins and ends, the width and the height, in units of the drawing.
    pub extent: [f64; 4],
}

/// The maps of a night.
pub fn look_maps(report: &NightReport) -> Vec<LookMap> {
    let maps = report.parts.iter().enumerate();
    maps.filter_map(|(k, part)| map(part, k)).collect()
}

fn map(part: &Part, k: usize) -> Option<LookMap> {
    let span_ms = shown_ms(part)?;
    Some(LookMap {
        site: part.site.as_ref().map(|site| site.name.clone()),
        sessions: part.sessions.iter().map(|session| session.number).collect(),
        drawings: [Size::Wide, Size::Narrow]
            .into_iter()
            .map(|size| drawn(part, k, size, span_ms))
            .collect(),
        span_ms,
        offsets_ms: part.hours.offsets(span_ms.0),
        hours: part.hours.label(),
    })
}

fn drawn(part: &Part, k: usize, size: Size, (from_ms, to_ms): (i64, i64)) -> MapDrawing {
    let axis = TimeAxis {
        from_ms,
        to_ms,
        left: 34.0,
        right: size.width() - 10.0,
    };
    let area = Area {
        axis,
        top: 6.0,
        height: if part.sky.is_none() { 0.0 } else { 130.0 },
    };
    let bottom = area.top + area.height;
    let height = bottom + 22.0;
    let mut svg = drawing(
        size,
        &format!("map{k}"),
        height,
        "Altitudes of the radiants over the night",
        &words::night_told(part, from_ms, to_ms),
    );
    if let Some(sky) = &part.sky {
        svg = svg.child(area.twilight(sky)).child(area.grid(30));
    }
    svg = svg.child(hours(part, &axis, size.ticks(), area.top, bottom));
    if let Some(sky) = &part.sky {
        svg = svg.child(moon(sky, &area)).child(curves(part, &area));
    }
    MapDrawing {
        svg: svg.markup(),
        extent: [axis.left, axis.right, size.width(), height],
    }
}
