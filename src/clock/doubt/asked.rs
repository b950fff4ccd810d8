//! The input of a judgement of clocks, and the data it requests from the caller: bodies, runs of others, sites, the
//! Sun.

use std::borrow::Cow;

use crate::clock::doubt::light;
use crate::clock::doubt::light::Bright;
use crate::clock::doubt::light::night_span;
use crate::clock::doubt::light::worked_span;
use crate::clock::doubt::rank::Facts;
use crate::clock::doubt::run::Run;
use crate::clock::doubt::run::Runs;
use crate::clock::doubt::sky_fit::SkyFit;
use crate::clock::doubt::zoned::ZonedSite;
use crate::terms::basis::RISING_DEG;
use crate::terms::clock::SessionFile;
use crate::terms::day::DAY_MS;
use crate::terms::failure::Failure;
use crate::terms::site::Place;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// A body whose clock is judged.
#[derive(Clone, Copy, Debug)]
pub struct Body<'a> {
    /// Its name on the command line.
    pub camera: &'a str,
    /// Whether its serial number is known; without one, two bodies may look like one.
    pub is_one: bool,
    /// Its runs.
    pub runs: &'a Runs,
    /// The readings for which a fix is stated.
    pub stated: &'a [WallTime],
}

/// A run of another body at the same site.
#[derive(Clone, Debug, PartialEq)]
pub struct OtherRun {
    /// That body.
    pub camera: String,
    /// The run.
    pub run: Run,
}

/// Data supplied by the caller.
pub struct Ask<'a> {
    /// The Sun's altitude over a place, in degrees.
    pub sun_alt_deg: &'a mut dyn FnMut(Utc, Place) -> Option<f64>,
    /// The runs of other bodies at a site between two instants in milliseconds of UTC.
    pub others: &'a mut dyn FnMut(i64, i64, i64) -> Result<Vec<OtherRun>, Failure>,
    /// The frames of a session that have a clock reading.
    pub files: &'a mut dyn FnMut(i64) -> Result<Vec<SessionFile>, Failure>,
    /// What the stars in the pictures of a run say of its clock.
    pub sky: &'a mut dyn FnMut(&Run) -> Result<Vec<SkyFit>, Failure>,
    /// The sites.
    pub sites: &'a [ZonedSite],
}

impl Ask<'_> {
    pub(super) fn site(&self, run: &Run) -> Option<&ZonedSite> {
        self.sites
            .iter()
            .find(|site| Some(site.site_id) == run.site_id)
    }
}

/// A run, or a part of one, and whether it is in daylight.
pub(super) struct Piece<'r> {
    pub(super) run: Cow<'r, Run>,
    pub(super) of: usize,
    pub(super) bright: Option<Bright>,
}

/// The runs of other bodies at a run's site at about that time.
pub(super) fn others(run: &Run, ask: &mut Ask<'_>) -> Result<Vec<OtherRun>, Failure> {
    let Some(site) = run.site_id.filter(|_| run.is_dated()) else {
        return Ok(Vec::new());
    };
    let (from, until) = run.span_ms();
    (ask.others)(site, from - 2 * DAY_MS, until + 2 * DAY_MS)
}

/// Whether a run was in the dark.
pub(super) fn is_witness(other: &OtherRun) -> bool {
    light::check(&other.run).is_none()
        && light::highest_sun_deg(&other.run).is_some_and(|alt| alt < RISING_DEG)
}

/// The facts about these runs, without their neighbours by the files.
pub(super) fn facts_of(pieces: &[Piece<'_>], runs: &[&Run], others: &[OtherRun]) -> Facts {
    let spans: Vec<(i64, i64)> = runs.iter().map(|run| run.span_ms()).collect();
    let near = |span: (i64, i64)| spans.iter().any(|s| (s.0 - span.0).abs() < JOURNEY_MS);
    let is_other = |piece: &&Piece<'_>| !runs.iter().any(|run| run.frames == piece.run.frames);
    let same_site = |piece: &&Piece<'_>| runs.iter().any(|run| run.site_id == piece.run.site_id);
    let right = || {
        pieces
            .iter()
            .filter(|p| p.bright.is_none() && p.run.is_dated())
            .filter(is_other)
    };
    Facts {
        night: runs.iter().filter_map(|run| night_span(run)).collect(),
        worked: runs.iter().filter_map(|run| worked_span(run)).collect(),
        taken: right().map(|p| p.run.span_ms()).collect(),
        habits: right()
            .filter(same_site)
            .map(|p| p.run.span_ms())
            .filter(|span| near(*span))
            .collect(),
        alike: pieces
            .iter()
            .filter(|p| p.bright.is_some())
            .filter(is_other)
            .filter(same_site)
            .filter_map(|p| night_span(&p.run))
            .filter(|span| near(*span))
            .collect(),
        others: others
            .iter()
            .filter(|o| is_witness(o))
            .map(|o| o.run.span_ms())
            .collect(),
        spans,
        ..Facts::default()
    }
}

pub(super) fn instant(ms: i64) -> String {
    Utc::from_unix_ms(ms).map_or_else(String::new, |at| at.to_string())
}

/// Other nights this near show a photographer's habits, and the same error of the clock, in milliseconds.
///
/// Source: our choice: a journey.
pub(super) const JOURNEY_MS: i64 = 15 * DAY_MS;
