//! Reads years of nights from the catalogue, night by night and shower by shower. Computes sums and no values.

use crate::catalogue::columns::columns;
use crate::catalogue::handle::Catalogue;
use crate::terms::basis::RISING_DEG;
use crate::terms::failure::Failure;
use crate::terms::night::SeasonRow;
use crate::terms::time::day_of_date;

impl Catalogue {
    /// The lights of the nights from one date to another, both included, by night and strongest shower.
    pub fn season(&self, from: &str, to: &str) -> Result<Vec<SeasonRow>, Failure> {
        self.all(
            &format!(
                "SELECT date(time.night_day * 86400, 'unixepoch'), shower.code, ifnull(group_concat(DISTINCT site.name), 'unknown'), count(*),
                        ifnull(sum(frame.exposure_s), 0) / 3600, max(radiant.alt_deg), avg(sky.moon_lit),
                        avg(sky.moon_alt_deg > {RISING_DEG})
                 FROM derived_time AS time
                 CROSS JOIN written_frame AS frame ON frame.frame_id = time.frame_id
                 LEFT JOIN stated_site AS site ON site.site_id = time.site_id
                 LEFT JOIN derived_sky AS sky ON sky.frame_id = time.frame_id
                 LEFT JOIN derived_shower AS shower ON shower.shower_id = sky.shower_id
                 LEFT JOIN derived_radiant AS radiant
                   ON radiant.shower_id = sky.shower_id AND radiant.frame_id = time.frame_id
                 WHERE time.night_day BETWEEN ? AND ? AND time.kind_no = 0
                 GROUP BY time.night_day, sky.shower_id ORDER BY time.night_day, shower.code",
            ),
            [day_of_date(from), day_of_date(to)],
        )
    }
}

columns!(SeasonRow: night shower sites lights open_h best_alt_deg moon_lit moon_up);
