//! The sky over every frame computed again, where the catalogue's follows an earlier edition of the shower table: rows of
//! two editions never stand side by side.

use std::path::Path;

use crate::catalogue::open::Catalogue;
use crate::catalogue::renewal::other_edition;
use crate::pipeline::derive::PROGRAM;
use crate::pipeline::place::SiteBook;
use crate::sky::look::Looker;
use crate::sky::showers::EDITION;
use crate::terms::failure::Failure;

/// Frames of one transaction. A run that is stopped keeps what it has done, and the next one goes on from there.
const AT_ONCE: u32 = 10_000;

/// The earlier edition that skies of a catalogue follow; `None` where they are up to date.
pub fn outdated_edition(path: &Path) -> Option<String> {
    other_edition(path, EDITION)
}

/// The edition that skies follow when they are computed now.
pub const fn current_edition() -> &'static str {
    EDITION
}

/// Computes the sky over every frame of a catalogue again that follows an earlier edition. Gives their count.
pub fn renew_skies(
    catalogue: &mut Catalogue,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<u64, Failure> {
    let mut looker = Looker::new();
    let (mut done, mut all, mut after) = (0, None, i64::MIN);
    loop {
        let batch = catalogue.batch()?;
        let of = match all {
            Some(all) => all,
            None => *all.insert(batch.count_outdated(EDITION)?),
        };
        let frames = batch.outdated_frames(EDITION, after, AT_ONCE)?;
        let Some(last) = frames.last() else {
            batch.forget_other_makers(EDITION)?;
            batch.commit()?;
            break;
        };
        after = last.frame_id;
        let maker_id = batch.ensure_maker(PROGRAM, EDITION)?;
        let book = SiteBook::new(batch.sites()?);
        for frame in &frames {
            let mid = frame
                .start_utc
                .and_then(|at| at.plus_s(frame.exposure_s.unwrap_or(0.0) / 2.0));
            let dark = book.dark_sky(frame.site_id);
            let sky = mid.and_then(|mid| looker.frame_sky_over(mid, frame.place, &dark));
            batch.renew_sky(frame, sky.as_ref(), maker_id)?;
        }
        batch.commit()?;
        done += frames.len() as u64;
        watch(done, of);
    }
    catalogue.gather_statistics()?;
    Ok(done)
}
