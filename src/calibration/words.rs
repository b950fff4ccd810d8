//! Runs of lights and differences in words. Decides nothing.

use crate::calibration::nearness::Lens;
use crate::calibration::nearness::MASTER;
use crate::calibration::nearness::Nearness;
use crate::calibration::run::Run;
use crate::calibration::run::same_exposure;
use crate::terms::basis::Kind;
use crate::terms::calibration::ToldBy;
use crate::terms::exposure::exposure_text;

/// The plural name of a kind's frames.
pub const fn plural(kind: Kind) -> &'static str {
    match kind {
        Kind::Light => "lights",
        Kind::Dark => "darks",
        Kind::Flat => "flats",
        Kind::Bias => "bias frames",
        Kind::Trial => "trials",
    }
}

/// The settings that distinguish a run from others: `15 s, ISO 3200, 12 to 14 °C`.
pub fn settings(kind: Kind, run: &Run) -> String {
    let of = &run.settings;
    let mut parts = Vec::new();
    if kind == Kind::Dark {
        parts.push(
            of.exposure_s
                .map_or_else(|| "exposure unknown".to_owned(), exposure_text),
        );
    }
    if kind == Kind::Flat {
        parts.push(of.focal_mm.map_or_else(
            || "focal length unknown".to_owned(),
            |mm| format!("{} mm", plain(mm, 1)),
        ));
        parts.extend(of.f_number.map(|n| format!("f/{}", plain(n, 1))));
    }
    parts.push(of.iso.map_or_else(
        || "sensitivity unknown".to_owned(),
        |iso| format!("ISO {}", plain(iso, 0)),
    ));
    if kind == Kind::Dark {
        parts.push(match run.temperature_c {
            Some((low, high)) if plain(low, 0) == plain(high, 0) => {
                format!("{} °C", plain(low, 0))
            }
            Some((low, high)) => format!("{} to {} °C", plain(low, 0), plain(high, 0)),
            None => "temperature unknown".to_owned(),
        });
    }
    parts.join(", ")
}

/// A number with at most `decimals` decimals, and no sign before a zero.
fn plain(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" { "0" } else { text }.to_owned()
}

/// Remarks on chosen frames.
pub(super) fn remarks(kind: Kind, near: &Nearness, frames: usize, runs: usize) -> Vec<String> {
    let mut said = Vec::new();
    match near.temperature_diff_c {
        Some(diff) if kind == Kind::Dark => said.push(warmth(diff)),
        None if kind == Kind::Dark => {
            said.push("the temperature difference is unknown".into());
        }
        _ => {}
    }
    said.push(age(near.days));
    if near.body == ToldBy::Model {
        said.push(
            "the body writes no serial number, so another of its model may have taken them".into(),
        );
    }
    if near.lens == Lens::Unsure {
        said.push("it is unknown whether the lens is the same".to_owned());
    }
    if near.aperture_differs {
        said.push("the aperture differs, or one is unknown".to_owned());
    }
    if near.iso_differs {
        said.push("the sensitivity differs, or one is unknown".to_owned());
    }
    if near.long_bias {
        said.push("exposed longer than a bias should be".to_owned());
    }
    if runs > 1 {
        said.push(format!("combined from {runs} runs"));
    }
    if !MASTER.contains(&frames) {
        said.push(format!(
            "only {frames}; a master is made of {} to {}",
            MASTER.start(),
            MASTER.end()
        ));
    }
    said
}

fn warmth(diff: f64) -> String {
    let size = plain(diff.abs(), 1);
    match size.as_str() {
        "0" => "at the same temperature".to_owned(),
        _ if diff > 0.0 => format!("{size} °C warmer"),
        _ => format!("{size} °C colder"),
    }
}

fn age(days: Option<f64>) -> String {
    match days {
        None => "the time between them is unknown".to_owned(),
        Some(days) if days < 1.0 => "within a day".to_owned(),
        Some(days) if days < 1.5 => "1 day apart".to_owned(),
        Some(days) => format!("{} days apart", plain(days, 0)),
    }
}

/// Why no run fits: the condition that excluded the last one, and the values available.
pub(super) fn why_none(kind: Kind, lights: &Run, runs: &[Run], refused: usize) -> String {
    let what = plural(kind);
    if lights.settings.camera_id.is_none() {
        return "the body that took them is unknown".to_owned();
    }
    if refused > 0 {
        return format!("none of the {refused} matching {what} can be exported");
    }
    let wanted = &lights.settings;
    let of = |keep: &dyn Fn(&Run) -> bool| -> Vec<&Run> {
        let body = |run: &&Run| run.settings.camera_id == wanted.camera_id;
        runs.iter().filter(body).filter(|run| keep(run)).collect()
    };
    let count = |runs: &[&Run]| runs.iter().map(|run| run.frames.len()).sum::<usize>();
    let body = of(&|_| true);
    if body.is_empty() {
        return format!("there are no {what} of this body");
    }
    let exposed = of(&|run| {
        kind != Kind::Dark
            || wanted
                .exposure_s
                .zip(run.settings.exposure_s)
                .is_some_and(|(a, b)| same_exposure(a, b))
    });
    let all = format!("of {} {what} of this body, none is", count(&body));
    if exposed.is_empty() {
        let there = listed(
            body.iter().filter_map(|run| run.settings.exposure_s),
            exposure_text,
        );
        return format!("{all} exposed as long; those there are have {there}");
    }
    if kind == Kind::Flat {
        let there = listed(body.iter().filter_map(|run| run.settings.focal_mm), |mm| {
            format!("{} mm", plain(mm, 1))
        });
        return format!(
            "{all} of this lens and focal length, or of this size; those there are \
                        have {there}"
        );
    }
    let there = listed(exposed.iter().filter_map(|run| run.settings.iso), |iso| {
        format!("ISO {}", plain(iso, 0))
    });
    let exposed = match kind {
        Kind::Dark => "exposed as long at this sensitivity, or of this size",
        _ => "of this sensitivity, or of this size",
    };
    format!("{all} {exposed}; those there are have {there}")
}

/// The distinct values, at most six.
fn listed(values: impl Iterator<Item = f64>, in_words: impl Fn(f64) -> String) -> String {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    let mut words: Vec<String> = values.into_iter().map(in_words).collect();
    words.dedup();
    match words.len() {
        0 => "unknown settings".to_owned(),
        1..=6 => words.join(", "),
        more => format!("{} and {} more", words[..6].join(", "), more - 6),
    }
}
