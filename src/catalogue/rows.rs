//! Records into rows of `written_` tables, column by column. Computes no value.

use rusqlite::Connection;
use rusqlite::params;

use crate::catalogue::file_rows::NewFile;
use crate::catalogue::names::kept_name;
use crate::catalogue::scale::Numbered;
use crate::catalogue::scale::format_number;
use crate::catalogue::scale::millionths;
use crate::terms::finding::Finding;
use crate::terms::records::CaptureRecord;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

pub(super) const INSERT_FRAME: &str = "
    INSERT INTO written_frame (camera_id, first_file_id, clock_s, clock_fraction, clock_source_no, utc_offset_s, body_zone_s,
        exposure_s, f_number_millionths, iso, focal_mm, focal35_mm, lens_id, width_px, height_px, orientation, temperature_c,
        shutter_count, gps_lat_deg, gps_lon_deg, gps_elev_m, gps_ms, frame_id)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";

pub(super) const UPDATE_FRAME: &str = "
    UPDATE written_frame SET camera_id = ?, first_file_id = ?, clock_s = ?, clock_fraction = ?, clock_source_no = ?,
        utc_offset_s = ?, body_zone_s = ?, exposure_s = ?, f_number_millionths = ?, iso = ?, focal_mm = ?, focal35_mm = ?,
        lens_id = ?, width_px = ?, height_px = ?, orientation = ?, temperature_c = ?, shutter_count = ?,
        gps_lat_deg = ?, gps_lon_deg = ?, gps_elev_m = ?, gps_ms = ?
    WHERE frame_id = ?";

/// The rows that a row of a frame refers to.
#[derive(Clone, Copy)]
pub(super) struct FrameLinks {
    pub camera: Option<i64>,
    pub lens: Option<i64>,
    pub first_file: i64,
}

pub(super) fn put_frame(
    db: &Connection,
    sql: &str,
    frame_id: i64,
    links: FrameLinks,
    r: &CaptureRecord,
) -> rusqlite::Result<()> {
    db.prepare_cached(sql)?.execute(params![
        links.camera,
        links.first_file,
        r.clock_local.map(WallTime::seconds),
        r.clock_local.and_then(WallTime::fraction),
        r.clock_source.and_then(Numbered::number),
        r.utc_offset_s,
        r.body_zone_s,
        r.exposure_s,
        r.f_number.map(millionths),
        r.iso,
        r.focal_mm,
        r.focal35_mm,
        links.lens,
        r.width_px,
        r.height_px,
        r.orientation,
        r.temperature_c,
        r.shutter_count.map(signed),
        r.gps_lat_deg,
        r.gps_lon_deg,
        r.gps_elev_m,
        r.gps_utc.map(Utc::unix_ms),
        frame_id,
    ])?;
    Ok(())
}

pub(super) const INSERT_FILE: &str = "
    INSERT INTO written_file (folder_id, name, name_bytes, frame_id, copy_of, format_no, bytes, modified_ns, fingerprint,
        undated, health_no, thumbnail_offset, thumbnail_bytes, preview_offset, preview_bytes, file_id)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";

pub(super) const UPDATE_FILE: &str = "
    UPDATE written_file SET folder_id = ?, name = ?, name_bytes = ?, frame_id = ?, copy_of = ?, format_no = ?, bytes = ?,
        modified_ns = ?, fingerprint = ?, undated = ?, health_no = ?, thumbnail_offset = ?, thumbnail_bytes = ?,
        preview_offset = ?, preview_bytes = ?
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
        format_number(reading.format),
        signed(file.bytes),
        file.modified_ns,
        reading.fingerprint,
        reading.record.clock_local.is_none(),
        reading.health.number(),
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

pub(super) fn put_findings<'f>(
    db: &Connection,
    sql: &str,
    of: i64,
    findings: impl IntoIterator<Item = &'f Finding>,
) -> rusqlite::Result<()> {
    for finding in findings {
        db.prepare_cached(sql)?
            .execute(params![of, finding.code, finding.saw, finding.did])?;
    }
    Ok(())
}

/// SQLite stores signed numbers; no file or counter exceeds them.
pub(super) fn signed(value: u64) -> i64 {
    i64::try_from(value).unwrap_or(i64::MAX)
}
