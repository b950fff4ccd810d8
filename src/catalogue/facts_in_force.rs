//! What is in force of frames by statements, as statements. Computes no value.

use std::collections::BTreeMap;

use rusqlite::Connection;

use crate::catalogue::columns::parsed;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::stated_frames::MarkedFrame;
use crate::catalogue::stated_frames::frames_marked;
use crate::catalogue::stated_pointing::of_frame;
use crate::catalogue::stated_trails::TRAILS;
use crate::catalogue::stated_trails::stated;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::terms::frame_marks::FrameMark;
use crate::terms::statement::Act;

impl Catalogue {
    /// The frames with a file that has this mark.
    pub fn frames_marked(&self, mark: &FrameMark) -> Result<Vec<MarkedFrame>, Failure> {
        self.step(|db| frames_marked(db, mark))
    }

    /// What is in force of single frames, besides their places: the frame and what is stated of it.
    pub fn facts_in_force(&self) -> Result<Vec<(i64, Act)>, Failure> {
        self.step(facts)
    }

    /// The stated place of each frame that has one, by the number of the site.
    pub fn places_in_force(&self) -> Result<BTreeMap<i64, i64>, Failure> {
        self.all(
            "SELECT frame.frame_id, place.site_id FROM stated_place AS place
             JOIN written_frame AS frame ON frame.frame_id BETWEEN place.first_frame AND place.last_frame",
            [],
        )
    }
}

fn facts(db: &Connection) -> rusqlite::Result<Vec<(i64, Act)>> {
    let mut all = Vec::new();
    let mut read = db.prepare("SELECT frame_id, kind FROM stated_kind")?;
    let mut rows = read.query([])?;
    while let Some(row) = rows.next()? {
        all.push((row.get(0)?, Act::Kind(parsed(row, 1, Kind::from_word)?)));
    }
    let mut read = db.prepare("SELECT frame_id, focal_mm FROM stated_focal")?;
    let mut rows = read.query([])?;
    while let Some(row) = rows.next()? {
        all.push((row.get(0)?, Act::Focal(Some(row.get(1)?))));
    }
    let mut read = db.prepare("SELECT frame_id, looked, chosen, note FROM stated_look")?;
    let mut rows = read.query([])?;
    while let Some(row) = rows.next()? {
        let frame_id = row.get(0)?;
        let looked: Option<bool> = row.get(1)?;
        let chosen: Option<bool> = row.get(2)?;
        let note: Option<String> = row.get(3)?;
        all.extend(looked.map(|looked| (frame_id, Act::Looked(looked))));
        all.extend(chosen.map(|chosen| (frame_id, Act::Chosen(Some(chosen)))));
        all.extend(note.map(|note| (frame_id, Act::Note(Some(note)))));
    }
    let mut read = db.prepare(TRAILS)?;
    let mut rows = read.query([])?;
    while let Some(row) = rows.next()? {
        let trail = stated(row)?;
        all.push((trail.frame_id, Act::Trail(trail.ends, Some(trail.judged))));
    }
    let mut read = db.prepare("SELECT frame_id FROM stated_pointing_frame")?;
    let mut rows = read.query([])?;
    while let Some(row) = rows.next()? {
        let frame_id = row.get(0)?;
        all.push((frame_id, Act::Pointing(of_frame(db, frame_id)?)));
    }
    Ok(all)
}
