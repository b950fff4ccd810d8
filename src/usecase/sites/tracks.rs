//! States or removes a recorded track: the frames within its time are derived again.

use std::path::Path;

use crate::capture::track::read_track;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::tracks::TrackRow;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Instant;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::records::Cell;
use crate::terms::sheet::Sheet;
use crate::terms::statement::Act;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::statements::state::state_and_derive;

#[rustfmt::skip] // a row a column
const TRACKS: &[Field] = &[
    sheet_column("statement", "statement", Text, 0),
    sheet_column("track", "track", Text, 0),
    sheet_column("first", "first_utc", Instant, 0),
    sheet_column("last", "last_utc", Instant, 0),
    sheet_column("points", "points", Whole(Unit::One), 0),
];

/// The result of stating a track.
#[derive(Clone, Debug)]
pub struct TrackStated {
    /// The track's name in the list: `track-2`.
    pub name: String,
    /// The file's own name.
    pub file: String,
    /// Its points.
    pub points: u64,
    /// Points without a time, left out.
    pub timeless: u64,
    /// Its effects.
    pub done: Rederived,
}

/// Reads a track file, stores its points, and places the frames taken during it on it, except those with a GPS position
/// of their own.
///
/// Refuses, and changes nothing: a file that is not a valid track, a track whose name is taken.
pub fn state_track(
    catalogue: &mut Catalogue,
    path: &Path,
    mode: Mode,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<TrackStated, Failure> {
    let read = read_track(path).map_err(|no| {
        let place = no
            .line
            .map_or(String::new(), |line| format!(", line {line}"));
        Failure::words(format!("the track cannot be used{place}: {}", no.why))
            .at_file(path)
            .hint("export it again as GPX 1.1 with times; nothing was changed")
    })?;
    let file = path
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    if let Some(there) = catalogue.tracks()?.iter().find(|t| t.name == file) {
        return Err(
            Failure::words(format!("there is already a track named '{file}'")).hint(format!(
                "{} removes it; or rename the file",
                CommandLine::new("site track").option("--remove", named(there))
            )),
        );
    }
    let points = read.points.len() as u64;
    let stated = Act::Track(file.clone(), read.points);
    let (id, done) = state_and_derive(catalogue, &stated, Vec::new(), mode, watch)?;
    Ok(TrackStated {
        name: format!("track-{id}"),
        file,
        points,
        timeless: read.timeless,
        done,
    })
}

/// Removes a track, by its name in the list or its file's.
pub fn remove_track(
    catalogue: &mut Catalogue,
    name: &str,
    mode: Mode,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<TrackStated, Failure> {
    let tracks = catalogue.tracks()?;
    let Some(track) = tracks.iter().find(|t| named(t) == name || t.name == name) else {
        return Err(Failure::words(format!("there is no track '{name}'"))
            .hint("framefall site track --list names them"));
    };
    let removed = Act::TrackRemoval(track.name.clone());
    let (_, done) = state_and_derive(catalogue, &removed, Vec::new(), mode, watch)?;
    Ok(TrackStated {
        name: named(track),
        file: track.name.clone(),
        points: u64::try_from(track.points).unwrap_or(0),
        timeless: 0,
        done,
    })
}

/// Every track.
pub fn tracks(catalogue: &Catalogue) -> Result<Sheet, Failure> {
    let rows = catalogue
        .tracks()?
        .iter()
        .map(|track| {
            vec![
                Cell::Text(named(track)),
                Cell::Text(track.name.clone()),
                Cell::Text(track.first.to_string()),
                Cell::Text(track.last.to_string()),
                Cell::Whole(track.points),
            ]
        })
        .collect();
    Ok(Sheet {
        columns: TRACKS,
        rows,
        when_empty: "no tracks yet; add one with framefall site track FILE.gpx",
    })
}

fn named(track: &TrackRow) -> String {
    format!("track-{}", track.track_id)
}
