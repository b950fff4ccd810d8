//! The site book: adds a site, finds one, states where frames were taken.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::read::Scope;
use crate::site::assign::nearest;
use crate::site::parse::Axis;
use crate::site::parse::parse_coordinate;
use crate::site::zone_lookup::zone_at;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::failure::no_session;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::site::SiteOrigin;
use crate::terms::site::SkyBrightness;
use crate::terms::statement::Act;
use crate::terms::statement::SiteRef;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::derive::rederive::Rederived;
use crate::usecase::statements::state::state_and_derive;
use crate::usecase::typed::most_alike;
use crate::usecase::typed::zone_named;

/// A site as the photographer states it.
#[derive(Clone, Copy, Debug)]
pub struct StatedSite<'a> {
    /// Its name.
    pub name: &'a str,
    /// Its latitude, as written.
    pub lat: &'a str,
    /// Its longitude, as written.
    pub lon: &'a str,
    /// Its elevation in metres; sea level when not stated.
    pub elev_m: Option<f64>,
    /// Its zone, when stated.
    pub zone: Option<&'a str>,
    /// How dark its sky is, if stated.
    pub brightness: Option<SkyBrightness>,
}

/// Higher than any tripod, in metres: a stated elevation beyond this is in feet, or mistyped.
const HIGHEST_GROUND_M: f64 = 10_000.0;

/// A stated elevation, if there is ground that high.
pub(crate) fn on_ground(elev_m: f64) -> Result<f64, Failure> {
    if elev_m > HIGHEST_GROUND_M {
        return Err(nowhere(elev_m));
    }
    Ok(elev_m)
}

/// The failure for an impossible elevation.
pub(crate) fn nowhere(elev_m: f64) -> Failure {
    Failure::words(format!(
        "an elevation of {elev_m} m does not exist on Earth"
    ))
    .hint("give it in metres above sea level: --elevation 2400")
}

/// Adds a site to the book. Its zone is found from the coordinates if it is not stated. Frames with a position of their
/// own near it are derived again: they may be nearer to it than to their present site.
///
/// Refuses: a blank or taken name, ambiguous coordinates, an unknown zone, a place within the radius of a stated site,
/// an impossible brightness.
pub fn add_site(
    catalogue: &mut Catalogue,
    stated: &StatedSite<'_>,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<(Site, Rederived), Failure> {
    let refuse = |message: String| Failure::words(message);
    let lat = parse_coordinate(stated.lat, Axis::Latitude).map_err(refuse)?;
    let lon = parse_coordinate(stated.lon, Axis::Longitude).map_err(refuse)?;
    let elev_m = stated.elev_m.unwrap_or(0.0);
    let place = Place::new(lat, lon, on_ground(elev_m)?).ok_or_else(|| nowhere(elev_m))?;
    let zone = match stated.zone {
        Some(name) => Some(zone_named(name)?.name().to_owned()),
        None => zone_at(lat, lon),
    };
    if zone.is_none() {
        return Err(
            refuse("the zone of this place is unknown to this program".into())
                .hint("state it: --zone Area/City"),
        );
    }
    let brightness = stated.brightness.map(checked_brightness).transpose()?;
    let name = checked_name(catalogue, stated.name, None)?;
    far_from_others(catalogue, place, None)?;
    let site = Site {
        id: 0,
        name,
        place,
        zone,
        origin: SiteOrigin::Stated,
        brightness,
    };
    let added = Act::Site(site.clone());
    let (id, done) = state_and_derive(catalogue, &added, Vec::new(), Mode::Lasting, watch)?;
    Ok((Site { id, ..site }, done))
}

/// Checks that a name can be printed and that no site except `except` has it.
pub(crate) fn checked_name(
    catalogue: &Catalogue,
    name: &str,
    except: Option<i64>,
) -> Result<String, Failure> {
    let refuse = |message: String| Failure::words(message);
    let name = name.trim();
    if name.is_empty() || name.chars().any(char::is_control) {
        return Err(refuse("a site needs a name that can be printed".into()));
    }
    match catalogue.site_named(name)? {
        Some(taken) if Some(taken.id) != except => Err(refuse(format!(
            "there is already a site named '{}'",
            taken.name
        ))
        .hint("framefall site list shows it; choose another name")),
        _ => Ok(name.to_owned()),
    }
}

/// Refuses a place within the radius of a site other than `except`.
pub(crate) fn far_from_others(
    catalogue: &Catalogue,
    place: Place,
    except: Option<i64>,
) -> Result<(), Failure> {
    let mut book = catalogue.sites()?;
    book.retain(|site| Some(site.id) != except);
    let Some(near) = nearest(place, &book) else {
        return Ok(());
    };
    let hint = match near.origin {
        SiteOrigin::Exif | SiteOrigin::Track => format!(
            "if it is the same place, use that site, which was made from {}; to name it: {}",
            if near.origin == SiteOrigin::Track {
                "a track"
            } else {
                "GPS positions"
            },
            CommandLine::new("site change")
                .argument(&near.name)
                .blank_option("--name")
        ),
        SiteOrigin::Stated => format!(
            "if it is the same place, use '{}'; otherwise choose a place at least 3 km away",
            near.name
        ),
    };
    Err(Failure::words(format!(
        "'{}' is only {:.1} km from here, too near to assign frames to one of the two",
        near.name,
        near.place.distance_m(place) / 1000.0
    ))
    .hint(hint))
}

/// The site of that name.
///
/// Refuses: a name the book does not have, with the nearest one.
pub fn site_named(catalogue: &Catalogue, name: &str) -> Result<Site, Failure> {
    // Trimmed as when the site was named.
    let name = name.trim();
    if let Some(site) = catalogue.site_named(name)? {
        return Ok(site);
    }
    let book = catalogue.sites()?;
    let hint = match most_alike(&book, |site| &site.name, name) {
        Some(site) => format!("did you mean '{}'?", site.name),
        None if book.is_empty() => {
            "framefall site add NAME --lat … --lon … --elevation … adds one".into()
        }
        None => "framefall site list shows the sites".into(),
    };
    Err(Failure::words(format!("there is no site named '{name}'")).hint(hint))
}

/// States the site of the frames of sessions and dumps, and derives them again.
///
/// A frame with a GPS position of its own keeps it.
pub fn assign_site(
    catalogue: &mut Catalogue,
    name: &str,
    scopes: &[Scope],
    mode: Mode,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<Rederived, Failure> {
    let site = site_named(catalogue, name)?;
    let mut frames = Vec::new();
    for scope in scopes {
        let ids = catalogue.frame_ids(scope)?;
        if ids.is_empty() {
            return Err(nothing_in(catalogue, scope)?);
        }
        frames.extend(ids);
    }
    frames.sort_unstable();
    frames.dedup();
    place_at(catalogue, frames, &site, mode, watch)
}

/// States where frames were taken and derives them again.
pub fn place_at(
    catalogue: &mut Catalogue,
    frames: Vec<i64>,
    site: &Site,
    mode: Mode,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<Rederived, Failure> {
    let place = Act::Place(SiteRef::from(site));
    Ok(state_and_derive(catalogue, &place, frames, mode, watch)?.1)
}

fn nothing_in(catalogue: &Catalogue, scope: &Scope) -> Result<Failure, Failure> {
    Ok(match scope {
        Scope::Session(id) => no_session(*id),
        Scope::Dump(label) => Failure::words(format!("no dump labelled '{label}' has frames"))
            .hint(format!(
                "the dumps are: {}",
                catalogue.dump_labels()?.join(", ")
            )),
        Scope::All => {
            Failure::words("the catalogue has no frames").hint("run framefall ingest DUMP first")
        }
    })
}

/// Checks that a sky can be this dark.
///
/// Source: between a city under a full Moon and the darkest sites of the Earth; common practice, no source.
pub fn checked_brightness(brightness: SkyBrightness) -> Result<SkyBrightness, Failure> {
    let (fits, what) = match brightness {
        SkyBrightness::Sqm(sqm) => (
            (14.0..=23.0).contains(&sqm),
            format!("the sky brightness must be between 14 and 23 mag/arcsec², not {sqm}"),
        ),
        SkyBrightness::LimitingMagnitude(magnitude) => (
            (0.0..=8.0).contains(&magnitude),
            format!("the limiting magnitude must be between 0 and 8, not {magnitude}"),
        ),
    };
    if fits {
        Ok(brightness)
    } else {
        Err(Failure::words(what))
    }
}
