//! The evidence of a single picture and its settings about what is before the lens, in natural logarithms of odds,
//! compared with the body's other frames of the night.

use std::collections::BTreeSet;

use crate::session::alike::difference;
use crate::session::scene::above_darkest_sky;
use crate::session::tone::encoded;
use crate::session::tone::linear;
use crate::terms::exposure::LONGEST_BIAS_S;
use crate::terms::picture::Look;
use crate::terms::records::SessionFrame;

/// What a picture shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shows {
    /// The sky, a landscape, anything that is lit and has structure.
    Lit,
    /// Nothing: the cap was on.
    Black,
    /// An even field, after correction for the lens's shading.
    Even,
    /// As dark as a capped picture, and as a clouded sky.
    Doubtful,
    /// It was not looked at.
    Unseen,
}

/// What a picture can show, in the order of [`Odds`].
pub const STATES: [Shows; 3] = [Shows::Lit, Shows::Black, Shows::Even];

/// The index of a black picture in [`STATES`].
pub const BLACK: usize = 1;

/// Natural logarithms of the odds of each of [`STATES`] against a lit picture.
pub type Odds = [f64; 3];

/// Nobody exposes flats for longer by choice. Source: common practice, no source.
const LONGEST_FLAT_S: f64 = 8.0;

/// A bias's level is below this, of 255.
const BRIGHTEST_BIAS: f64 = 60.0;

/// A single picture is never stronger evidence than this, in logarithms of odds: its neighbours show much the same.
const MOST_EVIDENCE: f64 = 4.0;

/// What the frames of a series tell together, between which nothing can have changed before the lens.
#[derive(Clone, Copy)]
pub struct Series {
    /// By how much its level changes, of 255, beyond what a cap's may.
    drift: f64,
    /// The share of its frames with a star or an edge.
    marked: f64,
    /// Whether it neither changes nor shows a star.
    is_still: bool,
    /// Whether it and its neighbours show neither a star nor an edge nor a cloud.
    is_bare: bool,
    /// How many frames were taken without a pause.
    count: usize,
    /// Whether a lamp lit a picture between two of them.
    lamp: bool,
}

/// From this level on, and up to the other, of 255, a picture shows whether its light is even.
const SHOWS_EVENNESS: (f64, f64) = (25.0, 245.0);

/// What the fit leaves of a panel in stops: noise and packing. Clouds are patchier.
const UNEVEN_PANEL: f64 = 0.045;

/// Land and clouds leave at least so much in stops after the fit.
const UNEVEN_SKY: f64 = 0.06;

/// A clear sky without the Moon and after dusk is darker than the night's usual one by no more than this, in stops.
const DARKEST_CLEAR: f64 = 2.5;

/// A panel at a slant is brighter on one side by no more than this, in stops.
const STEEPEST_PANEL: f64 = 1.25;

/// In so many frames in a row a sky shows a star or an edge at least once.
const FEWEST_BARE: usize = 8;

/// More frames than this without a pause are seldom darks or flats, which are taken by the dozen; lights are by hundreds.
///
/// Source: common practice, no source.
const MOST_CALIBRATION: f64 = 50.0;

impl Series {
    /// Of frames in order, of those taken without a pause around them, and whether a lamp lit a picture between them.
    pub fn of(looks: &[Look], around: &[Look], lamp: bool) -> Self {
        // Without the lowest and the highest twentieth.
        let spread = |of: fn(&Look) -> f64| {
            let mut values: Vec<f64> = looks.iter().map(of).collect();
            values.sort_by(f64::total_cmp);
            let out = values.len() / 20;
            (values[out], values[values.len() - 1 - out])
        };
        let (low, high) = spread(|look| look.level * 255.0);
        let uneven = spread(|look| look.uneven_stops);
        let tilt = spread(|look| look.tilt_stops);
        let is_marked = |look: &&Look| look.stars >= 1.0 || look.edges >= 0.000_5;
        let marked = looks.iter().filter(is_marked).count() as f64 / looks.len() as f64;
        // A sensor that warms changes its noise by some hundredths.
        let drift = (high - low - 0.5 - 0.05 * low).max(0.0);
        let is_bare = |look: &&Look| {
            !is_marked(look)
                && look.uneven_stops < UNEVEN_PANEL
                && look.tilt_stops < STEEPEST_PANEL
                && (SHOWS_EVENNESS.0..SHOWS_EVENNESS.1).contains(&(look.level * 255.0))
        };
        let bare = around.iter().filter(is_bare).count();
        Self {
            drift,
            marked,
            // A step of a look's numbers is no change.
            is_still: looks.len() >= 3
                && drift <= 0.0
                && marked < 0.1
                && uneven.1 - uneven.0 < 0.03
                && tilt.1 - tilt.0 < 0.3,
            is_bare: around.len() >= FEWEST_BARE && bare * 10 >= around.len() * 9,
            count: looks.len(),
            lamp,
        }
    }

    /// Behind a cap nothing changes, and nothing but hot pixels shows.
    fn black(self) -> f64 {
        1.5 * f64::from(self.is_still)
            - self.many()
            - 1.5 * self.marked
            - 2.0 * self.drift.sqrt().min(2.0)
            - 5.0 * f64::from(self.lamp)
    }

    /// A sky shows a star or a cloud sooner or later; nobody leaves a panel up for long exposures.
    fn even(self, exposure_s: Option<f64>) -> f64 {
        let bare = if exposure_s <= Some(LONGEST_FLAT_S) {
            3.0 * f64::from(self.is_bare)
        } else {
            -2.0
        };
        bare - self.many()
    }

    fn many(self) -> f64 {
        1.5 * (self.count as f64 / MOST_CALIBRATION)
            .log2()
            .clamp(0.0, 2.0)
    }
}

/// What a body's frames of one night tell about each of them.
pub struct Body {
    /// The darkest level at each exposure and sensitivity.
    darkest: Vec<Darkest>,
    /// Stops by which the night's sky is above the darkest one, in frames that certainly show it.
    sky_stops: Option<f64>,
    /// The same of the darkest and of the brightest of them; a fifth on either side is ignored.
    sky_range: Option<(f64, f64)>,
    /// The fewest edges in frames that certainly show the sky: land that is always in the picture. The lowest twentieth
    /// is ignored.
    least_edges: Option<f64>,
    /// The settings of frames that certainly show the sky.
    sky_settings: BTreeSet<(u64, u64)>,
}

/// A few edges count more than a difference among many.
fn edges(look: Look) -> f64 {
    (look.edges * 1000.0).sqrt().min(4.0)
}

/// Exposure and sensitivity, as a lookup key.
fn settings(frame: &SessionFrame) -> (u64, u64) {
    let bits = |value: Option<f64>| value.unwrap_or(0.0).to_bits();
    (bits(frame.exposure_s), bits(frame.iso))
}

/// The darkest picture at an exposure and a sensitivity.
struct Darkest {
    exposure_s: f64,
    iso: f64,
    /// Its level in linear light.
    light: f64,
    look: Look,
}

/// How many frames that certainly show the sky are needed to know its brightness.
const SURE_SKY: usize = 10;

impl Body {
    /// From a night's sampled frames, in any order.
    pub fn of(looked: &[(&SessionFrame, Look)]) -> Self {
        let looked = || looked.iter().copied();
        let mut levels: Vec<(f64, f64, Look)> = looked()
            .filter_map(|(f, look)| Some((f.exposure_s?, f.iso?, look)))
            .collect();
        levels.sort_by(|a, b| {
            a.0.total_cmp(&b.0)
                .then(a.1.total_cmp(&b.1))
                .then(a.2.level.total_cmp(&b.2.level))
        });
        let darkest = levels
            .chunk_by(|a, b| a.0.to_bits() == b.0.to_bits() && a.1.to_bits() == b.1.to_bits())
            .map(|alike| {
                // The third lowest: one may be a damaged picture.
                let (exposure_s, iso, look) = alike[((alike.len() - 1) / 2).min(2)];
                // Less than half a step shows as none.
                let light = linear(look.level + 0.5 / 255.0);
                Darkest {
                    exposure_s,
                    iso,
                    light,
                    look,
                }
            })
            .collect();
        let mut body = Self {
            darkest,
            sky_stops: None,
            sky_range: None,
            least_edges: None,
            sky_settings: BTreeSet::new(),
        };
        let mut sky: Vec<(f64, &SessionFrame, Look)> = looked()
            .filter(|(f, look)| {
                f.exposure_s >= Some(1.0)
                    && (look.stars >= 4.0 || look.uneven_stops >= UNEVEN_SKY)
                    && body.black(f, *look) < 0.0
            })
            .filter_map(|(f, look)| Some((above_darkest_sky(f, look)?, f, look)))
            .collect();
        sky.sort_by(|a, b| a.0.total_cmp(&b.0));
        // Hot pixels of a dark look like the stars of a clear sky, which is as bright as the others.
        if let Some(usual) = sky.get(sky.len() / 2).map(|of| of.0) {
            sky.retain(|(stops, _, look)| {
                look.uneven_stops >= UNEVEN_SKY || *stops >= usual - DARKEST_CLEAR
            });
        }
        if sky.len() >= SURE_SKY {
            let at = |tenths: usize| sky[sky.len() * tenths / 10].0;
            body.sky_stops = Some(at(5));
            body.sky_range = Some((at(2), at(8)));
            let mut with_edges: Vec<Look> = sky.iter().map(|(_, _, look)| *look).collect();
            with_edges.sort_by(|a, b| a.edges.total_cmp(&b.edges));
            let [least, median] = [20, 2].map(|part| with_edges[with_edges.len() / part]);
            // Clouds have edges too, now many and now few: land always has as many.
            body.least_edges = (4.0 * least.edges >= median.edges).then(|| edges(least));
            body.sky_settings = sky.iter().map(|(_, f, _)| settings(f)).collect();
        }
        body
    }

    /// The lowest level of the body's shortest exposures at a frame's sensitivity, of 255. `None` if they are lit.
    fn bias_level(&self, frame: &SessionFrame) -> Option<f64> {
        let of_iso = |d: &&Darkest| d.exposure_s <= LONGEST_BIAS_S && frame.iso == Some(d.iso);
        let light = self
            .darkest
            .iter()
            .filter(of_iso)
            .map(|d| d.light)
            .reduce(f64::min)?;
        let level = 255.0 * encoded(light) - 0.5;
        (level < BRIGHTEST_BIAS).then_some(level)
    }

    /// How much a look differs from the darkest with the same exposure and sensitivity: see [`difference`]. Darks with the same
    /// settings look the same; hot pixels come and go.
    fn unlike_own(&self, frame: &SessionFrame, look: Look) -> f64 {
        let own = |d: &&Darkest| frame.exposure_s == Some(d.exposure_s) && frame.iso == Some(d.iso);
        let darkest = self.darkest.iter().find(own);
        darkest.map_or(0.0, |d| {
            difference(
                Look {
                    stars: d.look.stars,
                    ..look
                },
                d.look,
            )
        })
    }

    /// The level above which a frame is no black one, as encoded: what the body gave at its darkest. Dark current and noise grow
    /// no faster than exposure and sensitivity.
    fn highest_black(&self, frame: &SessionFrame) -> f64 {
        let grown = |d: &Darkest| {
            let times = |own: Option<f64>, of: f64| (own.unwrap_or(of) / of).max(1.0);
            d.light * times(frame.exposure_s, d.exposure_s) * times(frame.iso, d.iso)
        };
        encoded(self.darkest.iter().map(grown).fold(1.0, f64::min))
    }

    /// How much of the land that is in every picture of the sky is not in this one, which is bright enough to show it.
    fn land_gone(&self, look: Look) -> f64 {
        self.least_edges
            .map_or(0.0, |least| (least - edges(look)).max(0.0))
    }

    /// The evidence of one frame.
    ///
    /// Source: the weights are ours, rounded from a fit over nights of the bench and of two generators that model bodies
    /// and skies otherwise.
    pub fn odds(&self, frame: &SessionFrame, look: Look, series: Series) -> Odds {
        let most = |odds: f64| odds.clamp(-MOST_EVIDENCE, MOST_EVIDENCE);
        [
            0.0,
            most(self.black(frame, look) + series.black()),
            most(self.even(frame, look) + series.even(frame.exposure_s)),
        ]
    }

    /// Black: no shading by a lens, dark, darker than any sky would be, without stars, and no frame of the body with as
    /// much exposure is darker.
    fn black(&self, frame: &SessionFrame, look: Look) -> f64 {
        let level = look.level * 255.0;
        // Clouds over a dark site are darker than its sky by up to two stops.
        let below_sky = above_darkest_sky(frame, look)
            .filter(|_| frame.exposure_s >= Some(0.5))
            .map_or(0.0, |stops| {
                self.sky_stops.map_or(-stops, |sky| sky - stops - 2.0)
            });
        let above_black = level - 255.0 * self.highest_black(frame);
        // Bodies take the mean dark current off with the black level: what is left is noise, and the amplifier's glow.
        let bias = self.bias_level(frame);
        // An amplifier's glow leaves a part of the picture as dark as a bias.
        let level = bias.map_or(level, |bias| {
            level.min(bias + 2.0 + 3.0 * (look.floor * 255.0 - bias).max(0.0))
        });
        let of_bias = bias.map_or(0.0, |bias| {
            let glow = (frame.exposure_s.unwrap_or(0.0) * frame.iso.unwrap_or(0.0) / 64_000.0)
                .log2()
                .max(0.0);
            (4.0 + glow - (level - bias)).clamp(-5.0, 0.0)
        });
        // What the fit leaves tells how far a fall-off can be believed. Corners that are brighter are the amplifier's glow.
        let falloff = match look.falloff_stops {
            dimmer if dimmer > 0.0 => (dimmer - 2.0 * look.uneven_stops).max(0.0),
            brighter => brighter,
        };
        // By day the shortest exposures are not so dark; at night nobody takes them of the sky.
        let shortest =
            frame.exposure_s.is_some_and(|s| s <= LONGEST_BIAS_S) && level < BRIGHTEST_BIAS;
        // Where stars show, no cloud dims the sky.
        let darker = above_darkest_sky(frame, look)
            .zip(self.sky_range)
            .filter(|_| {
                frame.exposure_s >= Some(0.5) && look.stars >= 1.0 && look.uneven_stops < UNEVEN_SKY
            })
            .map_or(0.0, |(stops, (darkest, _))| {
                (darkest - stops - 0.7).clamp(0.0, 4.0)
            });
        let shows_land = ((look.level * 255.0 - 12.0) / 8.0).clamp(0.0, 1.0);
        let land_gone = shows_land * self.land_gone(look);
        4.1 + 4.0 * f64::from(shortest) + 0.8 * land_gone - 3.5 * falloff.clamp(-0.5, 0.6)
            + 1.1 * darker
            - 0.16 * (level - bias.unwrap_or(0.0)).min(50.0)
            + 0.9 * below_sky.clamp(0.0, 4.0)
            - 0.9 * look.tilt_stops.min(2.0)
            + of_bias
            - 2.8 * above_black.clamp(0.0, 5.0).sqrt()
            - 3.0 * (self.unlike_own(frame, look) - 0.5).clamp(0.0, 2.0)
            - 0.4 * look.stars.sqrt().min(4.0)
    }

    /// Even: nothing remains after the shading correction, there are no stars and no edges, and its light is unrelated
    /// to the night sky's.
    fn even(&self, frame: &SessionFrame, look: Look) -> f64 {
        let stops = above_darkest_sky(frame, look).unwrap_or(0.0);
        // Tone curves account for two stops, a cloud for half a stop more.
        let beyond_sky = match self.sky_range {
            Some((low, high)) => (low - stops).max(stops - high).max(0.0),
            None => (stops - 4.0).max(-stops),
        } - 2.5;
        // What is dim may be the body's own black, and tells nothing of light.
        let dim = ((look.level * 255.0 - 30.0) / 30.0).clamp(0.0, 1.0);
        let beyond_sky = if beyond_sky > 0.0 {
            beyond_sky * dim
        } else {
            beyond_sky
        };
        let uneven =
            (look.uneven_stops + 0.01).log2() + 6.0 + 20.0 * (look.uneven_stops - 0.1).max(0.0);
        let level = look.level * 255.0;
        let as_the_sky =
            f64::from(self.sky_settings.is_empty() || self.sky_settings.contains(&settings(frame)));
        // Land in the picture does not vanish when the sky changes; a white picture does not show it.
        let land_gone = if level < 230.0 && frame.exposure_s <= Some(LONGEST_FLAT_S) {
            self.land_gone(look)
        } else {
            0.0
        };
        3.0 + 0.8 * land_gone - 1.4 * as_the_sky + 1.2 * beyond_sky.clamp(-2.0, 4.0)
            - uneven
            - 1.1 * look.stars.sqrt().min(4.0)
            - 0.8 * edges(look)
            - 0.9 * look.tilt_stops.min(2.0)
            - 3.0 * (look.tilt_stops - 1.0).clamp(0.0, 2.0)
            - (0.3 * (50.0 - level)).max(level - 245.0).max(0.0)
            - 0.25 * frame.exposure_s.unwrap_or(1.0).log2().clamp(0.0, 5.0)
    }
}
