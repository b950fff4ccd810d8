//! Replays the log of statements: what follows from it, compared with what is in force, and put in force where the two differ. The
//! site book and the labels of dumps are not compared: framefall itself adds to both.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::handle::Catalogue;
use crate::framelist::statement_content;
use crate::site::assign::nearest;
use crate::terms::clock::ClockFix;
use crate::terms::clock::ZoneStated;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::plural::counted;
use crate::terms::site::Site;
use crate::terms::statement::Act;
use crate::terms::statement::Body;
use crate::terms::statement::SiteRef;
use crate::terms::time::Utc;
use crate::terms::trail::TrailEnds;
use crate::usecase::derive::rederive::Concerned;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::derive::rederive::rederive;
use crate::usecase::statements::apply::apply;
use crate::usecase::statements::frames::Found;
use crate::usecase::statements::logged::act_of;
use crate::usecase::typed::zone_named;

/// What distinguishes the facts of one frame: their type, and of a trail its ends.
type OfFrame = (i64, &'static str, Option<TrailEnds>);

/// What follows from the log, or is in force.
#[derive(Debug, Default)]
struct Facts {
    /// Of single frames, besides their places.
    of_frames: BTreeMap<OfFrame, Act>,
    /// The site of each frame with a stated place.
    places: BTreeMap<i64, i64>,
    /// Fixes, zones, tracks and queries by their keys, with the frames that a fix is limited to.
    keyed: BTreeMap<String, (Act, BTreeSet<i64>)>,
}

/// Where what is in force differs from what follows from the log: the statements to apply, with their frames.
#[derive(Debug, Default)]
pub struct Differences {
    acts: Vec<(Act, Vec<i64>)>,
    /// Frames whose place does not follow from the log.
    unplaced: Vec<i64>,
}

impl Differences {
    /// How many facts differ.
    pub fn count(&self) -> u64 {
        let of_acts: usize = self
            .acts
            .iter()
            .map(|(_, frames)| frames.len().max(1))
            .sum();
        (of_acts + self.unplaced.len()) as u64
    }
}

/// Compares what is in force with what follows from the log.
pub fn differences(catalogue: &Catalogue) -> Result<Differences, Failure> {
    let (expected, present) = (logged(catalogue)?, in_force(catalogue)?);
    let mut found = Differences::default();
    // What is removed goes first: fixes may contradict each other otherwise.
    let mut lacking = Vec::new();
    let keys: BTreeSet<&String> = expected.keyed.keys().chain(present.keyed.keys()).collect();
    for key in keys {
        let (should, is) = (expected.keyed.get(key), present.keyed.get(key));
        if should != is {
            found.acts.extend(
                is.and_then(|(act, _)| removal(act))
                    .map(|act| (act, Vec::new())),
            );
            lacking.extend(
                should.map(|(act, frames)| (act.clone(), frames.iter().copied().collect())),
            );
        }
    }
    found.acts.extend(lacking);
    let mut groups: BTreeMap<String, (Act, Vec<i64>)> = BTreeMap::new();
    let mut add = |act: Act, frame_id: i64| {
        let of = groups.entry(format!("{} {}", act.word(), statement_content(&act)));
        of.or_insert_with(|| (act, Vec::new())).1.push(frame_id);
    };
    let facts: BTreeSet<&OfFrame> = expected
        .of_frames
        .keys()
        .chain(present.of_frames.keys())
        .collect();
    for fact in facts {
        match (expected.of_frames.get(fact), present.of_frames.get(fact)) {
            (should, is) if should == is => {}
            (Some(should), _) => add(should.clone(), fact.0),
            (None, Some(is)) => add(nothing(is), fact.0),
            (None, None) => {}
        }
    }
    let book = catalogue.sites()?;
    let frames: BTreeSet<&i64> = expected
        .places
        .keys()
        .chain(present.places.keys())
        .collect();
    for frame_id in frames {
        match (expected.places.get(frame_id), present.places.get(frame_id)) {
            (should, is) if should == is => {}
            (Some(should), _) => {
                if let Some(site) = book.iter().find(|site| site.id == *should) {
                    add(Act::Place(SiteRef::from(site)), *frame_id);
                }
            }
            (None, _) => found.unplaced.push(*frame_id),
        }
    }
    found.acts.extend(groups.into_values());
    Ok(found)
}

/// The finding where what is in force differs from what follows from the log.
pub fn difference_finding(catalogue: &Catalogue) -> Result<Option<AuditRow>, Failure> {
    let count = differences(catalogue)?.count();
    let saw = format!(
        "{} in force {} from the log of statements",
        counted(count, "statement"),
        if count == 1 { "differs" } else { "differ" }
    );
    let finding = Finding::new("statements-differ", saw, "answered by what is in force");
    Ok((count > 0).then(|| AuditRow::of_catalogue(catalogue.path(), finding)))
}

/// Puts in force what follows from the log, and derives the frames concerned again. Gives how many facts differed.
pub fn replay(
    catalogue: &mut Catalogue,
    mode: Mode,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<(u64, Rederived), Failure> {
    let found = differences(catalogue)?;
    let count = found.count();
    let done = rederive(
        catalogue,
        mode,
        |batch| {
            let mut all = Concerned::default();
            for (act, frames) in found.acts {
                let of_act = frames.clone();
                let effect = apply(batch, &act, frames)?;
                all.frames.extend(of_act);
                all.frames.extend(effect.frames);
                all.nights.extend(effect.nights);
                all.restated += effect.restated;
            }
            for frame_id in &found.unplaced {
                batch.forget_place(*frame_id)?;
            }
            all.frames.extend(found.unplaced);
            all.frames.sort_unstable();
            all.frames.dedup();
            Ok(all)
        },
        watch,
    )?;
    Ok((count, done))
}

/// What follows from the log.
fn logged(catalogue: &Catalogue) -> Result<Facts, Failure> {
    let mut facts = Facts::default();
    // Sites by their numbers in this list, since whole cards are at one; a frame's site may be renamed later.
    let mut sites: Vec<Option<SiteRef>> = Vec::new();
    let mut places: BTreeMap<i64, usize> = BTreeMap::new();
    for row in &catalogue.statements()? {
        let act = act_of(row)?;
        let mut frames = Found::default();
        for part in catalogue.statement_frames(row.number)? {
            frames.look_up(catalogue, &part)?;
        }
        let is_site =
            |site: &SiteRef, named: &SiteRef| site.name.to_lowercase() == named.name.to_lowercase();
        match act {
            Act::Zone(..) | Act::Fix(..) | Act::Track(..) | Act::Query(..) => {
                if let Some(key) = act.key().filter(|_| row.taken_back_by.is_none()) {
                    let act = match act {
                        Act::Zone(body, zone) => {
                            let name = zone_named(&zone.zone)?.name().to_owned();
                            Act::Zone(body, ZoneStated { zone: name, ..zone })
                        }
                        act => act,
                    };
                    facts
                        .keyed
                        .insert(key, (act, frames.frames.into_iter().collect()));
                }
            }
            Act::Place(site) => {
                places.extend(frames.frames.iter().map(|frame| (*frame, sites.len())));
                sites.push(Some(site));
            }
            Act::SiteChange(was, now) => {
                for site in sites
                    .iter_mut()
                    .flatten()
                    .filter(|site| is_site(site, &was))
                {
                    *site = SiteRef::from(&now);
                }
            }
            Act::SiteRemoval(gone) => {
                for site in &mut sites {
                    if site.as_ref().is_some_and(|site| is_site(site, &gone)) {
                        *site = None;
                    }
                }
            }
            _ => {
                for frame_id in frames.frames {
                    facts.put(frame_id, act.clone());
                }
            }
        }
    }
    let book = catalogue.sites()?;
    let ids: Vec<Option<i64>> = sites
        .iter()
        .map(|site| site.as_ref().and_then(|site| id_of(site, &book)))
        .collect();
    let at_sites = places
        .into_iter()
        .filter_map(|(frame, at)| Some((frame, ids[at]?)));
    facts.places.extend(at_sites);
    Ok(facts)
}

/// The site of that name; otherwise the nearest one: it was named by its position then.
fn id_of(named: &SiteRef, book: &[Site]) -> Option<i64> {
    let name = named.name.to_lowercase();
    let by_name = book.iter().find(|site| site.name.to_lowercase() == name);
    by_name
        .or_else(|| nearest(named.place, book))
        .map(|site| site.id)
}

/// What is in force.
fn in_force(catalogue: &Catalogue) -> Result<Facts, Failure> {
    let mut facts = Facts {
        places: catalogue.places_in_force()?,
        ..Facts::default()
    };
    for (frame_id, act) in catalogue.facts_in_force()? {
        facts.put(frame_id, act);
    }
    let mut add = |act: Act, frames: BTreeSet<i64>| {
        if let Some(key) = act.key() {
            facts.keyed.insert(key, (act, frames));
        }
    };
    for camera in catalogue.cameras()? {
        let body = || Body::from(&camera);
        for zone in catalogue.clock_zones(camera.camera_id)? {
            add(
                Act::Zone(body(), ZoneStated { id: 0, ..zone }),
                BTreeSet::new(),
            );
        }
        let members = catalogue.fix_frames(camera.camera_id)?;
        for fix in catalogue.clock_fixes(camera.camera_id)? {
            let of_set = members.iter().filter(|(set, _)| Some(*set) == fix.frames);
            let frames = of_set.map(|(_, frame_id)| *frame_id).collect();
            add(
                Act::Fix(
                    body(),
                    ClockFix {
                        id: 0,
                        written_offset_s: None,
                        ..fix
                    },
                ),
                frames,
            );
        }
    }
    for track in catalogue.tracks()? {
        add(
            Act::Track(track.name.clone(), catalogue.points_of(track.track_id)?),
            BTreeSet::new(),
        );
    }
    for saved in catalogue.saved_queries()? {
        let at = Utc::parse(&saved.saved_utc);
        add(Act::Query(saved.name, saved.query, at), BTreeSet::new());
    }
    Ok(facts)
}

impl Facts {
    /// Records what is stated of a frame, or that nothing is any more.
    fn put(&mut self, frame_id: i64, act: Act) {
        let key = (frame_id, act.word(), act.ends());
        if act == nothing(&act) {
            self.of_frames.remove(&key);
        } else {
            self.of_frames.insert(key, act);
        }
    }
}

/// The statement that removes what is stated of frames.
fn nothing(act: &Act) -> Act {
    match act {
        Act::Kind(_) => Act::Kind(None),
        Act::Focal(_) => Act::Focal(None),
        Act::Looked(_) => Act::Looked(false),
        Act::Chosen(_) => Act::Chosen(None),
        Act::Note(_) => Act::Note(None),
        Act::Trail(ends, _) => Act::Trail(*ends, None),
        Act::Pointing(_) => Act::Pointing(None),
        other => other.clone(),
    }
}

/// The statement that removes a fix, a zone, a track or a query.
fn removal(act: &Act) -> Option<Act> {
    Some(match act {
        Act::Zone(body, zone) => Act::ZoneRemoval(body.clone(), zone.from, zone.until),
        Act::Fix(body, fix) => Act::FixRemoval(body.clone(), fix.key()),
        Act::Track(name, _) => Act::TrackRemoval(name.clone()),
        Act::Query(name, ..) => Act::QueryRemoval(name.clone()),
        _ => return None,
    })
}
