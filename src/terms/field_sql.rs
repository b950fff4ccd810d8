//! Field columns that are more than a column: SQL over the aliases of the tables. Knows no field.

/// The focal length as SQL: the stated one, otherwise the one that the body wrote.
pub const FOCAL_COLUMN: &str = "ifnull((SELECT told.focal_mm FROM stated_focal AS told WHERE told.frame_id = frame.frame_id), frame.focal_mm)";

/// Whether the photographer has looked at a frame, as SQL; known for every frame.
pub const LOOKED_COLUMN: &str = "iif(EXISTS (SELECT 1 FROM stated_look AS seen WHERE seen.frame_id = frame.frame_id AND seen.looked = 1), 'yes', 'no')";

/// Whether the photographer chose a frame, as SQL.
pub const CHOSEN_COLUMN: &str = "CASE look.chosen WHEN 1 THEN 'yes' WHEN 0 THEN 'no' END";

/// How many trails are in a frame as SQL: as stated, and of those found and not stated, all but other lights.
pub const TRAILS_COLUMN: &str = "((SELECT count(*) FROM stated_trail AS trail WHERE trail.frame_id = frame.frame_id)
    + (SELECT count(*) FROM found_trail AS found WHERE found.frame_id = frame.frame_id AND found.class <> 'other-light'))";

/// How many of them are meteors as SQL.
pub const METEORS_COLUMN: &str = "((SELECT count(*) FROM stated_trail AS trail WHERE trail.frame_id = frame.frame_id AND trail.judged = 'meteor')
    + (SELECT count(*) FROM found_trail AS found WHERE found.frame_id = frame.frame_id AND found.class = 'meteor'))";

/// The highest score of a frame's candidates as SQL, and what that one is taken for.
pub const TRAIL_SCORE_COLUMN: &str =
    "(SELECT max(found.score) FROM found_trail AS found WHERE found.frame_id = frame.frame_id)";

/// The class of the candidate of the highest score.
pub const TRAIL_CLASS_COLUMN: &str = "(SELECT found.class FROM found_trail AS found WHERE found.frame_id = frame.frame_id ORDER BY found.score DESC, found.trail_id LIMIT 1)";

/// The state of a frame's sky as SQL.
pub const CLEAR_COLUMN: &str =
    "(SELECT search.clear FROM measured_search AS search WHERE search.frame_id = frame.frame_id)";

/// Its brightness.
pub const SKY_STOPS_COLUMN: &str = "(SELECT search.sky_stops FROM measured_search AS search WHERE search.frame_id = frame.frame_id)";

/// What was noticed of it.
pub const SKY_SIGNS_COLUMN: &str =
    "(SELECT search.signs FROM measured_search AS search WHERE search.frame_id = frame.frame_id)";

/// The showers of a frame's meteors as SQL, as stated or else by their paths: each once, in alphabetical order.
pub const METEOR_SHOWER_COLUMN: &str = "(SELECT group_concat(shower, ' ' ORDER BY shower) FROM (SELECT DISTINCT ifnull(trail.shower, path.shower) AS shower
       FROM stated_trail AS trail LEFT JOIN derived_trail AS path USING (trail_id)
       WHERE trail.frame_id = frame.frame_id AND trail.judged = 'meteor'))";

/// Why a frame is of its kind as SQL.
pub const EVIDENCE_COLUMN: &str = "(SELECT words FROM derived_evidence AS evidence WHERE evidence.evidence_id = time.evidence_id)";

/// The zone of a frame's site.
pub const ZONE_COLUMN: &str = "site.zone";

/// The local time of a frame's start, by a function of the connection that asks.
pub(super) const LOCAL_COLUMN: &str = "local_ms(time.start_ms, site.zone)";

/// A file's container as SQL.
pub const FORMAT_COLUMN: &str =
    "(SELECT word.format FROM word_format AS word WHERE word.format_no = file.format_no)";

/// A file's state as SQL.
pub const HEALTH_COLUMN: &str =
    "(SELECT word.health FROM word_health AS word WHERE word.health_no = file.health_no)";

/// What a frame is for as SQL.
pub const KIND_COLUMN: &str =
    "(SELECT word.kind FROM word_kind AS word WHERE word.kind_no = time.kind_no)";

/// How a frame's UTC was reached as SQL.
pub const TIME_BASIS_COLUMN: &str = "(SELECT word.time_basis FROM word_time_basis AS word WHERE word.time_basis_no = time.time_basis_no)";

/// By what a frame's turn is known as SQL.
pub const TURN_BASIS_COLUMN: &str =
    "iif(time.turn IS NULL, NULL, ifnull(time.turn_basis, 'clock'))";

/// How a frame's place was reached as SQL.
pub const PLACE_BASIS_COLUMN: &str = "(SELECT word.place_basis FROM word_place_basis AS word WHERE word.place_basis_no = time.place_basis_no)";

/// The strongest shower's code as SQL.
pub const SHOWER_COLUMN: &str =
    "(SELECT shower.code FROM derived_shower AS shower WHERE shower.shower_id = sky.shower_id)";

/// The strongest shower's number as SQL.
pub const SHOWER_NUMBER: &str = "sky.shower_id";

/// The main shower's code as SQL.
pub const MAIN_SHOWER_COLUMN: &str = "(SELECT shower.code FROM derived_shower AS shower WHERE shower.shower_id = sky.main_shower_id)";

/// The main shower's number as SQL.
pub const MAIN_SHOWER_NUMBER: &str = "sky.main_shower_id";

/// The absolute path of a file, from its dump's root, its folder and its name.
pub const PATH_COLUMN: &str = "dump.root_shown || '/' || CASE folder.path WHEN '' THEN '' ELSE folder.path || '/' END || file.name";

/// The folder's part of it, with its slash.
pub(super) const FOLDER_PATH: &str =
    "dump.root_shown || '/' || CASE folder.path WHEN '' THEN '' ELSE folder.path || '/' END";

/// The digits of a clock reading's fraction, beside the seconds of a [`FieldKind::Reading`](crate::terms::field_kind::FieldKind::Reading).
pub const READING_FRACTION: &str = "frame.clock_fraction";

/// The middle of an exposure, computed from its start and its length, to the millisecond.
pub const MID_COLUMN: &str =
    "time.start_ms + CAST(round(ifnull(frame.exposure_s, 0) * 500) AS INTEGER)";

pub(super) const END_COLUMN: &str =
    "time.start_ms + CAST(round(ifnull(frame.exposure_s, 0) * 1000) AS INTEGER)";

/// What was measured in a frame's picture.
pub(super) const STARS_COLUMN: &str =
    "(SELECT seen.stars FROM measured_picture AS seen WHERE seen.frame_id = frame.frame_id)";

pub(super) const SKY_LEVEL_COLUMN: &str =
    "(SELECT seen.sky_level FROM measured_picture AS seen WHERE seen.frame_id = frame.frame_id)";

pub(super) const STAR_WIDTH_COLUMN: &str = "(SELECT seen.star_width_px FROM measured_picture AS seen WHERE seen.frame_id = frame.frame_id)";

pub(super) const CORNER_WIDTH_COLUMN: &str = "(SELECT seen.corner_width_px FROM measured_picture AS seen WHERE seen.frame_id = frame.frame_id)";

pub(super) const POINTING_COLUMN: &str = "iif(EXISTS (SELECT 1 FROM stated_pointing_frame AS of WHERE of.frame_id = frame.frame_id), 'stated',
          (SELECT seen.pointing FROM measured_picture AS seen WHERE seen.frame_id = frame.frame_id))";

/// Which way a frame looked.
pub(super) const POINT_ALT_COLUMN: &str =
    "(SELECT point.alt_deg FROM derived_pointing AS point WHERE point.frame_id = frame.frame_id)";

pub(super) const POINT_AZ_COLUMN: &str =
    "(SELECT point.az_deg FROM derived_pointing AS point WHERE point.frame_id = frame.frame_id)";

pub(super) const POINT_ROLL_COLUMN: &str =
    "(SELECT point.roll_deg FROM derived_pointing AS point WHERE point.frame_id = frame.frame_id)";

pub(super) const POINT_REGION_COLUMN: &str = "(SELECT kept.region FROM measured_pointing AS kept JOIN measured_picture AS seen USING (frame_id)
          WHERE kept.frame_id = frame.frame_id AND seen.pointing = 'weak'
              AND NOT EXISTS (SELECT 1 FROM stated_pointing_frame AS of WHERE of.frame_id = kept.frame_id))";

/// Where a radiant is in a frame's picture: over the radiant's own alias, which stands for `{}`.
pub(super) const IN_PICTURE_COLUMN: &str = "(SELECT iif(there.in_picture, 'yes', 'no') FROM derived_in_picture AS there WHERE there.shower_id = {}.shower_id AND there.frame_id = {}.frame_id)";

pub(super) const X_COLUMN: &str = "(SELECT there.x_px FROM derived_in_picture AS there WHERE there.shower_id = {}.shower_id AND there.frame_id = {}.frame_id)";

pub(super) const Y_COLUMN: &str = "(SELECT there.y_px FROM derived_in_picture AS there WHERE there.shower_id = {}.shower_id AND there.frame_id = {}.frame_id)";

pub(super) const SEEN_X_COLUMN: &str = "(SELECT there.seen_x_px FROM derived_in_picture AS there WHERE there.shower_id = {}.shower_id AND there.frame_id = {}.frame_id)";

pub(super) const SEEN_Y_COLUMN: &str = "(SELECT there.seen_y_px FROM derived_in_picture AS there WHERE there.shower_id = {}.shower_id AND there.frame_id = {}.frame_id)";

/// The same in the picture turned upright by its EXIF orientation: see [`shown_at`](crate::terms::picture::shown_at).
pub(super) const SHOWN_X_COLUMN: &str = "(SELECT CASE WHEN frame.orientation IN (2, 3) THEN frame.width_px - 1 - there.x_px WHEN frame.orientation IN (5, 8) THEN there.y_px WHEN frame.orientation IN (6, 7) THEN frame.height_px - 1 - there.y_px ELSE there.x_px END FROM derived_in_picture AS there WHERE there.shower_id = {}.shower_id AND there.frame_id = {}.frame_id)";

pub(super) const SHOWN_Y_COLUMN: &str = "(SELECT CASE WHEN frame.orientation IN (3, 4) THEN frame.height_px - 1 - there.y_px WHEN frame.orientation IN (5, 6) THEN there.x_px WHEN frame.orientation IN (7, 8) THEN frame.width_px - 1 - there.x_px ELSE there.y_px END FROM derived_in_picture AS there WHERE there.shower_id = {}.shower_id AND there.frame_id = {}.frame_id)";

pub(super) const SHOWN_SEEN_X_COLUMN: &str = "(SELECT CASE WHEN frame.orientation IN (2, 3) THEN frame.width_px - 1 - there.seen_x_px WHEN frame.orientation IN (5, 8) THEN there.seen_y_px WHEN frame.orientation IN (6, 7) THEN frame.height_px - 1 - there.seen_y_px ELSE there.seen_x_px END FROM derived_in_picture AS there WHERE there.shower_id = {}.shower_id AND there.frame_id = {}.frame_id)";

pub(super) const SHOWN_SEEN_Y_COLUMN: &str = "(SELECT CASE WHEN frame.orientation IN (3, 4) THEN frame.height_px - 1 - there.seen_y_px WHEN frame.orientation IN (5, 6) THEN there.seen_x_px WHEN frame.orientation IN (7, 8) THEN frame.width_px - 1 - there.seen_x_px ELSE there.seen_y_px END FROM derived_in_picture AS there WHERE there.shower_id = {}.shower_id AND there.frame_id = {}.frame_id)";
