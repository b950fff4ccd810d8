//! What a photographer states, independent of the numbers of one catalogue: bodies by what they write of themselves, sites,
//! tracks and queries by their names, frames by what identifies their files.

use crate::terms::basis::Kind;
use crate::terms::clock::ClockFix;
use crate::terms::clock::ZoneStated;
use crate::terms::frame_marks::FrameMark;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::terms::track::TrackPoint;

/// A body, by what it writes into its files.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Body {
    /// Maker.
    pub make: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
}

/// A site, by its name; its place is beside it, since a site that was made from positions may have another name elsewhere.
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

/// What is stated.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// A body's clock was set to a zone.
    Zone(Body, ZoneStated),
    /// A stated zone is removed: its first reading, and the first after it.
    ZoneRemoval(Body, Option<WallTime>, Option<WallTime>),
    /// A body's clock read this when that was the true time.
    Fix(Body, ClockFix),
    /// A clock fix is removed: its reading and its limits.
    FixRemoval(Body, WallTime, Option<WallTime>, Option<WallTime>),
    /// A site is added to the book.
    Site(Site),
    /// A site of the book is changed.
    SiteChange(SiteRef, Site),
    /// A site is removed from the book, with every statement that frames were taken there.
    SiteRemoval(SiteRef),
    /// Frames were taken at a site.
    Place(SiteRef),
    /// Frames are of a kind; `None`: what was stated of their kind is removed.
    Kind(Option<Kind>),
    /// Frames were taken at this focal length in millimetres; `None`: what was stated of it is removed.
    Focal(Option<f64>),
    /// A recorded track, by the name of its file.
    Track(String, Vec<TrackPoint>),
    /// A track is removed.
    TrackRemoval(String),
    /// A query is saved: name, text, when.
    Query(String, String, Option<Utc>),
    /// A saved query is removed.
    QueryRemoval(String),
    /// A dump is given another label: the one before, the new one, and a file of the dump to know it by.
    Label(String, String, Option<FrameMark>),
}

impl Act {
    /// The word for what is stated.
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
            Self::Track(..) => "track",
            Self::TrackRemoval(_) => "track-removal",
            Self::Query(..) => "query",
            Self::QueryRemoval(_) => "query-removal",
            Self::Label(..) => "label",
        }
    }

    /// Whether it is about single frames.
    pub const fn is_of_frames(&self) -> bool {
        matches!(self, Self::Place(_) | Self::Kind(_) | Self::Focal(_))
    }

    /// Whether it removes something.
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

    /// What it puts in force or removes: a removal takes back the statements with its key.
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
            Self::Fix(body, fix) => {
                format!(
                    "fix {body:?} {} {}",
                    fix.reading,
                    limits(fix.from, fix.until)
                )
            }
            Self::FixRemoval(body, reading, from, until) => {
                format!("fix {body:?} {reading} {}", limits(*from, *until))
            }
            Self::Site(site) | Self::SiteChange(_, site) => {
                format!("site {}", site.name.to_lowercase())
            }
            Self::SiteRemoval(site) => format!("site {}", site.name.to_lowercase()),
            Self::Track(name, _) | Self::TrackRemoval(name) => format!("track {name}"),
            Self::Query(name, ..) | Self::QueryRemoval(name) => {
                format!("query {}", name.to_lowercase())
            }
            Self::Place(_) | Self::Kind(_) | Self::Focal(_) | Self::Label(..) => return None,
        })
    }
}

/// What tells one statement from every other, in whatever catalogue: 16 random bytes.
pub type StatementId = [u8; 16];

/// A statement as it goes from one catalogue to another.
#[derive(Clone, Debug, PartialEq)]
pub struct Statement {
    /// What tells it from others.
    pub id: StatementId,
    /// When it was stated; `None` where an earlier version did not note it.
    pub stated: Option<Utc>,
    /// What is stated.
    pub act: Act,
    /// The statement that it takes back.
    pub takes_back: Option<StatementId>,
    /// The frames that it is about, part by part.
    pub frames: Vec<FramePart>,
}

/// Some of the frames of a statement: those of one dump, or of one step of an ingest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FramePart {
    /// The label that the dump had then.
    pub dump: String,
    /// How many.
    pub frames: u64,
    /// The first second that a clock showed; `None` where none showed any.
    pub first_s: Option<i64>,
    /// The last one.
    pub last_s: Option<i64>,
    /// Their marks, packed.
    pub marks: Vec<u8>,
}
