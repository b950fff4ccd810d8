//! The site book, with the zone of each site.

use std::collections::HashMap;

use crate::clock::zone::Zone;
use crate::terms::site::Site;

/// The site book during placement, with each site's zone looked up once.
#[derive(Debug, Default)]
pub struct SiteBook {
    sites: Vec<Site>,
    zones: HashMap<i64, Option<Zone>>,
}

impl SiteBook {
    /// A book with these sites.
    pub fn new(sites: Vec<Site>) -> Self {
        let zones = sites.iter().map(|s| (s.id, zone_of(s))).collect();
        Self { sites, zones }
    }

    /// The sites.
    pub fn sites(&self) -> &[Site] {
        &self.sites
    }

    /// Adds a site that has just been stored.
    pub fn enter(&mut self, site: Site) {
        self.zones.insert(site.id, zone_of(&site));
        self.sites.push(site);
    }

    /// A site by its number.
    pub fn site(&self, id: i64) -> Option<&Site> {
        self.sites.iter().find(|s| s.id == id)
    }

    /// The zone of a site, if known.
    pub fn zone(&self, id: Option<i64>) -> Option<&Zone> {
        self.zones.get(&id?)?.as_ref()
    }
}

fn zone_of(site: &Site) -> Option<Zone> {
    Zone::named(site.zone.as_deref()?)
}
