//! The photographer's statements, independent of the numbers of one catalogue: bodies by the names they write, sites,
//! tracks and queries by their names, frames by the identity of their files.

use crate::terms::basis::Kind;
use crate::terms::clock::ClockFix;
use crate::terms::clock::FixKey;
use crate::terms::clock::ZoneStated;
use crate::terms::frame_marks::FrameMark;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::stated_pointing::StatedPointing;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::terms::track::TrackPoint;
use crate::terms::trail::Judgement;
use crate::terms::trail::TrailEnds;

/// A body, by the names that it writes into its files.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Body {
    /// Maker.
    pub make: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
}

/// A site, by its name; with its place, since a site that was created from positions may have another name elsewhere.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteRef {
    /// Its name.
    pub name: String,
    /// Where it is.
    pub place: Place,
}

impl From<&Site> for SiteRef {
    fn from(site: &Site) -> Self {
        Self {
            name: site.name.clone(),
            place: site.place,
        }
    }
}

/// The content of a statement.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// A body's clock was set to a zone.
    Zone(Body, ZoneStated),
    /// A stated zone is removed: its first reading, and the first after it.
    ZoneRemoval(Body, Option<WallTime>, Option<WallTime>),
    /// A body's clock read this when that was the true time.
    Fix(Body, ClockFix),
    /// A clock fix is removed.
    FixRemoval(Body, FixKey),
    /// A site is added to the book.
    Site(Site),
    /// A site of the book is changed.
    SiteChange(SiteRef, Site),
    /// A site is removed from the book, with every statement that frames were taken there.
    SiteRemoval(SiteRef),
    /// Frames were taken at a site.
    Place(SiteRef),
    /// Frames are of a kind; `None`: the stated kind is removed.
    Kind(Option<Kind>),
    /// Frames were taken at this focal length in millimetres; `None`: the stated focal length is removed.
    Focal(Option<f64>),
    /// The photographer has looked at frames, or is yet to look at them.
    Looked(bool),
    /// Frames are wanted in the picture, or are not; `None`: what was said is removed.
    Chosen(Option<bool>),
    /// A note about frames; `None`: the note is removed.
    Note(Option<String>),
    /// A trail in a frame, by its ends, and what it is; `None`: the trail is removed.
    Trail(TrailEnds, Option<Judgement>),
    /// Where the camera of frames pointed; `None`: the stated pointing is removed.
    Pointing(Option<StatedPointing>),
    /// A recorded track, by the name of its file.
    Track(String, Vec<TrackPoint>),
    /// A track is removed.
    TrackRemoval(String),
    /// A query is saved: name, text, when.
    Query(String, String, Option<Utc>),
    /// A saved query is removed.
    QueryRemoval(String),
    /// A dump is given another label: the previous one, the new one, and a file of the dump to identify it.
    Label(String, String, Option<FrameMark>),
}

impl Act {
    /// The ends of a stated trail.
    pub const fn ends(&self) -> Option<TrailEnds> {
        match self {
            Self::Trail(ends, _) => Some(*ends),
            _ => None,
        }
    }

    /// The word for its type.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Zone(..) => "zone",
            Self::ZoneRemoval(..) => "zone-removal",
            Self::Fix(..) => "fix",
            Self::FixRemoval(..) => "fix-removal",
            Self::Site(_) => "site",
            Self::SiteChange(..) => "site-change",
            Self::SiteRemoval(_) => "site-removal",
            Self::Place(_) => "place",
            Self::Kind(_) => "kind",
            Self::Focal(_) => "focal",
            Self::Looked(_) => "looked",
            Self::Chosen(_) => "chosen",
            Self::Note(_) => "note",
            Self::Trail(..) => "trail",
            Self::Pointing(_) => "pointing",
            Self::Track(..) => "track",
            Self::TrackRemoval(_) => "track-removal",
            Self::Query(..) => "query",
            Self::QueryRemoval(_) => "query-removal",
            Self::Label(..) => "label",
        }
    }

    /// Whether it is about single frames.
    pub const fn is_of_frames(&self) -> bool {
        matches!(
            self,
            Self::Fix(
                _,
                ClockFix {
                    frames: Some(_),
                    ..
                }
            ) | Self::Place(_)
                | Self::Kind(_)
                | Self::Focal(_)
                | Self::Looked(_)
                | Self::Chosen(_)
                | Self::Note(_)
                | Self::Trail(..)
                | Self::Pointing(_)
        )
    }

    /// Whether it is a removal.
    pub const fn is_removal(&self) -> bool {
        matches!(
            self,
            Self::ZoneRemoval(..)
                | Self::FixRemoval(..)
                | Self::SiteRemoval(_)
                | Self::TrackRemoval(_)
                | Self::QueryRemoval(_)
        )
    }

    /// The key of the fact it states or removes: a removal removes the statements with its key.
    pub fn key(&self) -> Option<String> {
        let limits = |from: Option<WallTime>, until: Option<WallTime>| {
            let text = |at: Option<WallTime>| at.map_or_else(String::new, |at| at.to_string());
            format!("{} {}", text(from), text(until))
        };
        Some(match self {
            Self::Zone(body, zone) => {
                format!("zone {body:?} {}", limits(zone.from, zone.until))
            }
            Self::ZoneRemoval(body, from, until) => {
                format!("zone {body:?} {}", limits(*from, *until))
            }
            Self::Fix(
                body,
                ClockFix {
                    reading,
                    from,
                    until,
                    frames,
                    ..
                },
            )
            | Self::FixRemoval(body, (reading, (from, until, frames))) => {
                format!(
                    "fix {body:?} {reading} {} {frames:?}",
                    limits(*from, *until)
                )
            }
            Self::Site(site) | Self::SiteChange(_, site) => {
                format!("site {}", site.name.to_lowercase())
            }
            Self::SiteRemoval(site) => format!("site {}", site.name.to_lowercase()),
            Self::Track(name, _) | Self::TrackRemoval(name) => format!("track {name}"),
            Self::Query(name, ..) | Self::QueryRemoval(name) => {
                format!("query {}", name.to_lowercase())
            }
            Self::Place(_)
            | Self::Kind(_)
            | Self::Focal(_)
            | Self::Looked(_)
            | Self::Chosen(_)
            | Self::Note(_)
            | Self::Trail(..)
            | Self::Pointing(_)
            | Self::Label(..) => return None,
        })
    }
}

/// The most characters of a note.
pub const LONGEST_NOTE: usize = 1_000;

/// A note as it is stored: one line, without spaces at its ends; `None` if the text cannot be one.
pub fn note_of(text: &str) -> Option<String> {
    let note = text.trim();
    let is_note = !note.is_empty()
        && note.chars().count() <= LONGEST_NOTE
        && !note.chars().any(char::is_control);
    is_note.then(|| note.to_owned())
}

/// Identifies a statement in every catalogue: 16 random bytes.
pub type StatementId = [u8; 16];

/// A statement in the form in which catalogues exchange it.
#[derive(Clone, Debug, PartialEq)]
pub struct Statement {
    /// Its identity.
    pub id: StatementId,
    /// When it was stated; `None` if an earlier version did not record it.
    pub stated: Option<Utc>,
    /// Its content.
    pub act: Act,
    /// The statement that it removes or replaces.
    pub takes_back: Option<StatementId>,
    /// The frames it is about, part by part.
    pub frames: Vec<FramePart>,
}

/// Some of the frames of a statement: those of one dump, or of one step of an ingest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FramePart {
    /// The label of the dump at that time.
    pub dump: String,
    /// How many.
    pub frames: u64,
    /// The first second of the camera clock; `None` if no frame has a reading.
    pub first_s: Option<i64>,
    /// The last one.
    pub last_s: Option<i64>,
    /// Their marks, packed.
    pub marks: Vec<u8>,
}
