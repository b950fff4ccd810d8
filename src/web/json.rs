//! What the page reads, as JSON. Decides nothing.

use std::collections::HashMap;

use serde_json::Value;
use serde_json::json;

use crate::catalogue::look_frames::Candidate;
use crate::catalogue::look_frames::FrameStatements;
use crate::catalogue::look_frames::LookFrame;
use crate::catalogue::stated_trails::StatedTrail;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::terms::night::NightFrame;
use crate::terms::printable::printable;
use crate::terms::trail::MeteorShower;
use crate::usecase::looking::over_picture::GRID;
use crate::usecase::looking::over_picture::OverPicture;
use crate::usecase::looking::over_picture::TrailNumber;
use crate::usecase::looking::scene::NightMap;
use crate::usecase::looking::scene::Scene;

/// A scene: its version, its title, its nights, a row for each frame, and what is stated about them. Rows instead of objects: a night
/// has thousands.
pub fn scene(
    version: &str,
    scene: &Scene,
    ids: &[i64],
    statements: &HashMap<i64, FrameStatements>,
) -> String {
    let frame = |f: &LookFrame| {
        json!([
            f.frame_id,
            printable(&f.file),
            f.start_ms,
            f.exposure_s,
            f.session_id,
            f.seq,
            f.width_px,
            f.height_px,
            f.orientation.unwrap_or(1),
        ])
    };
    let frames: Vec<Value> = scene.frames.iter().map(frame).collect();
    let has_some: Vec<i64> = ids
        .iter()
        .copied()
        .filter(|id| statements.contains_key(id))
        .collect();
    let stated = rows(&has_some, statements);
    let title = printable(&scene.title);
    json!([version, title, scene.nights(), frames, stated]).to_string()
}

/// A scene within the page, and the picture that it shows first, so that the page need not ask for either.
pub fn opening(scene: &str, first: i64) -> String {
    format!(
        "<link rel=\"preload\" as=\"fetch\" crossorigin href=\"picture/{first}\">\n\
         <script type=\"application/json\" id=\"scene\">{}</script>",
        // Nothing in it ends the element.
        scene.replace('<', "\\u003c")
    )
}

/// What is stated about these frames now, and what was found in them.
pub fn statements(frames: &[i64], statements: &HashMap<i64, FrameStatements>) -> String {
    Value::from(rows(frames, statements)).to_string()
}

fn rows(frames: &[i64], statements: &HashMap<i64, FrameStatements>) -> Vec<Value> {
    let nothing = FrameStatements::default();
    let row = |frame_id: &i64| {
        let stated = statements.get(frame_id).unwrap_or(&nothing);
        json!([
            frame_id,
            stated.look.looked.unwrap_or(false),
            stated.look.chosen,
            stated.look.note,
            stated.trails.iter().map(trail).collect::<Vec<_>>(),
            stated.found.iter().map(candidate).collect::<Vec<_>>(),
        ])
    };
    frames.iter().map(row).collect()
}

fn trail(trail: &StatedTrail) -> Value {
    let (from, to) = (trail.ends.from, trail.ends.to);
    let shower = trail.judged.shower.as_ref().map(MeteorShower::word);
    let is = trail.judged.is.word();
    json!([
        trail.trail_id,
        from.x_px(),
        from.y_px(),
        to.x_px(),
        to.y_px(),
        is,
        shower
    ])
}

fn candidate(found: &Candidate) -> Value {
    let (from, to) = (found.from_px, found.to_px);
    let score = (found.score * 1_000.0).round() / 1_000.0;
    json!([
        found.trail_id,
        from.0,
        from.1,
        to.0,
        to.1,
        found.class.word(),
        score,
        found.light
    ])
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
    let facts = over.frame.as_ref().map(facts);
    json!({"facts": facts, "pointing": over.is_pointing_known, "trails": trails, "radiants": radiants, "stars": stars})
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

/// The maps of a night.
pub fn maps(maps: &[NightMap]) -> String {
    let map = |map: &NightMap| {
        let drawings = map.drawings.iter();
        let drawings: Vec<Value> = drawings.map(|d| json!([d.svg, d.extent])).collect();
        json!({
            "site": map.site.as_deref().map(printable),
            "sessions": map.sessions,
            "drawings": drawings,
            "span_ms": map.span_ms,
            "offsets_ms": map.offsets_ms,
            "hours": map.hours,
        })
    };
    Value::from(maps.iter().map(map).collect::<Vec<_>>()).to_string()
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
        "dump": printable(&frame.dump),
        "kind": frame.kind.map(Kind::word),
        "camera": frame.camera.as_deref().map(printable),
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
