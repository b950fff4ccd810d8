//! Finds clocks in the catalogue that must be wrong: rows to the checks, doubts to findings.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::collections::HashMap;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::clocked::SessionAt;
use crate::catalogue::clocks::Camera;
use crate::catalogue::handle::Catalogue;
use crate::clock::doubt::asked::Ask;
use crate::clock::doubt::asked::Body;
use crate::clock::doubt::asked::OtherRun;
use crate::clock::doubt::first_day;
use crate::clock::doubt::found::Doubt;
use crate::clock::doubt::judge::judge as judge_runs;
use crate::clock::doubt::offset;
use crate::clock::doubt::run::Run;
use crate::clock::doubt::run::RunBuilder;
use crate::clock::doubt::run::runs_by_time;
use crate::clock::doubt::stamp;
use crate::clock::doubt::stars::SkyFrame;
use crate::clock::doubt::zoned::ZonedSite;
use crate::clock::zone::Zone;
use crate::sky::look::Looker;
use crate::terms::clock::ClockedFrame;
use crate::terms::clock::RunFrame;
use crate::terms::failure::Failure;
use crate::terms::site::Place;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::terms::time::day_of_date;
use crate::usecase::clocks::bodies::body_names;
use crate::usecase::examine::sky_clock;

/// The names of bodies on the command line, by their numbers.
type Names = HashMap<i64, String>;

/// Which clocks to judge.
#[derive(Clone, Copy, Debug)]
pub enum Judge<'a> {
    /// Every body's, in every night.
    All,
    /// Those of these nights; their bodies' other sessions of the same nights are witnesses.
    Nights(&'a BTreeSet<BodyNight>),
}

impl Judge<'_> {
    fn asks(self, at: &SessionAt) -> bool {
        match self {
            Self::All => true,
            Self::Nights(nights) => nights
                .iter()
                .any(|n| n.night == at.session.night && n.camera_id == at.camera_id),
        }
    }

    /// The days of the nights to judge of a body; `None` for every night.
    fn days(self, camera_id: i64) -> Option<BTreeSet<i64>> {
        let Self::Nights(nights) = self else {
            return None;
        };
        let of_body = nights.iter().filter(|n| n.camera_id == Some(camera_id));
        Some(of_body.filter_map(|n| day_of_date(&n.night)).collect())
    }
}

/// Finds clocks that must be wrong.
pub fn doubtful_clocks(catalogue: &Catalogue, judge: Judge<'_>) -> Result<Vec<AuditRow>, Failure> {
    let nights: BTreeSet<String> = match judge {
        Judge::All => catalogue.nights()?,
        Judge::Nights(nights) => nights.iter().map(|n| n.night.clone()).collect(),
    };
    let mut doubts: Vec<Doubt> = Vec::new();
    let sites: Vec<ZonedSite> = catalogue
        .sites()?
        .into_iter()
        .map(|site| ZonedSite {
            site_id: site.id,
            zone: site.zone.as_deref().and_then(Zone::named),
            name: site.name,
        })
        .collect();
    let names = body_names(catalogue)?;
    let mut looker = Looker::new();
    for camera in catalogue.cameras()? {
        let days = judge.days(camera.camera_id);
        if days.as_ref().is_none_or(|days| !days.is_empty()) {
            let days = days.as_ref();
            doubts.extend(of_body(
                catalogue,
                &camera,
                &names,
                &sites,
                days,
                &mut looker,
            )?);
        }
    }
    let examined = catalogue.any_measured_pointing()?;
    for one in &nights {
        let mut sessions = catalogue.clocked_sessions(one)?;
        sessions.retain(|at| judge.asks(at));
        if examined {
            doubts.extend(by_stars(catalogue, &sessions, &names, &mut looker)?);
        }
        for mut at in sessions {
            if let Some(name) = at.camera_id.and_then(|id| names.get(&id)) {
                at.session.camera = Some(name.clone());
            }
            doubts.extend(offset::check(&at.session));
            doubts.extend(stamp::check(&at.session));
        }
    }
    doubts
        .into_iter()
        .map(|doubt| {
            let did = "left the times as they are".to_owned();
            let row = catalogue.audit_row(doubt.frame_id, doubt.code, doubt.saw, did)?;
            Ok(AuditRow {
                remedy: Some(doubt.cure),
                ..row
            })
        })
        .collect()
}

/// Doubts about the clocks of a night's sessions, by the stars in the pictures of each body.
fn by_stars(
    catalogue: &Catalogue,
    sessions: &[SessionAt],
    names: &Names,
    looker: &mut Looker,
) -> Result<Vec<Doubt>, Failure> {
    let mut of_bodies: BTreeMap<i64, Vec<&ClockedFrame>> = BTreeMap::new();
    for at in sessions {
        if let Some(camera_id) = at.camera_id {
            let of_body = of_bodies.entry(camera_id).or_default();
            of_body.extend(&at.session.frames);
        }
    }
    let mut doubts = Vec::new();
    for (camera_id, frames) in &of_bodies {
        let name = names.get(camera_id).map_or("", String::as_str);
        doubts.extend(sky_clock::doubts(catalogue, name, frames, looker)?);
    }
    Ok(doubts)
}

/// Doubts about one body's runs and default dates.
fn of_body(
    catalogue: &Catalogue,
    camera: &Camera,
    names: &Names,
    sites: &[ZonedSite],
    days: Option<&BTreeSet<i64>>,
    looker: &mut Looker,
) -> Result<Vec<Doubt>, Failure> {
    let camera_id = camera.camera_id;
    let name = names.get(&camera_id).map_or("", String::as_str);
    let mut builder = RunBuilder::default();
    catalogue.body_frames(camera_id, |frame| builder.push(frame))?;
    let runs = builder.finish();
    let fixes = catalogue.clock_fixes(camera_id)?;
    let stated: Vec<WallTime> = fixes.iter().map(|fix| fix.reading).collect();
    let body = Body {
        camera: name,
        is_one: camera.serial.is_some(),
        runs: &runs,
        stated: &stated,
    };
    let asks = |run: &Run| {
        let night = |f: &RunFrame| {
            f.night_day
                .is_some_and(|day| days.is_none_or(|d| d.contains(&day)))
        };
        run.frames.iter().any(night)
    };
    let mut stars = Looker::new();
    let examined = catalogue.any_measured_pointing()?;
    let mut doubts = judge_runs(
        &body,
        &asks,
        &mut Ask {
            sky: &mut |run| {
                let frames = run.frames.iter().filter_map(|frame| {
                    Some(SkyFrame {
                        frame_id: frame.frame_id,
                        reading: Some(frame.reading),
                        start_utc: frame.start_utc?,
                    })
                });
                if examined {
                    sky_clock::fits(catalogue, frames, &mut stars)
                } else {
                    Ok(Vec::new())
                }
            },
            sun_alt_deg: &mut |at: Utc, place: Place| Some(looker.sun_moon(at, place)?.sun_alt_deg),
            others: &mut |site_id, from_ms, until_ms| {
                others_at(catalogue, names, camera_id, site_id, (from_ms, until_ms))
            },
            files: &mut |session_id| catalogue.session_files(session_id),
            sites,
        },
    )?;
    for day in catalogue.january_firsts(camera_id)? {
        doubts.extend(first_day::check(name, &day));
    }
    Ok(doubts)
}

/// The runs of other bodies at a site.
fn others_at(
    catalogue: &Catalogue,
    names: &Names,
    camera_id: i64,
    site_id: i64,
    between_ms: (i64, i64),
) -> Result<Vec<OtherRun>, Failure> {
    let mut by_body: BTreeMap<i64, Vec<RunFrame>> = BTreeMap::new();
    catalogue.frames_beside(camera_id, site_id, between_ms, |camera_id, frame| {
        by_body.entry(camera_id).or_default().push(frame);
    })?;
    let mut others = Vec::new();
    for (camera_id, frames) in by_body {
        let camera = names.get(&camera_id).cloned().unwrap_or_default();
        others.extend(runs_by_time(&frames).into_iter().map(|run| OtherRun {
            camera: camera.clone(),
            run,
        }));
    }
    Ok(others)
}
