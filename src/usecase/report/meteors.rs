//! The meteors of a report: those judged, the candidates that wait for a judgement, and charts of trails about a radiant. No formula.

use std::collections::BTreeMap;
use std::collections::HashMap;

use crate::catalogue::found_trails::KeptTrail;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::night::NightScope;
use crate::catalogue::stated_trails::StatedTrail;
use crate::pointing::gnomonic::gnomonic;
use crate::pointing::vector::turned;
use crate::report::night::Part;
use crate::report::seen::CHART_REACH_DEG;
use crate::report::seen::Candidate;
use crate::report::seen::ChartTrail;
use crate::report::seen::CutOut;
use crate::report::seen::JudgedMeteor;
use crate::report::seen::Meteors;
use crate::report::seen::TrailChart;
use crate::report::seen::TrailFrame;
use crate::session::gaps;
use crate::sky::look::Looker;
use crate::terms::failure::Failure;
use crate::terms::night::NightFrame;
use crate::terms::records::Cell;
use crate::terms::shower::ShowerCode;
use crate::terms::trail::MeteorShower;
use crate::terms::trail::PicturePoint;
use crate::terms::trail::TrailIs;
use crate::trails::words::doubt_words;
use crate::trails::words::evidence_words;
use crate::usecase::looking::trail_list::as_stated;
use crate::usecase::looking::trail_paths::FramePaths;
use crate::usecase::looking::trail_paths::Path;
use crate::usecase::parallel::parallel_map_ordered;

use super::pictures::cut_out;
use super::shown::Pictures;
use super::shown::Wanted;

/// The most candidates of a page, and the most judged meteors with a picture.
const MOST: (usize, usize) = (24, 60);

/// The stated meteors and the candidates of a page.
pub(super) struct PageTrails {
    stated: Vec<StatedTrail>,
    candidates: Vec<KeptTrail>,
    more: usize,
}

impl PageTrails {
    /// Reads them.
    pub fn of(catalogue: &Catalogue, scope: &NightScope) -> Result<Self, Failure> {
        let mut stated = catalogue.night_trails(scope)?;
        stated.retain(|trail| trail.judged.is == TrailIs::Meteor);
        let (candidates, count) = catalogue.night_candidates(scope, MOST.0)?;
        Ok(Self {
            stated,
            more: count - candidates.len(),
            candidates,
        })
    }
}

/// The meteors of a part's sessions. Files on dumps that are away are not read.
pub(super) fn meteors_of(
    catalogue: &Catalogue,
    looker: &mut Looker,
    part: &Part,
    trails: &PageTrails,
    wanted: &Wanted<'_>,
) -> Result<Meteors, Failure> {
    let frames: HashMap<i64, (i64, &NightFrame)> = part
        .sessions
        .iter()
        .flat_map(|session| session.frames.iter().map(|frame| (session.number, frame)))
        .map(|(session, frame)| (frame.frame_id, (session, frame)))
        .collect();
    let mut paths: BTreeMap<i64, FramePaths> = BTreeMap::new();
    let stated = trails.stated.iter().map(|trail| trail.frame_id);
    for frame_id in stated.chain(trails.candidates.iter().map(|kept| kept.frame_id)) {
        if frames.contains_key(&frame_id) && !paths.contains_key(&frame_id) {
            paths.insert(frame_id, FramePaths::of(catalogue, frame_id, looker)?);
        }
    }
    let mut charts = Charts::default();
    let mut judged = Vec::new();
    let mut candidates = Vec::new();
    let mut cuts: Vec<(&NightFrame, [(f64, f64); 2])> = Vec::new();
    for trail in &trails.stated {
        let (Some((session, frame)), Some(known)) =
            (frames.get(&trail.frame_id), paths.get(&trail.frame_id))
        else {
            continue;
        };
        let path = known.path(trail);
        charts.put(trail, &path, known);
        let px = |point: PicturePoint| (point.x_px(), point.y_px());
        cuts.push((frame, [px(trail.ends.from), px(trail.ends.to)]));
        judged.push(meteor(trail, &path, known, of_frame(*session, frame)));
    }
    let with_picture = cuts.len().min(MOST.1);
    cuts.truncate(with_picture);
    for kept in &trails.candidates {
        let (Some((session, frame)), Some(known)) =
            (frames.get(&kept.frame_id), paths.get(&kept.frame_id))
        else {
            continue;
        };
        let signs = catalogue.sky_signs(kept.frame_id)?.unwrap_or_default();
        cuts.push((frame, [kept.trail.from_px, kept.trail.to_px]));
        candidates.push(candidate(kept, &signs, known, of_frame(*session, frame)));
    }
    if wanted.pictures == Pictures::Read {
        let mut cut = parallel_map_ordered(&cuts, |(frame, ends)| {
            if wanted.is_away(&frame.dump) {
                CutOut {
                    picture: Err(format!("the dump {} is offline", frame.dump)),
                    ends: *ends,
                }
            } else {
                cut_out(frame, *ends)
            }
        })
        .into_iter();
        for meteor in judged.iter_mut().take(with_picture) {
            meteor.cut = cut.next();
        }
        for candidate in &mut candidates {
            candidate.cut = cut.next();
        }
    }
    judged.sort_by_key(|meteor: &JudgedMeteor| (meteor.frame.start_ms, meteor.number));
    Ok(Meteors {
        judged,
        charts: charts.all(),
        more_candidates: if candidates.is_empty() {
            0
        } else {
            trails.more
        },
        candidates,
    })
}

fn of_frame(session: i64, frame: &NightFrame) -> TrailFrame {
    TrailFrame {
        session,
        file: frame.file.clone(),
        start_ms: gaps::start_ms(frame),
    }
}

/// Shower or reason, and the miss distance with its error.
fn told(path: &Path) -> (String, Option<(f64, f64)>) {
    let [words, miss, error, _] = path.cells();
    let words = match words {
        Cell::Text(words) => words,
        _ => "unknown".to_owned(),
    };
    let miss = match (miss, error) {
        (Cell::Number(miss), Cell::Number(error)) => Some((miss, error)),
        _ => None,
    };
    (words, miss)
}

fn meteor(trail: &StatedTrail, path: &Path, known: &FramePaths, frame: TrailFrame) -> JudgedMeteor {
    let (by_path, miss_deg) = told(path);
    JudgedMeteor {
        number: trail.trail_id,
        frame,
        stated: trail.judged.shower.map(|shower| shower.word().to_owned()),
        by_path,
        miss_deg,
        length_deg: known.length_deg(trail.ends),
        cut: None,
    }
}

fn candidate(kept: &KeptTrail, signs: &str, known: &FramePaths, frame: TrailFrame) -> Candidate {
    let path = as_stated(kept).map_or(Path::NoMeteor, |stated| known.path(&stated));
    let evidence = &kept.trail.evidence;
    let mut words = evidence_words(evidence, kept.trail.class);
    words.extend(doubt_words(evidence, signs));
    Candidate {
        name: format!("c{}", kept.trail_id),
        frame,
        score: kept.trail.score,
        shower: told(&path).0,
        evidence: words,
        cut: None,
    }
}

/// Charts as they are filled, by shower.
#[derive(Default)]
struct Charts(BTreeMap<ShowerCode, TrailChart>);

impl Charts {
    /// Puts a meteor on the charts of the showers that it belongs to: the stated one, else those that its path leaves.
    fn put(&mut self, trail: &StatedTrail, path: &Path, known: &FramePaths) {
        let showers: Vec<ShowerCode> = match trail.judged.shower {
            Some(MeteorShower::Of(code)) => vec![code],
            Some(MeteorShower::Sporadic) => return,
            None => path
                .shower()
                .unwrap_or_default()
                .split('/')
                .filter_map(ShowerCode::parse)
                .collect(),
        };
        for shower in &showers {
            self.put_on(*shower, showers.len() == 1, trail, known);
        }
    }

    fn put_on(&mut self, shower: ShowerCode, sure: bool, trail: &StatedTrail, known: &FramePaths) {
        let Some((camera, horizon)) = known.camera_over() else {
            return;
        };
        let radiants = horizon.radiants();
        let Some(radiant) = radiants.iter().find(|radiant| radiant.shower == shower) else {
            return;
        };
        let chart = self.0.entry(shower).or_insert_with(|| TrailChart {
            shower,
            half_size_deg: radiant.half_size_deg.0.max(radiant.half_size_deg.1),
            trails: Vec::new(),
            too_far: Vec::new(),
        });
        let pole = turned(&horizon.axes(), horizon.pole());
        // Stated points count from the outer corner of the first pixel, the camera's from its centre.
        let drawn = |point: PicturePoint| {
            let seen = camera.unproject((point.x_px() - 0.5, point.y_px() - 0.5))?;
            let geometric = horizon.geometric_of_seen(seen);
            gnomonic(radiant.trails_from, pole, geometric, CHART_REACH_DEG)
        };
        let (Some(from), Some(to)) = (drawn(trail.ends.from), drawn(trail.ends.to)) else {
            chart.too_far.push(trail.trail_id);
            return;
        };
        let away = |(east, north): (f64, f64)| east.hypot(north);
        let (near, far) = if away(from) <= away(to) {
            (from, to)
        } else {
            (to, from)
        };
        chart.trails.push(ChartTrail {
            number: trail.trail_id,
            sure,
            near,
            far,
        });
    }

    /// The charts, those with the most meteors first.
    fn all(self) -> Vec<TrailChart> {
        let mut all: Vec<TrailChart> = self.0.into_values().collect();
        all.sort_by_key(|chart| std::cmp::Reverse(chart.trails.len()));
        all
    }
}
