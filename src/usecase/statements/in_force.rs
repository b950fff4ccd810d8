//! Whether another catalogue's statement is already in force here, or contradicts what is.

use crate::catalogue::batch::Batch;
use crate::site::assign::nearest;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::site::SiteOrigin;
use crate::terms::statement::Act;
use crate::terms::statement::SiteRef;
use crate::usecase::statements::apply_site::find;

/// Whether the same is already in force.
///
/// Refuses: a contradiction of what is in force.
pub(super) fn is_in_force(batch: &Batch<'_>, act: &Act) -> Result<bool, Failure> {
    match act {
        Act::Zone(body, zone) => {
            let zones = batch.clock_zones(batch.ensure_body(body)?)?;
            let limits = (zone.from, zone.until);
            let Some(there) = zones.iter().find(|z| (z.from, z.until) == limits) else {
                return Ok(false);
            };
            let name = format!("zone-{}", there.id);
            same(
                there.zone == zone.zone,
                &name,
                &format!("the clock was set to {}", there.zone),
                &CommandLine::new("clock remove").argument(&name),
            )
        }
        Act::Fix(body, fix) => {
            let fixes = batch.clock_fixes(batch.ensure_body(body)?)?;
            let Some(there) = fixes.iter().find(|f| f.key() == fix.key()) else {
                return Ok(false);
            };
            let name = format!("fix-{}", there.id);
            same(
                (there.true_utc, there.before) == (fix.true_utc, fix.before),
                &name,
                &format!("{} at {}", there.reading, there.true_utc),
                &CommandLine::new("clock remove").argument(&name),
            )
        }
        Act::Site(site) => {
            if find(batch, &SiteRef::from(site))?
                .is_some_and(|there| there.origin == SiteOrigin::Stated)
            {
                return Ok(true);
            }
            let mut book = batch.sites()?;
            book.retain(|there| there.origin == SiteOrigin::Stated);
            match nearest(site.place, &book) {
                None => Ok(false),
                Some(there) => Err(Failure::words(format!(
                    "the site '{}' is only {:.1} km from '{}' of this catalogue, too near to \
                         assign frames to one of the two",
                    site.name,
                    there.place.distance_m(site.place) / 1000.0,
                    there.name
                ))
                .hint(format!(
                    "if it is the same place, give both the same name: {}",
                    CommandLine::new("site change")
                        .argument(&there.name)
                        .option("--name", &site.name)
                ))),
            }
        }
        Act::Track(name, points) => {
            let tracks = batch.tracks()?;
            let Some(there) = tracks.iter().find(|track| track.name == *name) else {
                return Ok(false);
            };
            let ends = points.first().zip(points.last());
            let is_same = ends.is_some_and(|(a, b)| (a.at, b.at) == (there.first, there.last))
                && usize::try_from(there.points) == Ok(points.len());
            let removal = CommandLine::new("site track")
                .option("--remove", format!("track-{}", there.track_id));
            same(is_same, name, "another track has that name", &removal)
        }
        _ => Ok(false),
    }
}

fn same(is_same: bool, name: &str, there: &str, removal: &CommandLine) -> Result<bool, Failure> {
    if is_same {
        return Ok(true);
    }
    Err(
        Failure::words(format!("it contradicts {name} of this catalogue: {there}")).hint(format!(
            "{removal} removes that one; then load the file again"
        )),
    )
}
