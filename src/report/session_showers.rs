//! The showers over one session, on the page of its night. No sums, no formula.

use crate::report::html::Element;
use crate::report::lane;
use crate::report::night::FaintestStars;
use crate::report::night::Part;
use crate::report::night::SessionPart;
use crate::report::peaks;
use crate::report::tables::Holds::Figures;
use crate::report::tables::Holds::Words;
use crate::report::tables::table;
use crate::report::words;
use crate::terms::night::RadiantTrack;
use crate::terms::shower::ShowerCode;

/// Each shower over the lights: altitudes, hours, and the time to its peak.
pub(super) fn showers(part: &Part, session: &SessionPart) -> Element {
    let middle = lane::span_ms(session).map(|(from, to)| i64::midpoint(from, to));
    let rows = session.showers.iter().map(|sums| {
        let [first, mid, last] = sums.alts_deg.map(words::degrees);
        let track = track(part, sums.shower);
        let off = match (middle, track.and_then(|t| t.peak)) {
            (Some(middle), Some(peak)) => peaks::from_peak(middle, peak),
            _ => "peak not known".to_owned(),
        };
        vec![
            shower_name(sums.shower, track),
            format!("{first}, {mid}, {last}"),
            words::degrees(sums.highest_deg),
            words::duration(sums.open_h * 3600.0),
            words::duration(sums.weighted_h * 3600.0),
            off,
        ]
    });
    table(
        "Showers over the lights of the session",
        &[
            ("shower", Words),
            ("altitude at start, middle, end", Words),
            ("highest", Figures),
            ("open shutter", Figures),
            ("weighted by sin h", Figures),
            ("middle of the session", Words),
        ],
        rows,
    )
}

/// A shower's code, marked where its ZHR varies from year to year.
fn shower_name(code: ShowerCode, track: Option<&RadiantTrack>) -> String {
    match track {
        Some(track) if track.zhr.is_none() => format!("{code} (var)"),
        _ => code.to_string(),
    }
}

/// How many meteors of each shower are expected, and how many the sky cost.
pub(super) fn expected(part: &Part, session: &SessionPart) -> Element {
    let rows = session.showers.iter().map(|sums| {
        let track = track(part, sums.shower);
        vec![
            shower_name(sums.shower, track),
            words::meteors(sums.under_zhr_sky),
            words::meteors(sums.lost.to_site),
            words::meteors(sums.lost.to_sun),
            words::meteors(sums.lost.to_moon),
            words::lost_to_cloud(sums.lost.to_cloud),
            words::expected(sums.expected),
        ]
    });
    table(
        "Meteors expected while the shutter was open for lights",
        &[
            ("shower", Words),
            ("under a 6.5-magnitude sky", Figures),
            ("lost to the site", Figures),
            ("lost to the Sun", Figures),
            ("lost to the Moon", Figures),
            ("lost to cloud", Figures),
            ("expected", Words),
        ],
        rows,
    )
}

/// The limiting magnitudes over the lights, in words.
pub(super) fn faintest(stars: FaintestStars) -> String {
    let magnitude = |m: f64| words::number(m, 1);
    let daylight = match stars.in_daylight {
        0 => String::new(),
        n => format!(
            "{} with the Sun above −6°, where no meteors are expected",
            words::count(n, "light", "lights")
        ),
    };
    match stars.span {
        None => daylight,
        Some((brightest, darkest)) => {
            let mut said = if magnitude(brightest) == magnitude(darkest) {
                format!("magnitude {}", magnitude(darkest))
            } else {
                format!(
                    "magnitude {} to {}, with twilight and moonlight",
                    magnitude(brightest),
                    magnitude(darkest)
                )
            };
            if !daylight.is_empty() {
                said = format!("{said}; {daylight}");
            }
            said
        }
    }
}

/// A shower's path over the part's night.
fn track(part: &Part, shower: ShowerCode) -> Option<&RadiantTrack> {
    let sky = part.sky.as_ref()?;
    sky.tracks.iter().find(|track| track.shower == shower)
}
