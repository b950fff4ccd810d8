//! The makers of derived rows, and which rows are stale: those by another maker, and those that are missing.

use std::collections::BTreeSet;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::pending::Missing;
use crate::sky::showers::EDITION;
use crate::terms::failure::Failure;
use crate::terms::maker::Maker;
use crate::terms::maker::MakerCount;
use crate::terms::plural::counted;

/// This program as a maker.
pub fn current_maker() -> Maker {
    Maker {
        program: PROGRAM.to_owned(),
        formulas: FORMULAS,
        shower_table: EDITION.to_owned(),
    }
}

/// Whether this program would make a maker's rows the same way.
fn is_current(maker: &Maker) -> bool {
    (maker.formulas, maker.shower_table.as_str()) == (FORMULAS, EDITION)
}

/// The signature of a page: the makers of the rows that it shows.
pub fn signature(makers: &BTreeSet<Maker>) -> String {
    if makers.is_empty() {
        return "no derived rows".to_owned();
    }
    let each: Vec<String> = makers.iter().map(ToString::to_string).collect();
    each.join("; and ")
}

/// The editions of the shower table behind rows: `2025-1`, or `2024-1, 2025-1`; `None` if there are no rows.
pub fn editions(makers: &BTreeSet<Maker>) -> Option<String> {
    let editions: BTreeSet<&str> = makers.iter().map(|one| one.shower_table.as_str()).collect();
    let editions: Vec<&str> = editions.into_iter().collect();
    (!editions.is_empty()).then(|| editions.join(", "))
}

/// The stale rows of a catalogue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stale {
    /// Makers whose rows are stale, and how many frames they have.
    pub makers: Vec<MakerCount>,
    /// What is missing.
    pub missing: Missing,
}

/// The stale rows of a catalogue; `None` if there are none. Reads no frame, so it takes the same time at any size.
pub fn stale(catalogue: &Catalogue) -> Result<Option<Stale>, Failure> {
    let mut makers = catalogue.makers()?;
    makers.retain(|one| !is_current(&one.maker));
    let missing = catalogue.missing()?;
    let any = !makers.is_empty() || missing != Missing::default();
    Ok(any.then_some(Stale { makers, missing }))
}

impl Stale {
    /// The warning before an answer from such rows.
    pub fn words(&self) -> String {
        let mut parts: Vec<String> = self.makers.iter().map(by_other).collect();
        if self.missing.frames {
            parts.push("derived rows of some frames are missing".to_owned());
        }
        if self.missing.nights {
            parts.push("the sessions of some nights are not grouped yet".to_owned());
        }
        if self.missing.rebuild {
            parts.push("a rebuild was not finished".to_owned());
        }
        format!(
            "this answer may be out of date: {}; framefall rebuild recomputes these rows",
            parts.join("; ")
        )
    }
}

fn by_other(one: &MakerCount) -> String {
    let Maker {
        formulas,
        shower_table,
        ..
    } = &one.maker;
    format!(
        "{} were computed with shower table {shower_table} and formulas {formulas}, and this framefall has shower table \
         {EDITION} and formulas {FORMULAS}",
        counted(one.frames, "frame")
    )
}

/// Stale rows as findings: one for each maker, one for missing rows, each at its first frame.
pub fn stale_findings(catalogue: &Catalogue) -> Result<Vec<AuditRow>, Failure> {
    let Some(stale) = stale(catalogue)? else {
        return Ok(Vec::new());
    };
    let mut found = Vec::new();
    for one in &stale.makers {
        if let Some(frame_id) = catalogue.first_frame_by(one.maker_id)? {
            found.push((frame_id, by_other(one), "used them as they are"));
        }
    }
    if let (count, Some(frame_id)) = catalogue.pending_frames()? {
        found.push((
            frame_id,
            format!("derived rows of {} are missing", counted(count, "frame")),
            "answered without them",
        ));
    }
    let nights: BTreeSet<String> = catalogue
        .pending_nights()?
        .into_iter()
        .map(|night| night.night)
        .collect();
    if let Some(night) = nights.first()
        && let Some(frame_id) = catalogue.frames_of_night(night)?.first()
    {
        let others = match nights.len() - 1 {
            0 => String::new(),
            1 => " and of 1 later night".to_owned(),
            more => format!(" and of {more} later nights"),
        };
        found.push((
            *frame_id,
            format!("the sessions of {night}{others} are not grouped yet"),
            "answered from the existing sessions",
        ));
    }
    if let Some(frame_id) = catalogue.first_not_rebuilt()? {
        found.push((
            frame_id,
            "a rebuild was stopped before this frame".to_owned(),
            "answered from the existing rows",
        ));
    }
    found
        .into_iter()
        .map(|(frame_id, saw, did)| {
            catalogue.audit_row(frame_id, "rows-stale", saw, did.to_owned())
        })
        .collect()
}

/// The version of the formulas that give frames their time, place, sky, kind and session. Raise it with every change
/// that gives another value for the same frame, even a better one: rows of other versions are stale, and `framefall
/// rebuild` recomputes them. A new version of the program alone does not need it. A change of the shower table raises
/// its own edition instead.
pub const FORMULAS: i64 = 6;

/// The program and its version, as recorded in derived rows.
pub const PROGRAM: &str = concat!("framefall ", env!("CARGO_PKG_VERSION"));
