//! Clocks that must be wrong, found in the catalogue: rows to the checks, doubts to findings.

use std::collections::BTreeSet;

use crate::capture::pair::stem_of;
use crate::catalogue::audit::AuditRow;
use crate::catalogue::clocked::SessionAt;
use crate::catalogue::derive::BodyNight;
use crate::catalogue::open::Catalogue;
use crate::clock::doubt::Doubt;
use crate::clock::doubt::bodies;
use crate::clock::doubt::first_day;
use crate::clock::doubt::night;
use crate::clock::doubt::numbers;
use crate::clock::doubt::offset;
use crate::clock::doubt::stamp;
use crate::pipeline::bodies::body_names;
use crate::sky::look::Looker;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;

/// How many steps of one body's file numbers are told one by one.
const STEPS_TOLD: usize = 20;

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

    fn asks_body(self, camera_id: i64) -> bool {
        match self {
            Self::All => true,
            Self::Nights(nights) => nights.iter().any(|n| n.camera_id == Some(camera_id)),
        }
    }
}

/// Finds clocks that must be wrong.
pub fn doubtful_clocks(catalogue: &Catalogue, judge: Judge<'_>) -> Result<Vec<AuditRow>, Failure> {
    let nights: BTreeSet<String> = match judge {
        Judge::All => catalogue.nights()?,
        Judge::Nights(nights) => nights.iter().map(|n| n.night.clone()).collect(),
    };
    let named = body_names(catalogue)?;
    let mut looker = Looker::new();
    let mut doubts: Vec<Doubt> = Vec::new();
    for one in &nights {
        let mut sessions = catalogue.clocked_sessions(one)?;
        for at in &mut sessions {
            if let Some(name) = at.camera_id.and_then(|id| named.get(&id)) {
                at.session.camera.clone_from(name);
            }
        }
        let mut parts = Vec::new();
        for at in &sessions {
            parts.extend(bodies::night_part(&at.session));
            if !judge.asks(at) {
                continue;
            }
            let mut sun_alt_deg = |utc: Utc| looker.frame_sky(utc, at.place)?.sun_alt_deg;
            doubts.extend(night::check(&at.session, &mut sun_alt_deg));
            doubts.extend(offset::check(&at.session));
            doubts.extend(stamp::check(&at.session));
        }
        doubts.extend(bodies::check(&parts));
    }
    for camera in catalogue.cameras()? {
        let name = named.get(&camera.camera_id).unwrap_or(&camera.name);
        if judge.asks_body(camera.camera_id) {
            doubts.extend(of_files(catalogue, camera.camera_id, name)?);
        }
    }
    doubts
        .into_iter()
        .map(|doubt| {
            catalogue.audit_row(
                doubt.frame_id,
                doubt.code,
                doubt.saw,
                format!("left the times as they are; {}", doubt.cure),
            )
        })
        .collect()
}

/// Doubts about one body that its files tell, whatever the night.
fn of_files(catalogue: &Catalogue, camera_id: i64, name: &str) -> Result<Vec<Doubt>, Failure> {
    let mut doubts = Vec::new();
    let mut before: Option<numbers::Numbered> = None;
    catalogue.files_in_order(camera_id, |file| {
        let file = numbers::Numbered {
            frame_id: file.frame_id,
            folder: file.folder,
            stem: stem_of(&file.name),
            reading: file.reading,
            start_utc: file.start_utc,
        };
        if doubts.len() < STEPS_TOLD
            && let Some(before) = &before
        {
            doubts.extend(numbers::check(name, before, &file));
        }
        before = Some(file);
    })?;
    for day in catalogue.january_firsts(camera_id)? {
        let day = first_day::FirstDay {
            frame_id: day.frame_id,
            reading: day.reading,
            frames: day.frames,
            nearest_other: day.nearest_other,
        };
        doubts.extend(first_day::check(name, &day));
    }
    Ok(doubts)
}
