//! Records into rows of `written_` tables, column by column. Computes no value.

use rusqlite::Connection;
use rusqlite::params;

use crate::catalogue::names::kept_name;
use crate::catalogue::store::NewFile;
use crate::terms::basis::ClockTag;
use crate::terms::finding::Finding;
use crate::terms::records::CaptureRecord;
use crate::terms::records::FileReading;

pub(super) const INSERT_FRAME: &str = "
    INSERT INTO written_frame (camera_id, first_file_id, stem, clock_local, clock_source, utc_offset, body_zone_s,
        exposure_s, f_number, iso, focal_mm, focal35_mm, lens, width_px, height_px, orientation, temperature_c,
        shutter_count, gps_lat_deg, gps_lon_deg, gps_elev_m, gps_utc, frame_id)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";

pub(super) const UPDATE_FRAME: &str = "
    UPDATE written_frame SET camera_id = ?, first_file_id = ?, stem = ?, clock_local = ?, clock_source = ?,
        utc_offset = ?, body_zone_s = ?, exposure_s = ?, f_number = ?, iso = ?, focal_mm = ?, focal35_mm = ?,
        lens = ?, width_px = ?, height_px = ?, orientation = ?, temperature_c = ?, shutter_count = ?,
        gps_lat_deg = ?, gps_lon_deg = ?, gps_elev_m = ?, gps_utc = ?
    WHERE frame_id = ?";

pub(super) fn put_frame(
    db: &Connection,
    sql: &str,
    frame_id: i64,
    camera_id: Option<i64>,
    first_file_id: i64,
    stem: &str,
    r: &CaptureRecord,
) -> rusqlite::Result<()> {
    db.prepare_cached(sql)?.execute(params![
        camera_id,
        first_file_id,
        stem,
        r.clock_local.map(|c| c.to_string()),
        r.clock_source.map(ClockTag::word),
        r.utc_offset_s.map(offset_text),
        r.body_zone_s,
        r.exposure_s,
        r.f_number,
        r.iso,
        r.focal_mm,
        r.focal35_mm,
        r.lens,
        r.width_px,
        r.height_px,
        r.orientation,
        r.temperature_c,
        r.shutter_count.map(signed),
        r.gps_lat_deg,
        r.gps_lon_deg,
        r.gps_elev_m,
        r.gps_utc.map(|u| u.to_string()),
        frame_id,
    ])?;
    Ok(())
}

pub(super) const INSERT_FILE: &str = "
    INSERT INTO written_file (folder_id, name, name_bytes, frame_id, copy_of, format, bytes, modified_ns, contents,
        health, thumbnail_offset, thumbnail_bytes, preview_offset, preview_bytes, file_id)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";

pub(super) const UPDATE_FILE: &str = "
    UPDATE written_file SET folder_id = ?, name = ?, name_bytes = ?, frame_id = ?, copy_of = ?, format = ?, bytes = ?,
        modified_ns = ?, contents = ?, health = ?, thumbnail_offset = ?, thumbnail_bytes = ?, preview_offset = ?,
        preview_bytes = ?
    WHERE file_id = ?";

pub(super) fn put_file(
    db: &Connection,
    sql: &str,
    file_id: i64,
    frame_id: i64,
    copy_of: Option<i64>,
    file: NewFile<'_>,
) -> rusqlite::Result<()> {
    let name = kept_name(file.name);
    let reading = file.reading;
    db.prepare_cached(sql)?.execute(params![
        file.folder_id,
        name.text,
        name.bytes,
        frame_id,
        copy_of,
        reading.format,
        signed(file.bytes),
        file.modified_ns,
        contents_key(reading).as_ref().map(|key| &key[..]),
        reading.health.word(),
        reading.thumbnail.map(|t| signed(t.offset)),
        reading.thumbnail.map(|t| signed(t.length)),
        reading.preview.map(|t| signed(t.offset)),
        reading.preview.map(|t| signed(t.length)),
        file_id,
    ])?;
    put_findings(
        db,
        "INSERT INTO written_finding (file_id, code, saw, did) VALUES (?, ?, ?, ?)",
        file_id,
        &reading.findings,
    )
}

pub(super) fn put_findings(
    db: &Connection,
    sql: &str,
    of: i64,
    findings: &[Finding],
) -> rusqlite::Result<()> {
    for finding in findings {
        db.prepare_cached(sql)?
            .execute(params![of, finding.code, finding.saw, finding.did])?;
    }
    Ok(())
}

/// What finds a file again by its contents: the clock reading in seconds, then the fingerprint. Copies agree in both.
pub(super) fn contents_key(reading: &FileReading) -> Option<[u8; 20]> {
    let print = reading.fingerprint?;
    let second = reading
        .record
        .clock_local
        .and_then(|clock| u32::try_from(clock.reading_ms() / 1000).ok())
        .unwrap_or(0);
    let mut key = [0; 20];
    key[..4].copy_from_slice(&second.to_be_bytes());
    key[4..].copy_from_slice(&print);
    Some(key)
}

/// SQLite keeps signed numbers; no file or counter reaches past them.
pub(super) fn signed(value: u64) -> i64 {
    i64::try_from(value).unwrap_or(i64::MAX)
}

/// `+01:00`; with seconds where there are some.
fn offset_text(offset_s: i32) -> String {
    let sign = if offset_s < 0 { '-' } else { '+' };
    let s = offset_s.unsigned_abs();
    let (h, m, rest) = (s / 3600, s / 60 % 60, s % 60);
    if rest == 0 {
        format!("{sign}{h:02}:{m:02}")
    } else {
        format!("{sign}{h:02}:{m:02}:{rest:02}")
    }
}
