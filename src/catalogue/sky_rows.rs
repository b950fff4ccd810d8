//! Stores the sky of frames: a row for Sun and Moon, and one for each radiant. Computes no value.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::run_sql::forget;
use crate::catalogue::scale::direction;
use crate::catalogue::scale::millionths;
use crate::catalogue::scale::rates;
use crate::catalogue::scale::tenths;
use crate::catalogue::scale::tenths_round;
use crate::terms::records::FrameSky;
use crate::terms::records::RadiantSky;

/// The references of a sky row: the strongest shower, the main one, and the set of those with radiants.
#[derive(Clone, Copy, PartialEq, Eq)]
#[allow(clippy::struct_field_names)] // named as the columns are
pub(super) struct SkyKeys {
    pub shower_id: Option<i64>,
    pub main_shower_id: Option<i64>,
    pub active_id: Option<i64>,
}

pub(super) fn put_sky_row(
    db: &Connection,
    frame_id: i64,
    sky: &FrameSky,
    keys: SkyKeys,
) -> rusqlite::Result<()> {
    let [
        frame_id,
        sun_alt,
        moon_alt,
        moon_az,
        moon_lit,
        lst,
        solar_lon,
    ] = angles(frame_id, sky);
    db.prepare_cached(
        "INSERT OR REPLACE INTO derived_sky (frame_id, sun_alt, moon_alt, moon_az, moon_lit_ppm, lst, solar_lon, shower_id,
             main_shower_id, active_id)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )?
    .execute([frame_id, sun_alt, moon_alt, moon_az, moon_lit, lst, solar_lon, keys.shower_id, keys.main_shower_id,
        keys.active_id])?;
    Ok(())
}

/// Updates a sky row whose showers have not changed.
pub(super) fn put_angles(db: &Connection, frame_id: i64, sky: &FrameSky) -> rusqlite::Result<()> {
    db.prepare_cached(
        "UPDATE derived_sky SET sun_alt = ?2, moon_alt = ?3, moon_az = ?4, moon_lit_ppm = ?5, lst = ?6, solar_lon = ?7
         WHERE frame_id = ?1",
    )?
    .execute(angles(frame_id, sky))?;
    Ok(())
}

/// A frame's number, and the angles of its sky as stored.
fn angles(frame_id: i64, sky: &FrameSky) -> [Option<i64>; 7] {
    [
        Some(frame_id),
        sky.sun_alt_deg.map(tenths),
        sky.moon_alt_deg.map(tenths),
        sky.moon_az_deg.map(tenths_round),
        Some(millionths(sky.moon_lit)),
        sky.lst_deg.map(tenths_round),
        Some(tenths_round(sky.solar_lon_deg)),
    ]
}

const PUT_RADIANT: &str = "
    INSERT OR REPLACE INTO derived_radiant (shower_id, frame_id, stood, seen, moon_sep, rates)
    VALUES (?1, ?2, ?3, ?4, ?5, ?6)";

const MOVE_RADIANT: &str = "
    UPDATE derived_radiant SET stood = ?3, seen = ?4, moon_sep = ?5, rates = ?6
    WHERE shower_id = ?1 AND frame_id = ?2";

/// Radiants, each with its shower's number.
pub(super) fn put_radiants(
    db: &Connection,
    frame_id: i64,
    radiants: &[(i64, &RadiantSky)],
) -> rusqlite::Result<()> {
    let mut put = db.prepare_cached(PUT_RADIANT)?;
    for (shower_id, radiant) in radiants {
        put.execute(radiant_row(frame_id, *shower_id, radiant))?;
    }
    Ok(())
}

/// Updates existing rows. A row that somebody has deleted is inserted again.
pub(super) fn move_radiants(
    db: &Connection,
    frame_id: i64,
    radiants: &[(i64, &RadiantSky)],
) -> rusqlite::Result<()> {
    let mut moved = db.prepare_cached(MOVE_RADIANT)?;
    for one in radiants {
        let (shower_id, radiant) = one;
        if moved.execute(radiant_row(frame_id, *shower_id, radiant))? == 0 {
            put_radiants(db, frame_id, std::slice::from_ref(one))?;
        }
    }
    Ok(())
}

fn radiant_row(frame_id: i64, shower_id: i64, r: &RadiantSky) -> [i64; 6] {
    [
        shower_id,
        frame_id,
        direction(r.alt_deg, r.az_deg),
        direction(r.seen_alt_deg, r.seen_az_deg),
        tenths(r.moon_sep_deg),
        rates(r.rate, r.seen_rate),
    ]
}

/// Deletes a frame's sky.
pub(super) fn forget_sky(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    forget_radiants(db, frame_id)?;
    forget(
        db,
        &["DELETE FROM derived_sky WHERE frame_id = ?"],
        frame_id,
    )
}

/// Deletes a frame's radiants, as listed in its sky row.
pub(super) fn forget_radiants(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    let showers: Option<String> = db
        .prepare_cached("SELECT showers FROM derived_sky JOIN derived_active USING (active_id) WHERE frame_id = ?")?
        .query_row([frame_id], |row| row.get(0))
        .optional()?;
    for code in showers.iter().flat_map(|codes| codes.split(' ')) {
        db.prepare_cached(
            "DELETE FROM derived_radiant
             WHERE shower_id = (SELECT shower_id FROM derived_shower WHERE code = ?) AND frame_id = ?",
        )?
        .execute(params![code, frame_id])?;
    }
    Ok(())
}

/// Deletes a frame's sky, if its row may not list all its radiants.
pub(super) fn forget_every_radiant(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    db.prepare_cached(
        "DELETE FROM derived_radiant WHERE shower_id IN (SELECT shower_id FROM derived_shower) AND frame_id = ?",
    )?
    .execute([frame_id])?;
    forget(
        db,
        &["DELETE FROM derived_sky WHERE frame_id = ?"],
        frame_id,
    )
}
