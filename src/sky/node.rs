//! Everything that no site changes: the Earth's velocity, precession and nutation, Sun and Moon; computed in full at
//! nodes six hours apart and interpolated between them. Never uses a site, a shower, the Earth's rotation.
//!
//! A night needs three or four nodes, each shared by thousands of frames. A node depends only on its own number, so the
//! order of the frames changes no bit of any answer, and a single frame is as exact as a dense run.

use sofars::consts::AULT;
use sofars::consts::DAYSEC;
use sofars::consts::DC;
use sofars::consts::DJ00;
use sofars::eph::epv00;
use sofars::eph::moon98;
use sofars::pnp::bpn2xy;
use sofars::pnp::c2ixys;
use sofars::pnp::eors;
use sofars::pnp::pnm06a;
use sofars::pnp::s06;
use sofars::vm::pm;
use sofars::vm::pmp;
use sofars::vm::sxp;

use super::direction::Matrix;
use super::direction::Vector;
use super::direction::between;
use super::instant::Instant;

/// Days from one node to the next.
///
/// Source: measured against the full computation at the instant itself, 1950 to 2099 (`tests/reference/sky_laws.rs`).
const STEP_D: f64 = 0.25;
/// How many nodes are kept: 16 days' worth.
///
/// Source: ours; a dump spans fewer nights, and a node costs some 200 bytes.
const KEPT: u16 = 64;

/// A place and a velocity, in au and au a day, axes of the GCRS.
#[derive(Clone, Copy, Debug)]
struct Motion {
    at: Vector,
    velocity: Vector,
}

/// The sky at one node.
#[derive(Clone, Copy, Debug)]
struct Node {
    /// Velocity of the Earth relative to the solar system's barycentre, in units of the speed of light.
    earth_c: Vector,
    /// GCRS to CIRS: bias, precession, nutation.
    bpn: Matrix,
    /// Earth rotation angle minus Greenwich apparent sidereal time.
    origins_rad: f64,
    /// From the Earth's centre to where the Sun is.
    sun: Motion,
    /// From the Earth's centre to where the Moon was when the light left it.
    moon: Motion,
}

impl Node {
    /// Computes a node in full, the costly part of the room.
    ///
    /// Refuses: a node outside the years of the Earth's series.
    /// Source: SOFA `epv00`, `moon98`, and `pnm06a` with `s06` (IAU 2006/2000A).
    fn compute(number: i64) -> Option<Self> {
        let tt_d = number as f64 * STEP_D;
        let (heliocentric, barycentric) = epv00(DJ00, tt_d)?;
        let classic = pnm06a(DJ00, tt_d);
        let (x, y) = bpn2xy(&classic);
        let s = s06(DJ00, tt_d, x, y);
        let [moon, moon_velocity] = moon98(DJ00, tt_d);
        let light_d = pm(moon) * AULT / DAYSEC;
        Some(Self {
            earth_c: sxp(1.0 / DC, &barycentric[1]),
            bpn: c2ixys(x, y, s),
            origins_rad: eors(&classic, s),
            sun: Motion {
                at: sxp(-1.0, &heliocentric[0]),
                velocity: sxp(-1.0, &heliocentric[1]),
            },
            moon: Motion {
                at: pmp(&moon, &sxp(light_d, &moon_velocity)),
                velocity: moon_velocity,
            },
        })
    }
}

/// The sky at one instant, the same for every site.
///
/// Good to, compared with the full computation at that instant, 1950 to 2099: directions of stars 0.001 arcseconds, Sun
/// 0.001, Moon 0.01, solar longitude 0.0000001°. Checked by: `tests/reference/sky_laws.rs`
#[derive(Clone, Copy, Debug)]
pub(super) struct Moment {
    /// Velocity of the Earth relative to the solar system's barycentre, in units of the speed of light.
    pub earth_c: Vector,
    /// GCRS to CIRS: bias, precession, nutation.
    pub bpn: Matrix,
    /// Earth rotation angle minus Greenwich apparent sidereal time, in radians.
    pub origins_rad: f64,
    /// From the Earth's centre to where the Sun is, in au.
    pub sun_now: Vector,
    /// From the Earth's centre to where the Sun appears, light time and aberration included, in au.
    pub sun_apparent: Vector,
    /// From the Earth's centre to where the Moon appears, in au.
    pub moon_apparent: Vector,
}

impl Moment {
    fn blend(before: &Node, after: &Node, share: f64) -> Self {
        let row = |k: usize| between(before.bpn[k], after.bpn[k], share);
        let sun_now = hermite(&before.sun, &after.sun, share);
        // The heliocentric Earth's motion during the light's travel accounts for light time and aberration together.
        let light_d = pm(sun_now) * AULT / DAYSEC;
        let sun_velocity = between(before.sun.velocity, after.sun.velocity, share);
        Self {
            earth_c: between(before.earth_c, after.earth_c, share),
            bpn: [row(0), row(1), row(2)],
            origins_rad: before.origins_rad + (after.origins_rad - before.origins_rad) * share,
            sun_now,
            sun_apparent: pmp(&sun_now, &sxp(light_d, &sun_velocity)),
            moon_apparent: hermite(&before.moon, &after.moon, share),
        }
    }
}

/// The cubic through two places with the given velocities there.
///
/// Source: cubic Hermite interpolation, common practice; its error is the fourth derivative times step^4 / 384.
fn hermite(before: &Motion, after: &Motion, share: f64) -> Vector {
    let (t, t2, t3) = (share, share * share, share * share * share);
    let from_after = 3.0 * t2 - 2.0 * t3;
    let from_before = 1.0 - from_after;
    let rate_before = (t3 - 2.0 * t2 + t) * STEP_D;
    let rate_after = (t3 - t2) * STEP_D;
    let component = |k: usize| {
        from_before * before.at[k]
            + from_after * after.at[k]
            + rate_before * before.velocity[k]
            + rate_after * after.velocity[k]
    };
    [component(0), component(1), component(2)]
}

/// The most recently computed nodes. Its size does not grow.
pub(super) struct Nodes {
    kept: Vec<Option<(i64, Node)>>,
}

impl Nodes {
    pub(super) fn new() -> Self {
        Self {
            kept: vec![None; usize::from(KEPT)],
        }
    }

    /// The sky at an instant. `None` outside the range of the series.
    pub(super) fn moment(&mut self, at: Instant) -> Option<Moment> {
        let steps = at.tt_d() / STEP_D;
        let whole = steps.floor();
        #[allow(clippy::cast_possible_truncation)] // An instant is within 100 years of J2000.0.
        let number = whole as i64;
        self.ensure(number)?;
        self.ensure(number + 1)?;
        // Neighbours never share a slot, so both are still there.
        let (_, before) = self.kept[slot(number)].as_ref()?;
        let (_, after) = self.kept[slot(number + 1)].as_ref()?;
        Some(Moment::blend(before, after, steps - whole))
    }

    fn ensure(&mut self, number: i64) -> Option<()> {
        let kept = &mut self.kept[slot(number)];
        if kept.as_ref().is_none_or(|(own, _)| *own != number) {
            *kept = Some((number, Node::compute(number)?));
        }
        Some(())
    }
}

fn slot(number: i64) -> usize {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to KEPT - 1
    let slot = number.rem_euclid(i64::from(KEPT)) as usize;
    slot
}
