//! Night -> report: frames out of the catalogue, the sky over them, pictures from their files. No formula, no HTML.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::makers::MadeOf;
use crate::catalogue::night::NightScope;
use crate::clock::local;
use crate::clock::night::night_by_zone;
use crate::clock::zone::Zone;
use crate::report::axis::Hours;
use crate::report::night::Darkness;
use crate::report::night::NightReport;
use crate::report::night::Part;
use crate::report::night::SessionPart;
use crate::report::night::Warning;
use crate::report::page::page;
use crate::report::seen::Meteors;
use crate::report::terminal;
use crate::session::gaps;
use crate::session::rhythm;
use crate::session::rhythm::Doubling;
use crate::sky::darkness::faintest_star;
use crate::sky::look::Looker;
use crate::sky::window::night_sky;
use crate::terms::failure::Failure;
use crate::terms::failure::no_session;
use crate::terms::finding::Finding;
use crate::terms::finding::Severity;
use crate::terms::finding::finding_code;
use crate::terms::night::NightFrame;
use crate::terms::night::NightSky;
use crate::terms::night::Stretch;
use crate::terms::shower::ShowerCode;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::site::SkyBrightness;
use crate::usecase::derive::maker::signature;
use crate::usecase::dumps::away::away_from;

use super::meteors::PageTrails;
use super::meteors::meteors_of;
use super::shown::LARGE;
use super::shown::Pictures;
use super::shown::Wanted;
use super::shown::add_pictures;
use super::shown::pictures_of_each;
use super::tallies::faintest_stars;
use super::tallies::shower_tallies;
use super::tallies::trails;

/// A session and its night as lines of text, none wider than `width`.
pub fn picture(part: &Part, session: &SessionPart, width: usize) -> Vec<String> {
    terminal::picture(part, session, width)
}

/// The page of a night or a session.
pub fn night_page(
    catalogue: &Catalogue,
    scope: &NightScope,
    pictures: Pictures,
) -> Result<String, Failure> {
    Ok(page(&night_report(catalogue, scope, pictures)?))
}

/// The report of a night or a session.
///
/// Refuses: a night or a session that the catalogue does not have, with the nearest nights.
pub fn night_report(
    catalogue: &Catalogue,
    scope: &NightScope,
    pictures: Pictures,
) -> Result<NightReport, Failure> {
    let (night, title) = match scope {
        NightScope::Night(night) => (night.clone(), format!("The night of {night}")),
        NightScope::Session(id) => {
            let session = catalogue.session(*id)?.ok_or_else(|| match *id {
                1900..2200 => no_session(*id)
                    .hint("before a year write --season; framefall sessions lists sessions"),
                _ => no_session(*id),
            })?;
            let title = format!("Session {id}, the night of {}", session.night);
            (session.night, title)
        }
    };
    let frames = catalogue.night_frames(&NightScope::Night(night.clone()))?;
    let mut sessions: BTreeMap<i64, Vec<NightFrame>> = BTreeMap::new();
    for frame in frames {
        if let Some(id) = frame.session_id {
            sessions.entry(id).or_default().push(frame);
        }
    }
    if sessions.is_empty() {
        return Err(nothing_that_night(catalogue, &night)?);
    }
    let mut looker = Looker::new();
    let sites = catalogue.sites()?;
    let mut parts: Vec<Part> = Vec::new();
    let mut by_start: Vec<(i64, &Vec<NightFrame>)> =
        sessions.iter().map(|(id, frames)| (*id, frames)).collect();
    by_start.sort_by_key(|(id, frames)| (frames.first().and_then(gaps::start_ms), *id));
    let wanted: Vec<(i64, &Vec<NightFrame>)> = by_start
        .iter()
        .filter(|(id, _)| match scope {
            NightScope::Night(_) => true,
            NightScope::Session(only) => id == only,
        })
        .copied()
        .collect();
    let away = match pictures {
        Pictures::Read => away_from(catalogue, scope)?,
        Pictures::None | Pictures::Curves => Vec::new(),
    };
    let shown: Vec<i64> = wanted
        .iter()
        .flat_map(|(_, frames)| frames.iter().map(|frame| frame.frame_id))
        .collect();
    let wanted_of_each = Wanted {
        pictures,
        most: pictures_of_each(wanted.len()),
        large: false,
        away: &away,
    };
    for (id, frames) in wanted {
        let others: Vec<&NightFrame> = sessions
            .iter()
            .filter(|(other, _)| **other != id)
            .flat_map(|(_, frames)| frames)
            .filter(|f| f.camera == frames[0].camera)
            .collect();
        let site = frames[0]
            .site_id
            .and_then(|site| sites.iter().find(|s| s.id == site));
        let dated = frames.iter().all(|f| f.start_utc.is_some());
        let place = part_of(&mut parts, site, dated, |site| {
            new_part(&mut looker, &night, site, dated, &sessions)
        });
        let mut session = session_part(id, frames, &others);
        if pictures != Pictures::Curves {
            session.showers = shower_tallies(frames, &parts[place]);
            session.faintest = faintest_stars(frames, &parts[place]);
            session.trails = trails(frames);
        }
        let tracks: Vec<ShowerCode> = parts[place].tracks().iter().map(|t| t.shower).collect();
        let wanted = Wanted {
            large: parts.iter().map(|part| part.sessions.len()).sum::<usize>() < LARGE,
            ..wanted_of_each
        };
        add_pictures(catalogue, &mut looker, &mut session, &tracks, &wanted)?;
        parts[place].sessions.push(session);
    }
    let mut report = NightReport {
        title,
        parts,
        warnings: Vec::new(),
        maker: String::new(),
    };
    if pictures != Pictures::Curves {
        let trails = PageTrails::of(catalogue, scope)?;
        for part in &mut report.parts {
            part.meteors = meteors_of(catalogue, &mut looker, part, &trails, &wanted_of_each)?;
        }
        report.warnings = warnings(catalogue, scope, &away)?;
        report.maker = signature(&catalogue.makers_of(MadeOf::Frames(&shown))?);
    }
    Ok(report)
}

/// What is said of a night without frames.
pub(crate) fn nothing_that_night(catalogue: &Catalogue, night: &str) -> Result<Failure, Failure> {
    let near = catalogue.nights_near(night)?;
    Ok(
        Failure::words(format!("there are no frames of the night {night}")).hint(
            if near.is_empty() {
                "the catalogue has no nights yet; run framefall ingest DUMP first".to_owned()
            } else {
                format!("the nearest nights are: {}", near.join(", "))
            },
        ),
    )
}

/// The part of a place, made when it is not there yet. Sessions without UTC have a part of their own.
fn part_of(
    parts: &mut Vec<Part>,
    site: Option<&Site>,
    dated: bool,
    make: impl FnOnce(Option<&Site>) -> Part,
) -> usize {
    let same = |part: &Part| {
        part.site.as_ref().map(|s| s.id) == site.map(|s| s.id)
            && (part.hours != Hours::Reading) == dated
    };
    if let Some(at) = parts.iter().position(same) {
        return at;
    }
    parts.push(make(site));
    parts.len() - 1
}

fn new_part(
    looker: &mut Looker,
    night: &str,
    site: Option<&Site>,
    dated: bool,
    sessions: &BTreeMap<i64, Vec<NightFrame>>,
) -> Part {
    let mut part = Part {
        site: site.cloned(),
        hours: if dated { Hours::Utc } else { Hours::Reading },
        sky: None,
        darkness: Darkness::Taken,
        sessions: Vec::new(),
        meteors: Meteors::default(),
    };
    let Some(site) = site else {
        return part;
    };
    part.darkness = match site.brightness {
        Some(SkyBrightness::LimitingMagnitude(magnitude)) => Darkness::Stated(magnitude),
        Some(SkyBrightness::Sqm(sqm)) => Darkness::FromMeter(faintest_star(sqm)),
        None => Darkness::Taken,
    };
    if !dated {
        return part;
    }
    let zone = site.zone.as_deref().and_then(Zone::named);
    let noons = zone
        .as_ref()
        .and_then(|zone| local::noons(night, zone))
        .or_else(|| local::mean_noons(night, site.place.lon_deg()));
    let Some((from, mut to)) = noons else {
        return part;
    };
    // A run over a dark noon is of the night where it began: the sky is shown to the noon after its last frame.
    let at_site = || {
        let frames = sessions.values().flatten();
        frames.filter(|f| f.site_id == Some(site.id))
    };
    if let Some(zone) = &zone
        && let Some(last) = at_site().filter_map(|f| f.start_utc).max()
        && last >= to
        && let Some((_, end)) =
            night_by_zone(last, zone).and_then(|night| local::noons(&night, zone))
    {
        to = end;
    }
    if let Some(zone) = zone {
        part.hours = Hours::Zone(zone.name().to_owned(), local::offsets(from, to, &zone));
    }
    let whole = Stretch { from, to };
    let over: BTreeSet<ShowerCode> = at_site()
        .flat_map(|f| f.radiants.iter().map(|r| r.shower))
        .collect();
    part.sky = sky_over(looker, site.place, whole, over);
    part
}

/// The sky over a place, the showers of its frames and of its midnight in it, the one that gives most first.
pub fn sky_over(
    looker: &mut Looker,
    place: Place,
    whole: Stretch,
    over_frames: BTreeSet<ShowerCode>,
) -> Option<NightSky> {
    let mut codes = over_frames;
    // By the sky that the radiants stand in: a shower of the day gives nothing. Where none gives anything, by the rate alone.
    let mut best: BTreeMap<ShowerCode, (f64, f64)> = BTreeMap::new();
    let mut at = Some(whole.from);
    while let Some(now) = at.filter(|now| *now <= whole.to) {
        for radiant in looker.frame_sky(now, Some(place))?.radiants {
            let most = best.entry(radiant.shower).or_default();
            *most = (most.0.max(radiant.seen_rate), most.1.max(radiant.rate));
            codes.insert(radiant.shower);
        }
        at = now.plus_s(3_600.0);
    }
    let mut codes: Vec<ShowerCode> = codes.into_iter().collect();
    let most = |code: &ShowerCode| best.get(code).copied().unwrap_or_default();
    codes.sort_by(|a, b| {
        let ((seen_a, rate_a), (seen_b, rate_b)) = (most(a), most(b));
        seen_b
            .total_cmp(&seen_a)
            .then(rate_b.total_cmp(&rate_a))
            .then(a.cmp(b))
    });
    night_sky(looker, place, whole, &codes)
}

fn session_part(number: i64, frames: &[NightFrame], others: &[&NightFrame]) -> SessionPart {
    let (places, starts) = gaps::rhythm_of(frames);
    let exposures: Vec<Option<f64>> = places.iter().map(|at| frames[*at].exposure_s).collect();
    SessionPart {
        number,
        frames: frames.to_vec(),
        cadence_s: rhythm::cadence_s(&starts),
        rhythm: rhythm_words(rhythm::doubling(&starts, &exposures)),
        gaps: gaps::gaps(frames, others),
        changes: gaps::changes(frames),
        showers: Vec::new(),
        faintest: None,
        trails: None,
        pictures: Vec::new(),
        large: None,
        outlines: Vec::new(),
    }
}

/// What a doubled cadence likely means.
pub const fn rhythm_words(doubling: Doubling) -> Option<&'static str> {
    match doubling {
        Doubling::None => None,
        Doubling::Throughout => Some(
            "twice the exposure: the body seems to take a dark after each frame (long-exposure \
             noise reduction)",
        ),
        Doubling::InPart => Some(
            "partly twice the exposure: the body's long-exposure noise reduction seems to have \
             been on for a while",
        ),
    }
}

/// What the audit says of the files of the night, one entry a code, the heaviest first.
fn warnings(
    catalogue: &Catalogue,
    scope: &NightScope,
    away: &[(String, Finding)],
) -> Result<Vec<Warning>, Failure> {
    let mut by_code: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (_, finding) in away {
        let said = by_code.entry(finding.code.to_owned()).or_default();
        said.push(finding.saw.clone());
    }
    for row in catalogue.night_findings(scope)? {
        let file = if row.folder.is_empty() {
            row.file
        } else {
            format!("{}/{}", row.folder, row.file)
        };
        by_code
            .entry(row.code)
            .or_default()
            .push(format!("{}: {file}: {}", row.dump, row.saw));
    }
    let mut found: Vec<(Severity, Warning)> = by_code
        .into_iter()
        .filter_map(|(code, files)| {
            let row = finding_code(&code)?;
            Some((
                row.severity,
                Warning {
                    weight: row.severity.word(),
                    headline: row.headline.to_owned(),
                    cure: row.cure.to_owned(),
                    files,
                },
            ))
        })
        .collect();
    found.sort_by_key(|(severity, _)| std::cmp::Reverse(*severity));
    Ok(found.into_iter().map(|(_, warning)| warning).collect())
}
