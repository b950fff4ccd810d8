//! The entry to this module: an instant and a place -> the sky over the frame. Calls the other files; no formula here.

use sofars::vm::s2c;

use super::darkness::DarkSky;
use super::darkness::Lights;
use super::darkness::Moonlight;
use super::direction::Direction;
use super::direction::Vector;
use super::horizon::Horizon;
use super::instant::Instant;
use super::moon::lit_fraction;
use super::node::Moment;
use super::node::Nodes;
use super::observer::Observer;
use super::observer::View;
use super::planets::Planet;
use super::rate::rate;
use super::rate::rate_under;
use super::seen::arrival_kms;
use super::seen::ground_kms;
use super::seen::seen;
use super::seen::zenith_attracted;
use super::sun::solar_longitude;
use super::sun::twilight;
use crate::sky::profile::zhr;
use crate::sky::radiant::radiant;
use crate::sky::shower::Shower;
use crate::sky::showers::shower;
use crate::sky::showers::showers;
use crate::terms::angle::Angle;
use crate::terms::night::SunMoon;
use crate::terms::records::FrameSky;
use crate::terms::records::InPicture;
use crate::terms::records::RadiantSky;
use crate::terms::shower::ShowerCode;
use crate::terms::site::Place;
use crate::terms::time::Utc;

/// Computes the sky for frame after frame. One for each thread: it keeps values that the next frame can use again.
///
/// The cache changes the speed of an answer, and not a bit of the answer.
///
/// ```
/// use framefall::sky::look::Looker;
/// use framefall::terms::site::Place;
/// use framefall::terms::time::Utc;
///
/// let at = Utc::parse("2025-12-14T02:00:00Z").unwrap();
/// let place = Place::new(45.0, 0.0, 0.0).unwrap();
/// let sky = Looker::new().frame_sky(at, Some(place)).unwrap();
/// assert_eq!(sky.strongest.unwrap().as_str(), "GEM");
/// let geminids = sky.radiants.iter().find(|one| one.shower.as_str() == "GEM").unwrap();
/// assert!((geminids.alt_deg - 78.0).abs() < 1.0, "they culminate about two at night");
/// ```
pub struct Looker {
    nodes: Nodes,
    observer: Option<(Place, Observer)>,
    active: Vec<(&'static Shower, f64)>,
    zhr_sky: DarkSky,
}

impl Default for Looker {
    fn default() -> Self {
        Self::new()
    }
}

impl Looker {
    /// Builds a looker with an empty cache.
    pub fn new() -> Self {
        Self {
            nodes: Nodes::new(),
            observer: None,
            active: Vec::new(),
            zhr_sky: DarkSky::of(None),
        }
    }

    /// Everything about the sky at an instant over a place without stated sky brightness: [`Looker::frame_sky_over`]
    /// with the sky of the ZHR's definition.
    pub fn frame_sky(&mut self, at: Utc, place: Option<Place>) -> Option<FrameSky> {
        let dark = self.zhr_sky;
        self.frame_sky_over(at, place, &dark)
    }

    /// Everything about the sky at an instant; without a place, only values that need none: solar longitude, the Moon's
    /// lit fraction, the main shower.
    ///
    /// The strongest shower is the one with the greatest rate at that instant and place, the first by its code if two
    /// are equal; none if no active radiant is up. The antihelion source counts like a shower. The main shower is the
    /// one with the greatest ZHR, whether its radiant is up or not; for it the antihelion source counts only if nothing
    /// else is active.
    ///
    /// Takes: the place's sky on a night without Moon. Good to: Sun 5 arcseconds, Moon 20, radiants as published and
    /// 0.001 for the conversion to the horizon; lit fraction 0.001; solar longitude 0.0002°. All with UT1 - UTC taken
    /// as 0. Refuses: years outside 1950 to 2099. Checked by: `tests/data/reference/sunmoon.csv`,
    /// `tests/data/reference/radiants.csv`
    pub fn frame_sky_over(
        &mut self,
        at: Utc,
        place: Option<Place>,
        dark: &DarkSky,
    ) -> Option<FrameSky> {
        self.sky_at(Instant::from_utc(at)?, place, dark)
    }

    /// The same for an instant that may be in a leap second, over a place without stated sky brightness.
    pub fn frame_sky_at(&mut self, at: Instant, place: Option<Place>) -> Option<FrameSky> {
        let dark = self.zhr_sky;
        self.sky_at(at, place, &dark)
    }

    fn sky_at(&mut self, at: Instant, place: Option<Place>, dark: &DarkSky) -> Option<FrameSky> {
        let sky = self.nodes.moment(at)?;
        let solar_lon_deg = solar_longitude(sky.sun_now).deg();
        self.active.clear();
        for one in showers().iter().filter(|one| one.is_active(solar_lon_deg)) {
            self.active.push((one, zhr(one, solar_lon_deg)));
        }
        let mut frame = FrameSky {
            sun_alt_deg: None,
            twilight: None,
            moon_alt_deg: None,
            moon_az_deg: None,
            moon_lit: lit_fraction(sky.sun_apparent, sky.moon_apparent),
            lst_deg: None,
            solar_lon_deg,
            strongest: None,
            main_shower: main_shower(&self.active),
            radiants: Vec::new(),
        };
        if let Some(place) = place {
            let over = self.over(at, &sky, place, (solar_lon_deg, frame.moon_lit), dark)?;
            frame.sun_alt_deg = Some(over.sun_alt_deg);
            frame.twilight = Some(twilight(over.sun_alt_deg));
            frame.moon_alt_deg = Some(over.moon.altitude().deg());
            frame.moon_az_deg = Some(over.moon.azimuth().deg());
            frame.lst_deg = Some(over.view.sidereal().deg());
            frame.radiants.reserve_exact(self.active.len());
            for (one, zhr) in &self.active {
                frame.radiants.push(over.radiant(one, *zhr));
            }
            frame.strongest = strongest(&frame.radiants);
        }
        Some(frame)
    }

    /// One shower's radiant over a place without stated sky brightness, whether or not the shower is active; its rate
    /// is 0 if it is not.
    ///
    /// Refuses: years outside 1950 to 2099, a code that is not in the table.
    pub fn radiant_sky(&mut self, at: Utc, place: Place, code: ShowerCode) -> Option<RadiantSky> {
        let shower = shower(code)?;
        let at = Instant::from_utc(at)?;
        let sky = self.nodes.moment(at)?;
        let solar_lon_deg = solar_longitude(sky.sun_now).deg();
        let moon_lit = lit_fraction(sky.sun_apparent, sky.moon_apparent);
        let dark = self.zhr_sky;
        let over = self.over(at, &sky, place, (solar_lon_deg, moon_lit), &dark)?;
        Some(over.radiant(shower, zhr(shower, solar_lon_deg)))
    }

    /// Only Sun and Moon.
    ///
    /// Good to: as in [`Looker::frame_sky`]. Refuses: years outside 1950 to 2099.
    pub fn sun_moon(&mut self, at: Utc, place: Place) -> Option<SunMoon> {
        let instant = Instant::from_utc(at)?;
        let sky = self.nodes.moment(instant)?;
        let (view, _) = self.view(instant, &sky, place)?;
        let moon = view.body(sky.moon_apparent);
        Some(SunMoon {
            at,
            sun_alt_deg: view.body(sky.sun_apparent).altitude().deg(),
            moon_alt_deg: moon.altitude().deg(),
            moon_az_deg: moon.azimuth().deg(),
            moon_lit: lit_fraction(sky.sun_apparent, sky.moon_apparent),
        })
    }

    /// Geometric altitude and azimuth (from north through east) of an ICRS direction; no refraction.
    ///
    /// Good to: 0.001 arcseconds against the full star transform with UT1 - UTC taken as 0, at every latitude.
    /// Refuses: years outside 1950 to 2099.
    /// Checked by: `tests/data/reference/altaz.csv`
    pub fn altaz(
        &mut self,
        at: Utc,
        place: Place,
        ra: Angle,
        dec: Angle,
    ) -> Option<(Angle, Angle)> {
        self.altaz_at(Instant::from_utc(at)?, place, ra, dec)
    }

    /// The same for an instant that may be in a leap second.
    pub fn altaz_at(
        &mut self,
        at: Instant,
        place: Place,
        ra: Angle,
        dec: Angle,
    ) -> Option<(Angle, Angle)> {
        let sky = self.nodes.moment(at)?;
        let (view, _) = self.view(at, &sky, place)?;
        let there = view.star(s2c(ra.rad(), dec.rad()));
        Some((there.altitude(), there.azimuth()))
    }

    /// The sky over a place at an instant, for many directions.
    ///
    /// Refuses: years outside 1950 to 2099.
    pub fn horizon(&mut self, at: Utc, place: Place) -> Option<Horizon> {
        let at = Instant::from_utc(at)?;
        let sky = self.nodes.moment(at)?;
        let solar_lon_deg = solar_longitude(sky.sun_now).deg();
        let (view, observer) = self.view(at, &sky, place)?;
        Some(Horizon::new(
            view,
            place.elev_m(),
            observer.cos_lat(),
            solar_lon_deg,
            view.body(sky.moon_apparent),
        ))
    }

    /// A planet over a place as seen (east, north, up): parallax and refraction included.
    ///
    /// Good to: [`Planet::error_arcsec`], and the air. Refuses: years outside 1950 to 2099.
    pub fn planet(&mut self, at: Utc, place: Place, planet: Planet) -> Option<Vector> {
        let horizon = self.horizon(at, place)?;
        let instant = Instant::from_utc(at)?;
        let sky = self.nodes.moment(instant)?;
        let (view, _) = self.view(instant, &sky, place)?;
        let there = view.body(planet.apparent(instant.tt_d(), &sky)?);
        Some(horizon.lifted([there.east, there.north, there.up]))
    }

    fn over(
        &mut self,
        at: Instant,
        sky: &Moment,
        place: Place,
        (solar_lon_deg, moon_lit): (f64, f64),
        dark: &DarkSky,
    ) -> Option<Over> {
        let (view, observer) = self.view(at, sky, place)?;
        let moon = view.body(sky.moon_apparent);
        let sun_alt_deg = view.body(sky.sun_apparent).altitude().deg();
        Some(Over {
            view,
            moon,
            sun_alt_deg,
            ground_kms: ground_kms(observer.cos_lat(), place.elev_m()),
            solar_lon_deg,
            faintest: dark.faintest_with(&Lights {
                sun_alt_deg: Some(sun_alt_deg),
                moon: Some(Moonlight {
                    alt_deg: moon.altitude().deg(),
                    lit: moon_lit,
                }),
            }),
        })
    }

    fn view(&mut self, at: Instant, sky: &Moment, place: Place) -> Option<(View, Observer)> {
        let observer = match self.observer {
            Some((kept, observer)) if kept == place => observer,
            _ => {
                let observer = Observer::at(place)?;
                self.observer = Some((place, observer));
                observer
            }
        };
        Some((View::new(at, sky, &observer), observer))
    }
}

/// The active shower with the greatest ZHR; the antihelion source only if no other is active.
fn main_shower(active: &[(&Shower, f64)]) -> Option<ShowerCode> {
    let mut best: Option<(&Shower, f64)> = None;
    for &(one, zhr) in active {
        let better = best.is_none_or(|(held, most)| match (held.peak, one.peak) {
            (None, Some(_)) => true,
            (Some(_), None) => false,
            _ => zhr > most,
        });
        if better {
            best = Some((one, zhr));
        }
    }
    best.map(|(one, _)| one.code)
}

/// The radiant with the greatest rate; none if none is up.
fn strongest(radiants: &[RadiantSky]) -> Option<ShowerCode> {
    let mut best: Option<&RadiantSky> = None;
    for one in radiants.iter().filter(|one| one.rate > 0.0) {
        if best.is_none_or(|held| one.rate > held.rate) {
            best = Some(one);
        }
    }
    best.map(|one| one.shower)
}

/// A place at an instant, with the values that radiants depend on.
struct Over {
    view: View,
    moon: Direction,
    sun_alt_deg: f64,
    ground_kms: f64,
    solar_lon_deg: f64,
    /// Magnitude of the faintest star; `None` in daylight.
    faintest: Option<f64>,
}

impl Over {
    fn radiant(&self, shower: &Shower, zhr: f64) -> RadiantSky {
        let among_stars = radiant(shower, self.solar_lon_deg);
        let geometric = self
            .view
            .star(s2c(among_stars.ra.rad(), among_stars.dec.rad()));
        let attracted = zenith_attracted(geometric, shower.vg_kms);
        let (seen_alt, seen_az) = seen(attracted, arrival_kms(shower.vg_kms), self.ground_kms);
        let rate = rate(zhr, attracted.sin_altitude());
        RadiantSky {
            shower: shower.code,
            alt_deg: geometric.altitude().deg(),
            az_deg: geometric.azimuth().deg(),
            seen_alt_deg: seen_alt.deg(),
            seen_az_deg: seen_az.deg(),
            moon_sep_deg: geometric.angle_to(self.moon).deg(),
            rate,
            seen_rate: self
                .faintest
                .map_or(0.0, |faintest| rate_under(rate, shower.r, faintest)),
            picture: InPicture::default(),
        }
    }
}
