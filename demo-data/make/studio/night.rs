//! The light of the night sky in any direction: airglow, Milky Way, town, zodiacal light, twilight, moonlight.
//!
//! Unit: the zenith of a moonless night is about 0.02. Brightness of twilight and moonlight against it, and
//! all colours, are from memory; the rest is to the eye's liking. No stars, no land.

use super::cast::Site;
use super::heavens::{Arrow, Watch, altitude_deg, apart_deg, azimuth_deg, cross, dot};
use super::random::{blend, ease, surface};
use super::stars::StarField;

/// Red, green, blue.
pub type Light = [f64; 3];

/// Twilight at the zenith by the Sun's altitude, in candelas a square metre; the night itself is 0.0002.
const TWILIGHT: [(f64, f64); 9] = [
    (-20.0, 1e-7),
    (-18.0, 2e-5),
    (-16.0, 9e-5),
    (-14.0, 3e-4),
    (-12.0, 1.2e-3),
    (-10.0, 6e-3),
    (-8.0, 4e-2),
    (-6.0, 0.25),
    (-4.0, 1.6),
];

/// The sky over one site at one instant.
pub struct NightSky<'a> {
    site: &'a Site,
    pole: Arrow,
    centre: Arrow,
    ninety: Arrow,
    path_pole: Arrow,
    sun: Arrow,
    sun_az_deg: f64,
    twilight: f64,
    /// Towards the Moon.
    pub moon: Arrow,
    /// Its lit part, 0 to 1.
    pub moon_lit: f64,
    moonlight: f64,
    minutes: f64,
}

impl<'a> NightSky<'a> {
    /// Looks at the sky of a site at an instant.
    pub fn new(site: &'a Site, watch: &Watch, stars: &StarField, unix_ms: i64) -> Self {
        let pole = watch.over_site(stars.galactic_pole);
        let centre = watch.over_site(stars.galactic_centre);
        let (sun, moon) = (watch.sun(), watch.moon());
        let moon_lit = (1.0 - dot(sun, moon)) / 2.0;
        let moon_up = dot(moon, [0.0, 0.0, 1.0]).max(0.0);
        Self {
            site,
            pole,
            centre,
            ninety: cross(pole, centre),
            path_pole: watch.ecliptic_pole(),
            sun,
            sun_az_deg: azimuth_deg(sun),
            twilight: twilight(altitude_deg(sun)),
            moon,
            moon_lit,
            // A half moon gives a tenth of a full one's light.
            moonlight: 0.62 * moon_lit.powi(3) * moon_up.powf(0.6),
            minutes: (unix_ms.rem_euclid(86_400_000)) as f64 / 60_000.0,
        }
    }

    /// The light that comes from a direction above the horizon.
    pub fn glow(&self, towards: Arrow) -> Light {
        let up = towards[2].max(0.0);
        let alt = altitude_deg(towards).max(0.0);
        let az = azimuth_deg(towards);
        let clear = 0.82_f64.powf(1.0 / (up + 0.06));
        let mut sum = [0.0; 3];
        add(&mut sum, airglow(up, az, self.minutes), glow_hue(up));
        let (band, warmth) = self.milky_way(towards);
        add(
            &mut sum,
            0.085 * band * clear,
            [0.86 + 0.2 * warmth, 0.90, 1.04 - 0.2 * warmth],
        );
        let town = (-alt / 5.0).exp() * (-(turn(az, self.site.town_az_deg) / 24.0).powi(2)).exp();
        add(&mut sum, self.site.town_light * town, [1.0, 0.70, 0.38]);
        add(&mut sum, self.zodiacal(towards) * clear, [1.0, 0.94, 0.84]);
        self.add_twilight(&mut sum, alt, az);
        self.add_moonlight(&mut sum, towards, up);
        sum
    }

    /// Light that falls on the land, so that plants are visible.
    pub fn on_land(&self) -> Light {
        let mut sum = [0.0; 3];
        add(&mut sum, 0.0065, [0.95, 0.95, 1.0]);
        add(&mut sum, 0.42 * self.moonlight, [0.72, 0.88, 1.10]);
        add(&mut sum, 0.10 * self.twilight, [0.62, 0.72, 1.0]);
        sum
    }

    /// Brightness and warmth of the Milky Way, with its dark lanes.
    fn milky_way(&self, towards: Arrow) -> (f64, f64) {
        let from_plane = dot(towards, self.pole).clamp(-1.0, 1.0).asin().to_degrees();
        let along = dot(towards, self.ninety)
            .atan2(dot(towards, self.centre))
            .to_degrees();
        let bulge = (-(along / 55.0).powi(2)).exp();
        let width = 6.5 + 4.5 * bulge;
        let cloud = surface(11, along / 9.0 + 50.0, from_plane / 5.0 + 50.0);
        let fine = surface(12, along / 3.5 + 90.0, from_plane / 2.2 + 90.0);
        let lane_at = 2.2 * (surface(13, along / 14.0 + 70.0, 0.5) - 0.5) * 2.0;
        let lane = (-((from_plane - lane_at) / (1.6 + 1.6 * cloud)).powi(2)).exp();
        let body = (-(from_plane / width).powi(2)).exp();
        let dust = 1.0 - lane * (0.25 + 0.6 * fine) * (0.5 + 0.5 * bulge);
        let band = body * (0.30 + 0.70 * bulge) * (0.55 + 0.6 * cloud + 0.25 * fine) * dust;
        (band, bulge)
    }

    /// The cone of light along the Sun's path, nearest the Sun.
    fn zodiacal(&self, towards: Arrow) -> f64 {
        let from_sun = apart_deg(towards, self.sun);
        let off_path = 90.0 - apart_deg(towards, self.path_pole);
        0.05 * (-(from_sun - 15.0).max(0.0) / 17.0).exp() * (-(off_path / 15.0).powi(2)).exp()
    }

    fn add_twilight(&self, sum: &mut Light, alt: f64, az: f64) {
        let sunward = turn(az, self.sun_az_deg).to_radians().cos().midpoint(1.0);
        let low = (-alt / 11.0).exp();
        let amount = self.twilight * (0.55 + 5.0 * low * sunward.powi(2) + 0.6 * low);
        let red = ease(low * sunward.powi(2) * 1.5);
        let rose = ease((-((alt - 11.0) / 9.0).powi(2)).exp() * sunward.powi(3));
        let hue = [
            blend(blend(0.36, 0.80, rose), 1.10, red),
            blend(blend(0.56, 0.60, rose), 0.58, red),
            blend(blend(1.00, 0.80, rose), 0.30, red),
        ];
        add(sum, amount, hue);
    }

    fn add_moonlight(&self, sum: &mut Light, towards: Arrow, up: f64) {
        let cos = dot(towards, self.moon);
        let apart = apart_deg(towards, self.moon);
        let scattered = 0.75 * (1.0 + cos * cos) + 3.0 * (-apart / 14.0).exp();
        let thick = (1.0 / (up + 0.15)).min(4.5).powf(0.45);
        let hue = [0.40 + 0.10 * (1.0 - up), 0.60 + 0.10 * (1.0 - up), 1.0];
        add(sum, 0.62 * self.moonlight * scattered * thick, hue);
        // A thin crescent still has a small glow of its own.
        add(
            sum,
            0.5 * self.moon_lit.powf(0.7) * (-apart / 1.6).exp(),
            [1.0, 0.95, 0.86],
        );
    }
}

/// Adds so much light of a colour.
pub fn add(sum: &mut Light, amount: f64, hue: Light) {
    for (part, tone) in sum.iter_mut().zip(hue) {
        *part += amount * tone;
    }
}

/// The difference of two azimuths, 0° to 180°.
pub fn turn(one_deg: f64, other_deg: f64) -> f64 {
    let way = (one_deg - other_deg).rem_euclid(360.0);
    way.min(360.0 - way)
}

/// Blue overhead, green where it is seen edge-on.
fn glow_hue(up: f64) -> Light {
    let low = ease((0.55 - up) / 0.45);
    [0.70, blend(0.84, 1.00, low), blend(1.08, 0.80, low)]
}

/// A layer some 90 km up, seen more edge-on towards the horizon, in slow waves.
fn airglow(up: f64, az: f64, minutes: f64) -> f64 {
    let edge_on = (1.0 - 0.955 * (1.0 - up * up)).powf(-0.5).min(3.4);
    let dimmed = 0.88_f64.powf(1.0 / (up + 0.08) - 1.0);
    let waves = surface(21, az / 11.0 + minutes / 9.0, 6.0 / (up + 0.2));
    0.0125 * edge_on * dimmed * (0.86 + 0.28 * waves)
}

/// Twilight in our unit, by a line through the table's logarithms.
fn twilight(sun_alt_deg: f64) -> f64 {
    let alt = sun_alt_deg.clamp(TWILIGHT[0].0, TWILIGHT[8].0);
    let pair = TWILIGHT.windows(2).find(|pair| alt <= pair[1].0);
    let Some(&[low, high]) = pair else {
        return 0.0;
    };
    let share = (alt - low.0) / (high.0 - low.0);
    blend(low.1.ln(), high.1.ln(), share).exp() * (0.02 / 2e-4)
}
