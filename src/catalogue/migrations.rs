//! The migrations, and the identification of a file as our catalogue. Runs nothing.

/// The migrations, in order; the catalogue's version is their count. A published one is never edited.
pub const MIGRATIONS: &[(&str, &str)] = &[
    (
        "0001_written",
        include_str!("../../migrations/0001_written.sql"),
    ),
    (
        "0002_stated",
        include_str!("../../migrations/0002_stated.sql"),
    ),
    (
        "0003_derived",
        include_str!("../../migrations/0003_derived.sql"),
    ),
    (
        "0004_clocks",
        include_str!("../../migrations/0004_clocks.sql"),
    ),
    (
        "0005_marks",
        include_str!("../../migrations/0005_marks.sql"),
    ),
    (
        "0006_archive",
        include_str!("../../migrations/0006_archive.sql"),
    ),
    (
        "0007_content",
        include_str!("../../migrations/0007_content.sql"),
    ),
    (
        "0008_calibration",
        include_str!("../../migrations/0008_calibration.sql"),
    ),
    (
        "0009_places",
        include_str!("../../migrations/0009_places.sql"),
    ),
    (
        "0010_scale",
        include_str!("../../migrations/0010_scale.sql"),
    ),
    ("0011_told", include_str!("../../migrations/0011_told.sql")),
    ("0012_days", include_str!("../../migrations/0012_days.sql")),
    (
        "0013_smaller",
        include_str!("../../migrations/0013_smaller.sql"),
    ),
    (
        "0014_epochs",
        include_str!("../../migrations/0014_epochs.sql"),
    ),
    (
        "0015_looks",
        include_str!("../../migrations/0015_looks.sql"),
    ),
    (
        "0016_seen_rate",
        include_str!("../../migrations/0016_seen_rate.sql"),
    ),
    (
        "0017_generation",
        include_str!("../../migrations/0017_generation.sql"),
    ),
    (
        "0018_names",
        include_str!("../../migrations/0018_names.sql"),
    ),
    (
        "0019_rebuild",
        include_str!("../../migrations/0019_rebuild.sql"),
    ),
    (
        "0020_words",
        include_str!("../../migrations/0020_words.sql"),
    ),
    (
        "0021_statements",
        include_str!("../../migrations/0021_statements.sql"),
    ),
    (
        "0022_backups",
        include_str!("../../migrations/0022_backups.sql"),
    ),
    (
        "0023_proofs",
        include_str!("../../migrations/0023_proofs.sql"),
    ),
    (
        "0024_given_frames",
        include_str!("../../migrations/0024_given_frames.sql"),
    ),
    ("0025_look", include_str!("../../migrations/0025_look.sql")),
    (
        "0026_pictures",
        include_str!("../../migrations/0026_pictures.sql"),
    ),
    (
        "0027_trails",
        include_str!("../../migrations/0027_trails.sql"),
    ),
    (
        "0028_stated_pointing",
        include_str!("../../migrations/0028_stated_pointing.sql"),
    ),
    (
        "0029_trail_showers",
        include_str!("../../migrations/0029_trail_showers.sql"),
    ),
    (
        "0030_glare",
        include_str!("../../migrations/0030_glare.sql"),
    ),
    (
        "0031_zone_offsets",
        include_str!("../../migrations/0031_zone_offsets.sql"),
    ),
    (
        "0032_found_trails",
        include_str!("../../migrations/0032_found_trails.sql"),
    ),
    (
        "0033_fewer_indexes",
        include_str!("../../migrations/0033_fewer_indexes.sql"),
    ),
];

/// Marks a SQLite file as ours (`PRAGMA application_id`): the bytes `FFAL`.
pub const APPLICATION_ID: i32 = 0x4646_414c;

/// The version that the migrations lead to.
pub(super) fn newest() -> i64 {
    i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX)
}
