//! The content of a statement as JSON, in both directions.

use serde_json::Value;
use serde_json::json;

use crate::framelist::json_object::Keys;
use crate::framelist::statement_pointing::pointing;
use crate::framelist::statement_pointing::pointing_value;
use crate::terms::basis::Kind;
use crate::terms::clock::Before;
use crate::terms::clock::ClockFix;
use crate::terms::clock::ZoneStated;
use crate::terms::frame_marks::FileMark;
use crate::terms::frame_marks::FrameMark;
use crate::terms::hex::bytes_of_hex;
use crate::terms::hex::hex;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::site::SiteOrigin;
use crate::terms::site::SkyBrightness;
use crate::terms::statement::Act;
use crate::terms::statement::Body;
use crate::terms::statement::SiteRef;
use crate::terms::statement::note_of;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::terms::track::TrackPoint;
use crate::terms::trail::Judgement;
use crate::terms::trail::MeteorShower;
use crate::terms::trail::PicturePoint;
use crate::terms::trail::TrailEnds;
use crate::terms::trail::TrailIs;

/// The content of a statement.
pub(super) fn content(act: &Act) -> Value {
    let limit = |at: Option<WallTime>| at.map(|at| at.to_string());
    match act {
        Act::Zone(body, zone) => json!({
            "body": body_value(body), "zone": zone.zone, "from": limit(zone.from), "until": limit(zone.until),
        }),
        Act::ZoneRemoval(body, from, until) => json!({
            "body": body_value(body), "from": limit(*from), "until": limit(*until),
        }),
        Act::Fix(body, fix) => json!({
            "body": body_value(body), "reading": fix.reading.to_string(), "true_utc": fix.true_utc.to_string(),
            "reset_before": fix.before == Before::Reset, "from": limit(fix.from), "until": limit(fix.until),
            "frames": fix.frames.map(|set| hex(&set)),
        }),
        Act::FixRemoval(body, (reading, (from, until, frames))) => json!({
            "body": body_value(body), "reading": reading.to_string(), "from": limit(*from), "until": limit(*until),
            "frames": frames.map(|set| hex(&set)),
        }),
        Act::Site(site) => site_value(site),
        Act::SiteChange(site, to) => json!({"site": site_ref_value(site), "to": site_value(to)}),
        Act::SiteRemoval(site) | Act::Place(site) => json!({"site": site_ref_value(site)}),
        Act::Kind(kind) => json!({"kind": kind.map(Kind::word)}),
        Act::Focal(focal_mm) => json!({"focal_mm": focal_mm}),
        Act::Looked(looked) => json!({"looked": looked}),
        Act::Chosen(chosen) => json!({"chosen": chosen}),
        Act::Note(note) => json!({"note": note}),
        Act::Trail(ends, judged) => trail_value(*ends, judged.as_ref()),
        Act::Pointing(None) => json!({
            "mount": null, "solved_local": null, "camera": null, "residual_px": null,
        }),
        Act::Pointing(Some(one)) => pointing_value(one),
        Act::Track(name, points) => {
            let points: Vec<Value> = points
                .iter()
                .map(|p| json!([p.at.to_string(), p.segment, p.lat_deg, p.lon_deg, p.elev_m]))
                .collect();
            json!({"name": name, "points": points})
        }
        Act::TrackRemoval(name) | Act::QueryRemoval(name) => json!({"name": name}),
        Act::Query(name, query, saved) => {
            json!({"name": name, "query": query, "saved_utc": saved.map(|at| at.to_string())})
        }
        Act::Label(dump, label, file) => {
            json!({"dump": dump, "label": label, "file": file.as_ref().map(mark_value)})
        }
    }
}

/// A statement from its type and its content.
pub(super) fn act(word: &str, value: &Value) -> Result<Act, String> {
    let of = Keys::of(value, "content")?;
    let limits = || Ok::<_, String>((of.known("from", reading)?, of.known("until", reading)?));
    // Absent in statements of earlier versions.
    let frames = || {
        of.known("frames", |v| {
            bytes_of_hex(v.as_str()?.as_bytes())?.try_into().ok()
        })
    };
    let site = |key: &str| site_ref(of.get(key));
    let name = || of.text("name").map(str::to_owned);
    Ok(match word {
        "zone" => {
            let (from, until) = limits()?;
            let zone = of.text("zone")?.to_owned();
            Act::Zone(
                body(of.get("body"))?,
                ZoneStated {
                    id: 0,
                    zone,
                    from,
                    until,
                },
            )
        }
        "zone-removal" => {
            let (from, until) = limits()?;
            Act::ZoneRemoval(body(of.get("body"))?, from, until)
        }
        "fix" => {
            let (from, until) = limits()?;
            let reset = of.get("reset_before").as_bool();
            let fix = ClockFix {
                id: 0,
                reading: of.needed("reading", reading)?,
                true_utc: of.needed("true_utc", |v| v.as_str().and_then(Utc::parse))?,
                written_offset_s: None,
                before: if reset.ok_or_else(|| of.wrong("reset_before"))? {
                    Before::Reset
                } else {
                    Before::RanOn
                },
                from,
                until,
                frames: frames()?,
            };
            Act::Fix(body(of.get("body"))?, fix)
        }
        "fix-removal" => {
            let (from, until) = limits()?;
            let at = of.needed("reading", reading)?;
            Act::FixRemoval(body(of.get("body"))?, (at, (from, until, frames()?)))
        }
        "site" => Act::Site(site_of(value)?),
        "site-change" => Act::SiteChange(site("site")?, site_of(of.get("to"))?),
        "site-removal" => Act::SiteRemoval(site("site")?),
        "place" => Act::Place(site("site")?),
        "kind" => Act::Kind(of.known("kind", |v| Kind::from_word(v.as_str()?))?),
        "focal" => Act::Focal(of.known("focal_mm", |v| v.as_f64().filter(|mm| *mm > 0.0))?),
        "looked" => Act::Looked(of.needed("looked", Value::as_bool)?),
        "chosen" => Act::Chosen(of.known("chosen", Value::as_bool)?),
        "note" => Act::Note(of.known("note", |v| note_of(v.as_str()?))?),
        "trail" => trail(&of)?,
        "pointing" => match of.get("camera") {
            Value::Null => Act::Pointing(None),
            camera => Act::Pointing(Some(pointing(&of, camera)?)),
        },
        "track" => {
            let points = of.get("points").as_array().filter(|all| !all.is_empty());
            let points: Option<Vec<TrackPoint>> =
                points.and_then(|all| all.iter().map(point).collect());
            let rising = |all: &Vec<TrackPoint>| all.windows(2).all(|two| two[0].at < two[1].at);
            let points = points.filter(rising).ok_or_else(|| of.wrong("points"))?;
            Act::Track(name()?, points)
        }
        "track-removal" => Act::TrackRemoval(name()?),
        "query" => Act::Query(
            name()?,
            of.text("query")?.to_owned(),
            of.known("saved_utc", |v| v.as_str().and_then(Utc::parse))?,
        ),
        "query-removal" => Act::QueryRemoval(name()?),
        "label" => Act::Label(
            of.text("dump")?.to_owned(),
            of.text("label")?.to_owned(),
            of.known("file", mark)?,
        ),
        _ => return Err(format!("'{word}' is not a type of statement")),
    })
}

fn body_value(body: &Body) -> Value {
    json!({"make": body.make, "model": body.model, "serial": body.serial})
}

fn body(value: &Value) -> Result<Body, String> {
    let of = Keys::of(value, "body")?;
    let text = |key: &str| of.known(key, |v| v.as_str().map(str::to_owned));
    let body = Body {
        make: text("make")?,
        model: text("model")?,
        serial: text("serial")?,
    };
    if body == Body::default() {
        return Err(of.wrong("make"));
    }
    Ok(body)
}

fn site_value(site: &Site) -> Value {
    let (sqm, limiting) = match site.brightness {
        Some(SkyBrightness::Sqm(sqm)) => (Some(sqm), None),
        Some(SkyBrightness::LimitingMagnitude(magnitude)) => (None, Some(magnitude)),
        None => (None, None),
    };
    json!({
        "name": site.name, "lat_deg": site.place.lat_deg(), "lon_deg": site.place.lon_deg(), "elev_m": site.place.elev_m(),
        "zone": site.zone, "sqm_mag": sqm, "limiting_mag": limiting,
        "made_from": match site.origin {
            SiteOrigin::Stated => None,
            SiteOrigin::Exif => Some("positions"),
            SiteOrigin::Track => Some("track"),
        },
    })
}

fn site_of(value: &Value) -> Result<Site, String> {
    let of = Keys::of(value, "site")?;
    let SiteRef { name, place } = site_ref(value)?;
    let sqm = of.known("sqm_mag", |v| {
        v.as_f64().filter(|m| (14.0..=23.0).contains(m))
    })?;
    let limiting = of.known("limiting_mag", |v| {
        v.as_f64().filter(|m| (0.0..=8.0).contains(m))
    })?;
    Ok(Site {
        id: 0,
        name,
        place,
        zone: of.known("zone", |v| v.as_str().map(str::to_owned))?,
        origin: of
            .known("made_from", |v| match v.as_str() {
                Some("positions") => Some(SiteOrigin::Exif),
                Some("track") => Some(SiteOrigin::Track),
                _ => None,
            })?
            .unwrap_or(SiteOrigin::Stated),
        brightness: sqm
            .map(SkyBrightness::Sqm)
            .or(limiting.map(SkyBrightness::LimitingMagnitude)),
    })
}

fn site_ref_value(site: &SiteRef) -> Value {
    json!({
        "name": site.name, "lat_deg": site.place.lat_deg(), "lon_deg": site.place.lon_deg(), "elev_m": site.place.elev_m(),
    })
}

fn site_ref(value: &Value) -> Result<SiteRef, String> {
    let of = Keys::of(value, "site")?;
    let number = |key: &str| of.needed(key, Value::as_f64);
    let place = Place::new(number("lat_deg")?, number("lon_deg")?, number("elev_m")?);
    let name = of.text("name")?;
    if name.is_empty() || name != name.trim() || name.chars().any(char::is_control) {
        return Err(of.wrong("name"));
    }
    Ok(SiteRef {
        name: name.to_owned(),
        place: place.ok_or_else(|| of.wrong("lat_deg"))?,
    })
}

fn mark_value(mark: &FrameMark) -> Value {
    match &mark.file {
        FileMark::Print(print) => json!({"clock_s": mark.clock_s, "fingerprint": hex(print)}),
        FileMark::Named(name, size) => {
            json!({"clock_s": mark.clock_s, "name": name, "bytes": size})
        }
    }
}

fn mark(value: &Value) -> Option<FrameMark> {
    let file = match value.get("fingerprint") {
        Some(print) => FileMark::Print(bytes_of_hex(print.as_str()?.as_bytes())?),
        None => FileMark::Named(
            value.get("name")?.as_str()?.to_owned(),
            value.get("bytes")?.as_u64()?,
        ),
    };
    Some(FrameMark {
        clock_s: value.get("clock_s").and_then(Value::as_i64),
        file,
    })
}

fn trail_value(ends: TrailEnds, judged: Option<&Judgement>) -> Value {
    let px = |at: PicturePoint| json!([at.x_px(), at.y_px()]);
    let shower = judged.and_then(|judged| judged.shower.as_ref());
    json!({
        "from_px": px(ends.from), "to_px": px(ends.to), "is": judged.map(|judged| judged.is.word()),
        "shower": shower.map(MeteorShower::word),
    })
}

fn trail(of: &Keys<'_>) -> Result<Act, String> {
    let px = |value: &Value| {
        let [x, y] = value.as_array()?.as_slice() else {
            return None;
        };
        PicturePoint::from_px(x.as_f64()?, y.as_f64()?)
    };
    let ends = TrailEnds {
        from: of.needed("from_px", px)?,
        to: of.needed("to_px", px)?,
    };
    let is = of.known("is", |v| TrailIs::from_word(v.as_str()?))?;
    let shower = of.known("shower", |v| MeteorShower::from_word(v.as_str()?))?;
    if shower.is_some() && is != Some(TrailIs::Meteor) {
        return Err(of.wrong("shower"));
    }
    Ok(Act::Trail(ends, is.map(|is| Judgement { is, shower })))
}

fn point(value: &Value) -> Option<TrackPoint> {
    let [at, segment, lat, lon, elev] = value.as_array()?.as_slice() else {
        return None;
    };
    let (lat_deg, lon_deg) = (lat.as_f64()?, lon.as_f64()?);
    Place::new(lat_deg, lon_deg, 0.0)?;
    Some(TrackPoint {
        at: Utc::parse(at.as_str()?)?,
        segment: u32::try_from(segment.as_u64()?).ok()?,
        lat_deg,
        lon_deg,
        elev_m: elev.as_f64(),
    })
}

fn reading(value: &Value) -> Option<WallTime> {
    WallTime::parse(value.as_str()?)
}
