//! Changes or removes a site: the frames concerned are derived again.

use crate::catalogue::handle::Catalogue;
use crate::site::parse::Axis;
use crate::site::parse::parse_coordinate;
use crate::site::zone_lookup::zone_at;
use crate::terms::failure::Failure;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::site::SiteOrigin;
use crate::terms::site::SkyBrightness;
use crate::terms::statement::Act;
use crate::terms::statement::SiteRef;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::sites::book::checked_brightness;
use crate::usecase::sites::book::checked_name;
use crate::usecase::sites::book::far_from_others;
use crate::usecase::sites::book::nowhere;
use crate::usecase::sites::book::on_ground;
use crate::usecase::sites::book::site_named;
use crate::usecase::statements::state::state_and_derive;
use crate::usecase::typed::zone_named;

/// The changes of a site; `None` keeps a value.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SiteChange<'a> {
    /// Its name.
    pub name: Option<&'a str>,
    /// Its latitude, as written.
    pub lat: Option<&'a str>,
    /// Its longitude, as written.
    pub lon: Option<&'a str>,
    /// Its elevation in metres.
    pub elev_m: Option<f64>,
    /// Its zone.
    pub zone: Option<&'a str>,
    /// How dark its sky is.
    pub brightness: Option<SkyBrightness>,
}

/// Computes a site after a change.
///
/// Refuses: an unknown site, a taken name, ambiguous coordinates, a place too near another site, an unknown zone, an
/// impossible brightness.
pub fn changed_site(
    catalogue: &Catalogue,
    name: &str,
    change: &SiteChange<'_>,
) -> Result<Site, Failure> {
    let was = site_named(catalogue, name)?;
    if *change == SiteChange::default() {
        return Err(
            Failure::words(format!("nothing of '{}' is to change", was.name)).hint(
                "say what: --name, --lat, --lon, --elevation, --zone, --sky-brightness or --limiting-magnitude",
            ),
        );
    }
    let refuse = |message: String| Failure::words(message);
    let mut site = was.clone();
    if let Some(new) = change.name {
        site.name = checked_name(catalogue, new, Some(was.id))?;
        site.origin = SiteOrigin::Stated;
    }
    let coordinate = |text: Option<&str>, axis: Axis, kept: f64| {
        text.map_or(Ok(kept), |text| {
            parse_coordinate(text, axis).map_err(refuse)
        })
    };
    let lat = coordinate(change.lat, Axis::Latitude, was.place.lat_deg())?;
    let lon = coordinate(change.lon, Axis::Longitude, was.place.lon_deg())?;
    let elev_m = match change.elev_m {
        Some(stated) => on_ground(stated)?,
        None => was.place.elev_m(),
    };
    site.place = Place::new(lat, lon, elev_m).ok_or_else(|| nowhere(elev_m))?;
    if change.lat.is_some() || change.lon.is_some() {
        far_from_others(catalogue, site.place, Some(was.id))?;
        site.origin = SiteOrigin::Stated;
        // A zone that was found from the coordinates moves with them; a stated one is kept.
        let found = zone_at(was.place.lat_deg(), was.place.lon_deg());
        if found == was.zone {
            site.zone = zone_at(lat, lon).or(found);
        }
    }
    if let Some(zone) = change.zone {
        site.zone = Some(zone_named(zone)?.name().to_owned());
    }
    if let Some(brightness) = change.brightness {
        site.brightness = Some(checked_brightness(brightness)?);
    }
    if site == was {
        return Err(refuse(format!(
            "'{}' is like that already; nothing was changed",
            was.name
        ))
        .hint("framefall site list shows its values"));
    }
    Ok(site)
}

/// Stores a changed site.
pub fn change_site(
    catalogue: &mut Catalogue,
    site: &Site,
    mode: Mode,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<Rederived, Failure> {
    let was = catalogue.sites()?.into_iter().find(|s| s.id == site.id);
    let was = was.as_ref().unwrap_or(site);
    let changed = Act::SiteChange(SiteRef::from(was), site.clone());
    Ok(state_and_derive(catalogue, &changed, Vec::new(), mode, watch)?.1)
}

/// Removes a site from the book. Frames that were stated to be there lose their place; frames with a position of their
/// own keep it, and are assigned to another site or a new one.
pub fn remove_site(
    catalogue: &mut Catalogue,
    site: &Site,
    mode: Mode,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<Rederived, Failure> {
    let removed = Act::SiteRemoval(SiteRef::from(site));
    Ok(state_and_derive(catalogue, &removed, Vec::new(), mode, watch)?.1)
}
