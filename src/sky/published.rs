//! The published data of a shower: its maximum, its radiant by date, how its activity rises and falls. Fields only.

/// A shower's maximum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Solar longitude of the maximum in degrees, equinox J2000.0.
    pub solar_lon_deg: f64,
    /// Half a unit of the last printed digit, in degrees.
    pub rounding_deg: f64,
    /// The meaning of the printed longitude.
    pub is: PeakIs,
    /// Right ascension of the radiant there, J2000.0.
    pub ra_deg: f64,
    /// Declination of the radiant there, J2000.0.
    pub dec_deg: f64,
    /// Drift in right ascension, degrees per degree of solar longitude.
    pub drift_ra: f64,
    /// Drift in declination, degrees per degree of solar longitude.
    pub drift_dec: f64,
}

/// The meaning of a printed peak.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PeakIs {
    /// The maximum of activity.
    Maximum,
    /// Printed in brackets: a reference date for the radiant only; the time of the maximum is unknown.
    Reference,
}

/// The published position of a radiant at one date.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DriftPoint {
    /// Solar longitude in degrees, equinox J2000.0.
    pub solar_lon_deg: f64,
    /// Right ascension, J2000.0.
    pub ra_deg: f64,
    /// Declination, J2000.0.
    pub dec_deg: f64,
}

/// How steeply a shower's activity rises and falls: base-10 exponents per degree of solar longitude.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slopes {
    /// Before the peak.
    pub before: f64,
    /// After it.
    pub after: f64,
    /// A steeper part around the peak: its extent in degrees, and its slope.
    pub core: Option<(f64, f64)>,
    /// A weak broad component below the sharp one.
    pub broad: Option<Broad>,
}

/// The broad component of a shower's activity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Broad {
    /// Its share of the ZHR at the peak, 0 to 1.
    pub share: f64,
    /// Its slope before the peak.
    pub before: f64,
    /// Its slope after the peak.
    pub after: f64,
}
