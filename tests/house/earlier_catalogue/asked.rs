//! What a catalogue of before and one of this version are asked.

/// What both versions are asked; the words differ where a name has its new form.
pub const ASKED: &[(&str, &str)] = &[
    (
        "SELECT frame_id, camera_id, first_file_id, clock_s, clock_fraction, clock_source, utc_offset, body_zone_s, exposure_s,
           f_number, iso, focal_mm, focal35_mm, lens_id, width_px, height_px, orientation, temperature_c, shutter_count,
           gps_lat_deg, gps_lon_deg, gps_elev_m, gps_ms FROM written_frame ORDER BY 1",
        "SELECT frame_id, camera_id, first_file_id, clock_s, clock_fraction, clock_source, utc_offset, body_zone_s, exposure_s,
           f_number, iso, focal_mm, focal35_mm, lens_id, width_px, height_px, orientation, temperature_c, shutter_count,
           gps_lat_deg, gps_lon_deg, gps_elev_m, gps_ms FROM written_frame LEFT JOIN word_clock_source USING (clock_source_no)
           ORDER BY 1",
    ),
    (
        "SELECT file_id, folder_id, name, name_bytes, frame_id, copy_of, format, bytes, modified_ns,
           printf('%012x', (fingerprint >> 16) & 0xffffffffffff), undated,
           health, thumbnail_offset, thumbnail_bytes, preview_offset, preview_bytes FROM written_file ORDER BY 1",
        "SELECT file_id, folder_id, name, name_bytes, frame_id, copy_of, format, bytes, modified_ns,
           lower(hex(fingerprint)), undated,
           health, thumbnail_offset, thumbnail_bytes, preview_offset, preview_bytes FROM written_file JOIN word_format USING (format_no)
           JOIN word_health USING (health_no) ORDER BY 1",
    ),
    (
        "SELECT frame_id, site_id FROM written_frame LEFT JOIN stated_place USING (frame_id) ORDER BY 1",
        "SELECT frame_id, site_id FROM written_frame LEFT JOIN stated_place ON frame_id BETWEEN first_frame AND last_frame
           ORDER BY 1",
    ),
    (
        "SELECT frame_id, start_ms, time_basis, time_error_s, site_id, lat_deg, lon_deg, elev_m, place_basis, night_day, session_id,
           seq, kind, maker_id, evidence_id, turn_deg FROM derived_time ORDER BY 1",
        "SELECT frame_id, start_ms, time_basis, time_error_s, site_id, lat_deg, lon_deg, elev_m, place_basis, night_day, session_id,
           seq, kind, maker_id, evidence_id, turn_deg FROM derived_time JOIN word_time_basis USING (time_basis_no)
           JOIN word_place_basis USING (place_basis_no) LEFT JOIN word_kind USING (kind_no) ORDER BY 1",
    ),
    (
        "SELECT * FROM frame_time ORDER BY 1",
        "SELECT frame_id, file, camera, clock_local, start_utc, mid_utc, end_utc, time_basis, time_error_s, night, site, lat_deg,
           lon_deg, elev_m, place_basis, session, seq, kind, exposure_s, f_number, iso, focal_mm FROM frame ORDER BY 1",
    ),
    ("SELECT * FROM written_finding ORDER BY 1", ""),
    (
        "SELECT * FROM written_content ORDER BY 1",
        "SELECT file_id, content.bytes, content.modified_ns, blake3, strftime('%Y-%m-%dT%H:%M:%fZ', taken_ms / 1000.0, 'unixepoch')
           FROM measured_content AS content JOIN written_folder AS folder USING (dump_id) JOIN written_file AS file USING (folder_id)
           WHERE content.path = iif(folder.path = '', '', folder.path || '/') || file.name ORDER BY 1",
    ),
];

/// The same of the sky, which a later version computes again instead of carrying it over.
pub const ASKED_OF_SKY: &[(&str, &str)] = &[
    (
        "SELECT frame_id, sun_alt_deg, twilight, moon_alt_deg, moon_az_deg, moon_lit, lst_deg, solar_lon_deg, shower, active_id
           FROM derived_sky ORDER BY 1",
        "SELECT frame_id, sun_alt_deg, twilight, moon_alt_deg, moon_az_deg, moon_lit, lst_deg, solar_lon_deg, code, active_id
           FROM derived_sky LEFT JOIN derived_shower USING (shower_id) ORDER BY 1",
    ),
    (
        "SELECT shower, frame_id, alt_deg, az_deg, seen_alt_deg, seen_az_deg, moon_sep_deg, rate FROM derived_radiant
           ORDER BY 1, 2",
        "SELECT code, frame_id, alt_deg, az_deg, seen_alt_deg, seen_az_deg, moon_sep_deg, rate FROM derived_radiant
           JOIN derived_shower USING (shower_id) ORDER BY 1, 2",
    ),
    ("SELECT * FROM frame_sky ORDER BY frame_id, shower", ""),
];
