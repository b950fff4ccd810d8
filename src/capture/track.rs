//! A track file -> points with their instants. Never interpolates, expands no entity, follows no reference.
//!
//! Source: GPX 1.1 schema, topografix.com/GPX/1/1: trk, trkseg, trkpt with lat and lon in decimal degrees on WGS 84,
//! ele in metres, time in UTC by ISO 8601.

use std::io::Read;
use std::path::Path;

use quick_xml::Reader;
use quick_xml::events::BytesStart;
use quick_xml::events::Event;

use crate::capture::folder::open_named;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::terms::track::TrackPoint;

/// The largest track file that is read, in bytes: weeks of a point a second.
const LARGEST_BYTES: u64 = 64 << 20;

/// How deep elements may be nested; the schema needs five levels, and extensions a few more.
const DEEPEST: usize = 64;

/// The contents of a track file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TrackRead {
    /// Points with rising instants.
    pub points: Vec<TrackPoint>,
    /// Points without a time, which were left out.
    pub timeless: u64,
}

/// Why a track file was refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoTrack {
    /// The line, counted from 1, if the mistake is in one.
    pub line: Option<usize>,
    /// What is wrong.
    pub why: String,
}

/// Reads a track file.
///
/// Refuses: a file that cannot be read or is too large, and what [`parse_track`] refuses.
pub fn read_track(path: &Path) -> Result<TrackRead, NoTrack> {
    let whole = |why: String| NoTrack { line: None, why };
    let file = open_named(path).map_err(|e| whole(format!("it cannot be read: {e}")))?;
    let mut bytes = Vec::new();
    file.take(LARGEST_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| whole(format!("it cannot be read: {e}")))?;
    if bytes.len() as u64 > LARGEST_BYTES {
        return Err(whole(format!(
            "it is larger than {} MB",
            LARGEST_BYTES >> 20
        )));
    }
    // Only ASCII parts of the file are used; names in another encoding do no harm.
    parse_track(&String::from_utf8_lossy(&bytes))
}

/// Parses a track.
///
/// Refuses, with the line: XML that is broken or cut off, a document type (entities are never expanded), anything other
/// than GPX, a position that is not on Earth, an invalid instant, time going backwards within a segment, two segments
/// that overlap in time, a file in which no point has a time.
pub fn parse_track(text: &str) -> Result<TrackRead, NoTrack> {
    let text = text.trim_start_matches('\u{feff}');
    let mut reader = Reader::from_str(text);
    let mut parser = Parser::default();
    loop {
        let event = reader.read_event();
        let at = usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX);
        let told = match event {
            Ok(Event::Eof) => break,
            Ok(event) => parser.take(event),
            Err(e) => Err(format!("the XML is broken: {e}")),
        };
        if let Err(why) = told {
            return Err(NoTrack {
                line: Some(line_of(text, at)),
                why,
            });
        }
    }
    parser.end().map_err(|why| NoTrack {
        line: Some(line_of(text, text.len())),
        why,
    })
}

fn line_of(text: &str, at: usize) -> usize {
    let upto = &text.as_bytes()[..at.min(text.len())];
    1 + upto.split(|b| *b == b'\n').count().saturating_sub(1)
}

/// A point while its elements are read.
#[derive(Debug, Default)]
struct Open {
    lat_deg: f64,
    lon_deg: f64,
    elev_m: Option<f64>,
    at: Option<Utc>,
}

#[derive(Debug, Default)]
struct Parser {
    /// The elements that are open, outermost first.
    open: Vec<String>,
    seen_root: bool,
    point: Option<Open>,
    /// The text of the current element.
    text: String,
    segments: Vec<Vec<TrackPoint>>,
    timeless: u64,
}

impl Parser {
    fn take(&mut self, event: Event<'_>) -> Result<(), String> {
        match event {
            Event::Start(tag) => self.start(&tag),
            Event::Empty(tag) => {
                self.start(&tag)?;
                self.finish()
            }
            Event::End(_) => self.finish(),
            Event::Text(text) => {
                self.text.push_str(&text);
                Ok(())
            }
            Event::CData(text) => {
                self.text.push_str(&text);
                Ok(())
            }
            Event::GeneralRef(_) => {
                // Only names and descriptions may contain references, and those are not used.
                self.text.push('\u{fffd}');
                Ok(())
            }
            Event::DocType(_) => Err(
                "it declares a document type, which no GPX file needs and which can hide entities"
                    .into(),
            ),
            Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::Eof => Ok(()),
        }
    }

    fn start(&mut self, tag: &BytesStart<'_>) -> Result<(), String> {
        let name = tag.local_name();
        let name: &str = name.as_ref();
        if self.open.is_empty() {
            if self.seen_root || name != "gpx" {
                return Err(format!("the outermost element is <{name}>, not <gpx>"));
            }
            self.seen_root = true;
        }
        if self.open.len() >= DEEPEST {
            return Err(format!("elements are nested more than {DEEPEST} deep"));
        }
        self.text.clear();
        let under = |path: &[&str]| {
            self.open
                .iter()
                .map(String::as_str)
                .eq(path.iter().copied())
        };
        if name == "trkseg" && under(&["gpx", "trk"]) {
            self.segments.push(Vec::new());
        } else if name == "trkpt" && under(&["gpx", "trk", "trkseg"]) {
            self.point = Some(Open {
                lat_deg: coordinate(tag, "lat", 90.0)?,
                lon_deg: coordinate(tag, "lon", 180.0)?,
                ..Open::default()
            });
        }
        self.open.push(name.to_owned());
        Ok(())
    }

    fn finish(&mut self) -> Result<(), String> {
        let Some(name) = self.open.pop() else {
            return Err("an element is closed that was not open".into());
        };
        let in_point = self.open.last().is_some_and(|outer| outer == "trkpt");
        let text = std::mem::take(&mut self.text);
        let Some(point) = &mut self.point else {
            return Ok(());
        };
        match name.as_str() {
            "ele" if in_point => {
                let elev_m = text.trim().parse::<f64>().ok().filter(|e| e.is_finite());
                // Nobody puts a tripod there: the receiver had no fix in height.
                point.elev_m = elev_m.filter(|e| (-500.0..=60_000.0).contains(e));
            }
            "time" if in_point => {
                let text = text.trim();
                point.at =
                    Some(instant(text).ok_or_else(|| format!("'{text}' is not a valid time"))?);
            }
            "trkpt" => {
                let point = self.point.take().unwrap_or_default();
                self.close(&point)?;
            }
            _ => {}
        }
        Ok(())
    }

    fn close(&mut self, point: &Open) -> Result<(), String> {
        let Some(at) = point.at else {
            self.timeless += 1;
            return Ok(());
        };
        let Some(segment) = self.segments.last_mut() else {
            return Ok(());
        };
        if let Some(last) = segment.last() {
            if at < last.at {
                return Err(format!("time goes backwards, from {} to {at}", last.at));
            }
            // A receiver may write one instant twice.
            if at == last.at {
                return Ok(());
            }
        }
        segment.push(TrackPoint {
            at,
            segment: 0,
            lat_deg: point.lat_deg,
            lon_deg: point.lon_deg,
            elev_m: point.elev_m,
        });
        Ok(())
    }

    fn end(mut self) -> Result<TrackRead, String> {
        if let Some(open) = self.open.last() {
            return Err(format!("the file ends within <{open}>: it was cut off"));
        }
        if !self.seen_root {
            return Err("there is no <gpx> element in it".into());
        }
        // Tracks may be in any order in the file.
        self.segments.retain(|points| !points.is_empty());
        self.segments
            .sort_by_key(|points| points.first().map(|p| p.at));
        let mut points: Vec<TrackPoint> = Vec::new();
        for (segment, found) in (0..).zip(self.segments) {
            for point in found {
                if let Some(last) = points.last()
                    && point.at <= last.at
                {
                    return Err(format!(
                        "two segments overlap in time, at {}: they come from more than one receiver",
                        point.at
                    ));
                }
                points.push(TrackPoint { segment, ..point });
            }
        }
        if points.is_empty() {
            return Err(match self.timeless {
                0 => "it has no track points".into(),
                n => format!("none of its {n} track points has a time"),
            });
        }
        Ok(TrackRead {
            points,
            timeless: self.timeless,
        })
    }
}

fn coordinate(tag: &BytesStart<'_>, name: &str, bound: f64) -> Result<f64, String> {
    for attribute in tag.attributes() {
        let attribute = attribute.map_err(|e| format!("an attribute of a point is broken: {e}"))?;
        let key: &str = attribute.key.as_ref();
        if key != name {
            continue;
        }
        let text = attribute.value.trim();
        let value: f64 = text
            .parse()
            .map_err(|_| format!("{name} '{text}' of a point is not a number"))?;
        return if value.abs() <= bound {
            Ok(value)
        } else {
            Err(format!("{name} '{text}' of a point is beyond {bound}°"))
        };
    }
    Err(format!("a point has no {name}"))
}

/// Reads an instant. One without an offset is UTC, according to the schema.
fn instant(text: &str) -> Option<Utc> {
    Utc::parse(text).or_else(|| {
        WallTime::parse(text)?;
        Utc::parse(&format!("{text}Z"))
    })
}

#[cfg(test)]
#[path = "track_tests.rs"]
mod tests;
