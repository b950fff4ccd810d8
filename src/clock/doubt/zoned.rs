//! A site with its zone.

use crate::clock::zone::Zone;

/// A site with its zone.
#[derive(Clone, Debug)]
pub struct ZonedSite {
    /// Its number.
    pub site_id: i64,
    /// Its name.
    pub name: String,
    /// Its zone.
    pub zone: Option<Zone>,
}
