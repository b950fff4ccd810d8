//! Copies the statements in force from an earlier version into the log of statements, once, during an upgrade. Their
//! times are unknown.

use std::collections::BTreeMap;

use rusqlite::Connection;
use rusqlite::params;

use crate::catalogue::stated_frames::mark_of;
use crate::catalogue::statements::word_id;
use crate::terms::frame_marks::FrameMark;
use crate::terms::frame_marks::pack;

const SITE: &str = "json_object('name', name, 'lat_deg', lat_deg, 'lon_deg', lon_deg, 'elev_m', elev_m, 'zone', zone,
    'sqm_mag', sqm_mag, 'limiting_mag', limiting_mag,
    'made_from', CASE WHEN origin = 'exif' THEN iif(of_track, 'track', 'positions') END)";
const SITE_REF: &str =
    "json_object('name', name, 'lat_deg', lat_deg, 'lon_deg', lon_deg, 'elev_m', elev_m)";
const BODY: &str = "json_object('make', make, 'model', model, 'serial', serial)";

/// Appends statements for everything in force.
pub(super) fn take_over(db: &Connection) -> rusqlite::Result<()> {
    append(
        db,
        "site",
        &format!("SELECT {SITE} FROM stated_site WHERE origin = 'stated' ORDER BY site_id"),
    )?;
    // Of a site made from positions, only its zone and its brightness can have been stated.
    append(
        db,
        "site-change",
        &format!(
            "SELECT json_object('site', json({SITE_REF}), 'to', json({SITE})) FROM stated_site
             WHERE origin = 'exif' AND ifnull(sqm_mag, limiting_mag) IS NOT NULL ORDER BY site_id"
        ),
    )?;
    append(
        db,
        "zone",
        &format!(
            "SELECT json_object('body', json({BODY}), 'zone', zone, 'from', from_local, 'until', until_local)
             FROM stated_clock_zone JOIN written_camera USING (camera_id) ORDER BY zone_id"
        ),
    )?;
    append(
        db,
        "fix",
        &format!(
            "SELECT json_object('body', json({BODY}), 'reading', reading, 'true_utc', strftime('%Y-%m-%dT%H:%M:%fZ', true_ms / 1000.0, 'unixepoch'),
                      'reset_before', json(iif(reset_before, 'true', 'false')), 'from', from_local, 'until', until_local)
             FROM stated_clock_fix JOIN written_camera USING (camera_id) ORDER BY fix_id"
        ),
    )?;
    append(
        db,
        "track",
        "SELECT json_object('name', name, 'points',
                  json((SELECT json_group_array(json_array(strftime('%Y-%m-%dT%H:%M:%fZ', at_ms / 1000.0, 'unixepoch'), segment, lat_deg, lon_deg, elev_m) ORDER BY at_ms)
                        FROM stated_track_point AS point WHERE point.track_id = track.track_id)))
         FROM stated_track AS track ORDER BY track_id",
    )?;
    append(
        db,
        "query",
        "SELECT json_object('name', name, 'query', query, 'saved_utc', strftime('%Y-%m-%dT%H:%M:%fZ', saved_ms / 1000.0, 'unixepoch')) FROM stated_query ORDER BY name",
    )?;
    append_of_frames(
        db,
        "place",
        &format!("SELECT site_id, json_object('site', json({SITE_REF})) FROM stated_site ORDER BY site_id"),
        "SELECT frame_id FROM stated_place AS place
         JOIN written_frame AS frame ON frame.frame_id BETWEEN place.first_frame AND place.last_frame WHERE place.site_id = ?",
    )?;
    append_of_frames(
        db,
        "kind",
        "SELECT DISTINCT kind, json_object('kind', kind) FROM stated_kind ORDER BY kind",
        "SELECT frame_id FROM stated_kind WHERE kind = ? ORDER BY frame_id",
    )?;
    append_of_frames(
        db,
        "focal",
        "SELECT DISTINCT focal_mm, json_object('focal_mm', focal_mm) FROM stated_focal ORDER BY focal_mm",
        "SELECT frame_id FROM stated_focal WHERE focal_mm = ? ORDER BY frame_id",
    )
}

/// Appends a statement for each content that a query returns.
fn append(db: &Connection, word: &str, contents: &str) -> rusqlite::Result<()> {
    let mut read = db.prepare(contents)?;
    let mut rows = read.query([])?;
    while let Some(row) = rows.next()? {
        let content: String = row.get(0)?;
        log(db, word, &content)?;
    }
    Ok(())
}

fn log(db: &Connection, word: &str, content: &str) -> rusqlite::Result<i64> {
    db.prepare_cached(
        "INSERT INTO stated_log (identity, word_id, content) VALUES (randomblob(16), ?, ?)",
    )?
    .insert(params![word_id(db, word)?, content])
}

/// Appends a statement for each value and content that a query returns, about the frames that another query returns for
/// the value.
fn append_of_frames(
    db: &Connection,
    word: &str,
    contents: &str,
    frames: &str,
) -> rusqlite::Result<()> {
    let mut read = db.prepare(contents)?;
    let mut rows = read.query([])?;
    while let Some(row) = rows.next()? {
        let value: rusqlite::types::Value = row.get(0)?;
        let content: String = row.get(1)?;
        let mut dumps: BTreeMap<String, Vec<FrameMark>> = BTreeMap::new();
        let mut frames = db.prepare_cached(frames)?;
        let mut of_value = frames.query([value])?;
        while let Some(frame) = of_value.next()? {
            let (mark, dump) = mark_of(db, frame.get(0)?)?;
            dumps.entry(dump).or_default().push(mark);
        }
        if dumps.is_empty() {
            continue;
        }
        let number = log(db, word, &content)?;
        for (part, (dump, marks)) in (1_i64..).zip(dumps) {
            let clocks = || marks.iter().filter_map(|mark| mark.clock_s);
            db.execute(
                "INSERT INTO stated_frames (number, part, dump, frames, first_s, last_s, marks) VALUES (?, ?, ?, ?, ?, ?, ?)",
                params![
                    number,
                    part,
                    dump,
                    i64::try_from(marks.len()).unwrap_or(i64::MAX),
                    clocks().min(),
                    clocks().max(),
                    pack(marks.clone())
                ],
            )?;
        }
    }
    Ok(())
}
