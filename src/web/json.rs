//! What the page reads, as JSON. Decides nothing.

use std::collections::HashMap;
use std::collections::HashSet;

use serde_json::Value;
use serde_json::json;

use crate::catalogue::found_trails::KeptTrail;
use crate::catalogue::look_frames::FrameStatements;
use crate::catalogue::look_frames::LookFrame;
use crate::catalogue::stated_trails::StatedTrail;
use crate::terms::failure::Failure;
use crate::terms::night::NightFrame;
use crate::terms::printable::printable;
use crate::terms::trail::MeteorShower;
use crate::usecase::looking::over_picture::GRID;
use crate::usecase::looking::over_picture::OverPicture;
use crate::usecase::looking::over_picture::TrailNumber;
use crate::usecase::looking::scene::NightOfScene;
use crate::usecase::looking::scene::Scene;

/// A scene: its frames, and what is stated about them.
pub fn scene(scene: &Scene, statements: &HashMap<i64, FrameStatements>) -> String {
    let nights: Vec<String> = scene.nights().into_iter().collect();
    let frames: Vec<Value> = scene
        .frames
        .iter()
        .map(|f| {
            let mut value = frame(f);
            if let (Some(value), Value::Object(stated)) = (
                value.as_object_mut(),
                stated(f.frame_id, statements.get(&f.frame_id)),
            ) {
                value.extend(stated);
            }
            value
        })
        .collect();
    json!({"title": printable(&scene.title), "nights": nights, "frames": frames}).to_string()
}

/// What is stated about these frames now.
pub fn statements(frames: &[i64], statements: &HashMap<i64, FrameStatements>) -> String {
    let frames: Vec<Value> = frames
        .iter()
        .map(|id| stated(*id, statements.get(id)))
        .collect();
    json!({"frames": frames}).to_string()
}

fn frame(frame: &LookFrame) -> Value {
    json!({
        "id": frame.frame_id,
        "file": printable(&frame.file),
        "dump": printable(&frame.dump),
        "camera": frame.camera.as_deref().map(printable),
        "start_ms": frame.start_ms,
        "exposure_s": frame.exposure_s,
        "session": frame.session_id,
        "seq": frame.seq,
        "kind": frame.kind,
        "width_px": frame.width_px,
        "height_px": frame.height_px,
        "orientation": frame.orientation.unwrap_or(1),
        "night": frame.night_day,
        "has_preview": frame.preview.is_some(),
    })
}

fn stated(frame_id: i64, stated: Option<&FrameStatements>) -> Value {
    let nothing = FrameStatements::default();
    let stated = stated.unwrap_or(&nothing);
    json!({
        "id": frame_id,
        "looked": stated.look.looked.unwrap_or(false),
        "chosen": stated.look.chosen,
        "note": stated.look.note,
        "trails": stated.trails.iter().map(trail).collect::<Vec<_>>(),
        "found": stated.found.iter().map(candidate).collect::<Vec<_>>(),
    })
}

fn trail(trail: &StatedTrail) -> Value {
    let (from, to) = (trail.ends.from, trail.ends.to);
    json!({
        "trail": trail.trail_id,
        "from": [from.x_px(), from.y_px()],
        "to": [to.x_px(), to.y_px()],
        "is": trail.judged.is.word(),
        "shower": trail.judged.shower.as_ref().map(MeteorShower::word),
    })
}

fn candidate(kept: &KeptTrail) -> Value {
    let trail = &kept.trail;
    json!({
        "candidate": kept.trail_id,
        "from": [trail.from_px.0, trail.from_px.1],
        "to": [trail.to_px.0, trail.to_px.1],
        "class": trail.class.word(),
        "score": (trail.score * 1_000.0).round() / 1_000.0,
        "light": trail.light,
    })
}

/// What is over a picture and beside it.
pub fn over(over: &OverPicture) -> String {
    let point = |(x, y): (f64, f64)| json!([hundredths(x), hundredths(y)]);
    let trails: Vec<Value> = over
        .trails
        .iter()
        .map(|facts| {
            let (trail, candidate) = match facts.number {
                TrailNumber::Stated(number) => (Some(number), None),
                TrailNumber::Candidate(number) => (None, Some(number)),
            };
            json!({
                "trail": trail,
                "candidate": candidate,
                "length_deg": facts.length_deg.map(hundredths),
                "path": facts.path,
                "miss_deg": facts.miss_deg.map(|(miss, error)| [hundredths(miss), hundredths(error)]),
                "evidence": facts.evidence,
                "doubts": facts.doubts,
                "circle": facts.circle.iter().copied().map(point).collect::<Vec<_>>(),
            })
        })
        .collect();
    let radiants: Vec<Value> = over
        .radiants
        .iter()
        .map(|radiant| {
            json!({
                "shower": radiant.shower.as_str(),
                "at": radiant.at.map(point),
                "towards": point(radiant.towards),
                "away_deg": radiant.away_deg.round(),
            })
        })
        .collect();
    let stars: Vec<Value> = over
        .stars
        .iter()
        .map(|(name, at)| json!({"name": name, "at": point(*at)}))
        .collect();
    json!({"pointing": over.is_pointing_known, "trails": trails, "radiants": radiants, "stars": stars})
        .to_string()
}

/// A grid by which a frame is turned into the place of another; `null` where that is not known.
pub fn grid(nodes: Option<&[Option<(f64, f64)>]>) -> String {
    let nodes: Option<Vec<Value>> = nodes.map(|nodes| {
        let point =
            |at: &Option<(f64, f64)>| json!(at.map(|(x, y)| [hundredths(x), hundredths(y)]));
        nodes.iter().map(point).collect()
    });
    json!({"columns": GRID.0, "rows": GRID.1, "nodes": nodes}).to_string()
}

fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// A night: its maps, and the facts of its frames by number.
pub fn night(night: &NightOfScene, on_page: &HashSet<i64>) -> String {
    let maps: Vec<Value> = night
        .maps
        .iter()
        .map(|map| {
            json!({
                "site": map.site.as_deref().map(printable),
                "sessions": map.sessions,
                "drawings": map.drawings.iter().map(|d| json!({"svg": d.svg, "extent": d.extent})).collect::<Vec<_>>(),
                "span_ms": [map.span_ms.0, map.span_ms.1],
                "offsets_ms": map.offsets_ms,
                "hours": map.hours,
            })
        })
        .collect();
    let facts: serde_json::Map<String, Value> = night
        .frames
        .iter()
        .filter(|(id, _)| on_page.contains(id))
        .map(|(id, frame)| (id.to_string(), facts(frame)))
        .collect();
    json!({"maps": maps, "facts": facts}).to_string()
}

fn facts(frame: &NightFrame) -> Value {
    let round = |value: Option<f64>| value.map(|value| (value * 10.0).round() / 10.0);
    let radiants: Vec<Value> = frame
        .radiants
        .iter()
        .map(|radiant| {
            json!([
                radiant.shower.as_str(),
                round(Some(radiant.alt_deg)),
                round(Some(radiant.az_deg)),
                round(Some(radiant.rate))
            ])
        })
        .collect();
    json!({
        "lens": frame.lens.as_deref().map(printable),
        "start_utc": frame.start_utc.map(|at| at.to_string()),
        "time_error_s": frame.time_error_s,
        "f_number": frame.f_number,
        "iso": frame.iso,
        "focal_mm": frame.focal_mm,
        "health": frame.health,
        "sun_alt_deg": round(frame.sun_alt_deg),
        "moon_alt_deg": round(frame.moon_alt_deg),
        "moon_lit": frame.moon_lit,
        "radiants": radiants,
    })
}

/// A refusal in words.
pub fn problem(failure: &Failure) -> String {
    json!({"problem": printable(&failure.message), "hint": failure.hint.as_deref().map(printable)})
        .to_string()
}

/// A refusal of a request that no page sends.
pub fn refusal(words: &str) -> String {
    json!({"problem": words}).to_string()
}

/// What was done, in words.
pub fn done(words: &str) -> String {
    json!({"done": printable(words)}).to_string()
}
