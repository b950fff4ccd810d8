//! Applies statements about sites: derives the frames at them, and those that join them.

use std::collections::BTreeSet;

use crate::catalogue::batch::Batch;
use crate::site::assign::NEAR_DEG;
use crate::site::assign::SITE_RADIUS_M;
use crate::site::assign::nearest;
use crate::site::zone_lookup::zone_at;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::site::Site;
use crate::terms::site::SiteOrigin;
use crate::terms::statement::Act;
use crate::terms::statement::SiteRef;
use crate::usecase::derive::rederive::Concerned;

/// Applies a statement about a site.
pub(super) fn apply_site(batch: &Batch<'_>, act: &Act) -> Result<Concerned, Failure> {
    match act {
        Act::Site(site) => add(batch, site),
        Act::SiteChange(was, site) => match find(batch, was)? {
            Some(there) => change(
                batch,
                &there,
                &Site {
                    id: there.id,
                    ..site.clone()
                },
            ),
            None => add(batch, site),
        },
        Act::SiteRemoval(site) => match find(batch, site)? {
            Some(there) => remove(batch, &there),
            None => Ok(Concerned::default()),
        },
        _ => Ok(Concerned::default()),
    }
}

/// The number of the site that a statement names; one that was created from positions may be missing here, and is then
/// added.
pub(super) fn resolve(batch: &Batch<'_>, named: &SiteRef) -> Result<i64, Failure> {
    if let Some(site) = find(batch, named)? {
        return Ok(site.id);
    }
    batch.add_site(&Site {
        id: 0,
        name: named.name.clone(),
        place: named.place,
        zone: zone_at(named.place.lat_deg(), named.place.lon_deg()),
        origin: SiteOrigin::Exif,
        brightness: None,
    })
}

/// The site that a statement names: by that name, otherwise one that was created there from positions.
///
/// Refuses: a site of that name at another place.
pub(super) fn find(batch: &Batch<'_>, named: &SiteRef) -> Result<Option<Site>, Failure> {
    let book = batch.sites()?;
    let name = named.name.to_lowercase();
    if let Some(site) = book.iter().find(|site| site.name.to_lowercase() == name) {
        let distance_m = site.place.distance_m(named.place);
        if distance_m > SITE_RADIUS_M {
            return Err(elsewhere(site, distance_m));
        }
        return Ok(Some(site.clone()));
    }
    let made: Vec<Site> = book.into_iter().filter(is_made).collect();
    Ok(nearest(named.place, &made).cloned())
}

fn is_made(site: &Site) -> bool {
    site.origin != SiteOrigin::Stated
}

fn elsewhere(site: &Site, distance_m: f64) -> Failure {
    Failure::words(format!(
        "the site '{}' of this catalogue is {:.1} km from the one in the statement",
        site.name,
        distance_m / 1000.0
    ))
    .hint(format!(
        "{} gives it another name",
        CommandLine::new("site change")
            .argument(&site.name)
            .blank_option("--name")
    ))
}

/// Adds a site. The nearest one within its radius that was created from positions becomes it, and others there are
/// removed: their frames are assigned to it.
fn add(batch: &Batch<'_>, site: &Site) -> Result<Concerned, Failure> {
    let mut made = batch.sites()?;
    made.retain(|there| is_made(there) && there.place.distance_m(site.place) <= SITE_RADIUS_M);
    let Some(becomes) = nearest(site.place, &made).cloned() else {
        let id = batch.add_site(site)?;
        return Ok(Concerned {
            id,
            frames: batch.frames_near(site.place, NEAR_DEG, SITE_RADIUS_M, None)?,
            site: Some((id, BTreeSet::new())),
            ..Concerned::default()
        });
    };
    let mut frames = Vec::new();
    for other in made.iter().filter(|other| other.id != becomes.id) {
        frames.extend(batch.frames_at_site(other.id)?);
        batch.drop_site(other.id)?;
    }
    let site = Site {
        id: becomes.id,
        ..site.clone()
    };
    let mut effect = change(batch, &becomes, &site)?;
    effect.frames.extend(frames);
    effect.frames.sort_unstable();
    effect.frames.dedup();
    Ok(effect)
}

fn change(batch: &Batch<'_>, was: &Site, site: &Site) -> Result<Concerned, Failure> {
    batch.change_site(site)?;
    let same_place = (was.place, &was.zone) == (site.place, &site.zone);
    if same_place && was.brightness == site.brightness {
        return Ok(Concerned {
            id: site.id,
            ..Concerned::default()
        });
    }
    let used = batch.frames_using_site(site.id)?;
    let mut frames = batch.frames_at_site(site.id)?;
    if !same_place {
        frames.extend(batch.frames_near(site.place, NEAR_DEG, SITE_RADIUS_M, None)?);
        frames.sort_unstable();
        frames.dedup();
    }
    Ok(Concerned {
        id: site.id,
        frames,
        site: Some((site.id, used)),
        site_moved: was.place != site.place,
        ..Concerned::default()
    })
}

fn remove(batch: &Batch<'_>, site: &Site) -> Result<Concerned, Failure> {
    let used = batch.frames_using_site(site.id)?;
    let frames = batch.frames_at_site(site.id)?;
    batch.drop_site(site.id)?;
    Ok(Concerned {
        id: site.id,
        frames,
        site: Some((site.id, used)),
        ..Concerned::default()
    })
}
