//! A statement in words.

use crate::terms::basis::Kind;
use crate::terms::clock::Before;
use crate::terms::statement::Act;
use crate::terms::statement::Body;
use crate::terms::trail::TrailEnds;
use crate::usecase::clocks::limits::limit_words;
use crate::usecase::clocks::limits::stretch_words;

/// The content of a statement, in words.
pub(crate) fn act_words(act: &Act) -> String {
    match act {
        Act::Zone(body, zone) => format!(
            "{} set to {}{}",
            body_words(body),
            zone.zone,
            stretch_words((zone.from, zone.until))
        ),
        Act::ZoneRemoval(body, from, until) => {
            format!(
                "zone of {}{}",
                body_words(body),
                stretch_words((*from, *until))
            )
        }
        Act::Fix(body, fix) => format!(
            "{} read {} at {}{}{}",
            body_words(body),
            fix.reading,
            fix.true_utc,
            if fix.before == Before::Reset {
                ", reset before"
            } else {
                ""
            },
            limit_words(fix.limits())
        ),
        Act::FixRemoval(body, (reading, limits)) => format!(
            "fix of {} at {reading}{}",
            body_words(body),
            limit_words(*limits)
        ),
        Act::Site(site) => format!(
            "{}: {:.5}, {:.5}, {} m",
            site.name,
            site.place.lat_deg(),
            site.place.lon_deg(),
            site.place.elev_m()
        ),
        Act::SiteChange(was, site) => format!(
            "{} is {}: {:.5}, {:.5}, {} m",
            was.name,
            site.name,
            site.place.lat_deg(),
            site.place.lon_deg(),
            site.place.elev_m()
        ),
        Act::SiteRemoval(site) | Act::Place(site) => site.name.clone(),
        Act::Kind(kind) => kind.map_or("none", Kind::word).to_owned(),
        Act::Focal(focal_mm) => focal_mm.map_or_else(|| "none".to_owned(), |mm| format!("{mm} mm")),
        Act::Looked(looked) => yes_no(*looked).to_owned(),
        Act::Chosen(chosen) => chosen.map_or("none", yes_no).to_owned(),
        Act::Note(note) => note.clone().unwrap_or_else(|| "none".to_owned()),
        Act::Trail(ends, judged) => {
            let what = judged.as_ref().map_or("none", |judged| judged.is.word());
            let shower = judged.as_ref().and_then(|judged| judged.shower.as_ref());
            let shower = shower.map_or_else(String::new, |shower| format!(" ({})", shower.word()));
            let TrailEnds { from, to } = ends;
            let (from_x, from_y, to_x, to_y) = (from.x_px(), from.y_px(), to.x_px(), to.y_px());
            format!("{from_x},{from_y} to {to_x},{to_y}: {what}{shower}")
        }
        Act::Pointing(None) => "none".to_owned(),
        Act::Pointing(Some(one)) => one.words(),
        Act::Track(name, points) => format!("{name}, {} points", points.len()),
        Act::TrackRemoval(name) => name.clone(),
        Act::Query(name, query, _) => format!("@{name}: {query}"),
        Act::QueryRemoval(name) => format!("@{name}"),
        Act::Label(dump, label, _) => format!("{dump} is {label}"),
    }
}

const fn yes_no(said: bool) -> &'static str {
    if said { "yes" } else { "no" }
}

/// The name of a body as it is shown: model, or else maker, and serial number.
fn body_words(body: &Body) -> String {
    let model = body.model.as_ref().or(body.make.as_ref());
    [model, body.serial.as_ref()]
        .into_iter()
        .flatten()
        .cloned()
        .collect::<Vec<_>>()
        .join(" ")
}
