//! Stated pointing as JSON, in both directions.

use serde_json::Value;
use serde_json::json;

use crate::framelist::json_object::Keys;
use crate::terms::stated_pointing::Mount;
use crate::terms::stated_pointing::StatedPointing;
use crate::terms::time::WallTime;

/// Where cameras pointed, as JSON.
pub(super) fn pointing_value(one: &StatedPointing) -> Value {
    json!({
        "mount": one.mount.word(),
        "solved_local": one.solved_local.map(|at| at.to_string()),
        "camera": {
            "law": one.law, "f_px": one.f_px, "k1": one.k1, "k2": one.k2, "centre_px": [one.centre_px.0, one.centre_px.1],
            "size_px": [one.size_px.0, one.size_px.1], "right": one.right, "forward": one.forward,
        },
        "residual_px": one.residual_px,
    })
}

/// The same from JSON: the content of the statement, and the camera in it.
pub(super) fn pointing(of: &Keys<'_>, camera: &Value) -> Result<StatedPointing, String> {
    let camera = Keys::of(camera, "the camera")?;
    let pair = |value: &Value| match value.as_array()?.as_slice() {
        [x, y] => Some((x.as_f64()?, y.as_f64()?)),
        _ => None,
    };
    let direction = |value: &Value| match value.as_array()?.as_slice() {
        [x, y, z] => {
            let all = [x.as_f64()?, y.as_f64()?, z.as_f64()?];
            let square: f64 = all.iter().map(|part| part * part).sum();
            ((square - 1.0).abs() < 1e-6).then_some(all)
        }
        _ => None,
    };
    let positive = |value: f64| (value > 0.0).then_some(value);
    Ok(StatedPointing {
        mount: of.needed("mount", |v| Mount::from_word(v.as_str()?))?,
        solved_local: of.known("solved_local", |v| WallTime::parse(v.as_str()?))?,
        law: camera.text("law")?.to_owned(),
        f_px: camera.needed("f_px", |v| positive(v.as_f64()?))?,
        k1: camera.needed("k1", Value::as_f64)?,
        k2: camera.needed("k2", Value::as_f64)?,
        centre_px: camera.needed("centre_px", pair)?,
        size_px: camera.needed("size_px", |v| {
            pair(v).filter(|(width, height)| *width > 0.0 && *height > 0.0)
        })?,
        right: camera.needed("right", direction)?,
        forward: camera.needed("forward", direction)?,
        residual_px: of.needed("residual_px", Value::as_f64)?,
    })
}
