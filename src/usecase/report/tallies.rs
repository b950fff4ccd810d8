//! What the sky did over a session's lights, and what lens and exposure did to its stars: asks `sky`, sums in `report`.

use std::collections::BTreeSet;

use crate::report::night::Expected;
use crate::report::night::FaintestStars;
use crate::report::night::LightUnder;
use crate::report::night::Part;
use crate::report::night::ShowerSums;
use crate::report::night::Trails;
use crate::report::night::shower_sums;
use crate::sky::darkness::DarkSky;
use crate::sky::darkness::Lights;
use crate::sky::darkness::Moonlight;
use crate::sky::direction::Direction;
use crate::sky::profile::zhr_bounds;
use crate::sky::rate::expected_bounds;
use crate::sky::rate::rate;
use crate::sky::rate::rate_under;
use crate::sky::seen::zenith_attracted;
use crate::sky::showers::shower;
use crate::sky::trail::Sensor;
use crate::sky::trail::corner_factor;
use crate::sky::trail::rule_500_s;
use crate::sky::trail::trail_px;
use crate::terms::angle::Angle;
use crate::terms::basis::Kind;
use crate::terms::night::NightFrame;
use crate::terms::shower::ShowerCode;

/// Each shower whose radiant came above the horizon over the lights, the most meteors first.
pub fn shower_tallies(frames: &[NightFrame], part: &Part) -> Vec<ShowerSums> {
    let lights: Vec<usize> = (0..frames.len())
        .filter(|at| frames[*at].kind == Some(Kind::Light))
        .collect();
    let dark = dark_sky(part);
    let codes: BTreeSet<ShowerCode> = lights
        .iter()
        .flat_map(|at| frames[*at].radiants.iter().map(|r| r.shower))
        .collect();
    let mut found: Vec<ShowerSums> = codes
        .into_iter()
        .filter_map(|code| {
            let under: Vec<LightUnder> = lights
                .iter()
                .filter_map(|at| light_under(frames, *at, code, &dark))
                .collect();
            shower_sums(code, frames, &under, |meteors, [fewest, most]| {
                let (low, high) = expected_bounds(fewest, most);
                Expected { meteors, low, high }
            })
        })
        .filter(|sums| sums.highest_deg > 0.0)
        .collect();
    found.sort_by(|a, b| {
        b.expected
            .meteors
            .total_cmp(&a.expected.meteors)
            .then(a.shower.cmp(&b.shower))
    });
    found
}

fn light_under(
    frames: &[NightFrame],
    at: usize,
    code: ShowerCode,
    dark: &DarkSky,
) -> Option<LightUnder> {
    let frame = &frames[at];
    let radiant = frame.radiants.iter().find(|r| r.shower == code)?;
    let row = shower(code)?;
    let active = zhr_bounds(row, frame.solar_lon_deg?);
    let geometric = Direction::from_alt_az(
        Angle::from_deg(radiant.alt_deg),
        Angle::from_deg(radiant.az_deg),
    );
    let sin_apparent = zenith_attracted(geometric, row.vg_kms)
        .sin_altitude()
        .max(0.0);
    let all = lights(frame);
    let twilight = Lights { moon: None, ..all };
    let seen_with = |zhr: f64, lights: &Lights| {
        dark.faintest_with(lights).map_or(0.0, |faintest| {
            rate_under(rate(zhr, sin_apparent), row.r, faintest)
        })
    };
    // The part of the sky in the picture stands for the whole.
    let clear = frame.examined.clear.unwrap_or(1.0);
    Some(LightUnder {
        at,
        alt_deg: radiant.alt_deg,
        sin_apparent,
        per_hour_zhr_sky: rate(active.most_likely, sin_apparent),
        per_hour_site: seen_with(active.most_likely, &Lights::default()),
        per_hour_twilight: seen_with(active.most_likely, &twilight),
        per_hour_moonlit: seen_with(active.most_likely, &all),
        clear: frame.examined.clear,
        per_hour: clear * seen_with(active.most_likely, &all),
        per_hour_bounds: [active.low, active.high].map(|zhr| clear * seen_with(zhr, &all)),
    })
}

/// The sky of a part's site on a night without Moon.
fn dark_sky(part: &Part) -> DarkSky {
    DarkSky::of(part.site.as_ref().and_then(|site| site.brightness))
}

/// Sun and Moon over a frame.
fn lights(frame: &NightFrame) -> Lights {
    Lights {
        sun_alt_deg: frame.sun_alt_deg,
        moon: frame
            .moon_alt_deg
            .zip(frame.moon_lit)
            .map(|(alt_deg, lit)| Moonlight { alt_deg, lit }),
    }
}

/// The faintest stars over a session's lights, from the brightest sky to the darkest; nothing where the Sun's altitude is not
/// known.
pub fn faintest_stars(frames: &[NightFrame], part: &Part) -> Option<FaintestStars> {
    let dark = dark_sky(part);
    let all: Vec<Option<f64>> = frames
        .iter()
        .filter(|f| f.kind == Some(Kind::Light) && f.sun_alt_deg.is_some())
        .map(|f| dark.faintest_with(&lights(f)))
        .collect();
    let known = || all.iter().flatten().copied();
    (!all.is_empty()).then(|| FaintestStars {
        span: known().reduce(f64::min).zip(known().reduce(f64::max)),
        in_daylight: all.iter().filter(|one| one.is_none()).count(),
    })
}

/// The frame against which a session's others are turned: the light nearest the middle of them.
pub fn reference(frames: &[NightFrame]) -> Option<usize> {
    let lights: Vec<usize> = (0..frames.len())
        .filter(|at| frames[*at].kind == Some(Kind::Light) && frames[*at].mid_utc.is_some())
        .collect();
    lights.get(lights.len() / 2).copied()
}

/// Longest exposure by the rule, trails, turn of the sky. Nothing without a focal length.
pub fn trails(frames: &[NightFrame]) -> Option<Trails> {
    let light = frames.iter().find(|f| f.kind == Some(Kind::Light))?;
    let focal_mm = light.focal_mm?;
    let sensor = light.focal35_mm.and_then(|equivalent| {
        Sensor::told_by(focal_mm, equivalent, light.width_px?, light.height_px?)
    });
    let crop = light.focal35_mm.map(|equivalent| equivalent / focal_mm);
    let centre_px = sensor.zip(light.exposure_s).map(|(sensor, exposure_s)| {
        trail_px(focal_mm, exposure_s, Angle::from_deg(0.0), sensor.pitch_um)
    });
    let corner_px = centre_px
        .zip(sensor)
        .map(|(px, sensor)| px * corner_factor(focal_mm, sensor.corner_mm()));
    let reference = reference(frames);
    let mut turns = frames
        .iter()
        .filter(|f| f.kind == Some(Kind::Light))
        .filter_map(|f| f.turn);
    let first = turns.next();
    let turn = first.map(|first| (first, turns.next_back().unwrap_or(first)));
    Some(Trails {
        rule_500_s: rule_500_s(focal_mm, crop.unwrap_or(1.0))?,
        crop,
        centre_px,
        corner_px,
        turn,
        reference,
    })
}
