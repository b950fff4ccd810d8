-- Why: other programs can show local time at the site too. SQL alone does not know when the clocks of a zone change.

CREATE TABLE zone_offset (
    zone        TEXT NOT NULL,                -- as in stated_site
    from_ms     INTEGER NOT NULL,             -- when the offset begins, UTC
    offset_s    INTEGER NOT NULL,             -- seconds east, until the zone's next row
    PRIMARY KEY (zone, from_ms)
) STRICT, WITHOUT ROWID;

DROP VIEW frame;

CREATE VIEW frame AS
SELECT frame.frame_id,
       dump.root_shown || '/' || iif(folder.path = '', '', folder.path || '/') || file.name AS path,
       file.name AS file, dump.label AS dump, camera.name AS camera, lens.name AS lens,
       strftime('%Y-%m-%dT%H:%M:%S', frame.clock_s, 'unixepoch') || ifnull('.' || frame.clock_fraction, '')
           AS clock_local,
       strftime('%Y-%m-%dT%H:%M:%fZ', time.start_ms / 1000.0, 'unixepoch') AS start_utc,
       (SELECT strftime('%Y-%m-%dT%H:%M:%f', (time.start_ms + offset_s * 1000) / 1000.0, 'unixepoch')
               || iif(offset_s < 0, '-', '+')
               || strftime(iif(offset_s % 60, '%H:%M:%S', '%H:%M'), abs(offset_s), 'unixepoch')
        FROM zone_offset AS zone WHERE zone.zone = site.zone AND zone.from_ms <= time.start_ms
        ORDER BY zone.from_ms DESC LIMIT 1) AS start_local,
       strftime('%Y-%m-%dT%H:%M:%fZ', (time.start_ms + round(ifnull(frame.exposure_s, 0) * 500)) / 1000.0, 'unixepoch')
           AS mid_utc,
       strftime('%Y-%m-%dT%H:%M:%fZ', (time.start_ms + round(ifnull(frame.exposure_s, 0) * 1000)) / 1000.0, 'unixepoch')
           AS end_utc,
       time_basis.time_basis, time.time_error_s, date(time.night_day * 86400, 'unixepoch') AS night, site.name AS site,
       site.zone AS zone,
       ifnull(time.lat_deg, site.lat_deg) AS lat_deg, ifnull(time.lon_deg, site.lon_deg) AS lon_deg,
       ifnull(time.elev_m, site.elev_m) AS elev_m, place_basis.place_basis, time.session_id AS session, time.seq,
       kind.kind, health.health, format.format, frame.exposure_s, frame.f_number, frame.iso,
       ifnull(focal.focal_mm, frame.focal_mm) AS focal_mm
FROM written_frame AS frame
LEFT JOIN written_file     AS file        ON file.file_id = frame.first_file_id
LEFT JOIN written_folder   AS folder      ON folder.folder_id = file.folder_id
LEFT JOIN written_dump     AS dump        ON dump.dump_id = folder.dump_id
LEFT JOIN word_format      AS format      ON format.format_no = file.format_no
LEFT JOIN word_health      AS health      ON health.health_no = file.health_no
LEFT JOIN written_camera   AS camera      ON camera.camera_id = frame.camera_id
LEFT JOIN written_lens     AS lens        ON lens.lens_id = frame.lens_id
LEFT JOIN stated_focal     AS focal       ON focal.frame_id = frame.frame_id
LEFT JOIN derived_time     AS time        ON time.frame_id = frame.frame_id
LEFT JOIN word_time_basis  AS time_basis  ON time_basis.time_basis_no = time.time_basis_no
LEFT JOIN word_place_basis AS place_basis ON place_basis.place_basis_no = time.place_basis_no
LEFT JOIN word_kind        AS kind        ON kind.kind_no = time.kind_no
LEFT JOIN stated_site      AS site        ON site.site_id = time.site_id;

DROP VIEW frame_sky;

CREATE VIEW frame_sky AS
SELECT frame.frame_id, frame.file, frame.camera, frame.start_utc, frame.start_local, frame.night, frame.site,
       frame.session, frame.seq, frame.kind, frame.exposure_s, frame.f_number, frame.iso, frame.focal_mm,
       sky.sun_alt_deg, sky.twilight, sky.moon_alt_deg, sky.moon_lit, strongest.code AS strongest,
       shower.code AS shower, radiant.alt_deg, radiant.az_deg, radiant.seen_alt_deg, radiant.seen_az_deg,
       radiant.moon_sep_deg, radiant.rate, radiant.seen_rate
FROM frame
LEFT JOIN derived_sky     AS sky       ON sky.frame_id = frame.frame_id
LEFT JOIN derived_shower  AS strongest ON strongest.shower_id = sky.shower_id
LEFT JOIN derived_active  AS active    ON active.active_id = sky.active_id
LEFT JOIN derived_shower  AS shower
    ON shower.code IN (SELECT value FROM json_each('["' || replace(active.showers, ' ', '","') || '"]'))
LEFT JOIN derived_radiant AS radiant
    ON radiant.shower_id = shower.shower_id AND radiant.frame_id = frame.frame_id;

DROP VIEW session;

CREATE VIEW session AS
SELECT session.session_id AS session, date(session.night_day * 86400, 'unixepoch') AS night, site.name AS site,
       site.zone AS zone, camera.name AS camera, session.focal_mm,
       strftime('%Y-%m-%dT%H:%M:%fZ', session.start_ms / 1000.0, 'unixepoch') AS start_utc,
       strftime('%Y-%m-%dT%H:%M:%fZ', session.end_ms / 1000.0, 'unixepoch') AS end_utc,
       (SELECT strftime('%Y-%m-%dT%H:%M:%f', (session.start_ms + offset_s * 1000) / 1000.0, 'unixepoch')
               || iif(offset_s < 0, '-', '+')
               || strftime(iif(offset_s % 60, '%H:%M:%S', '%H:%M'), abs(offset_s), 'unixepoch')
        FROM zone_offset AS zone WHERE zone.zone = site.zone AND zone.from_ms <= session.start_ms
        ORDER BY zone.from_ms DESC LIMIT 1) AS start_local,
       (SELECT strftime('%Y-%m-%dT%H:%M:%f', (session.end_ms + offset_s * 1000) / 1000.0, 'unixepoch')
               || iif(offset_s < 0, '-', '+')
               || strftime(iif(offset_s % 60, '%H:%M:%S', '%H:%M'), abs(offset_s), 'unixepoch')
        FROM zone_offset AS zone WHERE zone.zone = site.zone AND zone.from_ms <= session.end_ms
        ORDER BY zone.from_ms DESC LIMIT 1) AS end_local,
       session.start_local AS start_clock, session.end_local AS end_clock, session.cadence_s, session.frames,
       session.missing
FROM derived_session AS session
LEFT JOIN stated_site    AS site   ON site.site_id = session.site_id
LEFT JOIN written_camera AS camera ON camera.camera_id = session.camera_id;
