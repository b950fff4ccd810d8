//! The lights of a plan -> the darks, flats and bias frames that calibrate them, each checked as the lights are.

use std::collections::BTreeMap;
use std::collections::HashMap;
use std::sync::atomic::Ordering;

use crate::calibration::choose::choose;
use crate::calibration::nearness::Grade;
use crate::calibration::nearness::Nearness;
use crate::calibration::run::Run;
use crate::calibration::run::runs_of;
use crate::calibration::run::wanted_for;
use crate::calibration::words;
use crate::catalogue::content::ContentTaken;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::places::FilePlace;
use crate::catalogue::places::Places;
use crate::terms::basis::Health;
use crate::terms::basis::Kind;
use crate::terms::calibration::FrameSettings;
use crate::terms::failure::Failure;
use crate::terms::handoff::Take;
use crate::usecase::handoff::HandOrder;
use crate::usecase::handoff::choose::Choice;
use crate::usecase::handoff::choose::Chooser;
use crate::usecase::handoff::choose::LACKS_KIND;
use crate::usecase::handoff::entry::Why;
use crate::usecase::handoff::plan::Plan;

/// The calibration frames for one run of lights.
#[derive(Clone, Debug, PartialEq)]
pub struct CalibrationSet {
    /// Darks, flats or bias frames.
    pub kind: Kind,
    /// The lights.
    pub lights: Run,
    /// The settings that distinguish these lights from others: `15 s, ISO 3200, 12 to 14 °C`.
    pub settings: String,
    /// How well they fit.
    pub grade: Grade,
    /// Remarks, a sentence each.
    pub remarks: Vec<String>,
    /// The frames, in the order of their starts.
    pub frames: Vec<Serving>,
}

/// A calibration frame, with the file to be exported.
#[derive(Clone, Debug, PartialEq)]
pub struct Serving {
    /// The frame's number.
    pub frame_id: i64,
    /// The file's number.
    pub file_id: i64,
    /// How near it is to the middle of its lights.
    pub nearness: Nearness,
}

/// The calibration frames for the lights of a plan.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Calibration {
    /// The requested kinds.
    pub kinds: Vec<Kind>,
    /// The sets, kind by kind, lights in the order of their starts.
    pub sets: Vec<CalibrationSet>,
    /// How many lights there are.
    pub lights: u64,
    /// How many matching frames cannot be exported, by the label of their dump and the reason.
    pub passed_over: BTreeMap<(String, Lies), u64>,
    /// The hashes of files that were read from end to end, by their numbers.
    pub hashes: HashMap<i64, [u8; 32]>,
}

/// Which lights are meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whose {
    /// All.
    All,
    /// Those of one session, or those without one.
    OfSession(Option<i64>),
}

/// Why a frame cannot be exported.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lies {
    /// Its dump is offline.
    Away,
    /// Its dump is present; its own file is missing, changed or damaged.
    There,
    /// Its dump is present; it has no file of the lights' kind.
    OfAnotherKind,
}

/// Finds the calibration frames for the lights of a plan. `keep` receives new hashes.
pub fn calibrate(
    catalogue: &Catalogue,
    order: &HandOrder<'_>,
    plan: &Plan,
    keep: &mut dyn FnMut(&[ContentTaken]) -> Result<(), Failure>,
) -> Result<Calibration, Failure> {
    let mut found = Calibration {
        kinds: order.calibration.to_vec(),
        ..Calibration::default()
    };
    let mut places = catalogue.places();
    let mut lights: [(Take, Vec<FrameSettings>); 3] =
        [Take::Raw, Take::Jpeg, Take::First].map(|take| (take, Vec::new()));
    if !order.calibration.is_empty() {
        let entries = || plan.entries.iter().filter(|entry| entry.is_light);
        let settings = catalogue.frame_settings(entries().map(|entry| entry.frame_id))?;
        found.lights = settings.len() as u64;
        let mut settings = settings.into_iter();
        places.each_file(entries().map(|entry| entry.file_id), |file| {
            let like = take_like(&file);
            for (_, alike) in lights.iter_mut().filter(|(take, _)| *take == like) {
                alike.extend(settings.next());
            }
            Ok(true)
        })?;
    }
    for kind in order.calibration {
        let runs = runs_of(*kind, &catalogue.calibration_frames(*kind)?);
        for (take, lights) in &lights {
            let mut search = Search {
                chooser: Chooser::new(catalogue, *take, order.check, order.damaged),
                places: catalogue.places(),
                known: HashMap::new(),
            };
            for lights in wanted_for(*kind, lights) {
                if order.stop.load(Ordering::Relaxed) {
                    return Ok(found);
                }
                let set = search.serve(*kind, lights, &runs, &mut found.passed_over)?;
                found.sets.push(set);
            }
            keep(search.chooser.taken.make_contiguous())?;
            found.hashes.extend(search.chooser.hashes);
        }
    }
    Ok(found)
}

/// Raw lights are calibrated by raw files, JPEG lights by JPEG files.
fn take_like(light: &FilePlace) -> Take {
    match light.format {
        "jpeg" => Take::Jpeg,
        format if crate::capture::pair::rank(format) == 0 => Take::Raw,
        _ => Take::First,
    }
}

/// The search among the frames of the archive: each is checked on the disk once, and only if it is needed.
struct Search<'c> {
    chooser: Chooser<'c>,
    places: Places<'c>,
    known: HashMap<i64, Option<i64>>,
}

impl Search<'_> {
    fn serve(
        &mut self,
        kind: Kind,
        lights: Run,
        runs: &[Run],
        passed_over: &mut BTreeMap<(String, Lies), u64>,
    ) -> Result<CalibrationSet, Failure> {
        let found = choose(kind, &lights, runs, &mut |frame| {
            self.usable(frame.frame_id, passed_over)
        })?;
        let frames = found.frames.iter().filter_map(|chosen| {
            let file_id = self.known.get(&chosen.frame.frame_id).copied().flatten()?;
            Some(Serving {
                frame_id: chosen.frame.frame_id,
                file_id,
                nearness: chosen.nearness,
            })
        });
        Ok(CalibrationSet {
            kind,
            frames: frames.collect(),
            settings: words::settings(kind, &lights),
            grade: found.grade,
            remarks: found.remarks,
            lights,
        })
    }

    /// Whether a frame has an undamaged, unchanged file of the lights' kind.
    fn usable(
        &mut self,
        frame_id: i64,
        passed_over: &mut BTreeMap<(String, Lies), u64>,
    ) -> Result<bool, Failure> {
        if let Some(known) = self.known.get(&frame_id) {
            return Ok(known.is_some());
        }
        let mut files = self.places.files_of(frame_id)?;
        let label = files.first().map(|file| file.folder.dump.label.clone());
        let all = files.len();
        files.retain(|file| file.health == Health::Sound);
        let all_sound = files.len() == all;
        let mut lies = Lies::There;
        let file = match self.chooser.choose(files)? {
            Some(Choice::File(file)) => Some(file.file_id),
            Some(Choice::None(_, Why::Away(_))) => {
                lies = Lies::Away;
                None
            }
            Some(Choice::None(_, Why::Odd(saw))) => {
                if all_sound && saw.code == LACKS_KIND {
                    lies = Lies::OfAnotherKind;
                }
                None
            }
            Some(Choice::None(_, Why::Damaged(_))) | None => None,
        };
        if file.is_none() {
            *passed_over
                .entry((label.unwrap_or_default(), lies))
                .or_default() += 1;
        }
        self.known.insert(frame_id, file);
        Ok(file.is_some())
    }
}

impl Calibration {
    /// The files of a kind in the order of the sets, each once.
    pub fn files_of(&self, kind: Kind, whose: Whose) -> Vec<&Serving> {
        let mut seen = std::collections::HashSet::new();
        self.sets_of(kind, whose)
            .flat_map(|set| &set.frames)
            .filter(|frame| seen.insert(frame.file_id))
            .collect()
    }

    /// The sets of a kind.
    pub fn sets_of(&self, kind: Kind, whose: Whose) -> impl Iterator<Item = &CalibrationSet> {
        self.sets.iter().filter(move |set| {
            let its = match whose {
                Whose::All => true,
                Whose::OfSession(session) => set.lights.settings.session == session,
            };
            set.kind == kind && its
        })
    }

    /// Whether every run of lights has a usable set.
    pub fn all_served(&self) -> bool {
        self.lights > 0 && self.sets.iter().all(|set| set.grade.serves())
    }
}
