//! One session close up: its frames along its own hours, with the radiants over them. SVG, no sums.

use crate::report::axis::TimeAxis;
use crate::report::html::Element;
use crate::report::lane;
use crate::report::night::Part;
use crate::report::night::SessionPart;
use crate::report::plot;
use crate::report::plot::Area;
use crate::report::plot::CURVES;
use crate::report::plot::Size;
use crate::report::plot::label;
use crate::report::shapes::path;
use crate::report::sky_state;
use crate::report::words;

/// A session's own plot; nothing for a session without length.
pub(super) fn strip(part: &Part, session: &SessionPart, id: &str, size: Size) -> Option<Element> {
    let (from, to) = lane::span_ms(session)?;
    if session.frames.len() < 2 {
        return None;
    }
    let room = ((to - from) / 50).max(1_000);
    let axis = TimeAxis {
        from_ms: from - room,
        to_ms: to + room,
        left: 34.0,
        right: size.width() - 40.0,
    };
    let sky = part.sky.as_ref();
    let area = Area {
        axis,
        top: 18.0,
        height: if sky.is_some() { 110.0 } else { 0.0 },
    };
    let lane_top = area.top + area.height + if sky.is_some() { 26.0 } else { 6.0 };
    let states_top = lane_top + lane::HEIGHT + 8.0;
    let bottom = states_top + sky_state::height(session);
    let mut svg = plot::drawing(
        size,
        id,
        bottom + 22.0,
        &format!("The frames of session {}", session.number),
        &told(part, session, from, to),
    );
    if let Some(sky) = sky {
        svg = svg.child(area.twilight(sky)).child(area.grid(30));
    }
    svg = svg.child(plot::hours(
        part,
        &axis,
        size.ticks() / 2 + 2,
        area.top,
        bottom,
    ));
    let mut names: Vec<(f64, String, &'static str)> = Vec::new();
    for (track, class) in part.tracks().into_iter().zip(CURVES) {
        let over: Vec<(i64, f64)> = session
            .frames
            .iter()
            .filter_map(|frame| {
                let radiant = frame.radiants.iter().find(|r| r.shower == track.shower)?;
                Some((frame.mid_utc?.unix_ms(), radiant.alt_deg))
            })
            .collect();
        let way = area.curve(over.iter().copied());
        if way.is_empty() {
            continue;
        }
        svg = svg.child(path(format!("curve {class}"), way));
        if let Some((_, alt)) = over.last().filter(|(_, alt)| *alt > 0.0) {
            names.push((area.y(*alt), track.shower.to_string(), class));
        }
    }
    push_apart(&mut names, area.top, area.top + area.height);
    for (y, name, class) in names {
        svg = svg.child(label("name", axis.right + 4.0, y + 4.0, name).attr("data-curve", class));
    }
    Some(
        svg.child(lane::lane(session, &axis, lane_top))
            .child(sky_state::drawn(session, &axis, states_top)),
    )
}

/// Moves overlapping names apart, and keeps them between top and bottom.
fn push_apart(names: &mut [(f64, String, &'static str)], top: f64, bottom: f64) {
    const LINE: f64 = 13.0;
    names.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut lowest = top - LINE;
    for name in names.iter_mut() {
        name.0 = name.0.max(lowest + LINE);
        lowest = name.0;
    }
    let mut highest = bottom + LINE;
    for name in names.iter_mut().rev() {
        name.0 = name.0.min(highest - LINE);
        highest = name.0;
    }
}

fn told(part: &Part, session: &SessionPart, from: i64, to: i64) -> String {
    let mut told = vec![format!(
        "{} from {} to {}, {}.",
        words::lane_name(session, false),
        part.hours.second(from),
        part.hours.second(to),
        part.hours.label()
    )];
    for gap in &session.gaps {
        if let Some(at) = session.frames.get(gap.after).and_then(lane::end_ms) {
            told.push(format!(
                "Gap of {} from {}.",
                words::duration(gap.length_s),
                part.hours.second(at)
            ));
        }
    }
    told.extend(sky_state::told(session));
    told.join(" ")
}
